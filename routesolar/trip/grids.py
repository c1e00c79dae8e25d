"""Rasters in memory: the tiles near a road, and where points lie on them."""

from dataclasses import dataclass, replace
from typing import Self

import numpy as np

from routesolar.arrays import Slots, Tiles
from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray, IntArray, length_of, lock_fields
from routesolar.trip.noun import Noun

TILE = 256  # cells along a tile's side


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class TiledGrid(Noun):
    """The touched tiles of a raster: only these are in memory.

    `tiles` is (k, TILE, TILE) float32, NaN where the raster has no data. `slot` is int32 over the
    raster's rows and columns of tiles: the tile's index, or -1 where it was not read. The value of the
    cell (row, col) is tiles[slot[row // TILE, col // TILE], row % TILE, col % TILE]; `height`, `width`
    bound the raster.
    """

    tiles: Tiles
    slot: Slots
    height: int
    width: int

    def __post_init__(self) -> None:
        shape = np.shape(self.tiles)
        if len(shape) != 3 or shape[1] != shape[2] or shape[1].bit_count() != 1:
            raise UsageError(f"tiles has shape {shape}; give k square tiles, their sides a power of 2")
        needed = (-(-self.height // shape[1]), -(-self.width // shape[1]))
        slot_shape = np.shape(self.slot)
        if len(slot_shape) != 2 or slot_shape[0] < needed[0] or slot_shape[1] < needed[1]:
            raise UsageError(
                f"slot has shape {slot_shape}, but {self.height} rows and {self.width} columns in tiles of "
                f"{shape[1]} need {needed}"
            )
        if np.any(self.slot < -1) or np.any(self.slot >= shape[0]):
            raise UsageError(f"slot must number the {shape[0]} tiles from 0, or is -1 where none was read")


def values_at(grid: TiledGrid, col: FloatArray, row: FloatArray) -> FloatArray:
    """Return the grid's values at fractional columns and rows; NaN outside and where there is no data."""
    inside = (col >= 0) & (col < grid.width) & (row >= 0) & (row < grid.height)
    values = np.full(np.shape(col), np.nan)
    r, c = np.asarray(row)[inside].astype(np.int64), np.asarray(col)[inside].astype(np.int64)
    slot = grid.slot[r // TILE, c // TILE]
    values[inside] = np.where(slot >= 0, grid.tiles[slot, r % TILE, c % TILE], np.nan)
    return values


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Placement(Noun):
    """Where n points lie on a grid: fractional column and row, and cells per metre there.

    `cells_per_m` is (n, 2, 2): [[dcol/deast, dcol/dnorth], [drow/deast, drow/dnorth]]. It holds the
    cell size, grid convergence, rotation and projection scale at once, so any CRS can be marched in metres.
    """

    col: FloatArray
    row: FloatArray
    cells_per_m: FloatArray

    def __post_init__(self) -> None:
        n = length_of(self.col, "col")
        lock_fields(self, {"col": (n,), "row": (n,), "cells_per_m": (n, 2, 2)})
        for name in self.__dataclass_fields__:
            if not np.isfinite(getattr(self, name)).all():
                raise UsageError(f"{name} of a placement is not a number everywhere; place points on the grid")

    @property
    def cell_m(self) -> float:
        """The usual side of a cell in metres."""
        return float(np.median(np.abs(np.linalg.det(self.cells_per_m)) ** -0.5))

    def at(self, rows: IntArray) -> Self:
        """Return the points of these numbers."""
        return replace(self, col=self.col[rows], row=self.row[rows], cells_per_m=self.cells_per_m[rows])

    def moved(self, rows: IntArray, east_m: FloatArray, north_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return columns and rows of places so many metres from the points of these numbers."""
        cells = np.einsum("kij,kj->ki", self.cells_per_m[rows], np.stack([east_m, north_m], axis=1))
        return self.col[rows] + cells[:, 0], self.row[rows] + cells[:, 1]
