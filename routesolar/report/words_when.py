"""What departures, a calendar and a transit day say, in sentences and cells."""

import numpy as np

from routesolar.decisions.calendar import YearCalendar, calendar_grid
from routesolar.decisions.departures import SURE_FRAC, TRIFLE_FRAC, Departure, Departures
from routesolar.decisions.starts import clock as clock_of_day
from routesolar.decisions.transit import Shortage, TransitDay, hour_wh
from routesolar.report.clock_words import LocalClock, clock, clock_after
from routesolar.report.decision_text import AT_LEAST, Words, share, when
from routesolar.report.open_road import first_said
from routesolar.report.units import duration, energy, percent, power, readable

MONTHS = ("January February March April May June July August September October November December").split()
_MOST_NAMED = 6


def departures_words(result: Departures) -> Words:
    """Return what a ranking of departures says."""
    best, zone = result.best, result.time_zone
    answer = (
        f"{_leave(result)} expect {energy(best.energy_wh)}, nine days in ten at least "
        f"{energy(best.energy_low_wh)}, under {result.sky} sky."
    )
    remarks = (_alike(result), _spread(result), _parked(best), _charge(best), _other_skies(result))
    energies = [row.energy_wh for row in result.ranked]
    return Words(
        answer=first_said(answer, result.drives),
        remarks=tuple(remark for remark in remarks if remark),
        header=(
            "leave",
            "arrive",
            "Wh",
            *AT_LEAST,
            "Wh driving",
            "Wh standing",
            "shade loss %",
            "battery after",
        ),
        cells=tuple(_cells(row, zone) for row in result.ranked),
        chart_words=(
            f"Energy by hour of departure, from {energy(min(energies))} to {energy(max(energies))}, "
            f"highest at {clock(best.depart_utc_s, zone)}."
        ),
    )


def _leave(result: Departures) -> str:
    """Return when to leave: any time of a span of equally good departures, else the best time."""
    best, zone, alike = result.best, result.time_zone, result.alike
    if len(alike) > 1 and _is_span(result, alike):
        first, last = alike[0].depart_utc_s, alike[-1].depart_utc_s
        span = f"{clock(first, zone)} to {when(last, zone)}"
        return f"Leave any time from {span}: at {clock(best.depart_utc_s, zone)}"
    return f"Leave at {when(best.depart_utc_s, zone)}:"


def _is_span(result: Departures, alike: tuple[Departure, ...]) -> bool:
    """Tell whether no other departure lies between these."""
    tried = sorted(row.depart_utc_s for row in result.ranked)
    first, last = alike[0].depart_utc_s, alike[-1].depart_utc_s
    return tried.index(last) - tried.index(first) + 1 == len(alike)


def _cells(row: Departure, zone: str) -> tuple[str, ...]:
    energies = (row.energy_wh, row.energy_low_wh, row.energy_high_wh, row.driving_wh, row.stopped_wh)
    return (
        clock(row.depart_utc_s, zone),
        clock_after(row.depart_utc_s, row.arrive_utc_s, zone),
        *map(readable, energies),
        share(row.shade_loss_frac),
        share(row.soc_end_frac),
    )


def _alike(result: Departures) -> str:
    """Return which departures are as good as the best."""
    if len(result.ranked) == 1:
        return ""
    alike = result.alike
    if len(alike) == 1:
        return (
            f"It beats any other on at least {percent(SURE_FRAC)} of such days, and by more than "
            f"{percent(TRIFLE_FRAC)}."
        )
    which = "any other departure tried" if len(alike) == len(result.ranked) else _named(result, alike)
    return (
        f"Equally good: {which}. Under the same sky the best beats these on fewer than "
        f"{percent(SURE_FRAC)} of days, or by less than {percent(TRIFLE_FRAC)}."
    )


def _named(result: Departures, alike: tuple[Departure, ...]) -> str:
    """Return the alike departures as a span of times where nothing else lies between, else one by one."""
    zone = result.time_zone
    first, last = alike[0].depart_utc_s, alike[-1].depart_utc_s
    if _is_span(result, alike):
        return f"all from {clock(first, zone)} to {clock(last, zone)}"
    others = [clock(row.depart_utc_s, zone) for row in alike if row is not result.best]
    more = f" and {len(others) - _MOST_NAMED} more" if len(others) > _MOST_NAMED else ""
    return ", ".join(others[:_MOST_NAMED]) + more


def _spread(result: Departures) -> str:
    if len(result.ranked) == 1:
        return ""
    worst = result.ranked[-1]
    return f"The lowest, at {clock(worst.depart_utc_s, result.time_zone)}, is {energy(worst.energy_wh)}."


