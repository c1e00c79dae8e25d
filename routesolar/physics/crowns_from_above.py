"""What the cells of a height raster tell of crowns: it shows only the topmost, and only their upper sides.

Crowns are ellipsoids. Uphill from a cell lies its crown's top, and with it the underside is known.
"""

from math import nan

import numpy as np
from numpy.typing import NDArray

from routesolar.arrays import FloatArray, Slots, Tiles
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.distributions import dawson

TREE_M = 2.0  # a column so tall is a tree's
CROWN_M = 6.0  # farther from its edge no crown has its top
MOST_COVER_FRAC = 0.95  # cover above it says nothing of overlap
_STAY = 4  # no neighbour is higher


def crowns_per_topmost(cover_frac: FloatArray) -> FloatArray:
    """Return how many topmost crowns' chords all crowns together are worth, (n,), where so much is covered.

    Where crowns stand at random m = -ln(1 - C) of them lie over each square metre (Boolean model). A crown is
    thicker than a share x of its middle over 1 - x^2 of its area, so all together are 2 m / 3 thick on average,
    and the thickest, which the raster shows where trees are of one height, 1 - integral of
    exp(-m (1 - x^2)) dx from 0 to 1 = 1 - D(sqrt m) / sqrt m, D being Dawson's integral.
    """
    crowns = np.maximum(-np.log1p(-np.minimum(cover_frac, MOST_COVER_FRAC)), 1e-6)
    root = np.sqrt(crowns)
    per_topmost: FloatArray = 2 / 3 * crowns / (1 - dawson(root) / root)
    return per_topmost


@inlined
def solid_between_m(height_m: float, top_m: float, base_frac: float) -> tuple[float, float]:
    """Return from which height up a column is solid, and how tall its tree is.

    A crown is as thick below its middle as above, so where the raster shows its edge it is thin. What lies
    lower than the middle is not that crown's upper side but a lower tree's, whose top is not seen; an
    ellipsoid's upper side is on average two thirds of the way from the middle to the top.
    """
    if 2.0 * height_m < (1.0 + base_frac) * top_m:
        top_m = 6.0 * height_m / (5.0 + base_frac)
    return (1.0 + base_frac) * top_m - height_m, top_m


@compiled
def crown_tops_m(height_m: Tiles, slot: Slots, most_steps: int) -> Tiles:
    """Return the height reached from each cell of tiles (k, t, t) by going on to the highest neighbour.

    At most so many steps; t is a power of two. NaN, and what is no tree, stays as it is.
    """
    tops = height_m.copy()
    way = _ways_up(height_m, slot)
    side = height_m.shape[1]
    for tile_row, tile_col in np.ndindex(slot.shape):
        first = slot[tile_row, tile_col]
        for row, col in np.ndindex((side, side) if first >= 0 else (0, 0)):
            here, r, c, there_row, there_col = first, row, col, tile_row, tile_col
            for _ in range(most_steps):
                step = way[here, r, c]
                if step == _STAY:
                    break
                r, c = r + step // 3 - 1, c + step % 3 - 1
                if r < 0 or c < 0 or r >= side or c >= side:
                    there_row, there_col = there_row + _beyond(r, side), there_col + _beyond(c, side)
                    here = slot[there_row, there_col]
                    r, c = r % side, c % side
            tops[first, row, col] = height_m[here, r, c]
    return tops


@compiled
def _ways_up(height_m: Tiles, slot: Slots) -> NDArray[np.int8]:
    """Return where the highest neighbour of each cell is, (k, t, t): 3 (row + 1) + column + 1."""
    way = np.full(height_m.shape, _STAY, np.int8)
    side = height_m.shape[1]
    for tile_row, tile_col in np.ndindex(slot.shape):
        here = slot[tile_row, tile_col]
        for row, col in np.ndindex((side, side) if here >= 0 else (0, 0)):
            highest_m = float(height_m[here, row, col])
            if not highest_m > TREE_M:
                continue
            inside = 0 < row < side - 1 and 0 < col < side - 1
            for k in range(9):
                r, c = row + k // 3 - 1, col + k % 3 - 1
                if inside:
                    beside_m = float(height_m[here, r, c])
                else:
                    beside_m = _height_m(height_m, slot, tile_row, tile_col, r, c)
                if beside_m > highest_m:
                    highest_m, way[here, row, col] = beside_m, k
    return way


@inlined
def _height_m(height_m: Tiles, slot: Slots, tile_row: int, tile_col: int, row: int, col: int) -> float:
    """Return the height of a cell in a tile or just beside it; NaN where none is in memory."""
    side = height_m.shape[1]
    tile_row, tile_col = tile_row + _beyond(row, side), tile_col + _beyond(col, side)
    if tile_row < 0 or tile_col < 0 or tile_row >= slot.shape[0] or tile_col >= slot.shape[1]:
        return nan
    here = slot[tile_row, tile_col]
    return float(height_m[here, row % side, col % side]) if here >= 0 else nan


@inlined
def _beyond(index: int, side: int) -> int:
    return int(index >= side) - int(index < 0)
