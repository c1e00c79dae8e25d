"""What days of unequal chances stay below or above."""

import numpy as np

from routesolar.trip.arrays import FloatArray

_COLUMNS = 256  # sorted at once


def quantile(values: FloatArray, chance: FloatArray, level: float) -> FloatArray:
    """Return the least of the values (s, ...) that are not exceeded with probability `level`; NaN is never."""
    columns = values.reshape(len(values), -1)
    found = np.empty(columns.shape[1])
    # Days are about as likely as each other, so that the least of them mostly tell; where not, all are sorted.
    least = min(int(2 * level * len(chance)) + 1, len(chance))
    for first in range(0, len(found), _COLUMNS):
        some = columns[:, first : first + _COLUMNS].T.copy()
        found[first : first + _COLUMNS] = _first_reaching(some, chance, level, least)
    return found.reshape(values.shape[1:])


def _first_reaching(values: FloatArray, chance: FloatArray, level: float, least: int) -> FloatArray:
    """Return the quantile of each row of values (n, s), (n,), from its `least` smallest, else from all."""
    order = np.argpartition(values, least - 1, axis=1)[:, :least]
    order = np.take_along_axis(order, np.argsort(np.take_along_axis(values, order, axis=1), axis=1), axis=1)
    reached = np.cumsum(chance[order], axis=1) >= level - 1e-12
    at = np.take_along_axis(order, reached.argmax(axis=1)[:, None], axis=1)
    found: FloatArray = np.take_along_axis(values, at, axis=1)[:, 0]
    short = ~reached[:, -1]
    if least < len(chance) and short.any():
        found[short] = _first_reaching(values[short], chance, level, len(chance))
    return found
