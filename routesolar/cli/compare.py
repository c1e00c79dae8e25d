"""`routesolar compare`: two or more routes side by side."""

from pathlib import Path
from typing import Annotated

import typer

from routesolar.cli.options import BestOptions, DayOptions, OutputOptions, TripOptions, takes


@takes(day=DayOptions, ranking=BestOptions, trip=TripOptions, out=OutputOptions)
def run(
    route: Annotated[list[Path], typer.Argument(help="Two or more routes, each a GPX or a trip file.")],
    best: Annotated[
        bool,
        typer.Option("--best", help="Take each route at its best departure between --from and --to on --date."),
    ] = False,
    any_day: Annotated[
        bool, typer.Option("--any-day", help="Allow routes that start on different days.")
    ] = False,
    seed: Annotated[
        int, typer.Option(min=0, help="Random seed of the days simulated for the chance of being best.")
    ] = 1,
    *,
    day: DayOptions,
    ranking: BestOptions,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """Two or more routes compared under the same sky, up to a common end.

    Whoever arrives first waits at the destination. The first line says where rigs or departures differ.

    [bold]Examples[/bold]

    routesolar compare coast.toml forest.toml

    routesolar compare a.gpx b.gpx --panel 200W --speed 70km/h --depart "2026-11-20 08:00"

    routesolar compare coast.toml forest.toml --best-by charge --until "tomorrow 08:00"

    routesolar compare coast.toml forest.toml --best --date 2026-11-20 -o outputs/which
    """
    from routesolar.cli.deciding import day_given, deliver_decision
    from routesolar.cli.running import progress, requested
    from routesolar.cli.stating import clock_range
    from routesolar.trips.comparing import compare

    asked, clock = [requested([path], trip) for path in route], clock_range(day)
    with progress("computing every route"):
        result = compare(
            asked,
            best=best,
            day=day_given(day),
            **clock,
            any_day=any_day,
            seed=seed,
            best_by=ranking.best_by,
        )
    deliver_decision(result, out, asked[0].units)
