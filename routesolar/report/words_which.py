"""What a comparison of routes says, in sentences and cells."""

from math import isclose

from routesolar.decisions.compare import ComparedRoute, Comparison
from routesolar.decisions.criterion import TRIFLE_FRAC, BestBy, Outcome, is_alike, rank_of
from routesolar.decisions.departures import SURE_FRAC
from routesolar.report.clock_words import LocalClock, clock, clock_after, day
from routesolar.report.decision_text import Words, at_least, chance, listed, share
from routesolar.report.open_road import all_open
from routesolar.report.units import Units, distance, duration, energy, percent, readable
from routesolar.report.words_best import cells_of, refused, short_words

_NO_WAIT_S = 60.0  # a shorter wait is not told


def compare_words(result: Comparison, units: Units) -> Words:
    """Return what a comparison of routes says."""
    best, second = result.routes[result.best], result.routes[result.second]
    remarks = (
        short_words(result.best_by, best.outcome, result.lasts_prob, result.loads_last, _case(result)),
        _sure(result, best, second),
        _rates(result, best, second),
        _counted(result),
        _parting(result, units),
        _hours(best, second),
        _days(result),
    )
    where = "On open roads, " if all_open(result.drives) else ""
    differ = (
        f"{'the' if where else 'The'} routes differ in {listed(list(result.differ))}. " if result.differ else ""
    )
    return Words(
        answer=f"{where}{differ}{_most(result, best, second, begins=not where or bool(differ))}, "
        f"under {result.sky} sky.",
        remarks=tuple(remark for remark in remarks if remark),
        header=(
            *("route", "leave", units.distance, "time", "Wh", *at_least(_case(result)), "Wh waiting"),
            *(
                "shade loss %",
                "Wh per hour",
                f"{_case(result)}s it wins",
                "battery after",
                "Wh that get in",
                "Wh missed",
            ),
        ),
        cells=tuple(_route_cells(result, route, units) for route in result.routes),
        chart_words=f"Energy gathered along the way on {listed([route.name for route in result.routes])}.",
    )


def _route_cells(result: Comparison, route: ComparedRoute, units: Units) -> tuple[str, ...]:
    return (
        route.name,
        _leaving(result, route),
        readable(route.distance_km * units.distance_per_km),
        duration(route.duration_s),
        *map(readable, (route.energy_wh, route.energy_low_wh, route.energy_high_wh, route.waiting_wh)),
        share(route.shade_loss_frac),
        readable(route.energy_per_hour_wh),
        chance(route.win_prob),
        share(route.soc_end_frac),
        *cells_of(route.outcome),
    )


def _alike(best_by: BestBy, best: ComparedRoute, second: ComparedRoute) -> bool:
    ranks = (rank_of(best_by, route.outcome) for route in (best, second))
    return all(isclose(*pair, rel_tol=1e-9) for pair in zip(*ranks, strict=True))  # as wins are counted


def _case(result: Comparison) -> str:
    best = result.routes[result.best]
    return LocalClock(best.depart_utc_s, best.depart_utc_s + result.counted_s, best.time_zone).case


def _one_start(result: Comparison) -> bool:
    return len({round(route.depart_utc_s) for route in result.routes}) == 1


def _leaving(result: Comparison, route: ComparedRoute) -> str:
    """Return when a route is left, with the date where the routes are driven on several days."""
    shown = clock(route.depart_utc_s, route.time_zone)
    return shown if result.same_day else f"{shown} on {day(route.depart_utc_s, route.time_zone)}"


def _named(result: Comparison, route: ComparedRoute) -> str:
    """Return a route's name, with its departure where the routes leave at different times."""
    return route.name if _one_start(result) else f"{route.name} leaving at {_leaving(result, route)}"


def _most(result: Comparison, best: ComparedRoute, second: ComparedRoute, *, begins: bool) -> str:
    """Return which gathers the most, and whether that counts; with a capital where a sentence begins."""
    by, names = result.best_by, (_named(result, best), _named(result, second))
    many, one, most = _VERBS[by]
    value = _value(by, best.outcome)
    if _alike(by, best, second):
        return f"{names[0]} and {names[1]} {many} the same: {value}"
    against = f"{value}, against {_value(by, second.outcome)} on {names[1]}"
    if is_alike(by, best.outcome, second.outcome):
        return f"{'It' if begins else 'it'} makes no difference: {names[0]} {one} {against}"
    if by is not BestBy.LASTING and best.win_prob < SURE_FRAC:
        return f"{'Too' if begins else 'too'} close to call: {names[0]} {one} {against}"
    return f"{names[0]} {most}: {against}"


