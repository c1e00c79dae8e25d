"""What sizes of panel, battery and charger, and layouts on a roof, say in sentences and cells."""

from math import ceil, floor, log10

from routesolar.decisions.criterion import BestBy
from routesolar.decisions.roof import RoofFit
from routesolar.decisions.size import (
    CARRIED_FRAC,
    KNEE_FRAC,
    PanelSize,
    Sizing,
    charted,
    engine_off,
    groups_of,
    serving,
)
from routesolar.model.engine import EngineNeed
from routesolar.report.decision_text import Words, chance, listed, share
from routesolar.report.open_road import first_said
from routesolar.report.units import energy, percent, power, readable

SHORT_WH = 0.5
_SERVED = ("missed Wh", "the same, worst day in 10")
_CAUSES = {
    "controller": "the controller's limit is reached",
    "cold": "the battery is too cold to charge",
    "charging": "the battery cannot charge any faster",
    "battery": "the battery is full",
    "loads": "the battery is full and no load falls short",
}


def size_words(result: Sizing) -> Words:
    """Return what a list of panel sizes says."""
    largest = charted(result)[-1]
    told = [_resting(result), _faster(result)]
    if not _several(result):
        told = [_loads(result), _resting(result), _engine(result), _own_engine(result)]
    answer = _serving(result) if _several(result) else _knee(result)
    return Words(
        answer=first_said(_best(result) or answer, result.drives),
        remarks=tuple(remark for remark in (answer if _best(result) else "", *told) if remark),
        header=(
            "watts",
            *(("battery Wh", "engine W") if _several(result) else ()),
            *("Wh", "9 days in 10 at least", "usable Wh"),
            *(_SERVED if _several(result) else ("Wh per added W", "loads the sun covers")),
            *("alternator Wh needed", "the same, 9 days in 10"),
        ),
        cells=tuple(_size_cells(result, size) for size in result.sizes),
        chart_words=f"Energy of each panel size{charted_with(result)}, up to {energy(largest.energy_wh)} for "
        f"{largest.rated_w:g} W.",
    )


def _best(result: Sizing) -> str:
    """Return the first size that is as good as any by charge or by loads; empty where energy is asked for."""
    best = result.best
    name = f"{best.rated_w:g} W{_stored(best) if _several(result) else ''}"
    charge, missed_wh = percent(best.soc_end_frac or 0.0), best.shortfall_wh or 0.0
    if result.best_by is BestBy.CHARGE:
        return f"{name} leaves the battery as full as any size does, at {charge} at the end."
    if result.best_by is BestBy.LASTING and missed_wh < SHORT_WH:
        return f"With {name} loads miss nothing in the mean of the possible days; it is the first such size."
    if result.best_by is BestBy.LASTING:
        return f"Loads go short with every size, least with {name}: {energy(missed_wh)} are missed."
    return ""


def _several(result: Sizing) -> bool:
    return len(groups_of(result)) > 1


def _size_cells(result: Sizing, size: PanelSize) -> tuple[str, ...]:
    several = _several(result)
    missed_wh = (size.shortfall_wh or 0.0, size.shortfall_poor_wh or 0.0)
    return (
        f"{size.rated_w:g} W",
        *((f"{size.capacity_wh:g}", f"{size.charge_w:g}") if several else ()),
        readable(size.energy_wh),
        "-" if size.energy_low_wh is None else readable(size.energy_low_wh),
        readable(size.used_wh),
        *(map(readable, missed_wh) if several else (f"{size.added_per_w_wh:.1f}", share(size.load_share_frac))),
        *(_need(size, need) for need in (size.average_need, size.poor_need)),
    )


def charted_with(result: Sizing) -> str:
    """Return with which battery and charger a chart's sizes are, where there are several; else nothing."""
    return _stored(charted(result)[-1]) if _several(result) else ""


def _stored(size: PanelSize) -> str:
    engine = "the engine off" if size.charge_w == 0 else f"the engine charging at {size.charge_w:g} W"
    return f" with {size.capacity_wh:g} Wh and {engine}"


def _serving(result: Sizing) -> str:
    """Return with which batteries and chargers no load falls short, and from which panel on."""
    if not result.load_wh:
        return "Nothing draws from the battery, so no size falls short; add [[load]] to the rig file."
    served = serving(result)
    if not served:
        least = min(result.sizes, key=lambda size: (size.shortfall_poor_wh or 0.0, size.shortfall_wh or 0.0))
        return (
            f"With none of these sizes do all loads keep running on nine days in ten under {result.sky} sky; "
            f"{least.rated_w:g} W{_stored(least)} comes closest, "
            f"{energy(least.shortfall_poor_wh or 0.0)} short on the worst day in ten."
        )
    listed_sizes = listed([f"from {size.rated_w:g} W{_stored(size)}" for size in served])
    return f"All loads keep running on nine days in ten under {result.sky} sky {listed_sizes}."


def _resting(result: Sizing) -> str:
    """Return the first size of each battery with which the engine may stay off."""
    if not result.load_wh or result.sizes[0].short_prob is None:
        return ""
    rests = engine_off(result)
    if not rests:
        return "At none of these sizes may the engine stay off: loads fall short on more than one day in ten."
    capacities = {size.capacity_wh for size in result.sizes}
    first = [
        f"{size.rated_w:g} W{f' with {size.capacity_wh:g} Wh' if len(capacities) > 1 else ''}" for size in rests
    ]
    return f"The engine may stay off from {listed(first)} on: no load falls short on nine days in ten."


