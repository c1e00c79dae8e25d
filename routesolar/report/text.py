"""What a harvest says, in sentences."""

from routesolar.report.clock_words import LocalClock, clock, clock_after, clock_of, day, offset, weekday
from routesolar.report.open_road import on_open_road
from routesolar.report.units import Units, distance, duration, energy, percent, power, readable
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable

_TRIFLE_WH = 0.5
CAUTIONS = (
    "Watch the road, not the watts: let a passenger read this page, or stop first.",
    "A panel, its frame and its fixings load the roof in wind, braking and a crash: keep to the vehicle's roof "
    "load limit and to the fixing rules of the place where it is registered. Carry nothing loose on the roof "
    "while driving.",
    "Wires of a direct-current system carry high currents: size and fuse them, with a disconnect, by the local "
    "electrical code, with a licensed electrician where that is required.",
    "An alternator that charges for hours runs hot, as does a panel glued down: keep to the makers' limits.",
    "Many lithium batteries must not be charged below freezing: the battery's own limits override this page.",
    "These are expectations, not promises: keep a reserve for what must not fail.",
)


def headline(report: HarvestReport) -> str:
    """Return the answer in one sentence: the energy to expect, and the least on nine days in ten if known."""
    return "".join(headline_parts(report))


def headline_parts(report: HarvestReport) -> tuple[str, str, str]:
    """Return the same sentence as what comes before the expected energy, the energy, and what comes after."""
    totals = report.harvest.totals
    basis, rated_w = report.basis, report.basis.rig.rated_w
    subject = f"A {rated_w:g} W panel" if len(basis.rig.panels) == 1 else f"Panels of {rated_w:g} W in total"
    if basis.canopy.is_open and basis.terrain.buildings is None and basis.shade is None:
        subject = on_open_road(subject, "Under an open sky" if _stays(report) else "On an open road")
    least = totals.energy_low_wh
    causes = ", clouds and trees together" if _moved_by_trees(report) else ""
    bound = (
        ""
        if least is None
        else f" (nine {clock_of(report.harvest).case}s in ten at least {energy(least)}{causes})"
    )
    where = "there" if _stays(report) else "on this drive"
    return f"{subject} should deliver ", energy(totals.energy_wh), f" {where}{bound}{_taken(report)}."


def _taken(report: HarvestReport) -> str:
    """Return what loads and battery take of it; empty where they take all."""
    harvest = report.harvest
    if harvest.charge is None or harvest.battery_wh is None:
        return ""
    if harvest.totals.energy_wh - harvest.battery_wh < 0.5:
        return ""
    return f", of which loads and battery take {energy(harvest.battery_wh)}"


def journey(report: HarvestReport, units: Units) -> str:
    """Return which drive it is: its name, and `span`."""
    return f"{printable(report.title) or 'Unnamed route'}: {span(report, units)}"


def span(report: HarvestReport, units: Units) -> str:
    """Return the drive's length and its local times, with zone and offset."""
    harvest = report.harvest
    segments = harvest.segments
    start_utc_s, end_utc_s = float(segments.departure_utc_s[0]), float(segments.arrival_utc_s[0])
    start = f"{day(start_utc_s, segments.time_zone)} {clock(start_utc_s, segments.time_zone)}"
    end = clock_after(start_utc_s, end_utc_s, segments.time_zone)
    if clock_of(harvest).over_midnight:
        start, end = (
            f"{weekday(at, segments.time_zone)} {said}" for at, said in ((start_utc_s, start), (end_utc_s, end))
        )
    way = "" if _stays(report) else f"{distance(harvest.totals.distance_km, units)} in "
    return (
        f"{way}{duration(end_utc_s - start_utc_s)}, "
        f"{start} to {end} "
        f"({segments.time_zone}, {offset(start_utc_s, segments.time_zone)})."
    )


def _stays(report: HarvestReport) -> bool:
    return bool(report.harvest.segments.stopped.all())


def losses(report: HarvestReport) -> str:
    """Return what shade and clouds take, in one sentence; empty where there was no sun at all."""
    totals = report.harvest.totals
    if totals.shade_loss_frac is None or totals.cloud_loss_frac is None:
        return "The sun is down for the whole drive." if totals.clear_sky_wh == 0 else ""
    houses = "" if report.basis.terrain.buildings is None else ", buildings"
    shade = f"Trees{houses} and terrain take {percent(totals.shade_loss_frac)} of what an open road would give"
    if totals.cloud_loss_frac < -0.005:
        return (
            f"{shade}; in that shade this sky gives {percent(-totals.cloud_loss_frac)} more than a clear one."
        )
    return f"{shade}; in that shade clouds take {percent(max(totals.cloud_loss_frac, 0.0))} of a clear day."


