"""Read the terrain around a drive from elevation rasters: horizons, slopes, and elevations a track lacks."""

import math
from collections.abc import Sequence

import numpy as np

from routesolar.files.rasters import RasterAlong, check_cells, read_elevation
from routesolar.physics.horizon_rays import RasterPoints
from routesolar.physics.terrain import (
    FAR_CELLS,
    Horizon,
    Relief,
    elevation_at,
    ground_slope,
    horizon,
    pyramid,
)
from routesolar.trip.arrays import FloatArray, locked
from routesolar.trip.ranges import check_points
from routesolar.trip.surroundings import Terrain

REACH_M = 30_000.0  # a ridge 900 m higher this far off rises 1.6 degrees
NEAR_M = 2_500.0  # read cell by cell; farther off maxima of blocks serve as well
SLOPE_BASELINE_M = 60.0
KNOWN_ENOUGH_FRAC = 0.95  # of the samples within reach; below it the reader is told


def read_terrain(
    sources: Sequence[str],
    latitude_deg: FloatArray,
    longitude_deg: FloatArray,
    elevation_m: FloatArray,
    eye_m: float,
) -> Terrain:
    """Return the horizon (72 azimuths) and the ground's slope around n points, from files or web addresses.

    The eye stands `eye_m` above the raster's ground, or above `elevation_m` (NaN if the track has none) where
    the raster is unknown. The raster is read as it is within 2.5 km, and as maxima of blocks of some 30 to
    60 m up to 30 km away; ground that no raster knows hides nothing, and a warning says how much that is.

    Raises:
        InputError: a source cannot be read, placed or understood, or none has data near the points.
    """
    count = check_points(latitude_deg, longitude_deg)
    elevation_m = locked(elevation_m, (count,), "elevation_m")
    near = read_elevation(sources, latitude_deg, longitude_deg, NEAR_M)
    check_cells(near)
    pooled = 2 ** max(0, math.floor(math.log2(NEAR_M / (FAR_CELLS * near.cell_m))))
    far_from_m = FAR_CELLS * near.cell_m * pooled
    far = read_elevation(sources, latitude_deg, longitude_deg, REACH_M, pooled)
    reliefs = [_relief(far, 0.0, REACH_M)]
    if pooled > 1:
        reliefs = [_relief(near, 0.0, far_from_m), _relief(far, far_from_m, REACH_M)]
    seen = horizon(reliefs, np.full(len(latitude_deg), eye_m), elevation_m)
    east, north = ground_slope(reliefs[0], SLOPE_BASELINE_M)
    return Terrain(
        horizon_deg=seen.horizon_deg,
        slope_east_frac=east,
        slope_north_frac=north,
        files=near.files,
        data_frac=near.data_frac,
        warnings=tuple(dict.fromkeys((*near.warnings, *far.warnings, *_gaps(near, seen)))),
    )


def read_ground_elevation(
    sources: Sequence[str], latitude_deg: FloatArray, longitude_deg: FloatArray
) -> FloatArray:
    """Return the ground's elevation (m) at n points, bilinear between cells; NaN where unknown.

    For tracks that carry none: smooth it along the road before taking grades from it.

    Raises:
        InputError: a source cannot be read, placed or understood, or none has data near the points.
    """
    check_points(latitude_deg, longitude_deg)
    along = read_elevation(sources, latitude_deg, longitude_deg, SLOPE_BASELINE_M)
    return elevation_at(_relief(along, 0.0, 0.0))


def _relief(along: RasterAlong, from_m: float, to_m: float) -> Relief:
    grid, at = along.grid, along.placement
    ground = pyramid(grid.tiles, grid.slot, grid.height, grid.width)
    return Relief(ground, RasterPoints(at.col, at.row, at.cells_per_m, from_m, to_m))


def _gaps(along: RasterAlong, seen: Horizon) -> tuple[str, ...]:
    known_frac = float(seen.data_frac.mean())
    if known_frac >= KNOWN_ENOUGH_FRAC:
        return ()
    names = " and ".join(file.name for file in along.files)
    return (
        f"{names}: unknown for {1 - known_frac:.0%} of the ground within {REACH_M / 1000:.0f} km of the road, "
        "counted the more the nearer it is; unknown ground hides no sun",
    )
