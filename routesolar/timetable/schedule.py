"""Drive a route: segments on the ground, timed for every departure."""

from typing import Any

import numpy as np

from routesolar.errors import UsageError
from routesolar.physics.geodesy import heading_deg
from routesolar.timetable.cutting import Cut, cut
from routesolar.timetable.departure import checked_zone, time_zone_at
from routesolar.timetable.driven import driven_line, travelled_m
from routesolar.timetable.line import Line
from routesolar.timetable.marks import leg_bounds, waypoint_passes
from routesolar.timetable.pacing import along_at, paced
from routesolar.timetable.parts import Itinerary, itinerary
from routesolar.timetable.recorded import Times, recorded_start_utc_s, recorded_times
from routesolar.timetable.stops import planned_stops, recorded_stops
from routesolar.timetable.stretches import within
from routesolar.trip.arrays import BoolArray, FloatArray
from routesolar.trip.route import LegsEvery, Plan, Route
from routesolar.trip.segments import Segments

HEADING_M = 20.0  # shorter, and the receiver's noise turns the vehicle
GRADE_M = 100.0  # shorter, and the noise of heights tilts it
STEEPEST_FRAC = 0.35  # the steepest public roads; more is an error in the heights (common practice, no source)
FASTEST_MPS = 70.0


def drive(route: Route, departure_utc_s: FloatArray | None, *, plan: Plan) -> Segments:
    """Return the timed drive: n segments for d departures (UTC seconds; None: the recorded start).

    The pace is that of `plan`, else the recorded one, shifted to every departure. Segments are at most
    `plan.step_m` long and `plan.step_s` in time, stops included; heading is taken over 20 m of line, grade
    over 100 m. All that was assumed stands in the warnings. Raises UsageError where pace or departure are
    unknown or the plan does not fit the route, InputError where the route cannot be driven.
    """
    departures = _departures(route, departure_utc_s)
    time_zone, notes = _time_zone(route, plan)
    times = None
    if plan.speed_mps is None:
        times = recorded_times(route, travelled_m(route))
    elif recorded_start_utc_s(route) is not None:
        notes.append(
            "the route has recorded times; the speed given is used instead, and recorded pauses are not"
        )
    line, warnings = driven_line(route, times)
    passes = waypoint_passes(line, route.waypoints)
    planned, stop_notes = planned_stops(plan.stops, line, passes)
    recorded, pause_notes = recorded_stops(line, planned, passes)
    stops = [*recorded, *planned]
    bounds = leg_bounds(line, route, plan.legs, [stop.along_m for stop in stops], passes)
    edges = [edge for pace in plan.paces for edge in (pace.from_m, pace.to_m)]
    edges += [edge for stretch in plan.stretches for edge in (stretch.from_m, stretch.to_m)]
    line = paced(line.with_knots([*bounds, *edges]), plan)
    if isinstance(plan.legs, LegsEvery) and plan.legs.driving_s is not None:
        every_s = np.arange(plan.legs.driving_s, line.drive_s[-1], plan.legs.driving_s)
        bounds |= dict.fromkeys(along_at(line, every_s).tolist())
        line = line.with_knots(list(bounds))
    trip = itinerary(
        line,
        stops=stops,
        bounds=bounds,
        edges_m=[edge for edge in edges if edge < line.length_m],
        departure_utc_s=departures,
        time_zone=time_zone,
    )
    pieces = cut(line, trip.parts, plan.step_m, plan.step_s)
    ground = _ground(line, pieces, route, warnings)
    legs = np.array([part.leg for part in trip.parts])[pieces.part]
    starts = np.cumsum(pieces.duration_s, axis=1) - pieces.duration_s
    return Segments(
        **ground,
        heading_deg=_headings(line, pieces, trip),
        leg=legs,
        stopped=pieces.stopped,
        roofed=_roofed(line, pieces, trip, plan),
        driven_on=_driven_on(line, pieces),
        start_utc_s=departures[:, None] + starts,
        duration_s=pieces.duration_s,
        departure_utc_s=departures,
        legs=trip.legs,
        time_zone=time_zone,
        notes=(*notes, *stop_notes, *pause_notes),
        warnings=(*route.warnings, *_time_warnings(times), *warnings, *trip.warnings),
    )


def _departures(route: Route, departure_utc_s: FloatArray | None) -> FloatArray:
    """Return the departures as an array; the recorded start where none is given."""
    if departure_utc_s is not None:
        return np.atleast_1d(np.asarray(departure_utc_s, dtype=np.float64))
    start = recorded_start_utc_s(route)
    if start is None:
        raise UsageError(
            'the route has no recorded times, so the departure is not known; give --depart "2026-11-20 07:30"'
        )
    return np.array([start])