def interval(report: HarvestReport) -> str:
    """Return between what the answer lies on eight days in ten, and what clouds and trees make of it alone.

    Empty if that was not computed, and where trees move nothing: without sun, on an open road.
    """
    totals = report.harvest.totals
    ends = (totals.energy_low_wh, totals.energy_high_wh)
    clouds = (totals.energy_clouds_low_wh, totals.energy_clouds_high_wh)
    trees = (totals.energy_shade_low_wh, totals.energy_shade_high_wh)
    if not _moved_by_trees(report) or None in (*ends, *clouds):
        return ""
    together, by_clouds, by_trees = (
        f"{energy(low or 0.0)} to {energy(high or 0.0)}" for low, high in (ends, clouds, trees)
    )
    return (
        f"Eight times in ten it is {together}; from the clouds alone {by_clouds}, from uncertainty about "
        f"the trees alone {by_trees}."
    )


def _moved_by_trees(report: HarvestReport) -> bool:
    """Return whether the doubt about trees moves the answer at all."""
    totals = report.harvest.totals
    return totals.energy_shade_low_wh is not None and totals.energy_shade_low_wh != totals.energy_shade_high_wh


LOSS_WORDS = {
    "clouds": "clouds",
    "terrain": "terrain and roofs",
    "buildings": "buildings",
    "canopy": "trees",
    "reflection": "reflection",
    "weak_light": "weak light",
    "temperature": "cell temperature",
    "age": "age",
    "soiling": "dirt",
    "partial_shade": "uneven shade",
    "mismatch": "unlike panels",
    "wiring": "wiring",
    "controller": "controller",
    "clipped": "controller's limit",
    "battery_cold": "battery too cold",
    "battery_full": "battery takes no more",
}


def loss_rows(report: HarvestReport) -> tuple[tuple[str, float], ...]:
    """Return what is lost on the way from rated power to the battery's terminals, in Wh; negative is a gain."""
    return _losses(report, by_battery=False)


def battery_loss_rows(report: HarvestReport) -> tuple[tuple[str, float], ...]:
    """Return what the battery turns away of what reaches its terminals, in Wh."""
    return _losses(report, by_battery=True)


def _losses(report: HarvestReport, *, by_battery: bool) -> tuple[tuple[str, float], ...]:
    return tuple(
        (LOSS_WORDS.get(name, printable(name)), loss_wh)
        for name, loss_wh in report.harvest.losses_wh.items()
        if abs(loss_wh) >= 0.05 and name.startswith("battery_") == by_battery
    )


def loss_ledger(report: HarvestReport) -> str:
    """Return the losses from rated power to the battery in one line; empty if not computed."""
    rated_wh = report.harvest.rated_clear_wh
    rows = loss_rows(report)
    if rated_wh is None or not rows:
        return ""
    listed = ", ".join(f"{name} {readable(loss_wh)}" for name, loss_wh in rows)
    reached = energy(report.harvest.totals.energy_wh)
    line = f"Of {energy(rated_wh)} at rated power under a clear open sky, Wh lost to: {listed}"
    line += f"; {reached} delivered"
    turned_away = battery_loss_rows(report)
    if not turned_away or report.harvest.battery_wh is None:
        return f"{line}."
    away = ", ".join(f"{name} {readable(loss_wh)}" for name, loss_wh in turned_away)
    return f"{line}. Of these: {away}; {energy(report.harvest.battery_wh)} taken by loads and battery."


