"""`routesolar breaks`: where and when to pause."""

from typing import Annotated

import typer

from routesolar.cli.options import BestOptions, OutputOptions, RouteFiles, TripOptions, takes


@takes(best=BestOptions, trip=TripOptions, out=OutputOptions)
def run(
    route: RouteFiles = None,
    minutes: Annotated[float, typer.Option(help="How long the break is, in minutes.")] = 90.0,
    between: Annotated[str, typer.Option(help="When it may begin: 11:00..15:00.")] = "11:00..15:00",
    count: Annotated[int, typer.Option("--breaks", help="How many breaks of that length: 1, 2 or 3.")] = 1,
    every: Annotated[
        str, typer.Option(help="Try a place so often between the named ones: 5km. 20 at most (8 for 3 breaks).")
    ] = "5km",
    *,
    best: BestOptions,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """Where along the drive, and so when, a break brings the most, and which way to park.

    Every stop, named place and place along the way is tried, of several breaks every combination; the whole
    drive behind a break shifts.

    [bold]Examples[/bold]

    routesolar breaks trip.toml --minutes 90 --between 11:00..15:00

    routesolar breaks trip.toml --minutes 45 --breaks 2 --best-by charge --until "tomorrow 08:00"

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
        result = breaks(asked, minutes, between=clock_s, every=every_m, count=count, best_by=best.best_by)
    deliver_decision(result, out, asked.units)
