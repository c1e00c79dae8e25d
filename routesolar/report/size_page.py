"""page.html of panel sizes: what each brings and what is turned away, on a true axis of watts."""

import itertools

from markupsafe import escape

from routesolar.decisions.size import PanelSize, Sizing, charted
from routesolar.report.decision_page import chart_page_html
from routesolar.report.roof_drawn import roof_svgs
from routesolar.report.svg_parts import Span, box, line, picture, round_values, words
from routesolar.report.units import energy
from routesolar.report.words_sizes import charted_with
from routesolar.trip.decision_report import DecisionReport

_PARTS = (
    ("used", "into loads and battery", "used_wh"),
    ("cold", "battery too cold", "cold_wh"),
    ("full", "battery takes no more", "full_wh"),
    ("clipped", "over the controller’s limit", "clipped_wh"),
)


def size_html(report: DecisionReport, result: Sizing) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing, without script."""
    charts = size_svg(result, (720, 320), "chart-wide"), size_svg(result, (360, 300), "chart-narrow")
    return chart_page_html(report, charts, "size", [], signs=size_key(result), drawings=roof_svgs(result.fits))


def size_key(result: Sizing) -> list[tuple[str, str]]:
    """Return the parts that any size has, as pairs of a kind and words."""
    with_rest = charted_with(result)
    shown = [
        (kind, f"{label},{with_rest}" if with_rest and kind == "used" else label)
        for kind, label, name in _PARTS
        if max(getattr(size, name) for size in charted(result)) > 0
    ]
    if _loads(result):
        shown.append(("load-share", "loads the sun covers"))
    if result.knee is not None:
        shown.append(("knee", "little more beyond"))
    return shown


def size_svg(result: Sizing, size: tuple[int, int], kind: str) -> str:
    """Return the bars at their watts; the share of the loads has its own axis at the right."""
    width, height = size
    loads = _loads(result)
    across = _across(result, width - (48 if loads else 10))
    ticks = round_values(max(sum(getattr(one, name) for _, _, name in _PARTS) for one in charted(result)), 4)
    up = Span(low=0, high=ticks[-1], start=height - 44, end=26)
    right = width - (48 if loads else 10)
    parts = [words(40, 14, "Wh", "end")]
    for tick in ticks:
        parts += [line("grid" if tick else "base", (46, up.at(tick)), (right, up.at(tick)))]
        parts.append(words(40, up.at(tick) + 4, f"{tick:g}", "end"))
    bar = _bar_width(result, across)
    for one in charted(result):
        level = 0.0
        for name, _, field in _PARTS:
            wh = getattr(one, field)
            corner = (across.at(one.rated_w) - bar / 2, up.at(level + wh))
            parts.append(box(name, corner, (bar, up.at(level) - up.at(level + wh))))
            level += wh
    parts += _watts(result, across, height - 26)
    if result.knee is not None:
        x = across.at(_beyond(result))
        parts.append(line("knee", (x, 22), (x, height - 44)))
    if loads:
        share = Span(low=0, high=1, start=height - 44, end=40)
        places = [(across.at(one.rated_w), share.at(one.load_share_frac or 0)) for one in loads]
        parts.append(line("load-share", *places))
        parts += [f'<circle class="load-share" cx="{x:.1f}" cy="{y:.1f}" r="4"/>' for x, y in places]
        parts += [words(width - 2, share.at(part) + 4, f"{100 * part:.0f} %", "end") for part in (0, 0.5, 1)]
    largest = charted(result)[-1]
    label = f"Energy by panel size, up to {energy(largest.used_wh)} with {largest.rated_w:g} W"
    return picture(kind, size, str(escape(label)), parts)


def _across(result: Sizing, end: float) -> Span:
    """Return the axis of watts, from zero."""
    highest = charted(result)[-1].rated_w
    return Span(low=0, high=highest * (1.12 if len(charted(result)) > 1 else 2), start=46, end=end)


def _bar_width(result: Sizing, across: Span) -> float:
    """Return bars no wider than the least step between sizes leaves room for."""
    at = [across.at(one.rated_w) for one in charted(result)]
    steps = [after - before for before, after in itertools.pairwise(at)]
    return max(2.0, min([0.7 * step for step in steps] + [36.0, 1.6 * (at[0] - 46)]))


def _watts(result: Sizing, across: Span, y: float) -> list[str]:
    """Return the sizes beneath their bars, those left out that have no room."""
    parts, taken = [], -1e9
    for one in charted(result):
        x, room = across.at(one.rated_w), 7.0 * len(f"{one.rated_w:g} W") / 2 + 3
        if x - room < taken:
            continue
        parts.append(words(x, y, f"{one.rated_w:g} W", "middle"))
        taken = x + room
    return parts


def _beyond(result: Sizing) -> float:
    """Return the watts halfway between the size beyond which little more comes and the next."""
    sizes = [one.rated_w for one in charted(result)]
    knee = result.knee.rated_w if result.knee is not None else sizes[-1]
    larger = [watts for watts in sizes if watts > knee]
    return (knee + (larger[0] if larger else knee)) / 2


def _loads(result: Sizing) -> list[PanelSize]:
    return [one for one in charted(result) if one.load_share_frac is not None]
