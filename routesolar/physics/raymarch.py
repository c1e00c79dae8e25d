"""Lines through a grid of trees, cell by cell: how much shadow each cell adds along one line.

A line runs along the ray at offset `y` to its right. In each cell it crosses, trees of that cell's height
shade a stretch [centre - half, centre + half] of the line; the stretch counts where it lies in the cell
and outside the road's corridor. All lengths are metres from the vehicle; nothing is sampled.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.physics.compiled import compiled
from routesolar.physics.corridor import REACH_M, free_length

Array = NDArray[np.float64]


class Grid(NamedTuple):
    """Trees by cell: `cells` (k, t, t, 2) float32 hold crown layers and height in metres (NaN: not known).

    `slot` is the tile's index by row and column of tiles, -1 where the tile is not in memory; there, and
    outside `height` x `width` cells, `beyond_layers` and `beyond_height_m` stand.
    """

    cells: NDArray[np.float32]
    slot: NDArray[np.int32]
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

    col: Array
    row: Array
    cells_per_m: Array
    panel_height_m: float
    slope_east: Array
    slope_north: Array
    layers: Array
    height_m: Array
    default_height_m: Array
    tallest_m: Array


class Crowns(NamedTuple):
    """What turns a height into a crown: base and centre height, radius (all per metre of height)."""

    base: float
    centre: float
    radius: float
    ratio: float
    steps: Array  # relative heights of the size classes that share the crowns


class Ray(NamedTuple):
    """One ray in the frame of its ground: forward unit east, north; rise above the ground ahead and aside."""

    east: float
    north: float
    rise: float  # metres the ray gains over the ground per metre ahead
    side_slope: float  # rise of the ground per metre to the right
    half_chord: float  # metres along the ray per metre of a crown's half-width
    panel_height_m: float


class Spot(NamedTuple):
    """The view of one ray: grid place, cells per metre ahead and aside, and overriding values of the point."""

    col: float
    row: float
    col_ahead: float
    row_ahead: float
    col_aside: float
    row_aside: float
    layers: float
    height_m: float
    default_height_m: float


@compiled
def spot_of(views: Views, i: int, east: float, north: float) -> Spot:
    """Return the view of point i in a frame that looks along the unit vector (east, north)."""
    cells = views.cells_per_m[i]
    return Spot(
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


@compiled
def trees_at(grid: Grid, spot: Spot, row: int, col: int) -> tuple[float, float]:
    """Return crown layers and height in metres of a cell, after what is known at the point itself."""
    layers, height_m = spot.layers, spot.height_m
    if not (np.isnan(layers) or np.isnan(height_m)):
        return layers, height_m
    tile = grid.cells.shape[1]
    slot = -1
    if 0 <= row < grid.height and 0 <= col < grid.width:
        slot = grid.slot[row // tile, col // tile]
    if np.isnan(layers):
        layers = float(grid.cells[slot, row % tile, col % tile, 0]) if slot >= 0 else grid.beyond_layers
    if np.isnan(height_m):
        height_m = float(grid.cells[slot, row % tile, col % tile, 1]) if slot >= 0 else grid.beyond_height_m
    if np.isnan(height_m):
        height_m = spot.default_height_m
    return layers, height_m


@compiled
def shadow_on_line(cell: Array, y: float, ray: Ray, crowns: Crowns, spans: Array, count: int) -> float:
    """Return crowns met per metre across from the trees of one crossed cell, on the line at offset `y`."""
    low, high, layers, height_m = cell[0], cell[1], cell[2], cell[3]
    met = 0.0
    classes = len(crowns.steps)
    for k in range(classes):
        tall_m = height_m * crowns.steps[k]
        radius = crowns.radius * tall_m
        inside = radius * radius - y * y
        if inside <= 0.0:
            continue
        half = ray.half_chord * np.sqrt(inside)
        centre = (crowns.centre * tall_m - ray.panel_height_m + ray.side_slope * y) / ray.rise
        first, last = max(low, centre - half), min(high, centre + half)
        if crowns.base * tall_m < ray.panel_height_m:
            first = max(first, 0.0)
        if last > first:
            met += free_length(spans, count, first, last) / (np.pi * radius * radius * classes)
    return met * layers


@compiled
def cross_cells(grid: Grid, spot: Spot, y: float, low: float, high: float, crossed: Array) -> int:
    """Write the cells with trees that the line at offset `y` crosses from `low` to `high`; return how many.

    Rows of `crossed` are where the line enters and leaves, crown layers, height. Cells are walked from
    border to border (Amanatides & Woo 1987). A cell of unknown cover is written as NaN, never left out.
    """
    if spot.layers == spot.layers and spot.height_m == spot.height_m:
        crossed[0, 0], crossed[0, 1], crossed[0, 2], crossed[0, 3] = low, high, spot.layers, spot.height_m
        return 1
    col_0, row_0 = spot.col + spot.col_aside * y, spot.row + spot.row_aside * y
    col = int(np.floor(col_0 + spot.col_ahead * low))
    row = int(np.floor(row_0 + spot.row_ahead * low))
    col_step, row_step = 1 if spot.col_ahead > 0 else -1, 1 if spot.row_ahead > 0 else -1
    next_col = next_row = col_length = row_length = np.inf
    if spot.col_ahead != 0.0:
        col_length = 1.0 / abs(spot.col_ahead)
        next_col = (col + (col_step > 0) - col_0) / spot.col_ahead
    if spot.row_ahead != 0.0:
        row_length = 1.0 / abs(spot.row_ahead)
        next_row = (row + (row_step > 0) - row_0) / spot.row_ahead
    count, here = 0, low
    while here < high:
        there = min(next_col, next_row, high)
        layers, height_m = trees_at(grid, spot, row, col)
        if layers != 0.0 and height_m != 0.0:
            line = crossed[count]
            line[0], line[1], line[2], line[3] = here, there, layers, height_m
            count += 1
        if next_col <= next_row:
            col += col_step
            next_col += col_length
        else:
            row += row_step
            next_row += row_length
        here = there
    return count


@compiled
def cells_in_reach(cells_per_m: Array) -> int:
    """Return how many cells a line can cross at most, within the reach ahead and behind."""
    return int(2.0 * REACH_M * np.max(np.abs(cells_per_m)) * 4.0) + 8
