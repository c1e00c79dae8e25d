"""Kinds of arrays, named once for all modules; room for them, and a sum that comes out alike everywhere."""

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Tiles = NDArray[np.float32]  # values of a raster's cells, tile by tile, (tiles, side, side)
Slots = NDArray[np.int32]  # which tile lies in each place of the grid of tiles; less than 0: none

_LARGE_PAGE = 2**21 // 8  # doubles on it, where Linux runs on today's processors
_BIG = 2 * _LARGE_PAGE
Numbers = TypeVar("Numbers", bound=np.generic)


def read_only(values: NDArray[Numbers]) -> NDArray[Numbers]:
    """Return a view, in one piece, not to be written to: locked or not, arrays then meet one compiled loop."""
    seen = np.ascontiguousarray(values).view()
    seen.setflags(write=False)
    return seen


def room(*shape: int) -> FloatArray:
    """Return an array whose values are not set yet, a big one from a border of the system's large pages on.

    numpy asks for large pages where an array is big, but begins it anywhere: what lies before the first border
    and behind the last is got in hundreds of small pages, one by one.
    """
    count = math.prod(shape)
    if count < _BIG:
        return np.empty(shape)
    memory = np.empty(count + 2 * _LARGE_PAGE)
    first = -(memory.ctypes.data // memory.itemsize) % _LARGE_PAGE
    return memory[first : first + count].reshape(shape)


def weighted_sum(weight: FloatArray, values: FloatArray) -> FloatArray:
    """Return the sum of values (k, ...) weighted by (k,).

    A product of matrices is divided among as many processors as there are, which changes its last bits.
    """
    return np.asarray(np.einsum("k,k...->...", weight, values))
