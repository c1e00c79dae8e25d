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
    seed: Annotated[int, typer.Option(help="Seed of the drawn days behind the chance of being best.")] = 1,
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
    from routesolar.cli.comparing import contenders_of, entry_of, ground_under, told_apart, watts_of
    from routesolar.cli.running import units_of
    from routesolar.decisions.compare import (
        compare_across_days,
        compare_dict,
        compare_routes,
    )
    from routesolar.decisions.same_terms import one_sky, rig_differences
    from routesolar.report.words_which import compare_words

    entries = told_apart([entry_of(path, trip, day, at_its_best=best) for path in route])
    one_sky([entry.name for entry in entries], [entry.skies[0] for entry in entries])
    contenders = contenders_of(entries)
    judge = compare_across_days if any_day else compare_routes
    differ = rig_differences([entry.rig for entry in entries])
    result = judge([contender.candidate for contender in contenders], seed, differ)
    units = units_of(entries[0].request.said)
    words = compare_words(result, units)

    def draw(report: DecisionReport) -> tuple[DecisionReport, str]:
        from routesolar.report.compare_page import compare_html
        from routesolar.report.decision_charts import compare_png

        report = replace(report, chart_png=compare_png(result, units))
        drives = [watts_of(contender) for contender in contenders]
        return report, compare_html(report, result, drives, ground_under(contenders), units)

    title = " or ".join(contender.candidate.name for contender in contenders)
    deciding.deliver_decision(title, words, compare_dict(result), out, draw)
