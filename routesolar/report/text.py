"""What a harvest says, in sentences."""

import numpy as np

from routesolar.physics.clouds import SCENARIOS
from routesolar.report.units import Units, distance, duration, energy, height, percent, speed, warmth
from routesolar.trip.clock import to_local
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable
from routesolar.trip.surroundings import Canopy

CAUTIONS = (
    "Watch the road, not the watts: let a passenger read this page, or stop first.",
    "A panel, its frame and its fixings load the roof in wind, braking and crash: keep to the vehicle's roof "
    "load limit and to the fixing rules of the place where it is registered.",
    "Wires of a direct-current system carry high currents: size and fuse them by the local electrical code, "
    "with a licensed electrician where that is required.",
    "Many lithium batteries must not be charged below freezing: the battery's own limits rule over this page.",
    "These are expectations, not promises: keep a reserve for what must not fail.",
)


def headline(report: HarvestReport) -> str:
    """Return the answer in one sentence: the energy to expect, and the least on nine days in ten if known."""
    return "".join(headline_parts(report))


def headline_parts(report: HarvestReport) -> tuple[str, str, str]:
    """Return the same sentence as what comes before the expected energy, the energy, and what comes after."""
    totals = report.harvest.totals
    rated_w = sum(panel.rated_w for panel in report.rig.panels)
    subject = f"A {rated_w:g} W panel" if len(report.rig.panels) == 1 else f"Panels of {rated_w:g} W together"
    least = totals.energy_p10_wh
    bound = "" if least is None else f" (nine days in ten at least {energy(least)})"
    return f"{subject} should deliver ", energy(totals.energy_wh), f" on this drive{bound}."


def journey(report: HarvestReport, units: Units) -> str:
    """Return which drive it is: its name, and `span`."""
    return f"{printable(report.route_name) or 'Unnamed route'}: {span(report, units)}"


def span(report: HarvestReport, units: Units) -> str:
    """Return the drive's length and its local times, with zone and offset."""
    harvest = report.harvest
    segments = harvest.segments
    start_utc_s, end_utc_s = float(segments.departure_utc_s[0]), float(segments.arrival_utc_s[0])
    return (
        f"{distance(harvest.totals.distance_km, units)} in {duration(end_utc_s - start_utc_s)}, "
        f"{day(start_utc_s, segments.time_zone)} {clock(start_utc_s, segments.time_zone)} to "
        f"{clock_after(start_utc_s, end_utc_s, segments.time_zone)} "
        f"({segments.time_zone}, {offset(start_utc_s, segments.time_zone)})."
    )


def losses(report: HarvestReport) -> str:
    """Return what shade and clouds take, in one sentence; empty where there was no sun at all."""
    totals = report.harvest.totals
    if totals.shade_loss_frac is None or totals.cloud_loss_frac is None:
        return "The sun is down for the whole drive." if totals.clear_sky_wh == 0 else ""
    return (
        f"Trees and terrain take {percent(totals.shade_loss_frac)} of what an open road would give, "
        f"clouds {percent(totals.cloud_loss_frac)} of a clear day."
    )


def shade_band(report: HarvestReport) -> str:
    """Return how far the answer moves if the trees are not quite as assumed; empty if not computed."""
    low_wh, high_wh = report.harvest.totals.energy_shade_low_wh, report.harvest.totals.energy_shade_high_wh
    if low_wh is None or high_wh is None:
        return ""
    return (
        f"With the road opening 30 % narrower or wider and the tree cover 10 points denser or thinner: "
        f"{energy(low_wh)} to {energy(high_wh)}."
    )


def other_skies(report: HarvestReport) -> str:
    """Return the same drive under the other skies, in one line; empty if none was computed."""
    harvest = report.harvest
    others = [f"{sky.sky} {energy(sky.energy_wh)}" for sky in harvest.skies if sky.sky != harvest.sky]
    return f"Under other skies: {', '.join(others)}." if others else ""


