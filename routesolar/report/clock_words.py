"""Dates and clock times in words, in the drive's own zone."""

from routesolar.trip.clock import to_local

_MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()


def day(utc_s: float, time_zone: str) -> str:
    """Return "20 Nov 2026" in the zone, the month in English whatever the machine speaks."""
    local = to_local(utc_s, time_zone)
    return f"{local.day} {_MONTHS[local.month - 1]} {local.year}"


def clock(utc_s: float, time_zone: str) -> str:
    """Return "07:30", to the nearest minute, in the zone."""
    return to_local(round(utc_s / 60) * 60, time_zone).strftime("%H:%M")


def clock_or_date(utc_s: float, time_zone: str) -> str:
    """Return "07:30", or "21 Nov" at midnight: for the marks of an axis."""
    shown = clock(utc_s, time_zone)
    return day(utc_s, time_zone).rsplit(" ", 1)[0] if shown == "00:00" else shown


def clock_after(start_utc_s: float, utc_s: float, time_zone: str) -> str:
    """Return the clock time, with the date where it is not the day of `start_utc_s`."""
    shown = clock(utc_s, time_zone)
    same_day = day(start_utc_s, time_zone) == day(round(utc_s / 60) * 60, time_zone)
    return shown if same_day else f"{day(utc_s, time_zone)} {shown}"


def offset(utc_s: float, time_zone: str) -> str:
    """Return "UTC+11:00", the zone's offset at that time."""
    written = to_local(utc_s, time_zone).strftime("%z")
    return f"UTC{written[:3]}:{written[3:5]}"
