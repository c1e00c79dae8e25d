"""Seconds since 1970 UTC as dates and times, and as seconds on local clocks."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from routesolar.trip.arrays import FloatArray

QUARTER_HOUR_S = 900.0  # every change of a zone's offset in use falls on a quarter of an hour
_DAY_S = 86_400.0
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def to_datetime(utc_s: float) -> datetime:
    """Return the instant in UTC, to the nearest millisecond."""
    return _EPOCH + timedelta(milliseconds=round(utc_s * 1000))


def iso_utc(utc_s: float) -> str:
    """Return "2026-11-19T20:30:00.000Z": UTC with milliseconds."""
    return to_datetime(utc_s).replace(tzinfo=None).isoformat(timespec="milliseconds") + "Z"


def iso_local(utc_s: float, time_zone: str) -> str:
    """Return "2026-11-20T07:30:00+11:00": local with offset; milliseconds only where there are any."""
    local = to_local(utc_s, time_zone)
    return local.isoformat(timespec="milliseconds" if local.microsecond else "seconds")


def to_local(utc_s: float, time_zone: str) -> datetime:
    """Return the instant in the named zone, to the nearest millisecond."""
    return to_datetime(utc_s).astimezone(ZoneInfo(time_zone))


def local_clock_s(utc_s: FloatArray, time_zone: str) -> FloatArray:
    """Return seconds after local midnight on the clock of an IANA time zone; same shape as `utc_s`."""
    clock: FloatArray = (utc_s + utc_offset_s(utc_s, time_zone)) % _DAY_S
    return clock


def utc_offset_s(utc_s: FloatArray, time_zone: str) -> FloatArray:
    """Return how far the clock of an IANA time zone is ahead of UTC, in seconds; same shape as `utc_s`."""
    zone = ZoneInfo(time_zone)
    steps, place = np.unique(np.floor(utc_s / QUARTER_HOUR_S), return_inverse=True)
    offset_s = np.array([_utc_offset_s(step * QUARTER_HOUR_S, zone) for step in steps])
    offsets: FloatArray = offset_s[place].reshape(np.shape(utc_s))
    return offsets


def midnights_utc_s(first_utc_s: float, last_utc_s: float, time_zone: str) -> list[float]:
    """Return when every local calendar day between two moments begins, each strictly between them.

    Where clocks skip midnight the day begins with the first time that they show; where they show it twice,
    with the first. A date that a zone leaves out altogether has no beginning of its own.
    """
    zone = ZoneInfo(time_zone)
    first, last = (to_local(utc_s, time_zone).date().toordinal() for utc_s in (first_utc_s, last_utc_s))
    days = (date.fromordinal(day) for day in range(first, last + 2))
    starts = {datetime.combine(day, time(), zone).timestamp() for day in days}
    return sorted(start for start in starts if first_utc_s < start < last_utc_s)


def _utc_offset_s(utc_s: float, zone: ZoneInfo) -> float:
    """Return the same at one moment."""
    moment = datetime.fromtimestamp(utc_s, tz=UTC)
    return (moment.astimezone(zone).replace(tzinfo=None) - moment.replace(tzinfo=None)).total_seconds()
