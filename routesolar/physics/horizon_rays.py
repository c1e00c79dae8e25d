"""Rays that walk over the ground from a panel: how steeply the ground rises towards each direction.

Steps grow with distance and read ever coarser maxima of the raster. A ray ends where the highest ground around
could no longer stand out; what is known of the ground is counted only where some of it is not.
"""

import math
from typing import NamedTuple

from routesolar.arrays import BoolArray, FloatArray, IntArray, Slots, Tiles
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.tiles import tile_of

EARTH_RADIUS_M = 6_371_000.0
REFRACTION_FRAC = 0.13  # share of the Earth's curvature that refraction undoes, the surveyor's usual k
DROP_PER_M2 = (1.0 - REFRACTION_FRAC) / (2.0 * EARTH_RADIUS_M)
STEP_CELLS, STEP_FRAC = 0.5, 0.05  # a step is half a cell, or a twentieth of the distance if that is more
BOUND_BLOCKS = 32  # a side, whose maxima bound the ground around a point


class Pyramid(NamedTuple):
    """Elevations (m) in tiles, and pooled by 2, 4, ...: level l holds maxima of 2^l x 2^l cells, NaN ignored.

    `tiles` (k, t, t) float32 is level 0, t is 2^`bits`; `coarser` (k, .) holds each tile's levels from 1 up to
    that of a single cell, one after the other. `slot` is the tile's index over the raster's rows and columns of
    tiles, -1 where not read; `unknown` (k,) tells which tiles have a cell without data. `height` and `width`
    bound the raster in cells.
    """

    tiles: Tiles
    coarser: Tiles
    unknown: BoolArray
    slot: Slots
    bits: int
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


class HorizonRay(NamedTuple):
    """A ray over the ground: where it starts, rows and columns passed per metre, its reach and its eye."""

    row: float
    col: float
    rows_per_m: float
    cols_per_m: float
    from_m: float
    to_m: float
    eye_elevation_m: float


@inlined
def cell_m(ground: Pyramid, row: int, col: int, level: int) -> float:
    """Return the elevation (m) at `level` of the finest cell (row, col); NaN where unknown or outside."""
    tile, last = tile_of(ground, ground.bits, row, col), (1 << ground.bits) - 1
    if tile < 0:
        return math.nan
    if level == 0:
        return float(ground.tiles[tile, row & last, col & last])
    # A level of 4^n cells stands behind those finer than it, of 4^(n + 1) and so on.
    side_bits = ground.bits - level
    start = ((1 << 2 * ground.bits) - (1 << 2 * (side_bits + 1))) // 3
    place = ((row & last) >> level << side_bits) + ((col & last) >> level)
    return float(ground.coarser[tile, start + place])


@inlined
def between_cells_m(ground: Pyramid, row: float, col: float) -> float:
    """Return the elevation (m) bilinear between the four cell centres around (row, col).

    Where one of the four is unknown it is the elevation of the cell that holds the point, which may be NaN.
    """
    r, c = math.floor(row - 0.5), math.floor(col - 0.5)
    down, right = row - 0.5 - r, col - 0.5 - c
    last = (1 << ground.bits) - 1
    tile = tile_of(ground, ground.bits, r, c) if (r & last) < last and (c & last) < last else -1
    if tile >= 0:  # all four in one tile
        tile_row, tile_col = r & last, c & last
        upper = (1 - right) * ground.tiles[tile, tile_row, tile_col]
        upper += right * ground.tiles[tile, tile_row, tile_col + 1]
        lower = (1 - right) * ground.tiles[tile, tile_row + 1, tile_col]
        lower += right * ground.tiles[tile, tile_row + 1, tile_col + 1]
    else:
        upper = (1 - right) * cell_m(ground, r, c, 0) + right * cell_m(ground, r, c + 1, 0)
        lower = (1 - right) * cell_m(ground, r + 1, c, 0) + right * cell_m(ground, r + 1, c + 1, 0)
    elevation_m = (1 - down) * upper + down * lower
    if math.isnan(elevation_m):
        return cell_m(ground, math.floor(row), math.floor(col), 0)
    return elevation_m


@inlined
def scan_ray(ground: Pyramid, ray: HorizonRay, highest_m: float, steepest: float) -> float:
    """Return the steepest rise (m per m) along a ray, at least `steepest`; no ground is over `highest_m`."""
    s, step_cell_m = _first_step(ray)
    level = 0
    while s < ray.to_m:
        drop_m = DROP_PER_M2 * s * s
        if highest_m - drop_m - ray.eye_elevation_m <= steepest * s:
            break  # from here on nothing can stand out
        step = max(STEP_CELLS * step_cell_m, STEP_FRAC * s)
        level = _level_at(ground, level, step, step_cell_m)
        row, col = ray.row + ray.rows_per_m * s, ray.col + ray.cols_per_m * s
        if level == 0 and ray.from_m == 0.0:
            elevation_m = between_cells_m(ground, row, col)
        else:
            elevation_m = cell_m(ground, math.floor(row), math.floor(col), level)
        rise = (elevation_m - drop_m - ray.eye_elevation_m) / s
        if rise > steepest:
            steepest = rise
        s += step
    return steepest


