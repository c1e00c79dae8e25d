"""Which tile of a raster holds a cell: only the tiles near a route are in memory."""

import numpy as np

from routesolar.arrays import Slots
from routesolar.physics.compiled import compiled


@compiled
def bits_of(side: int) -> int:
    """Return the power of two that a tile's side in cells is."""
    return int(np.log2(side))


@compiled
def tile_of(slot: Slots, bits: int, height: int, width: int, row: int, col: int) -> int:
    """Return the number of the tile, 2^`bits` cells wide, that holds a cell of a raster of that size.

    -1 outside the raster and where the tile is not in memory. `slot` numbers the tiles by their row and column.
    """
    if row < 0 or col < 0 or row >= height or col >= width:
        return -1
    return int(slot[row >> bits, col >> bits])


@compiled
def tile_within(slot: Slots, bits: int, row: int, col: int) -> int:
    """Return the number of the tile that holds a cell of a raster of whole tiles; -1 as in `tile_of`."""
    return tile_of(slot, bits, slot.shape[0] << bits, slot.shape[1] << bits, row, col)