_VERBS = {
    BestBy.ENERGY: ("gather", "gathers", "gathers the most"),
    BestBy.CHARGE: ("end with", "ends with", "ends with the fullest battery"),
    BestBy.LASTING: ("come to", "comes to", "keeps loads and battery best"),
}


def _value(best_by: BestBy, outcome: Outcome) -> str:
    """Return what routes are ranked by."""
    if best_by is BestBy.CHARGE:
        return percent(outcome.soc_end_frac or 0.0)
    if best_by is BestBy.LASTING:
        kept = f"{percent(outcome.lowest_soc_frac or 0.0)} at the lowest"
        return f"{energy(outcome.shortfall_wh or 0.0)} missed" if outcome.is_short else f"none short, {kept}"
    if refused(outcome):
        return f"{energy(outcome.taken_wh)} that get in of {energy(outcome.offered_wh)}"
    return energy(outcome.taken_wh)


def _counted(result: Comparison) -> str:
    """Return how long the routes are counted, and what comes of waiting for the slowest."""
    first = result.routes[0]
    start, zone = first.depart_utc_s, first.time_zone
    if _one_start(result):
        leave = f"{clock(start, zone)} on {day(start, zone)}"
        until = clock_after(start, start + result.counted_s, zone)
        span = f"All leave at {leave} and are counted until {until}, when the last arrives"
    else:
        lasting = duration(result.counted_s)
        span = f"Each is counted for {lasting} from its departure, as long as the slowest takes"
    left_s = [result.counted_s - route.duration_s for route in result.routes]
    waits = [
        f"{route.name} waits {duration(wait_s)} at the destination ({energy(route.waiting_wh)})"
        for route, wait_s in zip(result.routes, left_s, strict=True)
        if wait_s >= _NO_WAIT_S
    ]
    return f"{span}{f': {listed(waits)}' if waits else ''}."


def _sure(result: Comparison, best: ComparedRoute, second: ComparedRoute) -> str:
    if result.best_by is BestBy.LASTING or _alike(result.best_by, best, second):
        return ""
    does = "gathers the most" if result.best_by is BestBy.ENERGY else "ends fullest"
    return f"Under the same sky it {does} on {chance(best.win_prob)} of such {_case(result)}s."


def _rates(result: Comparison, best: ComparedRoute, second: ComparedRoute) -> str:
    """Return that only the rate differs where routes bring the same in all but not in an hour."""
    rates = [route.energy_per_hour_wh for route in (best, second)]
    apart = max(rates) - min(rates) > TRIFLE_FRAC * max(rates)
    alike = result.best_by is BestBy.ENERGY and is_alike(BestBy.ENERGY, best.outcome, second.outcome)
    if not apart or not alike:
        return ""
    hourly = f"{energy(rates[0])} an hour under way against {energy(rates[1])}"
    return f"Only the rate differs, {hourly}: it is not more energy, as all are counted for the same time."


def _parting(result: Comparison, units: Units) -> str:
    """Return where along the way the best gains on the second."""
    best, part = result.routes[result.best], result.parting
    if part is None or result.best_by is not BestBy.ENERGY:
        return ""
    start, zone = best.depart_utc_s, best.time_zone
    sentence = (
        f"It gains most from {clock_after(start, start + part.from_s, zone)} to "
        f"{clock_after(start, start + part.to_s, zone)}, {energy(part.gain_wh)}"
    )
    if part.to_km - part.from_km < 0.1:
        return (
            f"{sentence}, after it has arrived."
            if part.from_s >= best.duration_s
            else f"{sentence}, while standing."
        )
    per_km = units.distance_per_km
    way = f"from {readable(part.from_km * per_km)} to {distance(part.to_km, units)} of its route"
    waiting = " and waiting at its end" if part.to_s >= best.duration_s + _NO_WAIT_S else ""
    return f"{sentence}: {way}{waiting}."


def _hours(best: ComparedRoute, second: ComparedRoute) -> str:
    apart_s = best.duration_s - second.duration_s
    if abs(apart_s) < 60:
        return ""
    return f"It takes {duration(abs(apart_s))} {'longer' if apart_s > 0 else 'less'} than {second.name}."


def _days(result: Comparison) -> str:
    if result.same_day:
        return ""
    days = [f"{route.name} on {day(route.depart_utc_s, route.time_zone)}" for route in result.routes]
    return f"The routes are driven on different days, each under its own clouds: {listed(days)}."
