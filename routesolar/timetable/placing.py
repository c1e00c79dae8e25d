"""Give every segment its place: position, height, heading, grade, speed, time."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from routesolar.timetable.bends import bends_between
from routesolar.timetable.cutting import Cut
from routesolar.timetable.line import HEADING_M, Line, carried
from routesolar.timetable.mapped_line import MappedLine
from routesolar.timetable.parts import Itinerary
from routesolar.timetable.stretches import within
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.route import SourceFile, Stretch, Waypoint
from routesolar.trip.segments import Segments

LOOKS = 5  # at the heading within a segment: their mean is that of a road partly bent
GRADE_M = 100.0  # shorter, and the noise of heights tilts it
STEEPEST_FRAC = 0.35  # the steepest public roads (common practice, no source); more is an error in the heights
FASTEST_MPS = 70.0


class TripNotes(NamedTuple):
    """What is known of the whole trip, and what has to be said about it."""

    route_name: str
    files: tuple[SourceFile, ...]
    waypoints: tuple[Waypoint, ...]
    pace: str
    time_zone: str
    has_elevation: bool
    notes: tuple[str, ...]
    warnings: tuple[str, ...]


def place(
    pieces: Cut,
    line: Line,
    trip: Itinerary,
    stretches: Sequence[Stretch],
    mapped: MappedLine,
    departure_utc_s: FloatArray,
    said: TripNotes,
) -> Segments:
    """Return the segments that `pieces` of the line are, timed from each departure."""
    parts = [trip.parts[number] for number in pieces.part.tolist()]
    stopped = np.array([part.stop is not None for part in parts])
    start_m, middle_m, end_m = (line.at(line.along_m, at) for at in (pieces.start, pieces.middle, pieces.end))
    run = line.run[np.floor(pieces.start).astype(np.int64)]
    speed_mps = np.zeros(len(parts))
    np.divide(end_m - start_m, pieces.duration_s[0], out=speed_mps, where=~stopped & (pieces.duration_s[0] > 0))
    grade_frac, steep = _grade_frac(line, middle_m, run, known=said.has_elevation)
    ends_s = departure_utc_s[:, None] + np.cumsum(pieces.duration_s, axis=1)
    start, middle, end = (line.position(at) for at in (pieces.start, pieces.middle, pieces.end))
    roofed = mapped.roofed_at(middle_m) & ~stopped
    for stretch in stretches:
        if stretch.roofed is not None:
            roofed[within(middle_m, stretch)] = stretch.roofed
    roofed |= np.array([part.stop is not None and part.stop.roofed for part in parts])
    return Segments(
        latitude_deg=start[0],
        longitude_deg=start[1],
        elevation_m=line.at(line.elevation_m, pieces.start),
        middle_latitude_deg=middle[0],
        middle_longitude_deg=middle[1],
        middle_elevation_m=line.at(line.elevation_m, pieces.middle),
        end_latitude_deg=end[0],
        end_longitude_deg=end[1],
        heading_deg=_heading_deg(line, run, pieces, trip),
        grade_frac=grade_frac,
        speed_mps=speed_mps,
        length_m=end_m - start_m,
        along_m=start_m,
        leg=np.array([part.leg for part in parts]),
        stretch=None if mapped.road is None else mapped.number_at(middle_m),
        stopped=stopped,
        roofed=roofed,
        driven_on=np.append(np.diff(run) == 0, True),
        start_utc_s=np.concatenate([departure_utc_s[:, None], ends_s[:, :-1]], axis=1),
        duration_s=pieces.duration_s,
        departure_utc_s=departure_utc_s,
        legs=trip.legs,
        time_zone=said.time_zone,
        bends=bends_between(line, pieces),
        has_elevation=said.has_elevation,
        route_name=said.route_name,
        files=said.files,
        waypoints=said.waypoints,
        pace=said.pace,
        notes=said.notes,
        warnings=said.warnings + steep + _fast(speed_mps),
    )


def _heading_deg(line: Line, run: IntArray, pieces: Cut, trip: Itinerary) -> FloatArray:
    """Return segments' mean headings, each over 20 m of line; a stop keeps that of arrival, or its own."""
    start_m, end_m = (line.at(line.along_m, at) for at in (pieces.start, pieces.end))
    share = (np.arange(LOOKS)[:, None] + 0.5) / LOOKS
    way_m = (start_m + share * (end_m - start_m)).ravel()
    looks = line.heading_deg(way_m, np.tile(run, LOOKS), np.tile(line.link(pieces.middle), LOOKS))
    looks = looks.reshape(LOOKS, -1)
    mean = np.degrees(np.angle(np.exp(1j * np.radians(looks)).sum(axis=0))) % 360
    stops = [part.stop for part in trip.parts]
    stopped = np.array([stop is not None for stop in stops])
    arrived = carried(np.where(stopped[pieces.part], np.nan, looks[LOOKS // 2]))
    heading = np.where(stopped[pieces.part], arrived, mean)
    asked = np.array(
        [np.nan if stop is None or stop.heading_deg is None else stop.heading_deg for stop in stops]
    )
    return np.where(np.isnan(asked[pieces.part]), heading, asked[pieces.part] % 360)


def _grade_frac(
    line: Line, middle_m: FloatArray, run: IntArray, *, known: bool
) -> tuple[FloatArray, tuple[str, ...]]:
    """Return rise over run across 100 m of line, within what roads climb, and a warning where it was not."""
    if not known:
        return np.zeros_like(middle_m), ()
    before, after, way_m = line.window(middle_m, run, GRADE_M)
    rise_m = line.at(line.elevation_m, after) - line.at(line.elevation_m, before)
    # A run shorter than the heading's base has no grade to speak of.
    grade = np.divide(rise_m, way_m, out=np.zeros_like(rise_m), where=way_m >= HEADING_M)
    steep = int(np.count_nonzero(np.abs(grade) > STEEPEST_FRAC))
    warning = f"heights give grades above {STEEPEST_FRAC:.0%} on {steep} segments; they were limited to that"
    return np.clip(grade, -STEEPEST_FRAC, STEEPEST_FRAC), (warning,) if steep else ()


def _fast(speed_mps: FloatArray) -> tuple[str, ...]:
    fast = int(np.count_nonzero(speed_mps > FASTEST_MPS))
    warning = f"recorded times give more than {FASTEST_MPS * 3.6:.0f} km/h on {fast} segments; check them"
    return (warning,) if fast else ()
