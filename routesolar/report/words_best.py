"""What the best of several candidates comes to, by what they are ranked by, and whether its loads go short."""

from collections.abc import Sequence

from routesolar.decisions.criterion import BestBy, LoadLasts, Outcome
from routesolar.report.decision_text import chance
from routesolar.report.units import energy, percent
from routesolar.trip.names import printable

_REFUSED_FRAC = 0.005  # of what is offered: less refused is not told


def outcome_words(best_by: BestBy, outcome: Outcome, end: str, low: str = "") -> str:
    """Return what is to be expected by a time: energy, with its cautious figure, charge, or loads that last."""
    if best_by is BestBy.CHARGE:
        return f"the battery ends fullest, at {percent(outcome.soc_end_frac or 0.0)} at {end},"
    if best_by is BestBy.LASTING and outcome.is_short:
        return f"loads miss the least, {energy(outcome.shortfall_wh or 0.0)} until {end},"
    if best_by is BestBy.LASTING:
        kept = percent(outcome.lowest_soc_frac or 0.0)
        return f"no load goes short until {end}, and the battery keeps the most, {kept} at its lowest,"
    if refused(outcome):
        taken, offered = energy(outcome.taken_wh), energy(outcome.offered_wh)
        return f"expect {taken} to get into loads and battery, of {offered} offered,"
    return f"expect {energy(outcome.offered_wh)}{low}"


def refused(outcome: Outcome) -> bool:
    """Tell whether a full or cold battery turns some of the energy away."""
    return outcome.offered_wh - outcome.taken_wh > _REFUSED_FRAC * outcome.offered_wh


def short_words(
    best_by: BestBy, outcome: Outcome, lasts_prob: float | None, loads_last: Sequence[LoadLasts], case: str
) -> str:
    """Return whether a load goes short with the best, and how likely each does not; empty where nothing can."""
    if outcome.shortfall_wh is None:
        return ""
    often = "" if lasts_prob is None else f"on {chance(lasts_prob)} of such {case}s"
    if outcome.is_short and best_by is not BestBy.LASTING:
        missed = f"Yet loads go short: {energy(outcome.shortfall_wh)} are missed with the expected watts"
        return f"{missed}{often and f'; {often} none goes short'}.{_each(loads_last)}"
    if lasts_prob is None or (best_by is not BestBy.LASTING and lasts_prob > 0.995):
        return ""
    if len(loads_last) == 1:
        return f"{_name(loads_last[0])} lasts {often}."
    return f"No load goes short {often}.{_each(loads_last)}"


def _each(loads_last: Sequence[LoadLasts]) -> str:
    """Return each load's own chance, those that are kept longest first; empty where there is but one."""
    if len(loads_last) < 2:
        return ""
    return f" Each by itself: {', '.join(f'{_name(one)} {percent(one.lasts_prob)}' for one in loads_last)}."


def _name(load: LoadLasts) -> str:
    name = printable(load.name)
    return name[:1].upper() + name[1:]


def cells_of(outcome: Outcome) -> tuple[str, ...]:
    """Return what gets in and what loads miss as cells of a table, "-" without a battery."""
    if outcome.shortfall_wh is None:
        return ("-", "-")
    return (f"{outcome.taken_wh:.0f}", f"{outcome.shortfall_wh:.0f}")
