"""What columns stand around points: how tall at most, and how many crowns each of them stands for."""

from math import floor, isnan

import numpy as np

from routesolar.arrays import FloatArray
from routesolar.physics.columns import BLOCK_BITS, Columns, block_at, cell_at
from routesolar.physics.compiled import compiled
from routesolar.physics.crowns_from_above import TREE_M, crowns_per_topmost
from routesolar.physics.raymarch import Views
from routesolar.physics.shadows import NEAR_M

AROUND_M, PLACES = 60.0, 21  # the cover around a point is looked at on so many rows of places as far as this


@compiled
def tallest_columns_m(views: Views, columns: Columns) -> FloatArray:
    """Return upper bounds of the columns' height in metres within 120 m of each point, and anywhere: (n, 2)."""
    tallest = np.empty((len(views.col), 2))
    everywhere = 0.0
    for k in range(len(columns.block_m)):
        everywhere = max(everywhere, float(np.max(columns.block_m[k])))
    side = 1 << BLOCK_BITS
    for i in range(len(views.col)):
        cells = np.abs(views.cells_per_m[i])
        reach_col, reach_row = NEAR_M * (cells[0, 0] + cells[0, 1]), NEAR_M * (cells[1, 0] + cells[1, 1])
        near = 0.0
        for row in range(int(views.row[i] - reach_row) - side, int(views.row[i] + reach_row) + side, side):
            for col in range(int(views.col[i] - reach_col) - side, int(views.col[i] + reach_col) + side, side):
                near = max(near, min(everywhere, block_at(columns, row, col)))
        tallest[i, 0], tallest[i, 1] = near, everywhere
    return tallest


def crowns_per_column(views: Views, columns: Columns) -> FloatArray:
    """Return how many crowns a column's chord stands for around each point, (n,): more the denser the wood."""
    return crowns_per_topmost(_cover_around(views, columns))


@compiled
def _cover_around(views: Views, columns: Columns) -> FloatArray:
    """Return the share of the ground under trees around each point, (n,); 0 where nothing is known."""
    cover_frac = np.zeros(len(views.col))
    for i in range(len(cover_frac)):
        known = tall = 0
        for place in range(PLACES * PLACES):
            east = AROUND_M * (2.0 * (place % PLACES) / (PLACES - 1) - 1.0)
            north = AROUND_M * (2.0 * (place // PLACES) / (PLACES - 1) - 1.0)
            cells = views.cells_per_m[i]
            col = views.col[i] + cells[0, 0] * east + cells[0, 1] * north
            row = views.row[i] + cells[1, 0] * east + cells[1, 1] * north
            height_m, _ = cell_at(columns, floor(row), floor(col))
            known += not isnan(height_m)
            tall += height_m > TREE_M
        cover_frac[i] = tall / max(known, 1)
    return cover_frac
