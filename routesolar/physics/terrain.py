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

from routesolar.arrays import FloatArray, IntArray, Slots, Tiles
from routesolar.physics.compiled import compiled
from routesolar.physics.tiles import tile_of

EARTH_RADIUS_M = 6_371_000.0
REFRACTION_FRAC = 0.13  # share of the Earth's curvature that refraction undoes, the surveyor's usual k
STEP_CELLS, STEP_FRAC = 0.5, 0.05  # a step is half a cell, or a twentieth of the distance if that is more
FAR_CELLS = 40.0  # from so many of its own cells on, maxima of a finer raster serve as well as the raster


class Pyramid(NamedTuple):
    """Elevations (m) in tiles, pooled by 1, 2, 4, ...: level l holds maxima of 2^l x 2^l cells, NaN ignored.

    A level is (k, t, t) float32; `slot` is the tile's index over the raster's rows and columns of tiles, -1
    where not read; `height` and `width` bound the raster in cells.
    """

    levels: tuple[Tiles, ...]
    slot: Slots
    height: int
    width: int


class RasterPoints(NamedTuple):
    """Where n points lie on a raster, and the distances it speaks for.

    `col`, `row` (n,) count cells from the raster's corner: a cell's centre lies at half numbers. `cells_per_m`
    (n, 2, 2) is [[dcol/deast, dcol/dnorth], [drow/deast, drow/dnorth]]. A raster with `from_m` above 0 holds
    maxima of a finer one, and should start FAR_CELLS of its cells away.
    """

    col: FloatArray
    row: FloatArray
    cells_per_m: FloatArray
    from_m: float
    to_m: float


class Relief(NamedTuple):
    """A raster of elevations and where the points lie on it."""

    ground: Pyramid
    place: RasterPoints


class HorizonRay(NamedTuple):
    """A ray over the ground: where it starts, rows and columns passed per metre, its reach and its eye."""

    row: float
    col: float
    rows_per_m: float
    cols_per_m: float
    from_m: float
    to_m: float
    eye_elevation_m: float


class Horizon(NamedTuple):
    """Elevation angle of the horizon (n, a), azimuths 0, 360/a, ... from north; share of samples known (n,)."""

    horizon_deg: FloatArray
    data_frac: FloatArray


