"""Seconds since 1970 UTC written as dates and times."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

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
