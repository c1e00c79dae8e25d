"""The horizon that terrain draws around points of a road, from elevation rasters.

A ray walks outwards from the panel; the highest angle it meets is the horizon in that direction
(Dozier, Bruno & Downey 1981, Computers & Geosciences 7:145; Dozier & Frew 1990). Steps grow with distance and
read ever coarser maxima of the raster, so tens of kilometres cost about a hundred samples a direction.
Against a scan of every half cell the error is .06-.09 deg RMS, .7 deg at worst; on one long steady slope the
maxima add up to 2.5 % to its tangent. Pooling by the mean would lose .16 deg on average.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from routesolar.arrays import FloatArray, Slots, Tiles, read_only
from routesolar.physics.compiled import compiled
from routesolar.physics.horizon_rays import Pyramid, RasterPoints, between_cells_m, count, note_gaps, scan
from routesolar.physics.tiles import bits_of

FAR_CELLS = 40.0  # from so many of its own cells on, maxima of a finer raster serve as well as the raster


class Relief(NamedTuple):
    """A raster of elevations and where the points lie on it."""

    ground: Pyramid
    place: RasterPoints


class Horizon(NamedTuple):
    """Elevation angle of the horizon (n, a), azimuths 0, 360/a, ... from north; share of samples known (n,)."""

    horizon_deg: FloatArray
    data_frac: FloatArray


def max_pool(elevation_m: Tiles, factor: int) -> Tiles:
    """Return the highest known elevation (m) of every `factor` x `factor` block of a (h, w) raster.

    NaN is ignored, and stays where a whole block is unknown; blocks cut by the edge use what they have.
    """
    height, width = elevation_m.shape
    padded = elevation_m
    if height % factor or width % factor:
        beyond = (0, -height % factor), (0, -width % factor)
        padded = np.pad(elevation_m, beyond, constant_values=np.float32(np.nan))
    rows = np.array(padded[::factor])
    for k in range(1, factor):
        np.fmax(rows, padded[k::factor], out=rows)
    pooled = np.array(rows[:, ::factor])
    for k in range(1, factor):
        np.fmax(pooled, rows[:, k::factor], out=pooled)
    return pooled


def pyramid(tiles: Tiles, slot: Slots, height: int, width: int) -> Pyramid:
    """Return tiles (k, t, t), t a power of two, with their maxima at every power of two up to a whole tile."""
    tiles = np.ascontiguousarray(tiles, dtype=np.float32)
    count, side = tiles.shape[:2]
    coarser = np.empty((count, (side * side - 1) // 3), np.float32)
    finer, start = tiles, 0
    while side > 1:
        side //= 2
        finer = max_pool(finer.reshape(-1, 2 * side), 2)
        coarser[:, start : start + side * side] = finer.reshape(count, -1)
        start += side * side
    unknown = np.any(np.isnan(tiles), axis=(1, 2))
    slot = np.ascontiguousarray(slot, dtype=np.int32)
    return Pyramid(read_only(tiles), coarser, unknown, slot, bits_of(tiles.shape[1]), height, width)


@compiled
def _elevations(ground: Pyramid, row: FloatArray, col: FloatArray) -> FloatArray:
    elevation_m = np.empty(len(row))
    for i in range(len(row)):
        elevation_m[i] = between_cells_m(ground, row[i], col[i])
    return elevation_m


def horizon(
    reliefs: Sequence[Relief], eye_m: FloatArray, elevation_m: FloatArray, azimuth_count: int = 72
) -> Horizon:
    """Return the horizon's elevation angle (deg) around n points, and the share of samples known.

    The eye stands `eye_m` above the first relief's ground, or above `elevation_m` where that relief is unknown
    (a point with neither has a horizon at 0 and a data share of 0). The Earth's curvature and refraction
    lower what is far: drop = s^2 (1-k)/(2R), k = .13. Unknown ground hides nothing; a horizon below the
    level line is given as 0. Bearings go through each point's own cells per metre, so any CRS serves; over
    40 km on a latitude-longitude grid that bends a ray by .5 deg at latitude 70, less nearer the equator.
    """
    ground_m = elevation_at(reliefs[0])
    eye_elevation_m = np.where(np.isnan(ground_m), elevation_m, ground_m) + eye_m
    angles = [2.0 * math.pi * k / azimuth_count for k in range(azimuth_count)]
    directions = np.array([(math.sin(angle), math.cos(angle)) for angle in angles])
    n = len(eye_elevation_m)
    steepest, whole = np.zeros((n, azimuth_count)), np.ones(n, dtype=np.bool_)
    for relief in reliefs:
        scan(*relief, eye_elevation_m, directions, steepest)
        note_gaps(*relief, whole)
    counts = np.ones((n, 2), dtype=np.int64) * whole[:, None]
    for relief in reliefs:
        count(*relief, whole, directions, counts)
    data_frac = np.where(np.isnan(eye_elevation_m), 0.0, counts[:, 1] / np.maximum(counts[:, 0], 1))
    return Horizon(np.degrees(np.arctan(steepest)), data_frac)


def elevation_at(relief: Relief, east_m: float = 0.0, north_m: float = 0.0) -> FloatArray:
    """Return the ground's elevation (m) at every point, moved by `east_m` and `north_m`; NaN where unknown."""
    place = relief.place
    col = place.col + place.cells_per_m[:, 0, 0] * east_m + place.cells_per_m[:, 0, 1] * north_m
    row = place.row + place.cells_per_m[:, 1, 0] * east_m + place.cells_per_m[:, 1, 1] * north_m
    return _elevations(relief.ground, row, col)


