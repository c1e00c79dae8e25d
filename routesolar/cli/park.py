"""`routesolar park`: where and which way to park near a stop."""

from typing import Annotated

import typer

from routesolar.cli.options import BestOptions, OutputOptions, RouteFiles, Text, TripOptions, takes


@takes(best=BestOptions, trip=TripOptions, out=OutputOptions)
def run(
    *,
    route: RouteFiles = None,
    at: Annotated[
        str, typer.Option("--at", help="The stop or a place passed, by its name, end, or a distance: 42km.")
    ],
    stay: Annotated[
        Text,
        typer.Option("--for", help="How long to stay, from arrival: 3h. A stop lasts as planned without it."),
    ] = None,
    within: Annotated[str, typer.Option(help="How far to look: 300m.")] = "300m",
    best: BestOptions,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """Where to park near a stop, and which way to face a tilted panel.

    Best with a height raster that shows single trees (5 m or finer): --canopy-height heights.tif. Without one
    it goes by cover, and knows of no trunk. The driver must judge whether a spot is accessible, legal and safe.

    [bold]Examples[/bold]

    routesolar park trip.toml --at "sampling site A" --canopy-height heights.tif

    routesolar park trip.toml --at end --for 4h

    routesolar park --at "-41.6,146.5" --depart "2026-11-20 10:00" --until 16:00 --rig van.toml

    routesolar park trip.toml --at 42km --for 3h --within 150m --canopy-height heights.tif
    """
    from routesolar.cli.deciding import deliver_decision
    from routesolar.cli.running import progress, requested
    from routesolar.files import values
    from routesolar.files.wording import is_place
    from routesolar.trips.parking import park

    camp = is_place(at)
    asked = requested(route, trip, at if camp else None)
    for_s = None if stay is None else values.duration_s(stay, "for")
    place = values.length_m(at, "at") if values.is_quantity(at, "length") else at
    place = asked.route.name if camp else place
    with progress("looking at every spot around the stop"):
        near_m = values.length_m(within, "within")
        result = park(asked, place, stay=for_s, within=near_m, best_by=best.best_by)
    deliver_decision(result, out, asked.units)
