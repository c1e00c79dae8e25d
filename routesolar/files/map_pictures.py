"""Lay tree cover and hills around a route out as small pictures for maps."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from rasterio import Affine
from rasterio.crs import CRS
from rasterio.enums import Resampling
from rasterio.warp import reproject

from routesolar.files.raster_mosaic import survey
from routesolar.files.raster_tiles import apply, carried, cell_size_m, locate
from routesolar.files.rasters import RasterAlong, read_elevation
from routesolar.physics.geodesy import wrap_longitude_deg
from routesolar.physics.hillshade import ground_gradient, lambert_shade
from routesolar.physics.stand import block_means
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import MapPicture
from routesolar.trip.surroundings import TILE, TiledGrid

LARGEST_PX = 600
EARTH_M = 6378137.0  # radius of the sphere that Web Mercator is drawn on
NARROWEST, WIDEST = 0.8, 2.7  # width over height of the maps that a route is drawn on
HALF = 0.7  # of what a map shows: the route, a margin, and up to the next step of zoom
STEEP_FRAC, STEEP_PERCENTILE = 0.8, 98  # hills are drawn higher until their steep parts rise so much
MOST_EXAGGERATED = 8.0


class Box(NamedTuple):
    """A rectangle in Mercator metres, eastings counted from `middle_deg`."""

    middle_deg: float
    west: float
    south: float
    east: float
    north: float

    @property
    def crs(self) -> CRS:
        """The projection in which the box is one."""
        return CRS.from_proj4(f"+proj=merc +a={EARTH_M} +b={EARTH_M} +lon_0={self.middle_deg} +units=m")


def canopy_picture(cover: RasterAlong) -> MapPicture:
    """Return the corridor's cover (0-1) at most 600 pixels a side, NaN where unknown.

    Edges are counted from the route's own longitude, so that one across the antimeridian stays in one piece.
    """
    coarse, grid = _reduced(cover.grid, cover.transform)
    box = _around(coarse.shape, grid, cover)
    return _picture(_laid_out(coarse, grid, cover.crs, box, Resampling.nearest), box)


def read_relief(
    sources: Sequence[str], latitude_deg: FloatArray, longitude_deg: FloatArray
) -> MapPicture | None:
    """Return shaded relief (0-1, `physics.hillshade`) of all that a map of the points shows, NaN where unknown.

    Low hills are drawn up to eight times higher than they are, as is usual on maps. None where all is unknown.

    Raises:
        InputError: a source cannot be read, placed or understood, or none has data near the points.
    """
    box = map_of(latitude_deg, longitude_deg)
    scale = math.cos(math.radians(float(np.mean(latitude_deg))))
    pixel_m = max(box.east - box.west, box.north - box.south) / LARGEST_PX * scale
    first = survey(sources, 1)[0]
    spots = locate(first.crs, first.transform, first.middle_deg, latitude_deg, longitude_deg)
    pooled = 2 ** max(0, math.floor(math.log2(pixel_m / cell_size_m(spots))))
    reach_m = scale * max(box.east - box.west, box.north - box.south) / 2
    ground = read_elevation(sources, latitude_deg, longitude_deg, reach_m, pooled)
    coarse, grid = _reduced(ground.grid, ground.transform)
    elevation_m = _laid_out(coarse, grid, ground.crs, box, Resampling.bilinear)
    rows = len(elevation_m)
    y = box.north - (np.arange(rows) + 0.5) / rows * (box.north - box.south)
    # Web Mercator is larger than the ground by 1 / cos(latitude) = cosh(y / radius).
    side_m = (box.north - box.south) / rows / np.cosh(y / EARTH_M)
    east, north = ground_gradient(elevation_m.astype(np.float64), side_m[:, None])
    slope = np.hypot(east, north)
    if not np.isfinite(slope).any():
        return None
    steep = float(np.nanpercentile(slope, STEEP_PERCENTILE))
    higher = float(np.clip(STEEP_FRAC / max(steep, 1e-6), 1.0, MOST_EXAGGERATED))
    return _picture(lambert_shade(higher * east, higher * north).astype(np.float32), box)


def map_of(latitude_deg: FloatArray, longitude_deg: FloatArray) -> Box:
    """Return what any map of the points may show, with a margin; at least a kilometre."""
    middle_deg = float(longitude_deg[0])
    x = EARTH_M * np.radians(wrap_longitude_deg(longitude_deg - middle_deg))
    y = EARTH_M * np.arcsinh(np.tan(np.radians(np.clip(latitude_deg, -85, 85))))
    wide, high = np.ptp(x) + 1000.0, np.ptp(y) + 1000.0
    half_wide, half_high = HALF * max(wide, WIDEST * high), HALF * max(high, wide / NARROWEST)
    at_x, at_y = (x.min() + x.max()) / 2, (y.min() + y.max()) / 2
    return Box(middle_deg, at_x - half_wide, at_y - half_high, at_x + half_wide, at_y + half_high)


def _laid_out(
    values: NDArray[np.float32], grid: Affine, crs: CRS, box: Box, resampling: Resampling
) -> NDArray[np.float32]:
    """Return values in the box, north up, at most 600 square pixels a side; NaN where there are none."""
    pixel_m = max(box.east - box.west, box.north - box.south) / LARGEST_PX
    width, height = (max(1, round(side / pixel_m)) for side in (box.east - box.west, box.north - box.south))
    drawn = np.full((height, width), np.nan, dtype=np.float32)
    reproject(
        values,
        drawn,
        src_transform=grid,
        src_crs=crs,
        src_nodata=np.nan,
        dst_transform=Affine(
            (box.east - box.west) / width, 0.0, box.west, 0.0, (box.south - box.north) / height, box.north
        ),
        dst_crs=box.crs,
        dst_nodata=np.nan,
        resampling=resampling,
    )
    return drawn


def _picture(values: NDArray[np.float32], box: Box) -> MapPicture:
    south_deg, north_deg = (math.degrees(math.atan(math.sinh(y / EARTH_M))) for y in (box.south, box.north))
    return MapPicture(
        values=values,
        south_deg=south_deg,
        west_deg=box.middle_deg + math.degrees(box.west / EARTH_M),
        north_deg=north_deg,
        east_deg=box.middle_deg + math.degrees(box.east / EARTH_M),
    )


def _reduced(grid: TiledGrid, cell_to_crs: Affine) -> tuple[NDArray[np.float32], Affine]:
    """Return block means of the known part as one array near the picture's size, and its transform."""
    tiles_across = max(grid.slot.shape)
    factor = int(2 ** np.clip(np.round(np.log2(tiles_across * TILE / (2 * LARGEST_PX))), 0, np.log2(TILE)))
    m = TILE // factor
    coarse = np.full((grid.slot.shape[0] * m, grid.slot.shape[1] * m), np.nan, dtype=np.float32)
    for row, col in np.argwhere(grid.slot >= 0):
        tile = grid.tiles[grid.slot[row, col]]
        coarse[row * m : (row + 1) * m, col * m : (col + 1) * m] = block_means(tile[None], factor)[0]
    t = cell_to_crs
    known = np.isfinite(coarse)
    rows, cols = np.flatnonzero(known.any(axis=1)), np.flatnonzero(known.any(axis=0))
    x, y = apply(t, cols[0] * factor, rows[0] * factor)
    cut = coarse[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]
    return cut, Affine(t.a * factor, t.b * factor, x, t.d * factor, t.e * factor, y)


def _around(shape: tuple[int, ...], grid: Affine, along: RasterAlong) -> Box:
    """Return the box around an array in the raster's CRS."""
    anywhere = Box(along.longitude_deg, 0.0, 0.0, 0.0, 0.0)
    edge = np.linspace(0.0, 1.0, 21)
    cols = np.concatenate([edge, edge, 0 * edge, 0 * edge + 1]) * shape[1]
    rows = np.concatenate([0 * edge, 0 * edge + 1, edge, edge]) * shape[0]
    x, y = carried(along.crs, anywhere.crs, *apply(grid, cols, rows))
    x, y = x[np.isfinite(x)], y[np.isfinite(y)]
    return anywhere._replace(
        west=float(x.min()), south=float(y.min()), east=float(x.max()), north=float(y.max())
    )
