"""Dates and clock times in words, in the drive's own zone."""

from typing import NamedTuple

from routesolar.trip.clock import to_local
from routesolar.trip.harvest import Harvest

_DAYS = "Mon Tue Wed Thu Fri Sat Sun".split()
_MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()


def day(utc_s: float, time_zone: str) -> str:
    """Return "20 Nov 2026" in the zone, the month in English whatever the machine speaks."""
    local = to_local(utc_s, time_zone)
    return f"{local.day} {_MONTHS[local.month - 1]} {local.year}"


def clock(utc_s: float, time_zone: str) -> str:
    """Return "07:30", to the nearest minute, in the zone."""
    return to_local(round(utc_s / 60) * 60, time_zone).strftime("%H:%M")


def clock_or_date(utc_s: float, time_zone: str) -> str:
    """Return "07:30", or "Sat 21 Nov" at midnight: for the marks of an axis."""
    shown = clock(utc_s, time_zone)
    if shown != "00:00":
        return shown
    return date_words(utc_s, time_zone)


def date_words(utc_s: float, time_zone: str) -> str:
    """Return "Sat 21 Nov" in the zone, of the minute that is shown."""
    return f"{weekday(utc_s, time_zone)} {_date(utc_s, time_zone)}"


def weekday(utc_s: float, time_zone: str) -> str:
    """Return "Sat" in the zone."""
    return _DAYS[to_local(round(utc_s / 60) * 60, time_zone).weekday()]


def clock_after(start_utc_s: float, utc_s: float, time_zone: str) -> str:
    """Return the clock time, with the date where it is not the day of `start_utc_s`."""
    shown = clock(utc_s, time_zone)
    same_day = day(start_utc_s, time_zone) == day(round(utc_s / 60) * 60, time_zone)
    return shown if same_day else f"{day(utc_s, time_zone)} {shown}"


class LocalClock(NamedTuple):
    """Times of a drive or a stay from its start to its end: each with its date where that is more than one."""

    start_utc_s: float
    end_utc_s: float
    time_zone: str

    def at(self, utc_s: float) -> str:
        """Return "12:42", or "Sat 21 Nov 12:42" where several dates are spanned."""
        shown = clock(utc_s, self.time_zone)
        return f"{date_words(utc_s, self.time_zone)} {shown}" if self.over_midnight else shown

    def between(self, first_utc_s: float, last_utc_s: float) -> str:
        """Return "10:00 to 14:00", with the date before it, or before each, where several dates are spanned."""
        first, last = self.at(first_utc_s), self.at(last_utc_s)
        if _date(first_utc_s, self.time_zone) == _date(last_utc_s, self.time_zone):
            last = clock(last_utc_s, self.time_zone)
        return f"{first} to {last}"

    @property
    def over_midnight(self) -> bool:
        """Whether it spans more than one date."""
        first, last = (
            day(round(utc_s / 60) * 60, self.time_zone) for utc_s in (self.start_utc_s, self.end_utc_s)
        )
        return first != last

    @property
    def case(self) -> str:
        """What a chance is counted in: "day", or "trip" where several dates are spanned."""
        return "trip" if self.over_midnight else "day"


def clock_of(harvest: Harvest) -> LocalClock:
    """Return the local clock of a drive."""
    return LocalClock(harvest.legs[0].start_utc_s, harvest.legs[-1].end_utc_s, harvest.segments.time_zone)


def _date(utc_s: float, time_zone: str) -> str:
    """Return "21 Nov", of the minute that is shown."""
    return day(round(utc_s / 60) * 60, time_zone).rsplit(" ", 1)[0]


def offset(utc_s: float, time_zone: str) -> str:
    """Return "UTC+11:00", the zone's offset at that time."""
    written = to_local(utc_s, time_zone).strftime("%z")
    return f"UTC{written[:3]}:{written[3:5]}"