def assumptions(report: HarvestReport, units: Units) -> tuple[tuple[str, str], ...]:
    """Return what the answer rests on, as pairs of a subject and a sentence."""
    stated = (
        ("Sky", _sky(report)),
        ("Trees", _trees(report.canopy, units)),
        ("Terrain", _terrain(report)),
        ("Pace", _pace(report, units)),
        ("Air", _air(report, units)),
        ("Panel", _panel(report)),
        *(("Note", printable(note)) for note in report.harvest.notes),
    )
    return tuple((subject, sentence) for subject, sentence in stated if sentence)


def warnings(report: HarvestReport) -> tuple[str, ...]:
    """Return the warnings, each on one line."""
    return tuple(printable(warning) for warning in report.harvest.warnings)


def day(utc_s: float, time_zone: str) -> str:
    """Return "20 Nov 2026" in the zone, the month in English whatever the machine speaks."""
    local = to_local(utc_s, time_zone)
    return f"{local.day} {_MONTHS[local.month - 1]} {local.year}"


def clock(utc_s: float, time_zone: str) -> str:
    """Return "07:30", to the nearest minute, in the zone."""
    return to_local(round(utc_s / 60) * 60, time_zone).strftime("%H:%M")


def clock_after(start_utc_s: float, utc_s: float, time_zone: str) -> str:
    """Return the clock time, with the date where it is not the day of `start_utc_s`."""
    shown = clock(utc_s, time_zone)
    same_day = day(start_utc_s, time_zone) == day(round(utc_s / 60) * 60, time_zone)
    return shown if same_day else f"{day(utc_s, time_zone)} {shown}"


def offset(utc_s: float, time_zone: str) -> str:
    """Return "UTC+11:00", the zone's offset at that time."""
    written = to_local(utc_s, time_zone).strftime("%z")
    return f"UTC{written[:3]}:{written[3:5]}"


_MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()


def _sky(report: HarvestReport) -> str:
    name = report.harvest.sky
    return f"{printable(name)} ({SCENARIOS[name].seen})." if name in SCENARIOS else f"{printable(name)}."


def _trees(canopy: Canopy, units: Units) -> str:
    if canopy.is_open:
        return "none: an open road was assumed. Real roads with trees give less."
    width_m = float(np.median(canopy.road_width_m))
    road = f"road opening {height(width_m, units)}"
    if canopy.files:
        names = ", ".join(printable(file.name) for file in canopy.files)
        return f"{names}, known for {percent(canopy.data_frac)} of the route; {road}."
    cover_frac = float(np.nanmean(canopy.uniform_cover_frac))
    tall_m = float(np.median(canopy.default_height_m))
    return f"{percent(cover_frac)} cover outside the road, {height(tall_m, units)} tall; {road}."


def _terrain(report: HarvestReport) -> str:
    names = ", ".join(printable(file.name) for file in report.terrain.files)
    if not names:
        return "a level horizon."
    return f"{names}, known for {percent(report.terrain.data_frac)} of the route."


def _pace(report: HarvestReport, units: Units) -> str:
    segments = report.harvest.segments
    driving_s = float(segments.duration_s[0][~segments.stopped].sum())
    if driving_s == 0:
        return "parked throughout."
    mean = speed(float(segments.length_m.sum()) / driving_s, units)
    stated = printable(report.pace)
    return f"{stated}; {mean} on average while driving." if stated else f"{mean} on average while driving."


def _air(report: HarvestReport, units: Units) -> str:
    air = warmth(report.sky.air_c, units)
    where = " at sea level, 6.5 °C cooler for each km up" if report.sky.air_by_height else ""
    if where and units.name == "imperial":
        where = " at sea level, 3.6 °F cooler for each 1000 ft up"
    return f"{air}{where}; wind {speed(report.sky.wind_mps, units)}."


def _panel(report: HarvestReport) -> str:
    rig = report.rig
    panels = "; ".join(
        f"{printable(panel.name)} {panel.rated_w:g} W, "
        + ("flat" if panel.tilt_deg == 0 else f"tilted {panel.tilt_deg:g}°")
        + f", {printable(panel.mounting)}"
        for panel in rig.panels
    )
    return (
        f"{panels}; soiling {percent(rig.soiling_frac)}, wiring {percent(rig.wiring_frac)}, "
        f"controller {percent(rig.controller.efficiency_frac)} efficient."
    )
