"""Drive a route: segments on the ground, timed for every departure."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.errors import RoutesolarError, UsageError
from routesolar.timetable.cutting import cut
from routesolar.timetable.departure import EXAMPLE, checked_zone, time_zone_at
from routesolar.timetable.driven import driven_line, travelled_m
from routesolar.timetable.line import Line
from routesolar.timetable.mapped_line import MappedLine
from routesolar.timetable.marks import kilometres, leg_bounds, waypoint_passes
from routesolar.timetable.nights import NIGHT, nights_along
from routesolar.timetable.pacing import paced
from routesolar.timetable.parts import itinerary
from routesolar.timetable.placing import TripNotes, place
from routesolar.timetable.recorded import Times, recorded_start_utc_s, recorded_times
from routesolar.timetable.stops import PlacedStop, planned_stops, recorded_stops
from routesolar.trip.arrays import BoolArray, FloatArray, numbers
from routesolar.trip.mapped_road import LINE
from routesolar.trip.ranges import ALONG
from routesolar.trip.route import Clearing, LegsEvery, Plan, Route
from routesolar.trip.segments import Segments

# Of the way through the points: rounding below it; above it the points are of another road.
SHORTEST_ROAD, LONGEST_ROAD = 0.98, 3.0


class _Layout(NamedTuple):
    """The line with a knot at every place that matters; those places; what was assumed."""

    line: Line
    mapped: MappedLine
    stops: list[PlacedStop]
    bounds: dict[float, str]
    edges_m: list[float]
    notes: list[str]
    warnings: list[str]


def drive(
    route: Route, departure_utc_s: FloatArray | None, *, plan: Plan, chosen: BoolArray | None = None
) -> Segments:
    """Return the timed drive: n segments for d departures (UTC seconds; None: the recorded start).

    The pace is that of `plan`, else the recorded one, shifted to every departure. Segments are at most
    `plan.step_m` long and last at most `plan.step_s`, stops included; heading is taken over 20 m of line,
    grade over 100 m. All that was assumed stands in the notes and warnings. Raises UsageError where pace or
    departure are unknown or the plan does not fit the route, InputError where the route cannot be driven.

    With `chosen` (d, k) the last k stops are made in some of the departures only, and last no time in others.
    A recorded line is freed from its receiver's noise first, and its stops stay whatever sets the pace.
    """
    departures_s = _departures_s(route, departure_utc_s)
    zone, zone_notes = _time_zone(route, plan)
    layout = _layout(route, plan, chosen)
    trip = itinerary(
        layout.line,
        stops=layout.stops,
        bounds=layout.bounds,
        edges_m=layout.edges_m,
        departure_utc_s=departures_s,
        time_zone=zone,
    )
    said = TripNotes(
        route_name=route.name,
        files=route.files,
        waypoints=tuple(waypoint for waypoint in route.waypoints if not waypoint.on_route),
        pace=_pace(plan),
        time_zone=zone,
        has_elevation=bool(np.any(~np.isnan(route.elevation_m))),
        notes=(*zone_notes, *layout.notes, *trip.notes),
        warnings=(*route.warnings, *layout.warnings, *trip.warnings),
    )
    pieces = cut(layout.line, trip.parts, plan.step_m, plan.step_s)
    return place(pieces, layout.line, trip, plan.stretches, layout.mapped, departures_s, said)


def leaving_at(segments: Segments, departure_utc_s: FloatArray) -> Segments:
    """Return a drive that waits for no clock (`Plan.waits_for_clock`), left at other times, UTC seconds (d,).

    It is what `drive` returns for these, without laying the line out again.
    """
    departures_s = np.atleast_1d(numbers(departure_utc_s, "departure_utc_s"))
    duration_s = np.repeat(segments.duration_s[:1], len(departures_s), axis=0)
    ends_s = departures_s[:, None] + np.cumsum(duration_s, axis=1)
    return replace(
        segments,
        departure_utc_s=departures_s,
        duration_s=duration_s,
        start_utc_s=np.concatenate([departures_s[:, None], ends_s[:, :-1]], axis=1),
    )


def without_noise(route: Route) -> tuple[Route, list[str]]:
    """Return a route freed from its receiver's noise where it has times that tell it, and notes of that."""
    try:
        return _steadied(route, recorded_times(route, travelled_m(route)))
    except RoutesolarError:
        return route, []


class Place(NamedTuple):
    """A named place on the line, and what is known of the trees of who stops there."""

    along_m: float
    name: str
    clearing: Clearing | None = None


def places_along(route: Route, plan: Plan) -> list[Place]:
    """Return the named places that the line passes and the stops on it."""
    layout = _layout(route, plan)
    passes = waypoint_passes(layout.line, route.waypoints)
    passed = [Place(one.along_m, one.name, one.clearing) for one in passes]
    return [*passed, *(Place(stop.along_m, stop.name, stop.clearing) for stop in layout.stops)]


def _departures_s(route: Route, departure_utc_s: FloatArray | None) -> FloatArray:
    if departure_utc_s is not None:
        departures_s = np.atleast_1d(numbers(departure_utc_s, "departure_utc_s"))
        low, high, advice = ALONG["departure_utc_s"]
        if not np.all((departures_s >= low) & (departures_s <= high)):
            raise UsageError(f"departure_utc_s is {departures_s[0]:g}: give {advice}")
        return departures_s
    start_s = recorded_start_utc_s(route)
    if start_s is None:
        raise UsageError(f"the route has no recorded times, so a departure is needed; {EXAMPLE}")
    return np.array([start_s])


def _time_zone(route: Route, plan: Plan) -> tuple[str, tuple[str, ...]]:
    if plan.time_zone is not None:
        return checked_zone(plan.time_zone), ()
    return time_zone_at(float(route.latitude_deg[0]), float(route.longitude_deg[0]))


