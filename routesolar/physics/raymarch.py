"""Trees by cell as a ray meets them: which cells lie in its way, and where it enters and leaves them.

A ray's frame has `s` ahead, towards the sun, and `y` to its right, in metres from the panel; a bundle of
lines runs along the ray at several `y`. Cells are cut exactly, border to border: nothing is sampled.
"""

from typing import NamedTuple

import numpy as np

from routesolar.arrays import FloatArray, Slots, Tiles
from routesolar.physics.compiled import inlined
from routesolar.physics.tiles import tile_of

# Columns of a cell in a ray's way: its borders in metres ahead at y = 0, its crown layers and height.
COL_IN, COL_OUT, ROW_IN, ROW_OUT, LAYERS, HEIGHT = range(6)
CELL_COLUMNS = 6

LOWEST_RISE = 0.052  # of a ray over its ground, metres per metre: that of a sun 3 degrees up over a plain


class Grid(NamedTuple):
    """Trees by cell: `cells` (k, t, t, 2) float32 hold crown layers and height in metres (NaN: not known).

    A tile's side t is 2^`bits` cells. `slot` is the tile's index by row and column of tiles, -1 where the
    tile is not in memory; there, and outside `height` x `width` cells, `beyond_layers` and
    `beyond_height_m` stand.
    """

    cells: Tiles
    slot: Slots
    bits: int
    height: int
    width: int
    beyond_layers: float
    beyond_height_m: float


class Views(NamedTuple):
    """n panels among trees: place on the grid, ground slope east and north, and what is known at the point.

    `col`, `row` (n,), `cells_per_m` (n, 2, 2) and the slopes are rise over run. `layers` and `height_m` win
    over the grid where not NaN; `default_height_m` stands where the grid knows no height; `tallest_m` (n, 2)
    bounds the trees within 120 m, and everywhere.
    """

    col: FloatArray
    row: FloatArray
    cells_per_m: FloatArray
    panel_height_m: float
    slope_east: FloatArray
    slope_north: FloatArray
    layers: FloatArray
    height_m: FloatArray
    default_height_m: FloatArray
    tallest_m: FloatArray


class Viewpoint(NamedTuple):
    """One point in a frame: grid place, cells per metre ahead and aside, and the point's own trees."""

    col: float
    row: float
    col_ahead: float
    row_ahead: float
    col_aside: float
    row_aside: float
    layers: float
    height_m: float
    default_height_m: float


class GroundAhead(NamedTuple):
    """The ground that matters to a ray: metres ahead from `low` to `high`, and `widest` to both sides."""

    low: float
    high: float
    widest: float


@inlined
def rise_of(views: Views, i: int, east: float, north: float, slope: float) -> float:
    """Return metres that a ray of this slope gains over the ground per metre ahead; 0 or less is in the ground.

    A ray that climbs at all climbs at the lowest rise at least. Flatter ones meet their trees beyond the
    distance that is looked at, and would pass every wood; the ground's slope does not hold that far either.
    """
    rise = slope - views.slope_east[i] * east - views.slope_north[i] * north
    return max(rise, LOWEST_RISE) if rise > 0.0 else rise


@inlined
def spot_of(views: Views, i: int, east: float, north: float) -> Viewpoint:
    """Return the view of point i in a frame that looks along the unit vector (east, north)."""
    cells = views.cells_per_m[i]
    return Viewpoint(
        views.col[i],
        views.row[i],
        cells[0, 0] * east + cells[0, 1] * north,
        cells[1, 0] * east + cells[1, 1] * north,
        cells[0, 0] * north - cells[0, 1] * east,
        cells[1, 0] * north - cells[1, 1] * east,
        views.layers[i],
        views.height_m[i],
        views.default_height_m[i],
    )


@inlined
def trees_at(grid: Grid, spot: Viewpoint, row: int, col: int) -> tuple[float, float]:
    """Return crown layers and height in metres of a cell, after what is known at the point itself."""
    layers, height_m = grid.beyond_layers, grid.beyond_height_m
    tile, last = tile_of(grid, grid.bits, row, col), (1 << grid.bits) - 1
    if tile >= 0:
        cell = grid.cells[tile, row & last, col & last]
        layers, height_m = float(cell[0]), float(cell[1])
    if not np.isnan(spot.layers):
        layers = spot.layers
    if not np.isnan(spot.height_m):
        height_m = spot.height_m
    elif np.isnan(height_m):
        height_m = spot.default_height_m
    return layers, height_m


@inlined
def per_cell(cells_ahead: float) -> float:
    """Return metres ahead per cell; along a border a huge number, which serves as well as infinity."""
    if abs(cells_ahead) < 1e-12:
        return 1e12
    return 1.0 / cells_ahead


@inlined
def gather_cells(grid: Grid, spot: Viewpoint, band: GroundAhead, cells: FloatArray) -> int:
    """Write the cells of a band that have trees; return how many there are, even if there is no room for all.

    A cell of unknown cover is written as NaN: it is never left out.
    """
    if not (np.isnan(spot.layers) or np.isnan(spot.height_m)):
        everywhere = (-np.inf, np.inf, -np.inf, np.inf)
        return _add_cell(cells, 0, everywhere, (spot.layers, spot.height_m))
    count = 0
    col_length, row_length = per_cell(spot.col_ahead), per_cell(spot.row_ahead)
    row_wide = abs(spot.row_aside) * band.widest
    for row in cells_between(spot.row, spot.row_ahead, band.low, band.high, row_wide):
        # The stretch of the band that touches this row, then the columns along it.
        near, far = (row - spot.row - row_wide) * row_length, (row + 1 - spot.row + row_wide) * row_length
        first, last = max(band.low, min(near, far)), min(band.high, max(near, far))
        if first > last:
            continue
        row_in, row_out = (row - spot.row) * row_length, (row + 1 - spot.row) * row_length
        row_in, row_out = min(row_in, row_out), max(row_in, row_out)
        for col in cells_between(spot.col, spot.col_ahead, first, last, abs(spot.col_aside) * band.widest):
            col_in, col_out = (col - spot.col) * col_length, (col + 1 - spot.col) * col_length
            borders = (min(col_in, col_out), max(col_in, col_out), row_in, row_out)
            count = _add_cell(cells, count, borders, trees_at(grid, spot, row, col))
    return count


@inlined
def cells_between(place: float, ahead: float, low: float, high: float, aside: float) -> range:
    """Return the columns (or rows) met from `low` to `high` metres ahead, `aside` cells to both sides."""
    one, other = place + ahead * low, place + ahead * high
    return range(int(np.floor(min(one, other) - aside)), int(np.floor(max(one, other) + aside)) + 1)


@inlined
def _add_cell(
    cells: FloatArray, count: int, borders: tuple[float, float, float, float], trees: tuple[float, float]
) -> int:
    """Write a cell with trees if there is room; return the new count."""
    if trees[0] == 0.0:
        return count
    if count < len(cells):
        cell = cells[count]
        cell[COL_IN], cell[COL_OUT], cell[ROW_IN], cell[ROW_OUT] = borders
        cell[LAYERS], cell[HEIGHT] = trees
    return count + 1
