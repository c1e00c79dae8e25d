"""page.html: one self-contained page that explains a harvest and lets a reader explore it, offline."""

from typing import Any

from markupsafe import Markup

from routesolar.report import text
from routesolar.report.assumed import assumptions
from routesolar.report.clock_words import clock_of
from routesolar.report.colours import POWER, classes
from routesolar.report.day_words import day_sentences
from routesolar.report.drive_chart import drive_svg
from routesolar.report.hour_bars import hours_svg
from routesolar.report.leaflet import MAP_ID, leaflet_css
from routesolar.report.loss_bars import losses_svg
from routesolar.report.outlines_drawn import credits_of
from routesolar.report.page_data import page_json
from routesolar.report.page_parts import asset, key_rows, live_script, page_templates, policy
from routesolar.report.plane import lines, slenderness
from routesolar.report.row_tables import tables_of
from routesolar.report.still_map import map_svg
from routesolar.report.sun_times import dark_on, sun_words
from routesolar.report.units import METRIC, Units, duration, percent, readable
from routesolar.trip.harvest import LegResult
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable

# In this order they make one script: each uses only what stands above it.
_SCRIPTS = (
    "basics.js",
    "drive.js",
    "labels.js",
    "signs.js",
    "map.js",
    "chart.js",
    "linked.js",
    "reading.js",
    "page.js",
)

_TALL = 0.9  # height over width from which map and chart stand side by side


def page_html(report: HarvestReport, units: Units = METRIC) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing."""
    harvest = report.harvest
    script = live_script(harvest.segments, _SCRIPTS)
    styles = [leaflet_css(), asset("page.css")]
    template = page_templates().get_template("page.html")
    return template.render(
        told(report, units),
        policy=policy(script, styles),
        styles=[Markup(style) for style in styles],
        script=Markup(script),
        licence=Markup(asset("leaflet-licence.txt")),
        data=Markup(page_json(report, units)),
        map_id=f"map_{MAP_ID}",
        still_map=Markup(map_svg(report, units)),
        still_chart=Markup(drive_svg(harvest)),
        key_rows=key_rows(classes(float(harvest.power_w.max(initial=0)), POWER)),
        tall=slenderness(lines(harvest.segments).bounds(0.06)) > _TALL,
        ground=report.ground,
        credits=credits_of(report.ground),
        is_dark=bool(dark_on(harvest.segments)),
        has_stops=bool(harvest.segments.stopped.any()),
    )


def told(report: HarvestReport, units: Units) -> dict[str, Any]:
    """Return what the template tells in words, tables and bars, without map, chart and script."""
    harvest = report.harvest
    return answered(report, units) | {
        "remarks": [remark for remark in _remarks(report) if remark],
        "hours": Markup(hours_svg(harvest)),
        "losses": Markup(losses_svg(report)),
        "has_load": any(hour.load_wh is not None for hour in harvest.hours),
        "has_percentile": harvest.totals.energy_low_wh is not None,
        "has_battery": harvest.charge is not None,
        "distance": units.distance,
        "case": clock_of(harvest).case,
        "tables": tables_of(harvest),
        "legs": [_leg(report, leg, units) for leg in harvest.legs],
        "totals": _leg(report, harvest.totals, units),
        "assumptions": assumptions(report.basis, units),
        "warnings": text.warnings(report),
        "cautions": text.CAUTIONS,
        "software": printable(report.software),
    }


def answered(report: HarvestReport, units: Units) -> dict[str, Any]:
    """Return the answer alone, as the template tells it first."""
    before, answer, after = text.headline_parts(report)
    return {
        "title": printable(report.title) or "Unnamed route",
        "before": before,
        "answer": answer,
        "after": after,
        "span": text.span(report, units),
        "rests_on": report.rests_on,
    }


def _remarks(report: HarvestReport) -> tuple[str, ...]:
    return (
        sun_words(report.harvest.segments),
        text.losses(report),
        text.interval(report),
        text.other_skies(report),
        " ".join(text.battery(report)),
        " ".join(day_sentences(report)),
    )


def _leg(report: HarvestReport, leg: LegResult, units: Units) -> dict[str, str]:
    harvest = report.harvest
    return {
        "number": str(leg.leg),
        "name": printable(leg.name) or "unnamed",
        "kind": leg.kind,
        "start": clock_of(harvest).at(leg.start_utc_s),
        "distance": readable(leg.distance_km * units.distance_per_km),
        "duration": duration(leg.duration_s),
        "mean": readable(leg.mean_w),
        "peak": readable(leg.peak_w),
        "energy": readable(leg.energy_wh),
        "least": "" if leg.energy_low_wh is None else readable(leg.energy_low_wh),
        "lost": readable(leg.open_sky_wh - leg.energy_wh),
        "battery": "" if leg.soc_end_frac is None else percent(leg.soc_end_frac),
        "lost_share": "" if leg.shade_loss_frac is None else percent(leg.shade_loss_frac),
    }
