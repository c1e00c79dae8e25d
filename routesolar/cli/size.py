"""`routesolar size`: what each panel size would give, against the loads."""

from typing import Annotated

import typer

from routesolar.cli.options import OutputOptions, Place, RouteFiles, Text, TripOptions, takes


@takes(trip=TripOptions, out=OutputOptions)
def run(
    route: RouteFiles = None,
    at: Place = None,
    rated: Annotated[str, typer.Option(help="Ratings to try, in watts: 50,100,200,400.")] = "50,100,200,400",
    roof: Annotated[Text, typer.Option(help="Free roof, length x width in metres: 2.6x1.4.")] = None,
    offer: Annotated[
        list[str] | None,
        typer.Option(help="A panel on offer, watts:length x width: 200W:1.58x0.70. Repeatable, with --roof."),
    ] = None,
    *,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """What each panel size would deliver against the loads, and which panels fit the roof.

    [bold]Examples[/bold]

    routesolar size trip.toml --rated 50,100,200,400

    routesolar size trip.toml --roof 2.6x1.4 --offer 200W:1.58x0.70 --offer 100W:1.05x0.55
    """
    from routesolar.cli.deciding import deliver_decision
    from routesolar.cli.running import progress, requested
    from routesolar.cli.sizes import offers_of, ratings_of, roof_of
    from routesolar.trips.deciding import size

    ratings = ratings_of(rated)
    free_m = None if roof is None else roof_of(roof)
    offers = offers_of(offer) if offer else []
    asked = requested(route, trip, at)
    with progress("computing every size"):
        result = size(asked, ratings, roof_m=free_m, offers=offers)
    deliver_decision(result, out, asked.units)