def ground_slope(relief: Relief, baseline_m: float = 60.0) -> tuple[FloatArray, FloatArray]:
    """Return the ground's slope (rise per metre) toward east and toward north, NaN where unknown.

    Differences over `baseline_m` centred on the point: long enough to see the hillside that the trees
    stand on rather than the road's own bench.
    """
    half = baseline_m / 2
    east = (elevation_at(relief, half) - elevation_at(relief, -half)) / baseline_m
    north = (elevation_at(relief, 0.0, half) - elevation_at(relief, 0.0, -half)) / baseline_m
    return east, north


@compiled
def horizon_toward_deg(horizon_deg: FloatArray, azimuth_deg: float) -> float:
    """Return the horizon (deg) toward one azimuth, linear between the (a,) known ones; NaN for NaN."""
    if math.isnan(azimuth_deg):
        return math.nan
    count = len(horizon_deg)
    place = (azimuth_deg % 360.0) / 360.0 * count
    left = math.floor(place)
    share = place - left
    return (1.0 - share) * horizon_deg[left % count] + share * horizon_deg[(left + 1) % count]


@compiled
def interpolate_horizon(horizon_deg: FloatArray, azimuth_deg: FloatArray) -> FloatArray:
    """Return the horizon (deg) of n points (n, a) toward azimuths (d, n), shape (d, n); NaN for NaN.

    Linear between azimuths: with 5 deg steps within .5 deg except at sharp edges.
    """
    toward = np.empty(azimuth_deg.shape)
    for k in range(azimuth_deg.shape[0]):
        for i in range(azimuth_deg.shape[1]):
            toward[k, i] = horizon_toward_deg(horizon_deg[i], azimuth_deg[k, i])
    return toward


def level_sky_view_frac(horizon_deg: FloatArray) -> FloatArray:
    """Return the share of an isotropic sky's light that a level panel keeps: mean of cos^2 h over azimuths.

    Closed form for a horizon at or above level (Dozier & Frew 1990). Shape (n,) for (n, a).
    """
    share: FloatArray = np.mean(np.cos(np.radians(horizon_deg)) ** 2, axis=-1)
    return share
