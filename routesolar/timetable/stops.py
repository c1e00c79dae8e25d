"""Put stops onto the line, planned and recorded, and see how long a stop until a clock time lasts."""

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple, NoReturn
from zoneinfo import ZoneInfo

import numpy as np

from routesolar.errors import InputError, UsageError
from routesolar.physics.daylight import sunrise_utc_s, sunset_utc_s
from routesolar.timetable.departure import departure_at, read_departure
from routesolar.timetable.line import Line
from routesolar.timetable.marks import NEAR_M, Pass, kilometres
from routesolar.trip.arrays import BoolArray, FloatArray
from routesolar.trip.names import printable
from routesolar.trip.route import Clearing, Stop

END = "end"  # instead of a waypoint's name: where the route ends
END_M = 50.0  # lengths are shown to a tenth of a km: a stop this far beyond the end is at the end
LATE_S = 20 * 3600.0  # whoever would have to wait longer for a time of no date has come too late
UNTIL = (
    'write it as "12:30", with its day as "2026-11-21 08:00" or "tomorrow 08:00", or as "sunset", "sunrise" or '
    '"next departure"'
)
SUNSET, SUNRISE, NEXT_DEPARTURE = "sunset", "sunrise", "next departure"
DAY_S = 86_400.0
NIGHT_S = 6 * 3600.0  # the shortest; whoever comes later goes on a day later
_CLOCK = re.compile(r"(tomorrow )?([01]?\d|2[0-3]):([0-5]\d)", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedStop:
    """A stop at a distance along the line; `duration_s` and `until` as in Stop.

    `run` is given where both sides of a gap lie at that distance and only one of them is meant. A stop that is
    `chosen` is made in these of the departures only, (d,). A night lasts until the clock time `night_until_s`.
    """

    along_m: float
    name: str
    duration_s: float | None
    until: str | None = None
    heading_deg: float | None = None
    roofed: bool = False
    clearing: Clearing | None = None
    run: int | None = None
    chosen: BoolArray | None = None
    night_until_s: float | None = None


def planned_stops(
    stops: Sequence[Stop], line: Line, passes: Sequence[Pass], chosen: BoolArray | None = None
) -> tuple[list[PlacedStop], list[str]]:
    """Return the planned stops in the order of the line, and notes.

    The last k are made in some of d departures only where `chosen`, (d, k), says which.

    Raises:
        InputError, UsageError: a stop that a file or the command line asks for is not on the line.
    """
    placed, notes = [], []
    always = len(stops) - (0 if chosen is None else chosen.shape[1])
    for number, stop in enumerate(stops):
        if stop.at_m is None:
            along_m, name, note = _by_name(stop, line, passes)
            notes += note
        else:
            along_m, name = stop.at_m, f"stop at {kilometres(stop.at_m)} km"
        if not 0 <= along_m <= line.length_m + END_M:
            _refuse(
                stop,
                f"the stop at {printable(stop.at)} is not on the route, "
                f"which is {kilometres(line.length_m)} km long",
            )
        placed.append(
            PlacedStop(
                along_m=min(along_m, line.length_m),
                name=name,
                duration_s=stop.duration_s,
                until=stop.until,
                heading_deg=stop.heading_deg,
                roofed=stop.roofed,
                clearing=stop.clearing,
                chosen=None if chosen is None or number < always else chosen[:, number - always],
            )
        )
    return sorted(placed, key=lambda stop: stop.along_m), notes


def _refuse(stop: Stop, why: str) -> NoReturn:
    if stop.said_in:
        raise InputError(f"{stop.said_in}: {why}")
    raise UsageError(why)


def _by_name(stop: Stop, line: Line, passes: Sequence[Pass]) -> tuple[float, str, list[str]]:
    """Return where the line passes the waypoint of the stop's name first; capitals do not matter.

    "end" is the end of the line, but where a waypoint is called so.
    """
    wanted = stop.at.strip().casefold()
    found = [passing for passing in passes if passing.name.casefold() == wanted]
    if not found and wanted == END:
        there = [passing.name for passing in passes if line.length_m - passing.along_m <= NEAR_M]
        return line.length_m, there[-1] if there else "destination", []
    if not found:
        names = sorted({passing.name for passing in passes})
        close = difflib.get_close_matches(stop.at, names, n=1) or names[:5]
        known = f"on the route are: {', '.join(close)}" if close else "the route passes no named place"
        _refuse(
            stop,
            f'no waypoint "{printable(stop.at)}" within {NEAR_M:.0f} m of the line; {known}; '
            "or stop by distance, such as 42km, or at the end",
        )
    again = (
        [f"{found[0].name} is passed {len(found)} times; the stop is at the first"] if len(found) > 1 else []
    )
    return found[0].along_m, found[0].name, again


def recorded_stops(
    line: Line, planned: Sequence[PlacedStop], passes: Sequence[Pass]
) -> tuple[list[PlacedStop], list[str]]:
    """Return the recorded pauses as stops, and notes; a planned stop within 200 m takes a pause's place."""
    stops, notes = [], []
    for knot in np.flatnonzero(line.wait_s > 0):
        along_m = float(line.along_m[knot])
        instead = [stop.name for stop in planned if abs(stop.along_m - along_m) <= NEAR_M]
        if instead:
            notes.append(
                f"the planned stop ({instead[0]}) replaces the recorded one at {kilometres(along_m)} km"
            )
            continue
        names = [passing.name for passing in passes if abs(passing.along_m - along_m) <= NEAR_M]
        name = names[0] if names else f"stop at {kilometres(along_m)} km"
        wait_s, run = float(line.wait_s[knot]), int(line.run[knot])
        stops.append(PlacedStop(along_m=along_m, name=name, duration_s=wait_s, run=run))
    return stops, notes


def read_until(text: str) -> datetime | None:
    """Return the date and time until which a stop lasts, None where it goes by the arrival or the departure.

    Raises:
        UsageError: the text is no clock time, today's or tomorrow's, no sunset, sunrise or next departure, and
            no date and time.
    """
    if _words(text) in (SUNSET, SUNRISE, NEXT_DEPARTURE) or _clock_of(text) is not None:
        return None
    try:
        return read_departure(text)
    except UsageError:
        raise UsageError(f'until is "{printable(text)}"; {UNTIL}') from None


def _words(text: str) -> str:
    return " ".join(text.split()).casefold()


def _clock_of(text: str) -> tuple[int, int, int | None] | None:
    """Return hour and minute, and a 1 for "tomorrow 08:00"; None for other texts."""
    clock = _CLOCK.fullmatch(_words(text))
    return None if clock is None else (int(clock[2]), int(clock[3]), 1 if clock[1] else None)


def names_its_day(text: str) -> bool:
    """Tell whether a time until which one stays leaves no doubt about its day."""
    clock = _clock_of(text)
    return clock is None or clock[2] is not None


class Arrivals(NamedTuple):
    """Arrivals at a place, the departures they belong to, UTC seconds (d,), and the place in degrees and m."""

    arrival_utc_s: FloatArray
    departure_utc_s: FloatArray
    latitude_deg: float
    longitude_deg: float
    elevation_m: float


def wait_until_s(arrivals: Arrivals, until: str, time_zone: str) -> FloatArray:
    """Return the seconds from each arrival until a time; 0 for who is late.

    A date and time, or "HH:MM", are on the local clock. The next clock time may be the following morning; but
    whoever would wait more than 20 hours for it has missed it, and does not stop. "tomorrow HH:MM" is of the
    day after the departure; sunset is that of the day of arrival, sunrise the next. The next departure is when
    the clock next shows the hour of the departure.
    """
    arrival_utc_s = arrivals.arrival_utc_s
    day, clock = read_until(until), _clock_of(until)
    if day is not None:
        return np.maximum(departure_at(day, time_zone).utc_s - arrival_utc_s, 0.0)
    if _words(until) == NEXT_DEPARTURE:
        return _wait_for_clock_s(arrivals, time_zone)
    if clock is None:
        return _wait_for_sun_s(arrivals, until)
    zone = ZoneInfo(time_zone)
    hour, minute, tomorrow = clock
    waits = []
    for departure, arrival in zip(arrivals.departure_utc_s.tolist(), arrival_utc_s.tolist(), strict=True):
        start = datetime.fromtimestamp(departure if tomorrow else arrival, zone)
        end = start.replace(hour=hour, minute=minute, second=0, microsecond=0, fold=0)
        if tomorrow or end.timestamp() < arrival:
            end += timedelta(days=1)  # on the local calendar, whatever the clocks do that night
        waits.append(max(end.timestamp() - arrival, 0.0))
    wait_s = np.array(waits)
    return wait_s if tomorrow else np.where(wait_s > LATE_S, 0.0, wait_s)


def _wait_for_clock_s(arrivals: Arrivals, time_zone: str) -> FloatArray:
    """Return the seconds until the local clock next shows the hour of each departure."""
    zone, waits = ZoneInfo(time_zone), []
    for departure, arrival in zip(
        arrivals.departure_utc_s.tolist(), arrivals.arrival_utc_s.tolist(), strict=True
    ):
        left = datetime.fromtimestamp(departure, zone)
        there = datetime.fromtimestamp(arrival, zone)
        end = left.replace(year=there.year, month=there.month, day=there.day, fold=0)
        while end.timestamp() <= arrival:
            end += timedelta(days=1)
        waits.append(end.timestamp() - arrival)
    return np.array(waits)


def night_s(arrival_utc_s: FloatArray, clock_s: float, time_zone: str) -> FloatArray:
    """Return the seconds from each arrival until a clock time, the first that leaves a night of six hours."""
    zone, waits = ZoneInfo(time_zone), []
    for arrival in arrival_utc_s.tolist():
        start = datetime.fromtimestamp(arrival, zone)
        hour, minute = divmod(round(clock_s / 60), 60)
        end = start.replace(hour=hour, minute=minute, second=0, microsecond=0, fold=0)
        while end.timestamp() < arrival + NIGHT_S:
            end += timedelta(days=1)
        waits.append(end.timestamp() - arrival)
    return np.array(waits)


def _wait_for_sun_s(arrivals: Arrivals, event: str) -> FloatArray:
    """Return the seconds until sunset or sunrise; 0 where it has set, or neither comes."""
    at_utc_s, place = arrivals.arrival_utc_s, arrivals[2:]
    if _words(event) == SUNSET:
        return np.maximum(np.nan_to_num(sunset_utc_s(*place, at_utc_s) - at_utc_s), 0.0)
    today_s, next_s = (sunrise_utc_s(*place, at_utc_s + day_s) - at_utc_s for day_s in (0.0, DAY_S))
    wait_s: FloatArray = np.maximum(np.nan_to_num(np.where(today_s > 0, today_s, next_s)), 0.0)
    return wait_s
