"""What departures, a calendar and a transit day say, in sentences and cells."""

import numpy as np

from routesolar.decisions.calendar import YearCalendar
from routesolar.decisions.criterion import TRIFLE_FRAC, BestBy, rank_of
from routesolar.decisions.departures import SURE_FRAC, Departure, Departures
from routesolar.decisions.starts import clock as clock_of_day
from routesolar.decisions.transit import Shortage, TransitDay, hour_wh
from routesolar.report.clock_words import LocalClock, clock, clock_after, day
from routesolar.report.decision_text import Words, at_least, listed, share, when
from routesolar.report.open_road import first_said
from routesolar.report.units import duration, energy, percent, power, readable
from routesolar.report.words_best import cells_of, outcome_words, refused, short_words

MONTHS = ("January February March April May June July August September October November December").split()
_MOST_NAMED = 6


def departures_words(result: Departures) -> Words:
    """Return what a ranking of departures says."""
    best, zone, case = result.best, result.time_zone, _case(result)
    end = LocalClock(best.depart_utc_s, best.outcome.end_utc_s, zone).at(best.outcome.end_utc_s)
    low = f", nine {case}s in ten at least {energy(best.energy_low_wh)},"
    answer = f"{_leave(result)} {outcome_words(result.best_by, best.outcome, end, low)} under {result.sky} sky."
    remarks = (
        short_words(result.best_by, best.outcome, result.lasts_prob, result.loads_last, case),
        _alike(result),
        _counted(result, end),
        _spread(result),
        _parked(best),
        _charge(result),
        _other_skies(result),
    )
    energies = [row.energy_wh for row in result.ranked]
    return Words(
        answer=first_said(answer, result.drives),
        remarks=tuple(remark for remark in remarks if remark),
        header=(
            "leave",
            "arrive",
            "Wh",
            *at_least(case),
            "Wh driving",
            "Wh standing",
            "shade loss %",
            "battery after",
            "Wh that get in",
            "Wh missed",
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
        *cells_of(row.outcome),
    )


def _alike(result: Departures) -> str:
    """Return which departures are as good as the best."""
    if len(result.ranked) == 1:
        return ""
    alike = result.alike
    if len(alike) == 1:
        return (
            f"It beats any other on at least {percent(SURE_FRAC)} of such {_case(result)}s, and by more than "
            f"{percent(TRIFLE_FRAC)}."
            if result.best_by is not BestBy.LASTING
            else ""
        )
    which = "any other departure tried" if len(alike) == len(result.ranked) else _named(result, alike)
    if result.best_by is BestBy.LASTING:
        return f"Equally good: {which}. They miss no more, and keep the battery within {percent(TRIFLE_FRAC)}."
    return (
        f"Equally good: {which}. Under the same sky the best beats these on fewer than "
        f"{percent(SURE_FRAC)} of {_case(result)}s, or by less than {percent(TRIFLE_FRAC)}."
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
    at = clock(worst.depart_utc_s, result.time_zone)
    if result.best_by is BestBy.CHARGE:
        return f"The lowest, at {at}, is {percent(worst.outcome.soc_end_frac or 0.0)}."
    if result.best_by is BestBy.LASTING:
        missed, kept = energy(worst.outcome.shortfall_wh or 0.0), percent(worst.outcome.lowest_soc_frac or 0.0)
        return f"At the worst, leaving at {at}, loads miss {missed} and the battery falls to {kept}."
    return f"The lowest, at {at}, is {energy(worst.outcome.taken_wh)}."


def _case(result: Departures) -> str:
    """Return what a chance is counted in: days, or trips where they run over midnight."""
    best = result.best
    start_utc_s = best.depart_utc_s if result.from_utc_s is None else result.from_utc_s
    return LocalClock(start_utc_s, best.outcome.end_utc_s, result.time_zone).case


def _counted(result: Departures, end: str) -> str:
    """Return from when to when all are counted."""
    if result.from_utc_s is None:
        return ""
    return (
        f"All are counted from {clock(result.from_utc_s, result.time_zone)}, standing at the start until they "
        f"leave, to {end}."
    )


def _parked(best: Departure) -> str:
    if best.stopped_wh == 0:
        return ""
    return (
        f"Of the best, {energy(best.driving_wh)} comes while driving and {energy(best.stopped_wh)} while "
        "standing."
    )


def _charge(result: Departures) -> str:
    best = result.best
    if best.soc_end_frac is None or result.best_by is BestBy.CHARGE:
        return ""
    return f"With the expected watts throughout, the battery ends at {percent(best.soc_end_frac)}."


def _other_skies(result: Departures) -> str:
    """Return the best departure under the other skies."""
    others = [
        f"{sky} {clock(depart_utc_s, result.time_zone)}, {energy(energy_wh)}"
        for sky, depart_utc_s, energy_wh in result.best_by_sky[1:]
    ]
    return f"Best under other skies: {'; '.join(others)}." if others else ""


def calendar_words(result: YearCalendar) -> Words:
    """Return what a year of departures says; a row a month, with its best hour."""
    best = result.best
    months = sorted(set(result.month.astype(int).tolist()))
    tops = {m: result.best_of(np.flatnonzero(result.month == m).tolist()) for m in months}
    least = max(tops, key=lambda m: rank_of(result.best_by, result.outcomes[tops[m]]))
    month = MONTHS[int(result.month[best]) - 1]
    most = f"{_CALENDAR[result.best_by]} in {month}, {_leaving(result, best)}"
    answer = f"{most}: {_is(result, best)} under {result.sky} sky."
    remarks = (
        _short_months(result, tops),
        f"{MONTHS[least - 1]} gives at best {_is(result, tops[least])}, {_leaving(result, tops[least])}.",
        f"Each month is computed for the sun of its 15th, on the local clock ({result.time_zone}).",
        "Each day is counted from its first departure on, standing at the start until they leave, to one end."
        if result.is_counted
        else "",
    )
    cells = tuple(
        (
            MONTHS[m - 1],
            clock_of_day(float(result.clock_s[top])),
            readable(float(result.energy_wh[top])),
            share(None if np.isnan(result.shade_loss_frac[top]) else float(result.shade_loss_frac[top])),
            readable(float(np.mean(result.energy_wh[result.month == m]))),
            share(result.outcomes[top].soc_end_frac),
            *cells_of(result.outcomes[top]),
        )
        for m, top in tops.items()
    )
    return Words(
        answer=first_said(answer, result.drives),
        remarks=tuple(remark for remark in remarks if remark),
        header=(
            *("month", "best hour", "Wh", "shade loss %", "mean Wh"),
            *("battery after", "Wh that get in", "Wh missed"),
        ),
        cells=cells,
        chart_words=(
            f"{result.value_words[0]} by month and hour of departure, "
            f"best in {month}, worst in {MONTHS[least - 1]}."
        ),
    )


def year_words(result: YearCalendar) -> str:
    """Return which days a calendar stands for."""
    first = float(result.departure_utc_s.min())
    year = day(first + 30 * 86_400, result.time_zone).rsplit(" ", 1)[1]
    return f"the 15th of each month of {year}, leaving at every hour shown ({result.time_zone})"


_CALENDAR = {
    BestBy.ENERGY: "The most comes",
    BestBy.CHARGE: "The battery ends fullest",
    BestBy.LASTING: "Loads last best",
}


def _leaving(result: YearCalendar, best: int) -> str:
    """Return the hour of leaving, or between which hours the best of a month is better by a trifle only."""
    alike = [float(result.clock_s[i]) for i in result.alike(best)]
    tried = sorted(result.clock_s[result.month == result.month[best]].tolist())
    together = tried.index(max(alike)) - tried.index(min(alike)) + 1 == len(alike)
    if len(alike) > 1 and together:
        return f"leaving any time from {clock_of_day(min(alike))} to {clock_of_day(max(alike))}"
    return f"leaving at {clock_of_day(float(result.clock_s[best]))}"


def _is(result: YearCalendar, departure: int) -> str:
    """Return what a departure comes to."""
    outcome = result.outcomes[departure]
    if result.best_by is BestBy.CHARGE:
        return percent(outcome.soc_end_frac or 0.0)
    if result.best_by is BestBy.LASTING:
        kept = f"{percent(outcome.lowest_soc_frac or 0.0)} at the lowest"
        return f"{energy(outcome.shortfall_wh or 0.0)} missed" if outcome.is_short else f"none short, {kept}"
    return f"{energy(outcome.taken_wh)}{' that get in' if refused(outcome) else ''}"


def _short_months(result: YearCalendar, tops: dict[int, int]) -> str:
    """Return in which months loads go short even at the best hour."""
    short = [MONTHS[m - 1] for m, top in tops.items() if result.outcomes[top].is_short]
    if not short:
        return ""
    which = "every month" if len(short) == len(tops) > 1 else listed(short)
    return f"Loads go short with the expected watts in {which}, even when leaving then."


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