def _parked(best: Departure) -> str:
    if best.stopped_wh == 0:
        return ""
    return (
        f"Of the best, {energy(best.driving_wh)} comes while driving and {energy(best.stopped_wh)} while "
        "standing."
    )


def _charge(best: Departure) -> str:
    return (
        ""
        if best.soc_end_frac is None
        else f"With the expected watts throughout, the battery ends at {percent(best.soc_end_frac)}."
    )


def _other_skies(result: Departures) -> str:
    """Return the best departure under the other skies."""
    others = [
        f"{sky} {clock(depart_utc_s, result.time_zone)}, {energy(energy_wh)}"
        for sky, depart_utc_s, energy_wh in result.best_by_sky[1:]
    ]
    return f"Best under other skies: {'; '.join(others)}." if others else ""


def calendar_words(result: YearCalendar) -> Words:
    """Return what a year of departures says; a row a month, with its best hour."""
    clock_s, grid = calendar_grid(result, result.energy_wh)
    _, shade = calendar_grid(result, result.shade_loss_frac)
    best = result.best
    month = MONTHS[int(result.month[best]) - 1]
    good = np.flatnonzero(~np.isnan(grid).all(axis=1))
    tops = {int(m): int(np.nanargmax(grid[m])) for m in good}
    least = min(tops, key=lambda m: float(grid[m, tops[m]]))
    answer = (
        f"The most comes in {month}, leaving at {clock_of_day(float(result.clock_s[best]))}: "
        f"{energy(float(result.energy_wh[best]))} under {result.sky} sky."
    )
    remarks = (
        f"{MONTHS[least]} gives at best {energy(float(grid[least, tops[least]]))}, leaving at "
        f"{clock_of_day(float(clock_s[tops[least]]))}.",
        f"Each month is computed for the sun of its 15th, on the local clock ({result.time_zone}).",
    )
    cells = tuple(
        (
            MONTHS[m],
            clock_of_day(float(clock_s[top])),
            readable(float(grid[m, top])),
            share(None if np.isnan(shade[m, top]) else float(shade[m, top])),
            readable(float(np.nanmean(grid[m]))),
        )
        for m, top in tops.items()
    )
    return Words(
        answer=first_said(answer, result.drives),
        remarks=remarks,
        header=("month", "best hour", "Wh", "shade loss %", "mean Wh"),
        cells=cells,
        chart_words=f"Energy by month and hour of departure, most in {month}, least in {MONTHS[least]}.",
    )


def transit_sentences(day: TransitDay) -> tuple[str, ...]:
    """Return a long day's answers in sentences."""
    sentences = (_driving_against_standing(day), _best_hours(day), _shortage(day))
    return tuple(sentence for sentence in sentences if sentence)


def _driving_against_standing(day: TransitDay) -> str:
    if day.driving_w is None:
        return (
            f"Standing all {'the time' if _local(day).over_midnight else 'day'} gives {energy(day.stopped_wh)}."
        )
    driving = f"{energy(day.driving_wh)} comes while driving ({power(day.driving_w)} on average)"
    if day.stopped_w is None:
        return f"{driving}; the drive has no stop."
    return f"{driving}, {energy(day.stopped_wh)} while standing ({power(day.stopped_w)})."


def _local(day: TransitDay) -> LocalClock:
    return LocalClock(day.start_utc_s, day.end_utc_s, day.time_zone)


def _best_hours(day: TransitDay) -> str:
    if not day.best_hours:
        return "The sun is down throughout."
    first, last = day.best_hours[0], day.best_hours[-1]
    total_wh = sum(map(hour_wh, day.best_hours))
    whole_wh = day.driving_wh + day.stopped_wh
    return (
        f"The best hours are {_local(day).between(first.start_utc_s, last.start_utc_s + 3600)}: "
        f"{energy(total_wh)}, {percent(total_wh / whole_wh)} of the whole."
    )


def _shortage(day: TransitDay) -> str:
    if day.load_wh == 0:
        return ""
    if day.shortage is None:
        return "With the expected watts throughout, the sun covers the loads all the way."
    short: Shortage = day.shortage
    return (
        "With the expected watts throughout, the longest spell in which the sun gives less than the loads "
        f"use is {_local(day).between(short.start_utc_s, short.end_utc_s)} "
        f"({duration(short.end_utc_s - short.start_utc_s)}): {energy(short.missing_wh)} must come from the "
        "battery or the engine."
    )
