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
    from routesolar.cli.request import rig_of, skies_of
    from routesolar.cli.running import requested, units_of
    from routesolar.decisions.daylight import parked_until_sunset
    from routesolar.decisions.departures import departures_dict, rank_departures
    from routesolar.decisions.starts import day_starts_utc_s
    from routesolar.model.sweeping import departure_watts
    from routesolar.report.words_when import departures_words

    request = requested(route, trip)
    rig = rig_of(request)
    starts = day_starts_utc_s(
        deciding.day_of(request, day), *deciding.clock_range_s(day), time_zone=request.time_zone
    )
    segments = deciding.timed_at(request, starts)
    if then_park:
        segments = parked_until_sunset(segments)
    sweep, around = deciding.swept(request, rig, segments)
    result = rank_departures(sweep)
    words = departures_words(result)

    def draw(report: DecisionReport) -> tuple[DecisionReport, str]:
        from routesolar.cli.ground import with_hills
        from routesolar.report.decision_charts import departures_png
        from routesolar.report.departures_page import departures_html

        report = replace(report, chart_png=departures_png(result))
        watts = departure_watts(segments, rig, around.canopy, around.terrain, skies_of(request)[0])
        ground = with_hills(around.picture, [(request, segments)])
        return report, departures_html(report, result, watts, ground, units_of(request.said))

    deciding.deliver_decision(request.route.name, words, departures_dict(result), out, draw)
