"""Put stops onto the line, planned and recorded, and see how long a stop until a clock time lasts."""

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NoReturn
from zoneinfo import ZoneInfo

import numpy as np

from routesolar.errors import InputError, UsageError
from routesolar.timetable.departure import departure_at, read_departure
from routesolar.timetable.line import Line
from routesolar.timetable.marks import NEAR_M, Pass, kilometres
from routesolar.trip.arrays import FloatArray
from routesolar.trip.names import printable
from routesolar.trip.route import Clearing, Stop

END = "end"  # instead of a waypoint's name: where the route ends
END_M = 50.0  # lengths are shown to a tenth of a km: a stop this far beyond the end is at the end
LATE_S = 20 * 3600.0  # whoever would have to wait longer for a time of no date has come too late
UNTIL = 'write it as "12:30", or with its day as "2026-11-21 08:00"'
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedStop:
    """A stop at a distance along the line; `duration_s` and `until` as in Stop.

    `run` is given where both sides of a gap lie at that distance and only one of them is meant.
    """

    along_m: float
    name: str
    duration_s: float | None
    until: str | None = None
    heading_deg: float | None = None
    roofed: bool = False
    clearing: Clearing | None = None
    run: int | None = None


def planned_stops(
    stops: Sequence[Stop], line: Line, passes: Sequence[Pass]
) -> tuple[list[PlacedStop], list[str]]:
    """Return the planned stops in the order of the line, and notes.

    Raises:
        InputError, UsageError: a stop that a file or the command line asks for is not on the line.
    """
    placed, notes = [], []
    for stop in stops:
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
    """Return the date and time until which a stop lasts, None where it is a clock time of no date, "HH:MM".

    Raises:
        UsageError: the text is neither.
    """
    if _CLOCK.fullmatch(text.strip()):
        return None
    try:
        return read_departure(text)
    except UsageError:
        raise UsageError(f'until is "{printable(text)}"; {UNTIL}') from None


def wait_until_s(arrival_utc_s: FloatArray, until: str, time_zone: str) -> FloatArray:
    """Return the seconds from each arrival until a date and time, or the next "HH:MM"; 0 for who is late.

    Both are on the local clock. The next clock time may be the following morning; but whoever would wait more
    than 20 hours for it has missed it, and does not stop.
    """
    day = read_until(until)
    if day is not None:
        return np.maximum(departure_at(day, time_zone).utc_s - arrival_utc_s, 0.0)
    zone = ZoneInfo(time_zone)
    hour, minute = (int(part) for part in until.split(":"))
    waits = []
    for arrival in arrival_utc_s.tolist():
        here = datetime.fromtimestamp(arrival, zone)
        end = here.replace(hour=hour, minute=minute, second=0, microsecond=0, fold=0)
        if end.timestamp() < arrival:
            end += timedelta(days=1)  # on the local calendar, whatever the clocks do that night
        waits.append(end.timestamp() - arrival)
    wait_s = np.array(waits)
    return np.where(wait_s > LATE_S, 0.0, wait_s)
