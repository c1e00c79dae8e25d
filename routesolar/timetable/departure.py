"""When the trip starts: a text of the traveller's, on the clock at the route's start."""

from datetime import UTC, datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

import tzfpy

from routesolar.errors import UsageError
from routesolar.trip.names import printable

KNOWN_YEARS = range(1901, 2100)  # beyond, neither the zones nor the sun's position are known well
EXAMPLE = 'write it as "2026-11-20 07:30", or with an offset as "2026-11-20 07:30+11:00"'


class Start(NamedTuple):
    """The start in UTC seconds, and notes on how the text was understood."""

    utc_s: float
    notes: tuple[str, ...]


def time_zone_at(latitude_deg: float, longitude_deg: float) -> tuple[str, tuple[str, ...]]:
    """Return the IANA time zone of a place, and a note where it had to be assumed.

    >>> from routesolar import time_zone_at
    >>> time_zone_at(59.91, 10.75)
    ('Europe/Oslo', ())
    """
    name = tzfpy.get_tz(longitude_deg, latitude_deg)
    if name:
        return name, ()
    return "UTC", ("no time zone is known at the start; times are UTC",)


def checked_zone(name: str) -> str:
    """Return the name of an IANA time zone; UsageError if there is none of that name."""
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        if not available_timezones():
            raise UsageError("no time zones are known on this system: pip install tzdata") from None
        raise UsageError(
            f'tz is "{printable(name)}", which is not a time zone; give one such as Europe/Oslo or UTC'
        ) from None
    return name


def parse_departure(text: str, time_zone: str) -> Start:
    """Return the departure a text means: ISO date and time, local in `time_zone` unless it has an offset.

    Of a time that the clock shows twice the first is meant, with a note.

    >>> from routesolar import parse_departure
    >>> parse_departure("2026-06-21 08:00", "Europe/Oslo").utc_s
    1782021600.0
    >>> parse_departure("2026-06-21T06:00Z", "Europe/Oslo").utc_s
    1782021600.0
    >>> parse_departure("2026-10-25 02:30", "Europe/Oslo").notes[0]
    'the clock shows 02:30 twice that day; the first (2026-10-25T02:30:00+02:00) is used'

    Raises:
        UsageError: the text is not a date and time, or the clock never shows it, as it jumps over it.
    """
    return departure_at(read_departure(text), time_zone)


def read_departure(text: str) -> datetime:
    """Return the ISO date and time of a text, with its offset if it has one; UsageError if it is none."""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise UsageError(f'the departure "{printable(text)}" is not a date and time; {EXAMPLE}') from None
    if ":" not in text:
        raise UsageError(f'the departure "{printable(text)}" has no time of day; {EXAMPLE}')
    return _in_known_years(moment)


def departure_at(moment: datetime, time_zone: str) -> Start:
    """Return a departure at a date and time, local in `time_zone` unless it has an offset.

    Of a time that the clock shows twice the first is meant, with a note.

    Raises:
        UsageError: the year is beyond those whose clocks and sun are known well, or the clock never shows
            that time, as it jumps over it.
    """
    _in_known_years(moment)
    if moment.tzinfo is not None:
        return Start(moment.timestamp(), ())
    zone = ZoneInfo(checked_zone(time_zone))
    first, second = (moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    shown = first.astimezone(UTC).astimezone(zone)
    if shown.replace(tzinfo=None) != moment:
        before = moment - _jump(first, second)
        raise UsageError(
            f"departure {moment:%Y-%m-%d %H:%M} does not exist in {time_zone}: the clocks skip it; "
            f"depart at {_as_beside(before, moment)} or {_as_beside(shown, moment)}, or give an offset"
        )
    if first.utcoffset() != second.utcoffset():
        note = f"the clock shows {moment:%H:%M} twice that day; the first ({first.isoformat()}) is used"
        return Start(first.timestamp(), (note,))
    return Start(first.timestamp(), ())


def _in_known_years(moment: datetime) -> datetime:
    if moment.year not in KNOWN_YEARS:
        raise UsageError(
            f'the departure "{moment.isoformat(" ")}" is outside the years 1901 to 2099; {EXAMPLE}'
        )
    return moment


def _as_beside(other: datetime, moment: datetime) -> str:
    """Return a time as the clock shows it, with its date where a whole day was skipped."""
    return f"{other:%H:%M}" if other.date() == moment.date() else f"{other:%Y-%m-%d %H:%M}"


def _jump(first: datetime, second: datetime) -> timedelta:
    """Return by how much the clock jumps around a time that it never shows."""
    return abs((second.utcoffset() or timedelta()) - (first.utcoffset() or timedelta()))
