"""`routesolar calendar`: months x departure hours of a route."""

from datetime import date

from routesolar.cli.options import BestOptions, DayOptions, OutputOptions, Place, RouteFiles, TripOptions, takes


@takes(day=DayOptions, best=BestOptions, trip=TripOptions, out=OutputOptions)
def run(
    route: RouteFiles = None,
    at: Place = None,
    *,
    day: DayOptions,
    best: BestOptions,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """Energy by month and departure hour: when in the year the panel pays off.

    Uses the 15th of each month in the year of --date, else this year; with a typical year, all days around it.

    [bold]Examples[/bold]

    routesolar calendar trip.toml

    routesolar calendar my.gpx --panel 200W --speed 70km/h --sky fair --from 06:00 --to 18:00 --every 1h
    """
    from routesolar.cli.deciding import day_given, deliver_decision
    from routesolar.cli.running import progress, requested
    from routesolar.cli.stating import clock_range
    from routesolar.trips.deciding import calendar

    asked = requested(route, trip, at)
    with progress("computing a year of departures"):
        year = (day_given(day) or date.today()).year
        result = calendar(asked, year, **clock_range(day), best_by=best.best_by)
    deliver_decision(result, out, asked.units)
