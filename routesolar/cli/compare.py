"""`routesolar compare`: two or more routes side by side."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from routesolar.cli.options import DayOptions, OutputOptions, TripOptions, takes
from routesolar.trip.decision_report import DecisionReport


@takes(day=DayOptions, trip=TripOptions, out=OutputOptions)
def run(
    route: Annotated[list[Path], typer.Argument(help="Two or more routes, each a GPX or a trip file.")],
    best: Annotated[
        bool, typer.Option("--best", help="Each route at its best departure between --from and --to of --date.")
    ] = False,
    any_day: Annotated[bool, typer.Option("--any-day", help="Allow routes that start on other days.")] = False,
    seed: Annotated[
        int, typer.Option(min=0, help="Seed of the drawn days behind the chance of being best.")
    ] = 1,
    *,
    day: DayOptions,
    trip: TripOptions,
    out: OutputOptions,
) -> None:
    """Two or more routes side by side under one sky, counted to one common end.

    Who arrives sooner waits at the destination. Rigs or departures that differ are told in the first line.

    [bold]Examples[/bold]

    routesolar compare coast.toml forest.toml

    routesolar compare a.gpx b.gpx --panel 200W --speed 70km/h --depart "2026-11-20 08:00"

    routesolar compare coast.toml forest.toml --best --date 2026-11-20 -o outputs/which
    """
    from routesolar.cli import deciding
    from routesolar.cli.running import progress, requested, units_of
    from routesolar.cli.stating import clock_range
    from routesolar.decisions.compare import compare_dict
    from routesolar.report.words_which import compare_words
    from routesolar.trips.comparing import compare

    asked, clock = [requested([path], trip) for path in route], clock_range(day)
    with progress("computing every route"):
        result = compare(asked, best=best, day=deciding.day_given(day), clock=clock, any_day=any_day, seed=seed)
    units = units_of(asked[0])
    words = compare_words(result, units)

    def draw(report: DecisionReport) -> tuple[DecisionReport, str]:
        from routesolar.report.compare_page import compare_html
        from routesolar.report.decision_charts import compare_png
        from routesolar.trips.drawing import ground_under, watts_of

        report = replace(report, chart_png=compare_png(result, units))
        drives = [watts_of(drive) for drive in result.drives]
        return report, compare_html(report, result, drives, ground_under(result.drives), units)

    title = " or ".join(road.name for road in result.routes)
    deciding.deliver_decision(title, words, compare_dict(result), out, draw)
