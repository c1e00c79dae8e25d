"""`routesolar departures`: many departures of one day, best first."""

from typing import Annotated

import typer

from routesolar.cli.options import BestOptions, DayOptions, OutputOptions, Place, RouteFiles, TripOptions, takes


@takes(day=DayOptions, best=BestOptions, trip=TripOptions, out=OutputOptions)
def run(
    route: RouteFiles = None,
    at: Place = None,
    then_park: Annotated[
        bool,
        typer.Option("--then-park", help="Include the hours parked after arrival, until sunset."),
    ] = False,
    *,
    day: DayOptions,
    best: BestOptions,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """Many departures on one day, best first, with their spread.

    [bold]Examples[/bold]

    routesolar departures trip.toml --date 2026-11-20

    routesolar departures trip.toml --date 2026-11-20 --from 06:00 --to 14:00 --every 30min

    routesolar departures trip.toml --date 2026-11-20 --then-park -o outputs/when

    routesolar departures trip.toml --date 2026-11-20 --best-by charge --until "tomorrow 08:00"

    routesolar departures --at "-41.6,146.5" --stop end:3h --date 2026-11-20 --panel 200W --every 1h
    """
    from routesolar.cli.deciding import day_given, deliver_decision
    from routesolar.cli.running import progress, requested
    from routesolar.cli.stating import clock_range
    from routesolar.trips.deciding import rank_departures

    asked, clock = requested(route, trip, at), clock_range(day)
    with progress("computing every departure"):
        result = rank_departures(asked, day_given(day), **clock, then_park=then_park, best_by=best.best_by)
    deliver_decision(result, out, asked.units)
