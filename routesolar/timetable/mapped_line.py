"""What a map knows of the road, put onto the driven line."""

from dataclasses import dataclass

import numpy as np

from routesolar.timetable.line import Line
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.mapped_road import MappedRoad


@dataclass(frozen=True, slots=True, eq=False)
class MappedLine:
    """The stretches of a map's road on a line: where each begins, (s,) in metres; none without a map."""

    from_m: FloatArray
    road: MappedRoad | None

    @classmethod
    def on(cls, line: Line, road: MappedRoad | None) -> "MappedLine":
        """Return the stretches of a road whose points the line was made of."""
        if road is None:
            return cls(np.zeros(0), None)
        knot = np.searchsorted(line.source, road.first_point)
        return cls(line.along_m[np.minimum(knot, len(line.along_m) - 1)], road)

    def edges_m(self, *, speeds: bool) -> list[float]:
        """Return where roofs begin and end, and where the speed changes if that matters."""
        if self.road is None:
            return []
        changes = np.diff(self.road.roofed) != 0
        if speeds:
            changes |= np.diff(self._speed_mps()) != 0
        edges: list[float] = self.from_m[1:][changes].tolist()
        return edges

    def number_at(self, along_m: FloatArray) -> IntArray:
        """Return the number of the stretch at places along the line; empty without a map."""
        if self.road is None:
            return np.zeros(0, dtype=np.int64)
        found = np.searchsorted(self.from_m, along_m, side="right") - 1
        return np.clip(found, 0, len(self.from_m) - 1).astype(np.int64)

    def roofed_at(self, along_m: FloatArray) -> BoolArray:
        """Return whether the map's road lies under a roof at places along the line."""
        if self.road is None:
            return np.zeros(len(along_m), dtype=bool)
        roofed: BoolArray = self.road.roofed[self.number_at(along_m)]
        return roofed

    def speed_mps_at(self, along_m: FloatArray) -> FloatArray:
        """Return the map's speed at places along the line; NaN where it knows none."""
        if self.road is None:
            return np.full(len(along_m), np.nan)
        return self._speed_mps()[self.number_at(along_m)]

    def _speed_mps(self) -> FloatArray:
        """Return the speed of each stretch; off roads that of the road before, else after."""
        assert self.road is not None
        speed_mps = self.road.speed_mps
        known = np.flatnonzero(np.isfinite(speed_mps))
        if not len(known):
            return speed_mps
        before = np.maximum(np.searchsorted(known, np.arange(len(speed_mps)), side="right") - 1, 0)
        filled: FloatArray = speed_mps[known[before]]
        return filled
