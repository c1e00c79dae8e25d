"""The words, values, pictures and pages of every decision, found by its kind."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, NamedTuple

from routesolar.decisions.breaks import Breaks, breaks_dict
from routesolar.decisions.calendar import YearCalendar, calendar_dict
from routesolar.decisions.compare import Comparison, compare_dict
from routesolar.decisions.departures import Departures, departures_dict
from routesolar.decisions.park import Parking, park_dict
from routesolar.decisions.roof import GAP_M
from routesolar.decisions.size import Sizing, size_dict
from routesolar.errors import UsageError
from routesolar.files.results import input_rows
from routesolar.report.assumed import assumptions
from routesolar.report.basis_words import rests_on
from routesolar.report.decision_text import Words
from routesolar.report.sun_times import daylight_words
from routesolar.report.units import Units
from routesolar.report.words_sizes import roof_sentences, size_words
from routesolar.report.words_when import calendar_words, departures_words, year_words
from routesolar.report.words_where import breaks_words, park_words, stay_words
from routesolar.report.words_which import compare_words
from routesolar.trip.basis import basis_of
from routesolar.trip.decision_report import DecisionReport
from routesolar.trips.drawing import ground_under, watts_of
from routesolar.version import SOFTWARE

Decision = Breaks | YearCalendar | Comparison | Departures | Parking | Sizing
Drawn = tuple[DecisionReport, str]  # with its chart, and the page


class _Kind(NamedTuple):
    """How one kind of decision is written, said and drawn."""

    content: Callable[[Any], dict[str, Any]]
    words: Callable[[Any, Units], Words]
    drawn: Callable[[DecisionReport, Any, Units], Drawn]
    when: Callable[[Any], str] = lambda result: ""  # where the drive's own departures do not tell


def decision_words(result: Decision, units: Units) -> Words:
    """Return what a decision says, and when the sun is up."""
    words = _KINDS[type(result)].words(result, units)
    if not result.drives:
        return words
    return words._replace(remarks=(*words.remarks, daylight_words(result.drives[0].segments)))


def decision_report(result: Decision, units: Units) -> DecisionReport:
    """Return a decision with all that presents it but its chart."""
    kind = _KINDS[type(result)]
    content, words = kind.content(result), decision_words(result, units)
    basis = basis_of(result.drives[0]) if result.drives else None
    line = "" if basis is None else rests_on(basis, SOFTWARE, kind.when(result))
    head: dict[str, Any] = {"schema": content["schema"], "software": SOFTWARE, "rests_on": line}
    head["stated"] = "\n".join(dict.fromkeys(drive.segments.stated for drive in result.drives))
    head["inputs"] = input_rows(map(basis_of, result.drives))
    return DecisionReport(
        command=content["schema"].removeprefix("routesolar.").partition("/")[0],
        title=result.title,
        answer=words.answer,
        remarks=words.remarks,
        header=words.header,
        cells=words.cells,
        rows=content["rows"],
        content=head | content,
        chart_png=b"",
        chart_words=words.chart_words,
        warnings=tuple(content["warnings"]),
        software=SOFTWARE,
        rests_on=line,
        assumptions=() if basis is None else assumptions(basis, units),
    )


def drawn_decision(result: Decision, units: Units) -> Drawn:
    """Return a decision with its chart, and its page; the libraries that draw are loaded only here."""
    return _KINDS[type(result)].drawn(decision_report(result, units), result, units)


def _size_words(result: Sizing, units: Units) -> Words:
    words = size_words(result)
    if not result.fits:
        return words
    return words._replace(remarks=(*words.remarks, *roof_sentences(result.fits, GAP_M)))


def _departures_drawn(report: DecisionReport, result: Departures, units: Units) -> Drawn:
    from routesolar.report.decision_charts import departures_png
    from routesolar.report.departures_page import departures_html

    (drive,) = result.drives or (None,)
    if drive is None:
        raise UsageError("these departures do not know their drive; make them with rs.rank_departures")
    report = replace(report, chart_png=departures_png(result, report.rests_on))
    return report, departures_html(report, result, watts_of(drive), ground_under(result.drives), units)


def _compare_drawn(report: DecisionReport, result: Comparison, units: Units) -> Drawn:
    from routesolar.report.compare_page import compare_html
    from routesolar.report.decision_charts import compare_png

    if not result.drives:
        raise UsageError("this comparison does not know its drives; make it with rs.compare")
    report = replace(report, chart_png=compare_png(result, units, report.rests_on))
    drives = [watts_of(drive) for drive in result.drives]
    return report, compare_html(report, result, drives, ground_under(result.drives), units)


def _calendar_drawn(report: DecisionReport, result: YearCalendar, units: Units) -> Drawn:
    from routesolar.report.calendar_page import calendar_html
    from routesolar.report.decision_charts import calendar_png

    report = replace(report, chart_png=calendar_png(result, report.rests_on))
    return report, calendar_html(report, result)


def _size_drawn(report: DecisionReport, result: Sizing, units: Units) -> Drawn:
    from routesolar.report.decision_charts import size_png
    from routesolar.report.size_page import size_html

    report = replace(report, chart_png=size_png(result, report.rests_on))
    return report, size_html(report, result)


def _park_drawn(report: DecisionReport, result: Parking, units: Units) -> Drawn:
    from routesolar.report.park_chart import park_png
    from routesolar.report.park_page import park_html

    report = replace(report, chart_png=park_png(result, units, report.rests_on))
    return report, park_html(report, result, units)


def _breaks_drawn(report: DecisionReport, result: Breaks, units: Units) -> Drawn:
    from routesolar.report.breaks_page import breaks_html
    from routesolar.report.decision_charts import breaks_png

    report = replace(report, chart_png=breaks_png(result, report.rests_on))
    return report, breaks_html(report, result)


_KINDS: Mapping[type, _Kind] = {
    Breaks: _Kind(breaks_dict, breaks_words, _breaks_drawn),
    Departures: _Kind(departures_dict, lambda result, units: departures_words(result), _departures_drawn),
    YearCalendar: _Kind(
        calendar_dict, lambda result, units: calendar_words(result), _calendar_drawn, year_words
    ),
    Comparison: _Kind(compare_dict, compare_words, _compare_drawn),
    Sizing: _Kind(size_dict, _size_words, _size_drawn),
    Parking: _Kind(park_dict, park_words, _park_drawn, stay_words),
}