def _faster(result: Sizing) -> str:
    if len({size.capacity_wh for size in result.sizes}) < 2:
        return ""
    return "A larger battery is taken to charge as fast for its size as the rig's own."


def _knee(result: Sizing) -> str:
    largest, knee = result.sizes[-1], result.knee
    if largest.energy_wh == 0.0:
        return "No sun reaches the roof on this drive: no panel gives anything."
    if largest.used_wh < SHORT_WH <= largest.energy_wh:
        cause = "cold" if largest.cold_wh >= largest.full_wh else "charging"
        return f"None of the energy can be used at any size, since {_CAUSES[cause]}."
    if len(result.sizes) == 1:
        return f"{largest.rated_w:g} W gives {energy(largest.energy_wh)} under {result.sky} sky."
    if knee is None:
        return (
            f"Every added watt still helps up to {largest.rated_w:g} W, which gives "
            f"{energy(largest.energy_wh)} under {result.sky} sky."
        )
    worth = f"each watt added there is worth less than {percent(KNEE_FRAC)} of one in the smallest size"
    if knee.decides_to_w is not None:
        return (
            f"Beyond {knee.rated_w:g} W, more panel gives little more energy under {result.sky} sky, since "
            f"{_CAUSES[knee.cause]}: {worth}; yet up to {knee.decides_to_w:g} W a larger panel still decides "
            "whether loads fall short without the engine."
        )
    return (
        f"Beyond {knee.rated_w:g} W, more panel helps little under {result.sky} sky, since "
        f"{_CAUSES[knee.cause]}: {worth}."
    )


def _need(size: PanelSize, need: EngineNeed | None) -> str:
    if size.short_prob is None:
        return "-"
    return "never enough" if need is None else readable(need.given_wh)


def _loads(result: Sizing) -> str:
    """Return the smallest size that carries the loads, or how much the largest carries."""
    if not result.load_wh or result.sizes[-1].load_share_frac is None:
        return ""
    for size in result.sizes:
        if size.load_share_frac is not None and size.load_share_frac >= CARRIED_FRAC:
            return f"{size.rated_w:g} W covers all of the loads, {energy(result.load_wh)}."
    most, least = result.sizes[-1], result.sizes[0]
    carried = f"{share(least.load_share_frac)} with {least.rated_w:g} W"
    if len(result.sizes) > 1:
        carried += f" and {share(most.load_share_frac)} with {most.rated_w:g} W"
    return (
        f"Of the loads' {energy(result.load_wh)} the sun covers {carried}, directly or through the battery; "
        "the charge at the start and what the alternator gives do not count as sun."
    )


def _engine(result: Sizing) -> str:
    """Return what the engine must give with the smallest and the largest size."""
    if not result.load_wh or result.sizes[0].short_prob is None:
        return ""
    ends = (result.sizes[0], result.sizes[-1]) if len(result.sizes) > 1 else result.sizes
    if all(size.engine_rests for size in ends):
        return ""
    driven = any(not drive.segments.stopped.all() for drive in result.drives)
    if result.drives and not driven:
        return "Nothing is driven, so the engine charges nothing, whatever its charger."
    if all(size.average_need is None for size in ends):
        return "No charging while driving keeps every load running: the battery does not last between drives."
    poor, average = (
        ", ".join(f"with {size.rated_w:g} W {_needed(getattr(size, name))}" for size in ends)
        for name in ("poor_need", "average_need")
    )
    return (
        f"Alternator energy needed while driving, for no load to fall short on nine days in ten: {poor}. "
        f"With the expected watts throughout: {average}."
    )


def _needed(need: EngineNeed | None) -> str:
    if need is None:
        return "more than the battery can hold"
    if need.charge_w == 0:
        return "nothing"
    return f"{energy(need.given_wh)} (charging at {power(_not_less(need.charge_w))})"


def _not_less(charge_w: float) -> float:
    """Return watts rounded up to three digits, so that what is read is enough."""
    step = 10.0 ** (floor(log10(charge_w)) - 2)
    return ceil(charge_w / step - 1e-9) * step


def _own_engine(result: Sizing) -> str:
    """Return which sizes leave loads short although the rig's own engine charges."""
    short = [size for size in result.sizes if size.shortfall_wh and size.shortfall_wh >= SHORT_WH]
    if not short:
        return ""
    told = [f"{energy(size.shortfall_wh or 0.0)} with {size.rated_w:g} W" for size in short]
    days = chance(short[0].short_prob or 0.0)
    return (
        f"With the rig as it is, on average loads fall short by {listed(told)}; with {short[0].rated_w:g} W "
        f"they fall short on {days} of days."
    )


def roof_sentences(fits: tuple[RoofFit, ...], gap_m: float) -> tuple[str, ...]:
    """Return how each offered panel fits the roof, the most watts first."""
    sentences = []
    for fit in fits:
        offer = fit.offer
        panel = f"{offer.rated_w:g} W panels, {offer.length_m:g} x {offer.width_m:g} m each"
        if not fit.mixed:
            sentences.append(f"None of the {panel}, fits.")
            continue
        ways = f"{len(fit.along)} lengthwise, {len(fit.across)} crosswise"
        if len(fit.mixed) > max(len(fit.along), len(fit.across)):
            ways += f", {len(fit.mixed)} in a mix of both"
        sentences.append(f"{len(fit.mixed)} of the {panel}, fit: {fit.rated_w:g} W in total ({ways}).")
    return (*sentences, f"Panels are {1000 * gap_m:g} mm apart; nothing else is assumed on the roof.")
