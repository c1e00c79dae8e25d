"""Places and times of any shapes that broadcast, laid out in rows for loops over them."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray
from routesolar.physics.blocks import BLOCK


class Rows(NamedTuple):
    """What is said of places, each (n,), the times there (d, n), and the shape that results are to have."""

    places: tuple[FloatArray, ...]
    utc_s: FloatArray
    shape: tuple[int, ...]


def in_rows(places: Sequence[ArrayLike], utc_s: ArrayLike) -> Rows:
    """Return places and times in rows of one road each; in one row where these are short or places differ.

    Raises:
        ValueError: shapes do not broadcast.
    """
    given = [np.asarray(values, dtype=np.float64) for values in places]
    times_s = np.asarray(utc_s, dtype=np.float64)
    shape = np.broadcast_shapes(times_s.shape, *(values.shape for values in given))
    one_road = bool(shape) and shape[-1] >= BLOCK and all(values.ndim < 2 for values in given)
    count = shape[-1] if one_road else math.prod(shape)
    along = (np.broadcast_to(values, count if one_road else shape).reshape(-1).copy() for values in given)
    rows = math.prod(shape) // count if count else 0
    return Rows(tuple(along), np.broadcast_to(times_s, shape).reshape(rows, count), shape)
