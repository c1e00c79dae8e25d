"""Departures to try: clock times of one day, or of the middle of every month, as UTC seconds."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray

DAY_S = 86_400.0
MIDDLE_DAY = 15  # of the month
MOST_DEPARTURES = 1440


def day_starts_utc_s(
    day: date, from_clock_s: float, to_clock_s: float, every_s: float, time_zone: str
) -> FloatArray:
    """Return departures of one day from the first clock time to the last, both included, as UTC seconds (d,).

    Clock times are seconds after midnight. A time the clock jumps over is left out; of one that it shows twice
    the first is meant.

    Raises:
        UsageError: the range is empty, goes beyond the day or asks for too many departures.
    """
    return _starts([day], _clock_times_s(from_clock_s, to_clock_s, every_s), time_zone)


def year_starts_utc_s(
    year: int, from_clock_s: float, to_clock_s: float, every_s: float, time_zone: str
) -> FloatArray:
    """Return the same clock times on the 15th of each month, month by month, as UTC seconds (d,).

    Raises:
        UsageError: the range is empty, goes beyond the day or asks for too many departures.
    """
    days = [date(year, month, MIDDLE_DAY) for month in range(1, 13)]
    return _starts(days, _clock_times_s(from_clock_s, to_clock_s, every_s), time_zone)


def clock(clock_s: float) -> str:
    """Return "07:30" for seconds after midnight."""
    hours, minutes = divmod(round(clock_s / 60), 60)
    return f"{hours:02}:{minutes:02}"


def _clock_times_s(from_clock_s: float, to_clock_s: float, every_s: float) -> list[float]:
    if not 0 <= from_clock_s < DAY_S or not 0 <= to_clock_s <= DAY_S:
        raise UsageError(
            f"departures from {clock(from_clock_s)} to {clock(to_clock_s)} run outside the day; "
            "give clock times from 00:00 to 24:00"
        )
    if to_clock_s < from_clock_s:
        raise UsageError(
            f"departures from {clock(from_clock_s)} to {clock(to_clock_s)}: the last is before the first; "
            f"give --from {clock(to_clock_s)} --to {clock(from_clock_s)}, or one night as two days"
        )
    if not every_s >= 60:
        raise UsageError(f"departures every {every_s:g} s are too close; give at least 1min")
    count = int((to_clock_s - from_clock_s) / every_s + 1e-9) + 1
    if count > MOST_DEPARTURES:
        raise UsageError(f"{count} departures a day are too many; give a longer --every than {every_s:g} s")
    times = [from_clock_s + every_s * number for number in range(count)]
    return [time for time in times if time < DAY_S]


def _starts(days: list[date], clock_s: list[float], time_zone: str) -> FloatArray:
    zone = ZoneInfo(time_zone)
    starts = []
    for day in days:
        midnight = datetime(day.year, day.month, day.day)
        for time_s in clock_s:
            shown = midnight + timedelta(seconds=time_s)
            instant = shown.replace(tzinfo=zone).astimezone(UTC)
            if instant.astimezone(zone).replace(tzinfo=None) == shown:
                starts.append(instant.timestamp())
    if not starts:
        raise UsageError(
            f"the clock of {time_zone} shows none of {', '.join(map(clock, clock_s))} on {days[0]}: "
            "the clocks skip them; widen --from and --to by an hour"
        )
    return np.array(starts)
