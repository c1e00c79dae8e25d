"""Run one drive for the command line and hand over its results."""

import shutil
import sys
import textwrap
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from routesolar.cli.options import OutputOptions, TripOptions
from routesolar.cli.stating import trip_asked_for
from routesolar.files.results import result_json
from routesolar.files.telling import heard_by
from routesolar.physics.compiled import cache_folder
from routesolar.report.units import Units
from routesolar.trip.harvest import Harvest
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable
from routesolar.trips.harvesting import harvest_trip
from routesolar.trips.reporting import harvest_report, units_named
from routesolar.trips.trip import Trip

NARROW, WIDE = 60, 120
FIRST_RUN = " (first run: compiling, half a minute)"


def requested(paths: Sequence[Path] | None, options: TripOptions, at: str | None = None) -> Trip:
    """Return the trip that files and options make together, or a place and options."""
    with progress("reading the route"):
        return trip_asked_for(paths or (), options, at)


def harvested(trip: Trip) -> Harvest:
    """Return the harvest of one drive."""
    with progress("computing sun, shade and power"):
        return harvest_trip(trip)


def deliver(harvest: Harvest, trip: Trip, out: OutputOptions, also: Collection[str] = ()) -> None:
    """Write the files if a folder was given, and print the answer."""
    if out.output is not None:
        with progress("drawing map and page"):
            from routesolar.trips.saving import save  # and all that is written, which JSON needs not

            load_map_library()
            save(harvest, out.output, units=trip.units, also=also, force=out.force)
        tell(f"written: {printable(str(out.output))}")
    report = harvest_report(harvest)
    sys.stdout.write(result_json(report) if out.json else _text(report, units_named(trip.units)))
    warn(harvest.warnings)


def _text(report: HarvestReport, units: Units) -> str:
    from routesolar.report.table import harvest_text  # slow to import, and JSON needs no table

    return harvest_text(report, units, terminal_width())


def load_map_library() -> None:
    """Load folium without pandas, which it takes along where there is one: 60 MB and half a second for nothing.

    Only the command line may: who uses folium afterwards, with tables of their own, would miss it.
    """
    if "pandas" in sys.modules:
        return
    sys.modules["pandas"] = None  # type: ignore[assignment]  # Python's way to say that there is none
    try:
        from routesolar.report import leaflet  # noqa: F401
    finally:
        del sys.modules["pandas"]


def terminal_width() -> int:
    """Return how many characters a line of text may have."""
    return min(max(shutil.get_terminal_size((100, 24)).columns, NARROW), WIDE)


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
    if sys.stderr is None or not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    folder = cache_folder()
    compiled_before = folder is not None and any(folder.rglob("*.nbc"))
    with (
        Console(stderr=True).status(f"{doing} ...{'' if compiled_before else FIRST_RUN}") as shown,
        heard_by(lambda what: shown.update(f"{what} ...")),
    ):
        yield
