"""Where legs begin and end along the line, and what the places are called."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from routesolar.physics.geodesy import earth_centred_m
from routesolar.timetable.driven import LINK_M
from routesolar.timetable.line import Line
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.route import Clearing, LegsBy, LegsEvery, Route, Waypoint

NEAR_M = 200.0  # a waypoint this close to the line is passed by it
DEFAULT_LEG_M = 50_000.0


class Pass(NamedTuple):
    """The line comes by a waypoint at a distance along it; the name is empty where the place has none."""

    along_m: float
    name: str
    on_route: bool = False
    clearing: Clearing | None = None


def waypoint_passes(line: Line, waypoints: Sequence[Waypoint]) -> list[Pass]:
    """Return every passing of every waypoint within 200 m of the line, at its closest point, in order.

    Leaving the 200 m and coming back is another passing.
    """
    if not waypoints:
        return []
    knots_m = earth_centred_m(line.latitude_deg, line.longitude_deg)
    places_m = earth_centred_m(
        np.array([waypoint.latitude_deg for waypoint in waypoints]),
        np.array([waypoint.longitude_deg for waypoint in waypoints]),
    )
    middle_m = (knots_m[:-1] + knots_m[1:]) / 2
    axis = np.argmax(np.ptp(middle_m, axis=0))  # sorted along the way's longest side, few are left to look at
    order = np.argsort(middle_m[:, axis])
    sorted_m, reach_m = middle_m[order, axis], NEAR_M + LINK_M
    found = []
    for waypoint, place_m in zip(waypoints, places_m, strict=True):
        first, last = np.searchsorted(sorted_m, [place_m[axis] - reach_m, place_m[axis] + reach_m])
        link = np.sort(order[first:last])
        link = link[line.driven[link] & (np.linalg.norm(middle_m[link] - place_m, axis=1) <= reach_m)]
        share, apart_m = _closest(knots_m[link], knots_m[link + 1], place_m)
        near = np.flatnonzero(apart_m <= NEAR_M)
        for group in _unbroken(near, link[near]):
            best = group[np.argmin(apart_m[group])]
            along_m = line.at(line.along_m, link[best] + share[best])
            found.append(Pass(float(along_m), waypoint.name, waypoint.on_route, waypoint.clearing))
    return sorted(found, key=lambda passed: passed[:3])


def _closest(start_m: FloatArray, end_m: FloatArray, place_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return where on each straight link the place is closest (share of the link), and how far off it is."""
    link_m = end_m - start_m
    squared = np.sum(link_m**2, axis=1)
    share = np.sum((place_m - start_m) * link_m, axis=1) / np.where(squared > 0, squared, 1.0)
    share = np.clip(share, 0.0, 1.0)
    return share, np.linalg.norm(start_m + share[:, None] * link_m - place_m, axis=1)


def _unbroken(near: IntArray, link: IntArray) -> list[IntArray]:
    """Split the near links where they do not follow one another on the road."""
    if not near.size:
        return []
    return np.split(near, np.flatnonzero(np.diff(link) > 1) + 1)


def leg_bounds(
    line: Line, route: Route, rule: LegsBy | LegsEvery, stops_m: Iterable[float], passes: Sequence[Pass]
) -> dict[float, str]:
    """Return the distances along the line at which legs end or begin, each with its name if it has one.

    The start, the end and the stops are always among them. A waypoint passed within 200 m of another kind
    of bound gives it its name and adds none. Legs of equal driving time are not known here.
    """
    fixed_m = {0.0, line.length_m, *stops_m}
    if isinstance(rule, LegsEvery):
        fixed_m |= _every(line.length_m, rule.distance_m)
    else:
        numbers = {LegsBy.AUTO: route.file_index, LegsBy.TRACK: route.piece, LegsBy.WAYPOINT: None}[rule]
        fixed_m |= _changes(line, numbers)
    bounds = dict.fromkeys(fixed_m, "")
    near, apart = _sorted_out(passes, sorted(fixed_m))
    for mark in near:
        bounds[mark.along_m] = bounds[mark.along_m] or mark.name
    if rule in (LegsBy.AUTO, LegsBy.WAYPOINT):
        marks = [mark for mark in apart if rule is LegsBy.WAYPOINT or not mark.on_route]
        bounds |= {mark.along_m: mark.name for mark in reversed(marks)}
    if rule is LegsBy.AUTO and len(bounds) == 2:
        bounds |= dict.fromkeys(_every(line.length_m, DEFAULT_LEG_M), "")
    return bounds


def _sorted_out(passes: Sequence[Pass], fixed_m: list[float]) -> tuple[list[Pass], list[Pass]]:
    """Return the passes that name a fixed bound (moved onto it), and the others."""
    near, apart = [], []
    for passing in passes:
        closest_m = min(fixed_m, key=lambda bound_m: abs(bound_m - passing.along_m))
        if abs(closest_m - passing.along_m) <= NEAR_M:
            near.append(passing._replace(along_m=closest_m))
        else:
            apart.append(passing)
    return near, apart


def _every(length_m: float, step_m: float | None) -> set[float]:
    return set() if step_m is None else set(np.arange(step_m, length_m, step_m).tolist())


def _changes(line: Line, numbers: IntArray | None) -> set[float]:
    if numbers is None:
        return set()
    return set(line.along_m[1:][np.diff(numbers[line.source]) != 0].tolist())


def leg_name(start: Pass, end: Pass) -> str:
    """Return what a driven leg is called: by its named ends, else by its kilometres."""
    if start.name and end.name:
        return f"{start.name} to {end.name}"
    if start.name or end.name:
        return f"from {start.name}" if start.name else f"to {end.name}"
    return f"{kilometres(start.along_m)}-{kilometres(end.along_m)} km"


def kilometres(along_m: float) -> str:
    """Return metres as kilometres to a tenth, without a needless zero."""
    return f"{along_m / 1000:.1f}".removesuffix(".0")
