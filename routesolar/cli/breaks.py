"""`routesolar breaks`: where and when to pause."""

from typing import Annotated

import typer

from routesolar.cli.options import OutputOptions, RouteFiles, TripOptions, takes


@takes(trip=TripOptions, out=OutputOptions)
def run(
    route: RouteFiles = None,
    minutes: Annotated[float, typer.Option(help="How long the break is, in minutes.")] = 90.0,
    between: Annotated[str, typer.Option(help="When it may begin: 11:00..15:00.")] = "11:00..15:00",
    every: Annotated[
        str, typer.Option(help="Try a place so often between the named ones: 5km. 20 at most.")
    ] = "5km",
    *,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """Where along the drive, and so when, one break brings the most.

    Each place is tried as a stop of its own, and the whole drive behind it shifts. Takes a few seconds a place.

    [bold]Examples[/bold]

    routesolar breaks trip.toml --minutes 90 --between 11:00..15:00

    routesolar breaks my.gpx --panel 200W --depart "2026-11-20 09:00" --speed 70km/h -o outputs/pause
    """
    from routesolar.cli.deciding import deliver_decision
    from routesolar.cli.running import progress, requested
    from routesolar.files import values
    from routesolar.files.wording import clock_range_s
    from routesolar.trips.breaking import breaks

    asked = requested(route, trip)
    clock_s, every_m = clock_range_s(between, "between"), values.length_m(every, "every", "5km")
    with progress("trying a break at every place"):
        result = breaks(asked, minutes, between=clock_s, every=every_m)
    deliver_decision(result, out, asked.units)
