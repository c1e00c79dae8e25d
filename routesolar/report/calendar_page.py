"""page.html of a calendar: months and hours as a map of heat, laid out for wide and for narrow screens."""

import numpy as np

from routesolar.decisions.calendar import YearCalendar, calendar_grid
from routesolar.decisions.starts import clock as clock_of_day
from routesolar.report.colours import POWER, Classes, classes, is_dark
from routesolar.report.decision_page import chart_page_html
from routesolar.report.page_parts import key_rows
from routesolar.report.sun_times import dark_at
from routesolar.report.svg_parts import box, line, picture, words
from routesolar.trip.arrays import FloatArray
from routesolar.trip.decision_report import DecisionReport

MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()
_LETTER = 6.4  # width of a digit in the figures of cells
_LABEL = 38  # least room for an hour along an axis


def calendar_html(report: DecisionReport, result: YearCalendar) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing, without script."""
    scale = calendar_classes(result)
    charts = calendar_wide_svg(result, scale), calendar_narrow_svg(result, scale)
    signs = [("turn", "sunrise and sunset")] if result.drives else []
    return chart_page_html(report, charts, "calendar", key_rows(scale, result.value_words[1]), signs)


def calendar_classes(result: YearCalendar) -> Classes:
    """Return the classes of watt-hours, or of charge."""
    return classes(float(np.nanmax(result.value, initial=0.0)), POWER)


def calendar_wide_svg(result: YearCalendar, scale: Classes) -> str:
    """Return months down and hours of leaving across."""
    clock_s, grid = calendar_grid(result, result.value)
    left, top, width = 40, 8, 680
    cell = (width / len(clock_s), 27.0)
    parts = _cells(grid, result.best_cell, scale, (left, top), cell)
    for turns in _turns(result, clock_s):
        places = [(left + at * cell[0], top + month * cell[1]) for month, at in turns]
        steps = [(x, y + down) for x, y in places for down in (0.0, cell[1])]
        parts += [line("turn bed", *steps), line("turn", *steps)]
    parts += [words(left - 8, top + (row + 0.68) * cell[1], name, "end") for row, name in enumerate(MONTHS)]
    foot = top + 12 * cell[1]
    every = max(1, -(-_LABEL // int(cell[0])))
    parts += [
        words(left + (column + 0.5) * cell[0], foot + 17, clock_of_day(float(clock_s[column])), "middle")
        for column in range(0, len(clock_s), every)
    ]
    parts.append(words(left + width / 2, foot + 36, "leaving at", "middle"))
    return picture("chart-wide", (left + width + 4, foot + 42), _label(result), parts)


def calendar_narrow_svg(result: YearCalendar, scale: Classes) -> str:
    """Return months across and hours of leaving down."""
    clock_s, grid = calendar_grid(result, result.value)
    left, top, width = 44, 24, 314
    cell = (width / 12, 22.0 if len(clock_s) <= 24 else 16.0)
    parts = _cells(grid.T, result.best_cell[::-1], scale, (left, top), cell)
    for turns in _turns(result, clock_s):
        places = [(left + month * cell[0], top + at * cell[1]) for month, at in turns]
        steps = [(x + across, y) for x, y in places for across in (0.0, cell[0])]
        parts += [line("turn bed", *steps), line("turn", *steps)]
    parts += [
        words(left + (month + 0.5) * cell[0], top - 8, name, "middle") for month, name in enumerate(MONTHS)
    ]
    parts += [
        words(left - 6, top + (row + 0.5) * cell[1] + 4.5, clock_of_day(float(seconds)), "end")
        for row, seconds in enumerate(clock_s)
    ]
    return picture("chart-narrow", (360, top + len(clock_s) * cell[1] + 4), _label(result), parts)


def _cells(
    grid: FloatArray,
    best: tuple[int, int],
    scale: Classes,
    corner: tuple[float, float],
    cell: tuple[float, float],
) -> list[str]:
    """Return a grid of cells with their values where there is room; the best is framed."""
    group = scale.of(grid)
    parts = []
    for row, column in np.argwhere(np.isfinite(grid)).tolist():
        x, y = corner[0] + column * cell[0], corner[1] + row * cell[1]
        number, value = int(group[row, column]), float(grid[row, column])
        if number < 0:
            parts.append(box("nothing", (x, y), cell))
            continue
        parts.append(box("value", (x, y), cell, scale.colours[number]))
        shown = f"{value:.0f}"
        if value >= 0.5 and len(shown) * _LETTER < cell[0]:
            ink = "on-dark" if is_dark(scale.colours[number]) else "on-light"
            parts.append(words(x + cell[0] / 2, y + cell[1] / 2 + 4, shown, f"figure {ink}"))
    at = (corner[0] + best[1] * cell[0], corner[1] + best[0] * cell[1])
    return [*parts, box("frame bed", at, cell), box("frame", at, cell)]


def _turns(result: YearCalendar, clock_s: FloatArray) -> list[list[tuple[int, float]]]:
    """Return sunrise and sunset as pairs of a month from 0 and a place along the hours, in cells."""
    if not result.drives or len(clock_s) < 2:
        return []
    segments = result.drives[0].segments
    found: list[list[tuple[int, float]]] = [[], []]
    for month in range(12):
        leaves = result.departure_utc_s[result.month == month + 1]
        if not len(leaves):
            continue
        noon_s = float(leaves[0]) + (43_200 - float(result.clock_s[result.month == month + 1][0]))
        dark = dark_at(segments, noon_s - 43_200, noon_s + 43_200)
        ends = [one.to_utc_s for one in dark[:1]] + [one.from_utc_s for one in dark[-1:]]
        if len(dark) != 2:
            continue
        for kind, utc_s in enumerate(ends):
            at = (utc_s - noon_s + 43_200 - clock_s[0]) / (clock_s[1] - clock_s[0]) + 0.5
            if 0 <= at <= len(clock_s):
                found[kind].append((month, float(at)))
    return [turns for turns in found if turns]


def _label(result: YearCalendar) -> str:
    return f"{result.value_words[0]} by month and hour of leaving, {result.sky} sky"
