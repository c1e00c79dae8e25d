"""`routesolar calendar`: months x departure hours of a route."""

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from routesolar.cli.options import DayOptions, OutputOptions, TripOptions, takes
from routesolar.trip.decision_report import DecisionReport


@takes(day=DayOptions, trip=TripOptions, out=OutputOptions)
def run(
    route: Annotated[list[Path], typer.Argument(help="GPX files in order of travel, or one trip file (TOML).")],
    *,
    day: DayOptions,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """Months x departure hours: when in the year the panel pays.

    The 15th of each month of the year of --date, else of this year; from a typical year all days around it.

    [bold]Examples[/bold]

    routesolar calendar trip.toml

    routesolar calendar my.gpx --panel 200W --speed 70km/h --sky fair --from 06:00 --to 18:00 --every 1h
    """
    from routesolar.cli import deciding
    from routesolar.cli.running import progress, requested
    from routesolar.cli.stating import clock_range
    from routesolar.decisions.calendar import calendar_dict
    from routesolar.report.words_when import calendar_words
    from routesolar.trips.deciding import calendar

    asked, given = requested(route, trip), deciding.day_given(day)
    with progress("computing a year of departures"):
        result = calendar(asked, (given or date.today()).year, clock_range(day))
    words = calendar_words(result)

    def draw(report: DecisionReport) -> tuple[DecisionReport, str]:
        from routesolar.report.charts import BY_NIGHT
        from routesolar.report.decision_charts import calendar_png
        from routesolar.report.decision_page import decision_html

        report = replace(report, chart_png=calendar_png(result))
        return report, decision_html(report, calendar_png(result, BY_NIGHT))

    deciding.deliver_decision(asked.route.name, words, calendar_dict(result), out, draw)
