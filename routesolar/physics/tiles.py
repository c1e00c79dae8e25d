"""Which tile of a raster holds a cell: only the tiles near a route are in memory."""

from typing import NamedTuple, Protocol

import numpy as np

from routesolar.arrays import Slots
from routesolar.physics.compiled import compiled, inlined


class Tiled(Protocol):
    """A raster in tiles: `slot` numbers those in memory by row and column of tiles, -1 elsewhere."""

    @property
    def slot(self) -> Slots:
        """The tiles' numbers."""

    @property
    def height(self) -> int:
        """Rows of cells."""

    @property
    def width(self) -> int:
        """Columns of cells."""


class TileMap(NamedTuple):
    """A raster's tiles without what is in them."""

    slot: Slots
    height: int
    width: int


def tile_map(slot: Slots, side: int) -> TileMap:
    """Return the map of a raster of whole tiles, `side` cells wide."""
    return TileMap(slot, slot.shape[0] * side, slot.shape[1] * side)


@compiled
def bits_of(side: int) -> int:
    """Return the power of two that a tile's side in cells is."""
    return int(np.log2(side))


@inlined
def tile_of(raster: Tiled, bits: int, row: int, col: int) -> int:
    """Return the number of the tile, 2^`bits` cells wide, that holds a cell; -1 where none is in memory."""
    if row < 0 or col < 0 or row >= raster.height or col >= raster.width:
        return -1
    return int(raster.slot[row >> bits, col >> bits])
