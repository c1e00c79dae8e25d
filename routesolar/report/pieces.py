"""Neighbouring segments drawn as one, so that a page stays small however long the route is."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from routesolar.report.plane import lines
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.segments import Segments


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """k stretches of neighbouring segments: the first segment of each, and the one after each."""

    first: IntArray
    after: IntArray

    @property
    def count(self) -> int:
        """Number of pieces k."""
        return len(self.first)


def pieces_of(segments: Segments, most: int) -> Pieces:
    """Return at most `most` pieces of almost equally many segments.

    None reaches across a leg, a stop or a gap in the road; where these alone are more than `most`, so are the
    pieces.
    """
    breaks = np.diff(segments.leg) != 0
    breaks |= np.diff(segments.stopped.astype(np.int8)) != 0
    breaks |= ~segments.driven_on[:-1]
    starts = np.concatenate([[0], np.flatnonzero(breaks) + 1])
    ends = np.append(starts[1:], segments.count)
    size = max(1.0, segments.count / max(1, most - len(starts)))
    first = [
        start + (end - start) * np.arange(parts) // parts
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True)
        for parts in [math.ceil((end - start) / size)]
    ]
    joined = np.concatenate(first)
    return Pieces(first=joined, after=np.append(joined[1:], segments.count))


def piece_watts(watts: DepartureWatts, pieces: Pieces) -> NDArray[np.float32]:
    """Return the mean watts of every departure's pieces over time, (d, k); 0 where a piece takes no time."""
    mean_w = np.zeros((len(watts.power_w), pieces.count), dtype=np.float32)
    for power_w, seconds, row in zip(watts.power_w, watts.segments.duration_s, mean_w, strict=True):
        span_s = np.add.reduceat(seconds, pieces.first)
        energy_ws = np.add.reduceat(power_w * seconds, pieces.first)
        np.divide(energy_ws, span_s, out=row, where=span_s > 0, casting="same_kind")
    return mean_w


def piece_seconds(segments: Segments, pieces: Pieces) -> FloatArray:
    """Return how long each piece takes in every departure, (d, k)."""
    span_s: FloatArray = np.add.reduceat(segments.duration_s, pieces.first, axis=1)
    return span_s


def piece_ends(segments: Segments, pieces: Pieces) -> FloatArray:
    """Return both ends of every piece in the plane of the map, (k, 2, 2) as `plane.Lines` has them."""
    ends = lines(segments).ends
    return np.stack([ends[pieces.first, 0], ends[pieces.after - 1, 1]], axis=1)
