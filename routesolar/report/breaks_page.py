"""page.html of breaks: what the drive brings, by where along it the break is."""

from routesolar.decisions.breaks import Breaks
from routesolar.report.decision_page import chart_page_html
from routesolar.report.svg_parts import Span, box, line, picture, round_values, words
from routesolar.trip.decision_report import DecisionReport

_SIGNS = [("clipped", "while driving and at other stops"), ("used", "in breaks")]


def breaks_html(report: DecisionReport, result: Breaks) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing, without script."""
    charts = breaks_svg(result, (720, 320), "chart-wide"), breaks_svg(result, (360, 300), "chart-narrow")
    return chart_page_html(report, charts, "size", [], signs=_SIGNS)


def breaks_svg(result: Breaks, size: tuple[int, int], kind: str) -> str:
    """Return a bar at each place, by kilometres: what the break brings, and on it the rest of the drive."""
    width, height = size
    order = result.at_places
    last_km = order[-1][0].along_m / 1000
    ticks = round_values(max(pausing.energy_wh for pausing in result.ranked), 4)
    up = Span(low=0, high=ticks[-1], start=height - 44, end=26)
    across = Span(low=0, high=last_km, start=60, end=width - 24)
    bar = max(2.0, min(18.0, 0.6 * (width - 84) / max(len(order), 1)))
    parts = [words(40, 14, "Wh", "end")]
    for tick in ticks:
        parts += [line("grid" if tick else "base", (46, up.at(tick)), (width - 10, up.at(tick)))]
        parts.append(words(40, up.at(tick) + 4, f"{tick:g}", "end"))
    for one, pausing in order:
        level, left = up.at(pausing.break_wh), across.at(one.along_m / 1000) - bar / 2
        parts.append(box("used", (left, level), (bar, up.at(0) - level)))
        parts.append(box("clipped", (left, up.at(pausing.energy_wh)), (bar, level - up.at(pausing.energy_wh))))
    for tick in round_values(last_km, 4):
        if tick <= last_km:
            parts.append(words(across.at(tick), height - 26, f"{tick:g}", "middle"))
    parts.append(words(width / 2, height - 8, "km along the drive", "middle"))
    return picture(kind, size, "Energy of the drive by the place of the break", parts)
