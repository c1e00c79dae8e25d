"""What recorded times tell: when each point was passed, and where the vehicle was parked."""

from bisect import bisect_right
from typing import NamedTuple

import numpy as np

from routesolar.errors import InputError, UsageError
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.route import Route

PAUSE_M, PAUSE_S = 30.0, 180.0  # parked: at least this long within this distance
MOST_BACKWARD_FRAC = 0.05
MOST_UNTIMED_FRAC = 0.05  # of the line, before the first time or after the last
SPEED_EXAMPLE = "give a speed, such as --speed 80km/h"


class Times(NamedTuple):
    """UTC seconds of every point of the route, never falling; and what was done to get there."""

    utc_s: FloatArray
    warnings: list[str]


def recorded_start_utc_s(route: Route) -> float | None:
    """Return the first time in the route, None where there is none."""
    known = route.time_utc_s[~np.isnan(route.time_utc_s)]
    return float(known[0]) if known.size else None


def recorded_times(route: Route, travelled_m: FloatArray) -> Times | None:
    """Return a time for every point, None where the route has fewer than two different ones.

    Times that run backwards are left out, the fewest that put the rest in order; of equal times the first
    is kept. Points left without a time share the way between their neighbours evenly; up to 5 % of the line
    at either end is timed with the mean speed. Raises InputError where more than 5 % of the times run
    backwards, UsageError where more of an end has no times.
    """
    known = np.flatnonzero(~np.isnan(route.time_utc_s))
    in_order = _in_order(route.time_utc_s[known])
    warnings = _check_order(route, known, in_order)
    known = known[in_order]
    known = known[np.concatenate([[True], np.diff(route.time_utc_s[known]) > 0])] if known.size else known
    if known.size < 2:
        return None
    # A hair's breadth per point keeps points at one place in their order.
    way = travelled_m + 1e-6 * np.arange(len(travelled_m))
    utc_s = np.interp(way, way[known], route.time_utc_s[known])
    _extend(utc_s, way, known[0], known[-1])
    untimed = len(utc_s) - int(np.count_nonzero(~np.isnan(route.time_utc_s)))
    if untimed:
        warnings.append(f"{untimed} of {len(utc_s)} points have no time; it was interpolated along the line")
    return Times(utc_s, warnings)


def _check_order(route: Route, known: IntArray, in_order: BoolArray) -> list[str]:
    backward = int(np.count_nonzero(~in_order))
    if not backward:
        return []
    point = int(known[np.argmin(in_order)])
    inside = point - int(np.argmax(route.file_index == route.file_index[point])) + 1
    where = f"{route.files[route.file_index[point]].name}, point {inside}"
    count = f"{backward} of {len(known)} recorded times run backwards (the first at {where})"
    if backward > MOST_BACKWARD_FRAC * len(known):
        raise InputError(f"{count}; give the files in the order they were driven, or {SPEED_EXAMPLE}")
    return [f"{count}; they were left out"]


def _in_order(times_s: FloatArray) -> BoolArray:
    """Mark a longest subsequence that never falls (patience sorting)."""
    if not np.any(np.diff(times_s) < 0):
        return np.ones(len(times_s), dtype=bool)
    tails: list[float] = []  # the smallest last time of a rising sequence of each length
    ends: list[int] = []
    before = np.full(len(times_s), -1)
    for index, time_s in enumerate(times_s.tolist()):
        length = bisect_right(tails, time_s)
        before[index] = ends[length - 1] if length else -1
        tails[length : length + 1] = [time_s]
        ends[length : length + 1] = [index]
    marked = np.zeros(len(times_s), dtype=bool)
    index = ends[-1]
    while index >= 0:
        marked[index] = True
        index = int(before[index])
    return marked


def _extend(utc_s: FloatArray, way_m: FloatArray, first: int, last: int) -> None:
    """Time the ends of the line that have none, with the mean speed between; changes `utc_s`."""
    head_m, tail_m = way_m[first] - way_m[0], way_m[-1] - way_m[last]
    share = max(head_m, tail_m) / way_m[-1]
    if share > MOST_UNTIMED_FRAC:
        end = "beginning" if head_m > tail_m else "end"
        raise UsageError(f"{share:.0%} of the route, at its {end}, has no recorded times; {SPEED_EXAMPLE}")
    seconds_per_m = (utc_s[last] - utc_s[first]) / (way_m[last] - way_m[first])
    utc_s[:first] -= (way_m[first] - way_m[:first]) * seconds_per_m
    utc_s[last + 1 :] += (way_m[last + 1 :] - way_m[last]) * seconds_per_m


def pauses(position_m: FloatArray, utc_s: FloatArray) -> list[tuple[int, int]]:
    """Return the first and last point of every pause: 3 minutes or more within 30 m of its first point.

    Pauses at one place that only a slip of the receiver parts are one.

    `position_m` is (n, 3), earth-centred. Pauses do not overlap and stand in order of time.
    """
    # Only a point that is still near three minutes later can start a pause; few points are.
    later_m = np.stack([np.interp(utc_s + PAUSE_S, utc_s, axis) for axis in position_m.T], axis=-1)
    near = np.linalg.norm(later_m - position_m, axis=1) <= PAUSE_M
    found: list[tuple[int, int]] = []
    following = 0
    for first in np.flatnonzero(near & (utc_s + PAUSE_S <= utc_s[-1])).tolist():
        if first < following:
            continue
        least = int(np.searchsorted(utc_s, utc_s[first] + PAUSE_S))
        if _away(position_m, first, first, least + 1).size:
            continue
        away = _away(position_m, first, least, len(utc_s))
        last = least + int(away[0]) - 1 if away.size else len(utc_s) - 1
        found.append((first, last))
        following = last + 1
    return _joined(found, position_m, utc_s)


def _joined(found: list[tuple[int, int]], position_m: FloatArray, utc_s: FloatArray) -> list[tuple[int, int]]:
    """Return the pauses with those made one that a receiver's slip parts: less than 3 minutes and 60 m away."""
    joined: list[tuple[int, int]] = []
    for first, last in found:
        if joined and utc_s[first] - utc_s[joined[-1][1]] < PAUSE_S:
            begun, ended = joined[-1]
            middle_m = position_m[begun : ended + 1].mean(axis=0)
            apart_m = np.linalg.norm(position_m[ended : last + 1] - middle_m, axis=1)
            if apart_m.max() <= 2 * PAUSE_M:
                joined[-1] = begun, last
                continue
        joined.append((first, last))
    return joined


def _away(position_m: FloatArray, anchor: int, start: int, end: int) -> IntArray:
    """Return which of the points start..end - 1, counted from start, are not within 30 m of the anchor."""
    apart_m = np.linalg.norm(position_m[start:end] - position_m[anchor], axis=1)
    return np.flatnonzero(apart_m > PAUSE_M)
