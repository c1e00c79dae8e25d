"""page.html of a study: the spread of its drives by month, hour of leaving, route and rig."""

from dataclasses import replace

from routesolar.report.calendar_page import MONTHS
from routesolar.report.decision_page import chart_page_html
from routesolar.report.svg_parts import Span, box, line, picture, round_values, words
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.names import printable
from routesolar.trip.study_summary import DriveGroup, StudySummary

MOST_BARS, MOST_ROWS = 24, 200
_SIGNS = [("used", "eight drives in ten"), ("turn", "half the drives bring at least")]
_LONGEST_NAME = 18  # letters of a label beside its bar


def study_html(report: DecisionReport, summary: StudySummary) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing, without script."""
    top_wh = max((group.high_wh or 0.0 for group in _all_groups(summary)), default=0.0)
    months = [(MONTHS[int(group.label[0]) - 1], group) for group in summary.months]
    charts = (
        columns_svg(months, (720, 260), "chart-wide", top_wh),
        columns_svg(months, (360, 240), "chart-narrow", top_wh),
    )
    drawings = [
        (bars_svg(named, f"Energy of a drive by {what}", top_wh), _caption(what, len(groups)))
        for what, groups, named in (
            ("hour of leaving", summary.hours, [(f"{one.label[0]}:00", one) for one in summary.hours]),
            ("route", summary.routes, _by_name(summary.routes)),
            ("rig", summary.rigs, _by_name(summary.rigs)),
            ("sky", summary.skies, _by_name(summary.skies)),
        )
    ]
    shown = report
    if len(report.cells) > MOST_ROWS:
        left = f"The table shows {MOST_ROWS} of {len(report.cells):,} rows; result.json has all."
        shown = replace(report, cells=report.cells[:MOST_ROWS], remarks=(*report.remarks, left))
    return chart_page_html(shown, charts, "study", [], signs=_SIGNS, drawings=drawings)


def columns_svg(named: list[tuple[str, DriveGroup]], size: tuple[int, int], kind: str, top_wh: float) -> str:
    """Return a column for each group, from the 10th to the 90th percentile, with a line at the middle one."""
    width, height = size
    ticks = round_values(top_wh, 4)
    up = Span(low=0, high=ticks[-1], start=height - 26, end=24)
    slot = (width - 56) / max(len(named), 1)
    bar = min(34.0, 0.62 * slot)
    parts = [words(40, 12, "Wh", "end"), words(46, 12, "by month")]
    for tick in ticks:
        parts += [line("grid" if tick else "base", (46, up.at(tick)), (width - 10, up.at(tick)))]
        parts.append(words(40, up.at(tick) + 4, f"{tick:g}", "end"))
    for number, (name, group) in enumerate(named):
        middle = 46 + (number + 0.5) * slot
        parts.append(words(middle, height - 8, name, "middle"))
        if group.low_wh is None or group.mid_wh is None or group.high_wh is None:
            continue
        high, low = up.at(group.high_wh), up.at(group.low_wh)
        parts.append(box("used", (middle - bar / 2, high), (bar, max(low - high, 1.0))))
        ends = [(middle - bar / 2, up.at(group.mid_wh)), (middle + bar / 2, up.at(group.mid_wh))]
        parts += [line("turn bed", *ends), line("turn", *ends)]
    return picture(kind, size, "Energy of a drive by month", parts)


def bars_svg(named: list[tuple[str, DriveGroup]], label: str, top_wh: float) -> str:
    """Return a bar for each group, from the 10th to the 90th percentile, with a line at the middle one."""
    named = named[:MOST_BARS]
    row, width = 22.0, 340.0
    left = 14 + 7.6 * max((len(_short(name)) for name, _ in named), default=0)
    foot = 8 + row * len(named)
    ticks = round_values(top_wh, 3)
    across = Span(low=0, high=ticks[-1], start=left, end=width - 24)
    parts = []
    for tick in ticks:
        parts.append(line("grid" if tick else "base", (across.at(tick), 4), (across.at(tick), foot)))
        parts.append(words(across.at(tick), foot + 15, f"{tick:g}", "middle"))
    for number, (name, group) in enumerate(named):
        middle = 4 + (number + 0.5) * row
        parts.append(words(left - 6, middle + 4, _short(name), "end"))
        if group.low_wh is None or group.mid_wh is None or group.high_wh is None:
            continue
        low, high = across.at(group.low_wh), across.at(group.high_wh)
        parts.append(box("used", (low, middle - 7), (max(high - low, 1.0), 14)))
        ends = [(across.at(group.mid_wh), middle - 7), (across.at(group.mid_wh), middle + 7)]
        parts += [line("turn bed", *ends), line("turn", *ends)]
    parts.append(words((left + width) / 2, foot + 31, "Wh", "middle"))
    return picture("spread-bars", (width, foot + 36), label, parts)


def _by_name(groups: tuple[DriveGroup, ...]) -> list[tuple[str, DriveGroup]]:
    """Return groups by their names, those that bring most first where there are more than have room."""
    if len(groups) > MOST_BARS:
        groups = tuple(sorted(groups, key=lambda group: -(group.mid_wh or 0.0)))
    return [(group.label[0], group) for group in groups]


def _caption(what: str, count: int) -> str:
    return f"By {what}" if count <= MOST_BARS else f"By {what}: {MOST_BARS} of {count:,}, those that bring most"


def _short(name: str) -> str:
    plain = printable(name)
    return plain if len(plain) <= _LONGEST_NAME else f"{plain[: _LONGEST_NAME - 1]}…"


def _all_groups(summary: StudySummary) -> tuple[DriveGroup, ...]:
    return (*summary.months, *summary.hours, *summary.routes, *summary.rigs, *summary.skies)