def battery(report: HarvestReport) -> tuple[str, ...]:
    """Return what becomes of the battery, in sentences; none without one."""
    charge, own = report.harvest.charge, report.basis.rig.battery
    if charge is None or own is None:
        return ()
    local = clock_of(report.harvest)
    at = local.at
    course = f"On average the battery goes from {percent(own.start_soc_frac)} to"
    lowest = f"lowest {percent(charge.lowest_soc_frac)} at {at(charge.lowest_utc_s)}"
    poor = f"On the worst {local.case} in ten its lowest is {percent(charge.lowest_soc_poor_frac)}"
    if charge.shortfall_poor_wh >= _TRIFLE_WH:
        poor += f" and the loads fall {energy(charge.shortfall_poor_wh)} short"
    sentences = [f"{course} {percent(float(charge.soc_frac[-1]))}, {lowest}.", f"{poor}."]
    if charge.first_full_utc_s is not None:
        sentences.append(
            f"It is full (99 % or more) by {at(charge.first_full_utc_s)} on half of such {local.case}s."
        )
    elif charge.full_prob >= 0.05:
        sentences.append(f"It fills on {percent(charge.full_prob)} of such {local.case}s.")
    losses_wh = report.harvest.losses_wh
    cold_wh, full_wh = losses_wh.get("battery_cold", 0.0), losses_wh.get("battery_full", 0.0)
    if cold_wh >= _TRIFLE_WH:
        sentences.append(
            f"It is too cold to charge for {duration(charge.cold_s)}, which loses {energy(cold_wh)} of sun."
        )
    if charge.heater_wh >= _TRIFLE_WH:
        sentences.append(f"Its own heater draws {energy(charge.heater_wh)}.")
    if full_wh >= _TRIFLE_WH:
        sun = f"{energy(full_wh)} of sun"
        full = charge.full_prob >= 0.05
        sentences.append(f"It has no room for {sun}." if full else f"It cannot take {sun} as fast as it comes.")
    if charge.load_share_frac is not None:
        sentences.append(
            f"The sun covers {percent(charge.load_share_frac)} of what the loads use, directly or through "
            "the battery."
        )
    return (*sentences, *_cut_off(report, local))


def loads_kept_on(report: HarvestReport) -> str:
    """Return whether loads go short, and when, in a sentence; empty without a battery or loads."""
    told = () if report.harvest.charge is None else _cut_off(report, clock_of(report.harvest))
    return told[0] if told else ""


def _cut_off(report: HarvestReport, local: LocalClock) -> tuple[str, ...]:
    """Return how likely, when and for how long loads are cut off, and what the engine would have to do."""
    charge, missed_wh = report.harvest.charge, report.harvest.totals.shortfall_wh
    if charge is None or missed_wh is None:
        return ()
    if missed_wh < _TRIFLE_WH:
        safe = charge.loads and charge.short_prob == 0.0
        return (f"No load goes short on any such {local.case}.",) if safe else ()
    share = percent(charge.short_prob)
    often = f"every such {local.case}" if charge.short_prob > 0.995 else f"{share} of such {local.case}s"
    moments = [
        f"by {local.at(utc_s)} on {which}"
        for utc_s, which in ((charge.first_short_poor_utc_s, "one in ten"), (charge.first_short_utc_s, "half"))
        if utc_s is not None
    ]
    when = f" ({', '.join(moments)})" if moments else ""
    own = any(load.reserve_soc_frac != charge.reserve_soc_frac for load in charge.loads)
    where = "a reserve of their own" if own else "the reserve"
    cut_off = (
        f"Loads are cut off at {where} on {often}{when}: on average they fall {energy(missed_wh)} short "
        f"over {duration(charge.short_s)}."
    )
    if report.basis.rig.alternator is None or charge.first_short_poor_utc_s is None:
        return (cut_off,)
    if charge.alternator_needed_w is None or charge.alternator_needed_wh is None:
        return (
            cut_off,
            f"No charging while driving alone would keep them running on nine {local.case}s in ten.",
        )
    return (
        cut_off,
        f"Charging at {power(charge.alternator_needed_w)} while driving, "
        f"{energy(charge.alternator_needed_wh)} in all, would keep them running on nine {local.case}s in ten.",
    )


def other_skies(report: HarvestReport) -> str:
    """Return the same drive under the other skies, in one line; empty if none was computed."""
    harvest = report.harvest
    others = [sky for sky in harvest.skies if sky.sky != harvest.sky]
    if not others:
        return ""
    line = f"Under other skies: {', '.join(f'{sky.sky} {energy(sky.energy_wh)}' for sky in others)}."
    if any(sky.sky == "clear" and sky.energy_wh < harvest.totals.energy_wh for sky in others):
        line += (
            " Clear gives less here: the sun's beam seldom reaches the roof, and a clear sky sends it little "
            "else, while clouds scatter light in from above."
        )
    return line


def warnings(report: HarvestReport) -> tuple[str, ...]:
    """Return the warnings, each on one line."""
    return tuple(printable(warning) for warning in report.harvest.warnings)


def warned(count: int) -> str:
    """Return the line that tells a report's reader of warnings given beside it; empty without any."""
    if count == 0:
        return ""
    return f"{count} warning{'s were' if count > 1 else ' was'} given beside this report."
