"""Cut the parts of a trip into segments of at most one step in length and in time, shorter on tight bends."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from routesolar.errors import UsageError
from routesolar.limits import limit_of
from routesolar.physics.geodesy import wrap_longitude_deg
from routesolar.timetable.line import Line
from routesolar.timetable.parts import Part
from routesolar.trip.arrays import FloatArray, IntArray

# A segment has one heading. Tilted panels see the sun by it, so the road must not turn much within one.
MOST_TURN_DEG = 20.0
SHORTEST_M = 5.0  # that a turn may call for: a noisy line turns at every point


class Cut(NamedTuple):
    """n segments: their ends and middles as places on the line, the part each belongs to, its time."""

    start: FloatArray
    middle: FloatArray
    end: FloatArray
    part: IntArray
    duration_s: FloatArray  # (d, n)


def cut(line: Line, parts: Sequence[Part], step_m: float, step_s: float) -> Cut:
    """Return the segments of all parts; a part is cut so that each segment is the same share of its steps.

    A link counts as many steps as its length, its time or its turn needs, whichever is most. Equal shares of
    their sum keep every segment within these limits, without a step at each recorded point. UsageError where
    there would be more segments than the limit.
    """
    length_m = np.diff(line.along_m)
    turns = np.minimum(_turn_deg(line) / MOST_TURN_DEG, length_m / SHORTEST_M)
    need = np.maximum(np.maximum(length_m / step_m, np.diff(line.drive_s) / step_s), turns)
    work = np.concatenate([[0.0], np.cumsum(need)])
    counts = [_count(part, work, step_s) for part in parts]
    if sum(counts) > limit_of("segments"):
        raise UsageError(
            f"the trip would be cut into {sum(counts):,} segments, more than {limit_of('segments'):,}; "
            "check its times and stops, split it, or give a longer step, such as --step 200m"
        )
    bounds = [_places(part, count, work) for part, count in zip(parts, counts, strict=True)]
    start, end = (np.concatenate([places[side] for places in bounds]) for side in (slice(-1), slice(1, None)))
    number = np.repeat(np.arange(len(parts)), counts)
    return Cut(
        start=start,
        middle=_middles(line, start, end),
        end=end,
        part=number,
        duration_s=_durations_s(line, parts, counts, (start, end)),
    )


def _turn_deg(line: Line) -> FloatArray:
    """Return by how much the heading turns along each link, (m - 1,)."""
    knot = np.arange(len(line.along_m))
    heading = line.heading_deg(line.along_m, line.run, np.minimum(knot, len(knot) - 2))
    turn: FloatArray = np.abs(wrap_longitude_deg(np.diff(heading)))
    return np.nan_to_num(turn)


def _count(part: Part, work: FloatArray, step_s: float) -> int:
    steps = work[part.last] - work[part.first] if part.stop is None else float(part.seconds.max()) / step_s
    return max(1, math.ceil(steps - 1e-9))  # rounding must not make two segments of 50.000000001 m


def _places(part: Part, count: int, work: FloatArray) -> FloatArray:
    """Return the count + 1 places at which a part's segments begin and end."""
    return _spread(part, np.linspace(0.0, 1.0, count + 1), work)


def _middles(line: Line, start: FloatArray, end: FloatArray) -> FloatArray:
    """Return the places halfway by the way: a segment that is partly bent heads as most of it does."""
    run = line.run[np.floor(start).astype(np.int64)]
    along_m = (line.at(line.along_m, start) + line.at(line.along_m, end)) / 2
    return np.clip(line.place(along_m, run), start, end)


def _spread(part: Part, share: FloatArray, work: FloatArray) -> FloatArray:
    """Return the places at which these shares of a part's steps are done."""
    knots = np.arange(part.first, part.last + 1)
    done = work[part.first] + share * (work[part.last] - work[part.first])
    places: FloatArray = np.interp(done, work[knots], knots)
    places[share == 0.0], places[share == 1.0] = part.first, part.last
    return places


def _durations_s(
    line: Line, parts: Sequence[Part], counts: Sequence[int], ends: tuple[FloatArray, FloatArray]
) -> FloatArray:
    driving_s = line.at(line.drive_s, ends[1]) - line.at(line.drive_s, ends[0])
    duration_s = np.broadcast_to(driving_s, (len(parts[0].seconds), len(driving_s))).copy()
    first = 0
    for part, count in zip(parts, counts, strict=True):
        if part.stop is not None:
            duration_s[:, first : first + count] = part.seconds[:, None] / count
        first += count
    return duration_s
