"""Answers written into a folder, as the command line writes them."""

from collections.abc import Collection
from dataclasses import replace

from routesolar.files.decision_exports import write_decision
from routesolar.files.exports import write_harvest
from routesolar.files.reading import PathText
from routesolar.files.wording import CARD
from routesolar.report.colours import watt_colours
from routesolar.report.units import Units
from routesolar.trip.harvest import Harvest
from routesolar.trips.drawing import ground_under
from routesolar.trips.presenting import Decision, drawn_decision
from routesolar.trips.reporting import harvest_report, units_named


def save(
    result: Harvest | Decision,
    folder: PathText,
    *,
    units: str = "metric",
    also: Collection[str] = (),
    force: bool = False,
) -> None:
    """Write page, picture, tables and JSON of an answer into a folder, all or none.

    Raises:
        OutputError: the folder may not be replaced, or the disk refuses.
        UsageError: the units or a format are not known, or what the page needs was not kept.
    """
    shown = units_named(units)
    if isinstance(result, Harvest):
        _save_harvest(result, folder, shown, also, force)
        return
    report, page = drawn_decision(result, shown)
    write_decision(folder, report, page=page, force=force)


def _save_harvest(harvest: Harvest, folder: PathText, units: Units, also: Collection[str], force: bool) -> None:
    from routesolar.report.map_sheet import map_png
    from routesolar.report.page import page_html

    report = harvest_report(harvest)
    report = replace(report, ground=ground_under(harvest.drives))
    drawn = {"page.html": page_html(report, units).encode(), "map.png": map_png(report, units)}
    if CARD in also:
        from routesolar.report.card import card_png

        drawn["card.png"] = card_png(report, units)
    colours = watt_colours(harvest.power_w) if "kml" in also else ()
    write_harvest(folder, report, drawn=drawn, colours=colours, also=also, force=force)
