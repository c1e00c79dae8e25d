"""`routesolar size`: what each panel size would give, against the loads."""

from typing import Annotated

import typer

from routesolar.cli.options import BestOptions, OutputOptions, Place, RouteFiles, Text, TripOptions, takes


@takes(best=BestOptions, trip=TripOptions, out=OutputOptions)
def run(
    route: RouteFiles = None,
    at: Place = None,
    rated: Annotated[
        Text, typer.Option(help="Panel ratings to try, in watts. Default: 50,100,200,400, or what fits --roof.")
    ] = None,
    capacity: Annotated[
        Text, typer.Option(help="Batteries to try, in watt-hours: 1000,2000,4000. Default: the rig's own.")
    ] = None,
    charge: Annotated[
        Text,
        typer.Option(help="Charging by the engine to try, in watts; 0 is none: 0,150,300. Default: the rig's."),
    ] = None,
    roof: Annotated[Text, typer.Option(help="Free roof, length x width in metres: 2.6x1.4.")] = None,
    offer: Annotated[
        list[str] | None,
        typer.Option(help="A panel on offer, watts:length x width: 200W:1.58x0.70. Repeatable, with --roof."),
    ] = None,
    *,
    best: BestOptions,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """What sizes of panel, battery and charger would deliver against the loads, and which panels fit the roof.

    [bold]Examples[/bold]

    routesolar size trip.toml --rated 50,100,200,400

    routesolar size trip.toml --rated 100,200,400 --capacity 1000,2000,4000 --charge 0,150,300

    routesolar size trip.toml --roof 2.6x1.4 --offer 200W:1.58x0.70 --offer 100W:1.05x0.55
    """
    from routesolar.cli.deciding import deliver_decision
    from routesolar.cli.running import progress, requested
    from routesolar.files.sizes import capacities_of, charges_of, offers_of, ratings_of, roof_of
    from routesolar.trips.deciding import size

    ratings = None if rated is None else ratings_of(rated)
    axes = {
        "capacity_wh": [] if capacity is None else capacities_of(capacity),
        "charge_w": [] if charge is None else charges_of(charge),
    }
    free_m = None if roof is None else roof_of(roof)
    offers = offers_of(offer) if offer else []
    asked = requested(route, trip, at)
    with progress("computing every size"):
        result = size(asked, ratings, roof_m=free_m, offers=offers, best_by=best.best_by, **axes)
    deliver_decision(result, out, asked.units)
