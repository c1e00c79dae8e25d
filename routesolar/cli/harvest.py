"""`routesolar harvest`: the energy of one drive, leg by leg."""

from typing import Annotated

import typer

from routesolar.cli.options import OutputOptions, Place, RouteFiles, TripOptions, takes


@takes(trip=TripOptions, out=OutputOptions)
def run(
    route: RouteFiles = None,
    at: Place = None,
    also: Annotated[
        list[str] | None, typer.Option(help="Also write: kml,gpx,card (a tall picture for phones). Repeatable.")
    ] = None,
    *,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """Energy per leg of one drive: table, files, page.

    [bold]Examples[/bold]

    routesolar harvest my.gpx --panel 200W --depart "2026-11-20 07:30" --speed 70km/h

    routesolar harvest my.gpx --rig van.toml --canopy cover.tif --sky broken -o outputs/friday

    routesolar harvest trip.toml --forecast today --json

    routesolar harvest --at "-41.6,146.5" --depart "2026-11-20 16:00" --until "2026-11-22 10:00" --panel 200W
    """
    from routesolar.cli.running import deliver, harvested, requested

    asked = requested(route, trip, at)
    formats = _formats(also, asked.also, out)
    deliver(harvested(asked), asked, out, formats)


def _formats(also: list[str] | None, in_trip_file: tuple[str, ...], out: OutputOptions) -> tuple[str, ...]:
    """Return the further formats to write; a trip file's go without saying where nothing is written."""
    from routesolar.errors import UsageError
    from routesolar.files.wording import formats_of

    if also and out.output is None:
        raise UsageError("--also writes files, but no folder is given for them; add -o outputs/friday")
    return formats_of(",".join(also)) if also else in_trip_file
