"""`routesolar departures`: many departures of one day, best first."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from routesolar.cli.options import DayOptions, OutputOptions, TripOptions, takes
from routesolar.trip.decision_report import DecisionReport


@takes(day=DayOptions, trip=TripOptions, out=OutputOptions)
def run(
    route: Annotated[list[Path], typer.Argument(help="GPX files in order of travel, or one trip file (TOML).")],
    then_park: Annotated[
        bool,
        typer.Option("--then-park", help="Count the hours parked after arrival, until sunset."),
    ] = False,
    *,
    day: DayOptions,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """Many departures of one day, best first, with the spread.

    [bold]Examples[/bold]

    routesolar departures trip.toml --date 2026-11-20

    routesolar departures trip.toml --date 2026-11-20 --from 06:00 --to 14:00 --every 30min

    routesolar departures trip.toml --date 2026-11-20 --then-park -o outputs/when
    """
    from routesolar.cli import deciding
    from routesolar.cli.running import progress, requested, units_of
    from routesolar.cli.stating import clock_range
    from routesolar.decisions.departures import departures_dict
    from routesolar.report.words_when import departures_words
    from routesolar.trips.deciding import rank_departures

    asked, clock = requested(route, trip), clock_range(day)
    with progress("computing every departure"):
        result = rank_departures(asked, deciding.day_given(day), clock, then_park=then_park)
    words = departures_words(result)

    def draw(report: DecisionReport) -> tuple[DecisionReport, str]:
        from routesolar.report.decision_charts import departures_png
        from routesolar.report.departures_page import departures_html
        from routesolar.trips.drawing import ground_under, watts_of

        report = replace(report, chart_png=departures_png(result))
        (drive,) = result.drives
        ground = ground_under(result.drives)
        return report, departures_html(report, result, watts_of(drive), ground, units_of(asked))

    deciding.deliver_decision(asked.route.name, words, departures_dict(result), out, draw)