def max_pool(elevation_m: Tiles, factor: int) -> Tiles:
    """Return the highest known elevation (m) of every `factor` x `factor` block of a (h, w) raster.

    NaN is ignored, and stays where a whole block is unknown; blocks cut by the edge use what they have.
    """
    height, width = elevation_m.shape
    padded = np.pad(
        elevation_m, ((0, -height % factor), (0, -width % factor)), constant_values=np.float32(np.nan)
    )
    blocks = padded.reshape(padded.shape[0] // factor, factor, padded.shape[1] // factor, factor)
    pooled: Tiles = np.fmax.reduce(np.fmax.reduce(blocks, axis=3), axis=1)
    return pooled


def pyramid(tiles: Tiles, slot: Slots, height: int, width: int) -> Pyramid:
    """Return tiles (k, t, t), t a power of two, with their maxima at every power of two up to a whole tile."""
    levels = [np.ascontiguousarray(tiles, dtype=np.float32)]
    while levels[-1].shape[1] > 1:
        pairs = np.fmax(levels[-1][:, ::2], levels[-1][:, 1::2])
        levels.append(np.ascontiguousarray(np.fmax(pairs[:, :, ::2], pairs[:, :, 1::2])))
    locked = [level.view() for level in levels]  # of one type, whether the caller's tiles are locked or not
    for level in locked:
        level.setflags(write=False)
    return Pyramid(tuple(locked), np.ascontiguousarray(slot, dtype=np.int32), height, width)


@compiled
def cell_m(ground: Pyramid, row: int, col: int, level: int) -> float:
    """Return the elevation (m) at `level` of the finest cell (row, col); NaN where unknown or outside."""
    bits = len(ground.levels) - 1  # a tile is 2^bits cells wide
    tile = tile_of(ground, bits, row, col)
    if tile < 0:
        return math.nan
    within = (1 << bits) - 1
    return ground.levels[level][tile, (row & within) >> level, (col & within) >> level]


@compiled
def between_cells_m(ground: Pyramid, row: float, col: float) -> float:
    """Return the elevation (m) bilinear between the four cell centres around (row, col).

    Where one of the four is unknown it is the elevation of the cell that holds the point, which may be NaN.
    """
    r, c = math.floor(row - 0.5), math.floor(col - 0.5)
    down, right = row - 0.5 - r, col - 0.5 - c
    upper = (1 - right) * cell_m(ground, r, c, 0) + right * cell_m(ground, r, c + 1, 0)
    lower = (1 - right) * cell_m(ground, r + 1, c, 0) + right * cell_m(ground, r + 1, c + 1, 0)
    elevation_m = (1 - down) * upper + down * lower
    if math.isnan(elevation_m):
        return cell_m(ground, math.floor(row), math.floor(col), 0)
    return elevation_m


@compiled
def _elevations(ground: Pyramid, row: FloatArray, col: FloatArray) -> FloatArray:
    elevation_m = np.empty(len(row))
    for i in range(len(row)):
        elevation_m[i] = between_cells_m(ground, row[i], col[i])
    return elevation_m


@compiled
def scan_ray(ground: Pyramid, ray: HorizonRay) -> tuple[float, int, int]:
    """Return the steepest rise (m per m, 0 at least) along a ray, the samples taken and the samples known."""
    step_cell_m = 1.0 / math.hypot(ray.rows_per_m, ray.cols_per_m)
    s = max(ray.from_m, STEP_CELLS * step_cell_m)
    top = len(ground.levels) - 1
    level, steepest, taken, known = 0, 0.0, 0, 0
    while s < ray.to_m:
        step = max(STEP_CELLS * step_cell_m, STEP_FRAC * s)
        while level < top and step >= (4 << level) * step_cell_m:  # level = floor(log2(step / cell)) - 1
            level += 1
        row, col = ray.row + ray.rows_per_m * s, ray.col + ray.cols_per_m * s
        if level == 0 and ray.from_m == 0.0:
            elevation_m = between_cells_m(ground, row, col)
        else:
            elevation_m = cell_m(ground, math.floor(row), math.floor(col), level)
        taken += 1
        if not math.isnan(elevation_m):
            known += 1
            drop_m = s * s * (1.0 - REFRACTION_FRAC) / (2.0 * EARTH_RADIUS_M)
            steepest = max(steepest, (elevation_m - drop_m - ray.eye_elevation_m) / s)
        s += step
    return steepest, taken, known


@compiled
def _scan(
    ground: Pyramid, place: RasterPoints, eye_elevation_m: FloatArray, steepest: FloatArray, counts: IntArray
) -> None:
    """Raise `steepest` (n, a) to what this relief shows; add samples taken and known to `counts` (n, 2)."""
    azimuths = steepest.shape[1]
    for i in range(steepest.shape[0]):
        for k in range(azimuths):
            angle = 2.0 * math.pi * k / azimuths
            east, north = math.sin(angle), math.cos(angle)
            ray = HorizonRay(
                place.row[i],
                place.col[i],
                place.cells_per_m[i, 1, 0] * east + place.cells_per_m[i, 1, 1] * north,
                place.cells_per_m[i, 0, 0] * east + place.cells_per_m[i, 0, 1] * north,
                place.from_m,
                place.to_m,
                eye_elevation_m[i],
            )
            rise, taken, known = scan_ray(ground, ray)
            steepest[i, k] = max(steepest[i, k], rise)
            counts[i, 0] += taken
            counts[i, 1] += known


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
    steepest = np.zeros((len(eye_elevation_m), azimuth_count))
    counts = np.zeros((len(eye_elevation_m), 2), dtype=np.int64)
    for relief in reliefs:
        _scan(relief.ground, relief.place, eye_elevation_m, steepest, counts)
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
