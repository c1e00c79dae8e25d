"""`routesolar demo`: the shipped scenario, end to end."""

from pathlib import Path
from typing import Annotated

import typer

from routesolar.cli.options import OutputOptions, TripOptions, takes

NO_TRIPS = {"van", "camp_van", "frost_van", "year"}  # rigs and a study


@takes(out=OutputOptions)
def run(
    trip: Annotated[str, typer.Argument(help="coast, forest or transit_day.")] = "transit_day",
    *,
    out: OutputOptions,
) -> None:
    """Run the bundled scenario: an invented survey crew and their van, on invented roads.

    [bold]Examples[/bold]

    routesolar demo

    routesolar demo forest -o outputs/forest
    """
    from routesolar.cli.running import deliver, harvested, requested, tell

    path = demo_folder() / f"{_known(trip)}.toml"
    tell(f"demo: routesolar harvest {path}")
    asked = requested([path], TripOptions())
    deliver(harvested(asked), asked, out)


def demo_folder() -> Path:
    """Return the folder of the demo scenario: in the installed package, or beside it in a source tree."""
    package = Path(__file__).parents[1]
    installed = package / "demo_routes"
    return installed if installed.is_dir() else package.parent / "demo_routes"


def _known(trip: str) -> str:
    from routesolar.errors import UsageError

    names = sorted({path.stem for path in demo_folder().glob("*.toml")} - NO_TRIPS)
    if trip not in names:
        raise UsageError(f"{trip!r} is not a demo trip; give one of {', '.join(names)}")
    return trip
