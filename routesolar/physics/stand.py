"""From grids of cover and height to what the ray march reads: crown layers and height by cell."""

from math import ceil, log2

import numpy as np

from routesolar.arrays import FloatArray, Slots, Tiles, read_only
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.crowns import COVER_CAP
from routesolar.physics.elementary import logarithm
from routesolar.physics.raymarch import Grid, Views, spot_of
from routesolar.physics.shadows import NEAR_M
from routesolar.physics.tiles import bits_of, tile_of

FINEST_M = 4.0  # finer cells of cover are put together


def no_grid() -> Grid:
    """Return a grid without a cell, for points that know their trees without a raster."""
    return Grid(np.zeros((0, 1, 1, 2), np.float32), np.full((1, 1), -1, np.int32), 0, 0, 0, np.nan, np.nan)


def block_side(cell_m: float, tile: int) -> int:
    """Return how many cells of cover a side are read as one: a power of two, at most a whole tile.

    Cells finer than 4 m are full or empty, and tell where one crown ends; crowns at random on full cells reach
    beyond it and overlap. Averaged to 4-8 m, planted woods come out .03-.05 too dark instead of .05-.09, single
    rows of trees .03-.04 instead of .11-.13. Cells of more than 8 m would smear such rows over the fields.
    """
    return min(tile, 1 << max(0, ceil(log2(FINEST_M / cell_m) - 0.1)))


def block_means(values: Tiles, side: int, weight: Tiles | None = None) -> Tiles:
    """Return means over blocks of `side` x `side` cells of tiles (k, t, t), weighted if asked for.

    NaN are left out; a block that knows nothing, or has no weight, is NaN.
    """
    if side == 1:
        return values
    count, tile = values.shape[0], values.shape[1] // side
    blocks = (count, tile, side, tile, side)
    share = np.float32(1) if weight is None else weight
    shares = np.where(np.isnan(values), np.float32(0), share).reshape(blocks)
    total, whole = np.nansum(shares * values.reshape(blocks), axis=(2, 4)), shares.sum(axis=(2, 4))
    return np.divide(total, whole, out=np.full_like(total, np.nan), where=whole > 0)


def grid_of(cover: tuple[Tiles, Slots], height: tuple[Tiles, Slots] | None, size: tuple[int, int]) -> Grid:
    """Return the cells of a cover raster (fractions) with the heights of another on the same lattice.

    Cells of unknown cover, and everything beyond the tiles in memory, take the mean of the known cells:
    unknown is never "no trees". NaN remains where nothing is known at all. Unknown height stays NaN.
    """
    tiles, slot = cover
    heights, height_slot = (tiles[:0], np.full_like(slot, -1)) if height is None else height
    cells = np.empty((*tiles.shape, 2), np.float32)
    cover_seen, height_seen = (read_only(values) for values in (tiles, heights))
    slots = (read_only(values) for values in (slot, height_slot))
    beyond, height_m = _fill_cells(cells, cover_seen, height_seen, *slots)
    return Grid(cells, slot, bits_of(tiles.shape[1]), *size, beyond, height_m)


@compiled
def _fill_cells(
    cells: Tiles, cover: Tiles, height: Tiles, slot: Slots, height_slot: Slots
) -> tuple[float, float]:
    """Fill layers of crowns and heights in; return the means of both over the cells that know them, or NaN."""
    layers, nothing = np.empty(cells.shape[2]), np.full(cells.shape[2], np.nan)
    total, known = np.zeros((2, len(layers))), np.zeros((2, len(layers)))  # by column, which go side by side
    placed = np.zeros(len(cells), np.bool_)
    for down in range(slot.shape[0]):
        for across in range(slot.shape[1]):
            k, tall = slot[down, across], height_slot[down, across]
            for row in range(cells.shape[1] if k >= 0 else 0):
                _fill_layers(layers, cover[k, row])
                _put_in(cells[k, row], 0, layers, total[0], known[0])
                if tall >= 0:
                    _put_in(cells[k, row], 1, height[tall, row], total[1], known[1])
                else:
                    _put_in(cells[k, row], 1, nothing, total[1], known[1])
            if k >= 0:
                placed[k] = True
    for k in range(len(cells)):
        if not placed[k]:  # a tile may stand nowhere on the raster
            cells[k] = np.nan
    beyond, height_m = _mean(total[0], known[0]), _mean(total[1], known[1])
    if known[0].sum() < cells[..., 0].size:
        for k in range(len(cells)):
            for row in range(cells.shape[1]):
                for col in range(cells.shape[2]):
                    layer = cells[k, row, col, 0]
                    cells[k, row, col, 0] = layer if layer == layer else np.float32(beyond)
    return beyond, height_m


@inlined
def _mean(total: FloatArray, known: FloatArray) -> float:
    """Return the mean of values with such totals, of so many; NaN of none."""
    count = known.sum()
    return total.sum() / count if count > 0.0 else np.nan


@inlined
def _fill_layers(layers: FloatArray, cover: Tiles) -> None:
    """Fill in how many crowns a plumb line meets on average, where covers are such."""
    for col in range(len(layers)):
        layers[col] = -logarithm(1.0 - min(np.float64(cover[col]), COVER_CAP))


@inlined
def _put_in(row: Tiles, kind: int, values: FloatArray, total: FloatArray, known: FloatArray) -> None:
    """Put values of one kind into a row of cells, and add those that are known to their columns' totals."""
    for col in range(len(values)):
        value = np.float64(values[col])
        row[col, kind] = value
        total[col] += value if value == value else 0.0
        known[col] += 1.0 if value == value else 0.0


@compiled
def tallest_m(views: Views, grid: Grid) -> FloatArray:
    """Return upper bounds of the trees' height in metres within 120 m of each point, and anywhere: (n, 2)."""
    everywhere = _known_or_zero(grid.beyond_height_m)
    for k in range(len(grid.cells)):
        for row in range(grid.cells.shape[1]):
            for col in range(grid.cells.shape[2]):
                everywhere = max(everywhere, _known_or_zero(grid.cells[k, row, col, 1]))
    tallest = np.empty((len(views.col), 2))
    for i in range(len(views.col)):
        if not np.isnan(views.height_m[i]):
            tallest[i] = views.height_m[i]
            continue
        near = views.default_height_m[i]
        spot = spot_of(views, i, 0.0, 1.0)
        reach_col = NEAR_M * (abs(spot.col_ahead) + abs(spot.col_aside))
        reach_row = NEAR_M * (abs(spot.row_ahead) + abs(spot.row_aside))
        for row in range(int(np.floor(spot.row - reach_row)), int(np.floor(spot.row + reach_row)) + 1):
            for col in range(int(np.floor(spot.col - reach_col)), int(np.floor(spot.col + reach_col)) + 1):
                near = max(near, _height_at(grid, row, col))
        tallest[i, 0] = near
        tallest[i, 1] = max(near, everywhere)
    return tallest


@compiled
def _height_at(grid: Grid, row: int, col: int) -> float:
    tile, last = tile_of(grid, grid.bits, row, col), (1 << grid.bits) - 1
    if tile >= 0:
        return _known_or_zero(grid.cells[tile, row & last, col & last, 1])
    return _known_or_zero(grid.beyond_height_m)


@compiled
def _known_or_zero(height_m: float) -> float:
    return np.float64(height_m) if height_m > 0.0 else 0.0
