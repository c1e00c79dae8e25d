"""Run one drive for the command line and hand over its results."""

import shutil
import sys
import textwrap
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path

from routesolar.cli.options import OutputOptions, TripOptions
from routesolar.cli.stating import trip_asked_for
from routesolar.files.exports import write_harvest
from routesolar.files.results import result_json
from routesolar.physics.compiled import cache_folder
from routesolar.report.table import harvest_text
from routesolar.report.units import IMPERIAL, METRIC, Units
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable
from routesolar.trips.drawing import ground_under
from routesolar.trips.harvesting import harvest_trip
from routesolar.trips.trip import Trip

NARROW, WIDE = 60, 120
FIRST_RUN = " (first run: compiling, half a minute)"


def requested(paths: Sequence[Path], options: TripOptions) -> Trip:
    """Return the trip that files and options make together."""
    with progress("reading the route"):
        return trip_asked_for(paths, options)


def harvested(trip: Trip) -> HarvestReport:
    """Return the harvest of one drive with all that went into it."""
    with progress("computing sun, shade and power"):
        return harvest_trip(trip)


def deliver(report: HarvestReport, trip: Trip, out: OutputOptions, also: Collection[str] = ()) -> None:
    """Write the files if a folder was given, and print the answer."""
    units = units_of(trip)
    if out.output is not None:
        with progress("drawing map and page"):
            report, drawn = _drawn(report, units)
        write_harvest(out.output, report, drawn=drawn, also=also, force=out.force)
        tell(f"written: {out.output}")
    sys.stdout.write(result_json(report) if out.json else harvest_text(report, units, terminal_width()))
    warn(report.harvest.warnings)


def _drawn(report: HarvestReport, units: Units) -> tuple[HarvestReport, dict[str, bytes]]:
    """Return the report with the ground under its map, and the drawn files; loads what draws only here."""
    from routesolar.report.map_sheet import map_png
    from routesolar.report.page import page_html

    report = replace(report, ground=ground_under(report.drives))
    return report, {"page.html": page_html(report, units).encode(), "map.png": map_png(report, units)}


def terminal_width() -> int:
    """Return how many characters a line of text may have."""
    return min(max(shutil.get_terminal_size((100, 24)).columns, NARROW), WIDE)


def units_of(trip: Trip) -> Units:
    """Return the units to show; results stay metric."""
    return IMPERIAL if trip.units == "imperial" else METRIC


def tell(message: str) -> None:
    """Say something beside the result, on stderr; where nobody can hear it, the result stands all the same."""
    if sys.stderr is not None:
        with suppress(OSError):
            sys.stderr.write(f"{message}\n")


def warn(warnings: Collection[str]) -> None:
    """Tell warnings on stderr, after the result, which may be on its way to a file or another program."""
    sys.stdout.flush()
    for warning in warnings:
        tell(textwrap.fill(f"Warning: {printable(warning)}", terminal_width(), subsequent_indent="  "))


@contextmanager
def progress(doing: str) -> Iterator[None]:
    """Show on a terminal's stderr what is being done, and take it away afterwards."""
    from rich.console import Console

    if sys.stderr is None or not sys.stderr.isatty():
        yield
        return
    folder = cache_folder()
    compiled_before = folder is not None and any(folder.rglob("*.nbc"))
    with Console(stderr=True).status(f"{doing} ...{'' if compiled_before else FIRST_RUN}"):
        yield