def _pace(plan: Plan) -> str:
    """Return in words where the speeds come from."""
    if plan.speed_by_map:
        others = ", other paces by the trip file" if plan.paces else ""
        return f"limits and usual speeds of the map, without stops at lights and slow bends{others}"
    if plan.speed_mps is None:
        return "as in the trip file" if plan.paces else "as recorded"
    others = ", other paces by the trip file" if plan.paces else ""
    return f"{plan.speed_mps * 3.6:.4g} km/h{others}"


def _layout(route: Route, plan: Plan, chosen: BoolArray | None = None) -> _Layout:
    if plan.road is not None:
        route = replace(route, **{name: getattr(plan.road, name) for name in LINE})
    times = _times(route, plan)
    if plan.road is None:
        route, notes = _steadied(route, times)
    else:  # laid on roads, the line has no noise left
        notes = list(plan.road.notes)
    line, warnings = driven_line(route, times)
    if plan.distance_m is not None:
        notes.append(_length_note(route, line, plan.distance_m))
        line = line.as_long_as(plan.distance_m)
    passes = waypoint_passes(line, route.waypoints)
    planned, noted = planned_stops(plan.stops, line, passes, chosen)
    sure = [stop for stop in planned if stop.chosen is None]
    recorded, replaced = recorded_stops(line, sure, passes)
    notes += noted
    stops = [*recorded, *planned]
    bounds = leg_bounds(line, route, plan.legs, [stop.along_m for stop in stops], passes)
    edges_m = [edge_m for pace in plan.paces for edge_m in (pace.from_m, pace.to_m)]
    edges_m += [edge_m for stretch in plan.stretches for edge_m in (stretch.from_m, stretch.to_m)]
    mapped = MappedLine.on(line, plan.road)
    edges_m += mapped.edges_m(speeds=plan.speed_by_map)
    line = paced(line.with_knots([*bounds, *edges_m]), plan, mapped)
    if isinstance(plan.legs, LegsEvery) and plan.legs.driving_s is not None:
        every_s = np.arange(plan.legs.driving_s, line.drive_s[-1], plan.legs.driving_s)
        bounds |= dict.fromkeys(np.interp(every_s, line.drive_s, line.along_m).tolist(), "")
        line = line.with_knots(list(bounds))
    nights, noted = nights_along(line, plan, stops, passes)
    if nights:
        bounds = {night.along_m: night.name.removeprefix(NIGHT) for night in nights} | bounds
        line = line.with_knots(list(bounds))
        stops += nights
    notes += noted
    if (plan.speed_mps is not None or plan.speed_by_map) and recorded_start_utc_s(route) is not None:
        notes.append(_pace_note(recorded))
    if times is not None:
        warnings = times.warnings + warnings
    if plan.road is not None:
        warnings += plan.road.warnings
    warnings += _beyond(plan, line)
    return _Layout(line, mapped, stops, bounds, edges_m, notes + replaced, warnings)


def _length_note(route: Route, line: Line, distance_m: float) -> str:
    """Return in words how a road as long as it is said to be lies along the route's line.

    Raises:
        UsageError: no road along these points can be so long.
    """
    apart_km, told_km = kilometres(line.length_m), kilometres(distance_m)
    if line.length_m == 0 or not SHORTEST_ROAD <= distance_m / line.length_m <= LONGEST_ROAD:
        raise UsageError(
            f"{route.name}: its points lie {apart_km} km apart in all, so the road along them is not "
            f"{told_km} km long; mend --distance, or leave it out"
        )
    return (
        f"the road is {told_km} km long as told, while the route's points lie {apart_km} km apart in all: "
        "lengths and times are those of the road, sun and trees those of the line through the points"
    )


def _times(route: Route, plan: Plan) -> Times | None:
    """Return the recorded times; where a speed is given they may also be missing or useless."""
    way_m = travelled_m(route)
    try:
        return recorded_times(route, way_m)
    except RoutesolarError:
        if plan.speed_mps is None and not plan.speed_by_map:
            raise
        return None


def _steadied(route: Route, times: Times | None) -> tuple[Route, list[str]]:
    """Return the route without its receiver's noise, and a note of what that does to its length."""
    if times is None:
        return route, []
    from routesolar.timetable.steadying import steadied  # slow to import, and planned routes have no noise

    steady = steadied(route.latitude_deg, route.longitude_deg, times.utc_s, route.piece)
    if steady is None:
        return route, []
    calm = replace(route, latitude_deg=steady[0], longitude_deg=steady[1])
    before_m, after_m = (float(travelled_m(line)[-1]) for line in (route, calm))
    return calm, [
        f"the recorded points scatter with the receiver's error, so the line was smoothed: "
        f"{kilometres(after_m)} km instead of {kilometres(before_m)} km"
    ]


def _pace_note(recorded: Sequence[PlacedStop]) -> str:
    note = "the route has recorded times, but a speed was given: the speed sets the pace"
    if not recorded:
        return note
    minutes = round(sum(stop.duration_s or 0.0 for stop in recorded) / 60)
    stay = "the recorded stop stays" if len(recorded) == 1 else f"the {len(recorded)} recorded stops stay"
    return f"{note}, and {stay} ({minutes // 60} h {minutes % 60:02d} min)"


def _beyond(plan: Plan, line: Line) -> list[str]:
    """Return a warning for every pace and stretch that the route never comes to."""
    end_km = kilometres(line.length_m)
    stated = [("pace", pace.from_m) for pace in plan.paces]
    stated += [("surroundings", stretch.from_m) for stretch in plan.stretches]
    return [
        f"the {what} from {kilometres(from_m)} km on had no effect: the route is {end_km} km long"
        for what, from_m in stated
        if from_m >= line.length_m
    ]
