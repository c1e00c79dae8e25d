"""card.png: one drive as a tall picture for a phone, which tells where, when, with what and how sure."""

import textwrap
from typing import Any

from matplotlib.figure import Figure

from routesolar.report.basis_words import is_unknown, rig_words, sky_words, sure_words, surroundings_words
from routesolar.report.charts import INK, OPEN, PAPER, POWER_LINE
from routesolar.report.clock_words import clock, clock_after, clock_of, day, weekday
from routesolar.report.colours import NOTHING, POWER, Classes, classes
from routesolar.report.figures import figure_png, our_look
from routesolar.report.map_axes import draw_map
from routesolar.report.outlines_drawn import credits_of
from routesolar.report.plane import lines, widened
from routesolar.report.units import METRIC, Units, distance, duration, energy, percent
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable

_DPI = 240
_WIDTH, _HEIGHT = 4.5, 8.0  # inches: 1080 x 1920 pixels
_LEFT, _MAP_TOP, _MAP_HEIGHT = 0.22, 1.78, 3.0
_LETTERS_PT = 10.0  # a phone 390 pixels wide shows them 12 pixels high
_FACT_LEFT, _FACT_LETTERS = 1.12, 42


def card_png(report: HarvestReport, units: Units = METRIC) -> bytes:
    """Return the card as a PNG, the same bytes for the same report."""
    harvest = report.harvest
    scale = classes(float(harvest.power_w.max(initial=0.0)), POWER)
    width = _WIDTH - 2 * _LEFT
    bounds = widened(lines(harvest.segments).bounds(0.18), width / _MAP_HEIGHT)
    with our_look(_LETTERS_PT):
        figure = Figure(figsize=(_WIDTH, _HEIGHT), dpi=_DPI, facecolor=PAPER)
        _answer(figure, report)
        bottom = _HEIGHT - _MAP_TOP - _MAP_HEIGHT
        frame = (_LEFT / _WIDTH, bottom / _HEIGHT, width / _WIDTH, _MAP_HEIGHT / _HEIGHT)
        chart = figure.add_axes(frame)
        draw_map(chart, report, bounds, scale, units, letters_pt=9.5)
        chart.set_xticks([])
        chart.set_yticks([])
        _key(figure, scale)
        _facts(figure, facts(report, units))
        foot = " ".join(filter(None, (f"{printable(report.software)}.", credits_of(report.ground))))
        _write(
            figure,
            _LEFT,
            _HEIGHT - 0.12,
            "\n".join(textwrap.wrap(foot, 74)),
            fontsize=7,
            color=OPEN,
            va="bottom",
        )
        return figure_png(figure, [*scale.colours, NOTHING])


def facts(report: HarvestReport, units: Units) -> list[tuple[str, str]]:
    """Return what the answer rests on, a subject and its words each; what is not known comes first."""
    harvest, basis = report.harvest, report.basis
    segments = harvest.segments
    start_s, end_s, zone = (
        float(segments.departure_utc_s[0]),
        float(segments.arrival_utc_s[0]),
        segments.time_zone,
    )
    around = ("Around", surroundings_words(basis))
    told = [
        ("When", f"{weekday(start_s, zone)} {day(start_s, zone)}, {clock(start_s, zone)} to "
                 f"{clock_after(start_s, end_s, zone)} ({zone})"),
        ("Way", f"{distance(harvest.totals.distance_km, units)} in {duration(end_s - start_s)}"),
        ("Panel", rig_words(report.basis.rig)),
        ("Sky", sky_words(basis)),
        ("How sure", sure_words(basis)),
    ]  # fmt: skip
    if harvest.charge is not None and harvest.totals.soc_end_frac is not None:
        low = percent(harvest.charge.lowest_soc_frac)
        told.append(("Battery", f"{percent(harvest.totals.soc_end_frac)} at the end, lowest {low}"))
    return [around, *told] if is_unknown(basis) else [*told, around]


def _answer(figure: Figure, report: HarvestReport) -> None:
    totals = report.harvest.totals
    title = printable(report.title) or "Unnamed route"
    _write(figure, _LEFT, 0.2, "\n".join(_rows(title, 46)), fontsize=11, fontweight="bold", color=OPEN)
    _write(figure, _LEFT, 0.62, energy(totals.energy_wh), fontsize=34, fontweight="bold", color=POWER_LINE)
    expected = "expected from the roof" + ("" if report.harvest.charge is None else ", before the battery")
    _write(figure, _LEFT, 1.2, expected, fontsize=11)
    low, high = totals.energy_low_wh, totals.energy_high_wh
    if low is not None and high is not None:
        sure = f"eight {clock_of(report.harvest).case}s in ten {energy(low)} to {energy(high)}"
        _write(figure, _LEFT, 1.43, sure, fontsize=11, fontweight="bold")


def _key(figure: Figure, scale: Classes) -> None:
    """Draw the classes of watts as one bar with their limits."""
    top, width = _MAP_TOP + _MAP_HEIGHT + 0.1, (_WIDTH - 2 * _LEFT - 1.0) / len(scale.colours)
    axes = figure.add_axes((0, 0, 1, 1), zorder=-1)
    axes.set_axis_off()
    axes.set_xlim(0, _WIDTH)
    axes.set_ylim(_HEIGHT, 0)
    for number, colour in enumerate(scale.colours):
        left = _LEFT + number * width
        axes.barh(top + 0.07, width, left=left, height=0.14, color=colour, edgecolor=INK, linewidth=0.5)
        axes.text(left, top + 0.3, f"{scale.step * number:g}", ha="center", fontsize=9)
    axes.text(
        _LEFT + len(scale.colours) * width,
        top + 0.3,
        f"{scale.step * len(scale.colours):g} W",
        ha="center",
        fontsize=9,
    )


def _facts(figure: Figure, told: list[tuple[str, str]]) -> None:
    top = _MAP_TOP + _MAP_HEIGHT + 0.58
    for subject, words in told:
        rows = _rows(words, _FACT_LETTERS)
        _write(figure, _LEFT, top, subject, color=OPEN)
        _write(figure, _FACT_LEFT, top, "\n".join(rows))
        top += 0.165 * len(rows) + 0.06


def _rows(words: str, letters: int) -> list[str]:
    """Return words in two rows at most."""
    return textwrap.wrap(words, letters, max_lines=2, placeholder="…") or [""]


def _write(figure: Figure, left: float, top: float, words: str, **look: Any) -> None:
    figure.text(left / _WIDTH, 1 - top / _HEIGHT, words, **{"va": "top", "linespacing": 1.15, **look})
