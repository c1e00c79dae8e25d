"""`routesolar size`: what each panel size would give, against the loads."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from routesolar.cli.options import OutputOptions, Text, TripOptions, takes
from routesolar.trip.decision_report import DecisionReport


@takes(trip=TripOptions, out=OutputOptions)
def run(
    route: Annotated[list[Path], typer.Argument(help="GPX files in order of travel, or one trip file (TOML).")],
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
    """What each panel size would give, against the loads; and what fits the roof.

    [bold]Examples[/bold]

    routesolar size trip.toml --rated 50,100,200,400

    routesolar size trip.toml --roof 2.6x1.4 --offer 200W:1.58x0.70 --offer 100W:1.05x0.55
    """
    from routesolar.cli import deciding
    from routesolar.cli.running import progress, requested
    from routesolar.cli.sizes import offers_of, ratings_of, roof_of
    from routesolar.decisions.roof import GAP_M, fit_roof
    from routesolar.decisions.size import size_dict
    from routesolar.errors import UsageError
    from routesolar.report.words_which import roof_sentences, size_words
    from routesolar.trips.deciding import size

    ratings = ratings_of(rated)
    if offer and roof is None:
        raise UsageError("--offer fits panels on a roof; say how large it is with --roof 2.6x1.4 (metres)")
    fits = () if roof is None else fit_roof(*roof_of(roof), offers_of(offer or []))
    asked = requested(route, trip)
    with progress("computing every size"):
        result = size(asked, ratings)
    words = size_words(result)
    if fits:
        words = words._replace(remarks=(*words.remarks, *roof_sentences(fits, GAP_M)))

    def draw(report: DecisionReport) -> tuple[DecisionReport, str]:
        from routesolar.report.charts import BY_NIGHT
        from routesolar.report.decision_charts import size_png
        from routesolar.report.decision_page import decision_html

        report = replace(report, chart_png=size_png(result))
        return report, decision_html(report, size_png(result, BY_NIGHT))

    deciding.deliver_decision(asked.route.name, words, size_dict(result), out, draw)
