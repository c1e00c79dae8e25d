"""Values of many days on the segments that have light: a night's nothing takes no memory."""

from typing import NamedTuple, Self

import numpy as np

from routesolar.arrays import FloatArray, IntArray

_DAYS_TOGETHER = 4  # spread over all segments at once


class OnLit(NamedTuple):
    """Values of s days on m of a drive's segments, (s, m), which are `lit` (m,), rising; 0 elsewhere."""

    values: FloatArray
    lit: IntArray
    segments: int

    @classmethod
    def everywhere(cls, values: FloatArray) -> Self:
        """Return values of all segments, (s, n), as they are."""
        return cls(values, np.arange(values.shape[1]), values.shape[1])

    @property
    def column(self) -> IntArray:
        """Where each segment's values stand, (n,); -1 in the dark."""
        column = np.full(self.segments, -1)
        column[self.lit] = np.arange(len(self.lit))
        return column

    def whole(self) -> FloatArray:
        """Return the values on all segments, (s, n)."""
        every = np.zeros((len(self.values), self.segments))
        every[:, self.lit] = self.values
        return every

    def sums(self) -> FloatArray:
        """Return each day's sum over all segments, (s,).

        Nights stand in their places, since sums are rounded by how their terms are paired.
        """
        days = range(0, len(self.values), _DAYS_TOGETHER)
        some = (self._replace(values=self.values[day : day + _DAYS_TOGETHER]) for day in days)
        return np.concatenate([part.whole().sum(axis=1) for part in some])
