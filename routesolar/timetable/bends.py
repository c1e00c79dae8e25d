"""The road's corners between the ends of segments, as few as tell its line."""

import numpy as np

from routesolar.physics.geodesy import earth_centred_m
from routesolar.timetable.cutting import Cut
from routesolar.timetable.line import Line
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.segments import Bends

OFF_LINE_M = 0.3  # what the corners left out may take from the line: far less than what its trees are known by


def bends_between(line: Line, pieces: Cut) -> Bends:
    """Return the knots of the line within its pieces, without those that change it by less than 0.3 m."""
    knot = np.arange(len(line.along_m))
    segment = np.maximum(np.searchsorted(pieces.start, knot, side="right") - 1, 0)
    inside = (pieces.start[segment] < knot) & (knot < pieces.end[segment])
    knot, segment = knot[inside], segment[inside]
    if not len(knot):
        return Bends.none()
    kept = _telling(line, pieces, knot, np.unique(segment))
    knot, segment = knot[kept], segment[kept]
    start_m, end_m = (line.at(line.along_m, places[segment]) for places in (pieces.start, pieces.end))
    return Bends(
        segment=segment,
        share=(line.along_m[knot] - start_m) / (end_m - start_m),
        latitude_deg=line.latitude_deg[knot],
        longitude_deg=line.longitude_deg[knot],
    )


def _telling(line: Line, pieces: Cut, knot: IntArray, bent: IntArray) -> BoolArray:
    """Mark the knots without which the line would be 0.3 m off (Ramer 1972, Douglas & Peucker 1973).

    All bent segments are worked on at once: each round keeps the knot farthest off between two kept ones.
    """
    ends = np.concatenate([pieces.start[bent], pieces.end[bent]])
    place = np.concatenate([ends, knot])
    order = np.argsort(place, kind="stable")
    kept = order < len(ends)
    is_knot = ~kept
    position_m = earth_centred_m(*line.position(place[order]))
    while True:
        corner = np.flatnonzero(kept)
        stretch = np.minimum(np.cumsum(kept) - 1, len(corner) - 2)
        off_m = _off_m(position_m, position_m[corner[stretch]], position_m[corner[stretch + 1]])
        worst_m = np.maximum.reduceat(off_m, corner[:-1])[stretch]
        fresh = is_knot & ~kept & (off_m > OFF_LINE_M) & (off_m == worst_m)
        if not fresh.any():
            return kept[is_knot]
        kept = kept | fresh


def _off_m(position_m: FloatArray, start_m: FloatArray, end_m: FloatArray) -> FloatArray:
    """Return how far places lie from straight pieces, all (k, 3), earth-centred."""
    along, apart = end_m - start_m, position_m - start_m
    squared = np.maximum(np.sum(along**2, axis=1), 1e-12)
    share = np.clip(np.sum(apart * along, axis=1) / squared, 0.0, 1.0)
    off_m: FloatArray = np.linalg.norm(apart - share[:, None] * along, axis=1)
    return off_m
