"""What every segment of every departure brings, kept only where a page draws it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from routesolar.trip.arrays import lock_fields
from routesolar.trip.noun import Noun
from routesolar.trip.segments import Segments


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class DepartureWatts(Noun):
    """Expected watts at the battery terminals under one sky, (d, n) in single precision."""

    segments: Segments
    power_w: NDArray[np.float32]

    def __post_init__(self) -> None:
        shape = len(self.segments.departure_utc_s), self.segments.count
        lock_fields(self, {"power_w": shape}, {"power_w": np.float32})