@inlined
def count_ray(ground: Pyramid, ray: HorizonRay) -> tuple[int, int]:
    """Return how many samples there are along a ray, and of how many the elevation is known."""
    s, step_cell_m = _first_step(ray)
    level, taken, known = 0, 0, 0
    while s < ray.to_m:
        step = max(STEP_CELLS * step_cell_m, STEP_FRAC * s)
        level = _level_at(ground, level, step, step_cell_m)
        row, col = math.floor(ray.row + ray.rows_per_m * s), math.floor(ray.col + ray.cols_per_m * s)
        taken += 1
        known += not math.isnan(cell_m(ground, row, col, level))
        s += step
    return taken, known


@inlined
def _first_step(ray: HorizonRay) -> tuple[float, float]:
    """Return the metres to a ray's first sample, and those in a cell's width."""
    step_cell_m = 1.0 / math.hypot(ray.rows_per_m, ray.cols_per_m)
    return max(ray.from_m, STEP_CELLS * step_cell_m), step_cell_m


@inlined
def _level_at(ground: Pyramid, level: int, step: float, step_cell_m: float) -> int:
    """Return the level read at a step: floor(log2(step / cell)) - 1, from that of the step before."""
    while level < ground.bits and step >= (4 << level) * step_cell_m:
        level += 1
    return level


@inlined
def _ray_at(place: RasterPoints, i: int, direction: FloatArray, eye_elevation_m: float) -> HorizonRay:
    east, north = direction
    return HorizonRay(
        place.row[i],
        place.col[i],
        place.cells_per_m[i, 1, 0] * east + place.cells_per_m[i, 1, 1] * north,
        place.cells_per_m[i, 0, 0] * east + place.cells_per_m[i, 0, 1] * north,
        place.from_m,
        place.to_m,
        eye_elevation_m,
    )


@inlined
def _around(place: RasterPoints, i: int) -> tuple[int, int, int, int]:
    """Return the first and last row, then column, of cells within reach of a point."""
    cells = place.cells_per_m[i]
    rows = place.to_m * math.hypot(cells[1, 0], cells[1, 1])
    cols = place.to_m * math.hypot(cells[0, 0], cells[0, 1])
    return (
        math.floor(place.row[i] - rows) - 1,
        math.floor(place.row[i] + rows) + 1,
        math.floor(place.col[i] - cols) - 1,
        math.floor(place.col[i] + cols) + 1,
    )


@inlined
def _highest_m(ground: Pyramid, place: RasterPoints, i: int) -> float:
    """Return an upper bound of the ground within reach of a point; -inf where none is known."""
    first_row, last_row, first_col, last_col = _around(place, i)
    level = 0
    while level < ground.bits and max(last_row - first_row, last_col - first_col) >> level > BOUND_BLOCKS:
        level += 1
    highest_m = -math.inf
    for row in range(max(first_row, 0) >> level, (min(last_row, ground.height - 1) >> level) + 1):
        for col in range(max(first_col, 0) >> level, (min(last_col, ground.width - 1) >> level) + 1):
            block_m = cell_m(ground, row << level, col << level, level)
            if block_m > highest_m:
                highest_m = block_m
    return highest_m


@inlined
def _all_known(ground: Pyramid, place: RasterPoints, i: int) -> bool:
    """Return whether all tiles within reach of a point are known to their last cell."""
    first_row, last_row, first_col, last_col = _around(place, i)
    if first_row < 0 or first_col < 0 or last_row >= ground.height or last_col >= ground.width:
        return False
    for row in range(first_row >> ground.bits, (last_row >> ground.bits) + 1):
        for col in range(first_col >> ground.bits, (last_col >> ground.bits) + 1):
            tile = ground.slot[row, col]
            if tile < 0 or ground.unknown[tile]:
                return False
    return True


@compiled
def scan(
    ground: Pyramid,
    place: RasterPoints,
    eye_elevation_m: FloatArray,
    directions: FloatArray,
    steepest: FloatArray,
) -> None:
    """Raise `steepest` (n, a) to what this relief shows towards `directions` (a, 2), east and north."""
    for i in range(steepest.shape[0]):
        highest_m = _highest_m(ground, place, i)
        for k in range(len(directions)):
            ray = _ray_at(place, i, directions[k], eye_elevation_m[i])
            steepest[i, k] = scan_ray(ground, ray, highest_m, steepest[i, k])


@compiled
def note_gaps(ground: Pyramid, place: RasterPoints, whole: BoolArray) -> None:
    """Unset those of `whole` (n,) around which this relief has ground that is not known."""
    for i in range(len(whole)):
        whole[i] = whole[i] and _all_known(ground, place, i)


@compiled
def count(
    ground: Pyramid, place: RasterPoints, whole: BoolArray, directions: FloatArray, counts: IntArray
) -> None:
    """Add samples taken and known to `counts` (n, 2) of the points that are not `whole`."""
    for i in range(len(whole)):
        for k in range(0 if whole[i] else len(directions)):
            taken, known = count_ray(ground, _ray_at(place, i, directions[k], 0.0))
            counts[i, 0] += taken
            counts[i, 1] += known