def _time_zone(route: Route, plan: Plan) -> tuple[str, list[str]]:
    if plan.time_zone is not None:
        return checked_zone(plan.time_zone), []
    name, notes = time_zone_at(float(route.latitude_deg[0]), float(route.longitude_deg[0]))
    return name, list(notes)


def _time_warnings(times: Times | None) -> list[str]:
    return [] if times is None else times.warnings


def _around(line: Line, pieces: Cut, span_m: float) -> tuple[FloatArray, FloatArray]:
    """Return the places half a span before and after each segment's middle, on the same run of road."""
    run = line.run[line.link(pieces.middle)]
    along_m = line.at(line.along_m, pieces.middle)
    return line.place(along_m - span_m / 2, run), line.place(along_m + span_m / 2, run)


def _ground(line: Line, pieces: Cut, route: Route, warnings: list[str]) -> dict[str, Any]:
    """Return position, height, grade, speed and length of the segments; notes in `warnings` what was cut."""
    start, middle, end = (line.position(place) for place in (pieces.start, pieces.middle, pieces.end))
    start_m, end_m = (line.at(line.along_m, place) for place in (pieces.start, pieces.end))
    length_m = np.where(pieces.stopped, 0.0, end_m - start_m)
    speed_mps = np.where(pieces.stopped, 0.0, length_m / np.maximum(pieces.duration_s[0], 1e-9))
    has_elevation = not np.isnan(route.elevation_m).all()
    grade_frac = _grades(line, pieces) if has_elevation else np.zeros(len(length_m))
    if np.any(np.abs(grade_frac) > STEEPEST_FRAC):
        share = float(np.sum(length_m[np.abs(grade_frac) > STEEPEST_FRAC]) / length_m.sum())
        warnings.append(f"elevations climb more steeply than any road on {share:.1%} of the route; cut to 35 %")
    if np.any(speed_mps > FASTEST_MPS):
        warnings.append(f"the pace reaches {speed_mps.max() * 3.6:.0f} km/h; check the recorded times")
    return {
        "latitude_deg": start[0],
        "longitude_deg": start[1],
        "elevation_m": line.at(line.elevation_m, pieces.start),
        "middle_latitude_deg": middle[0],
        "middle_longitude_deg": middle[1],
        "middle_elevation_m": line.at(line.elevation_m, pieces.middle),
        "end_latitude_deg": end[0],
        "end_longitude_deg": end[1],
        "grade_frac": np.clip(grade_frac, -STEEPEST_FRAC, STEEPEST_FRAC),
        "speed_mps": speed_mps,
        "length_m": length_m,
        "along_m": start_m,
        "has_elevation": has_elevation,
    }


def _grades(line: Line, pieces: Cut) -> FloatArray:
    """Return rise over run across 100 m of line, less at the ends of a run."""
    before, after = _around(line, pieces, GRADE_M)
    rise_m = line.at(line.elevation_m, after) - line.at(line.elevation_m, before)
    run_m = line.at(line.along_m, after) - line.at(line.along_m, before)
    return np.divide(rise_m, run_m, out=np.zeros_like(rise_m), where=run_m > 0)


def _headings(line: Line, pieces: Cut, trip: Itinerary) -> FloatArray:
    """Return the heading across 20 m of line; of a stop the heading parked with, else that of arrival."""
    before, after = _around(line, pieces, HEADING_M)
    heading = heading_deg(*line.position(before), *line.position(after))
    heading = np.where(np.isnan(heading), line.link_heading_deg[line.link(pieces.middle)], heading)
    for number, part in enumerate(trip.parts):
        if part.stop is not None:
            arrived = line.link_heading_deg[max(part.first - 1, 0)]
            given = part.stop.heading_deg
            heading[pieces.part == number] = (arrived if given is None else given) % 360
    return heading


def _roofed(line: Line, pieces: Cut, trip: Itinerary, plan: Plan) -> BoolArray:
    """Return which segments lie under a roof, by their stop or by a stretch."""
    roofed = np.array([part.stop is not None and part.stop.roofed for part in trip.parts])[pieces.part]
    middle_m = line.at(line.along_m, pieces.middle)
    for stretch in plan.stretches:
        if stretch.roofed:
            roofed |= within(middle_m, stretch)
    return roofed


def _driven_on(line: Line, pieces: Cut) -> BoolArray:
    """Return where the road goes on from a segment to the next."""
    run = line.run[line.link(pieces.middle)]
    return np.append(np.diff(run) == 0, True)
