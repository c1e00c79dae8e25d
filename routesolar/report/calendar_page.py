"""page.html of a calendar: months and hours as a map of heat, laid out for wide and for narrow screens."""

import numpy as np

from routesolar.decisions.calendar import YearCalendar, calendar_grid
from routesolar.decisions.starts import clock as clock_of_day
from routesolar.report.colours import POWER, Classes, classes
from routesolar.report.decision_page import chart_page_html
from routesolar.report.page_parts import key_rows
from routesolar.report.svg_parts import box, picture, words
from routesolar.trip.arrays import FloatArray
from routesolar.trip.decision_report import DecisionReport

MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()
_LETTER = 6.4  # width of a digit in the figures of cells
_LABEL = 38  # least room for an hour along an axis


def calendar_html(report: DecisionReport, result: YearCalendar) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing, without script."""
    scale = calendar_classes(result)
    charts = calendar_wide_svg(result, scale), calendar_narrow_svg(result, scale)
    return chart_page_html(report, charts, "calendar", key_rows(scale, "Wh"))


def calendar_classes(result: YearCalendar) -> Classes:
    """Return the classes of watt-hours."""
    return classes(float(np.nanmax(result.energy_wh, initial=0.0)), POWER)


def calendar_wide_svg(result: YearCalendar, scale: Classes) -> str:
    """Return months down and hours of leaving across."""
    clock_s, grid = calendar_grid(result, result.energy_wh)
    left, top, width = 40, 8, 680
    cell = (width / len(clock_s), 27.0)
    parts = _cells(grid, scale, (left, top), cell)
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
    clock_s, grid = calendar_grid(result, result.energy_wh)
    left, top, width = 44, 24, 314
    cell = (width / 12, 22.0 if len(clock_s) <= 24 else 16.0)
    parts = _cells(grid.T, scale, (left, top), cell)
    parts += [
        words(left + (month + 0.5) * cell[0], top - 8, name, "middle") for month, name in enumerate(MONTHS)
    ]
    parts += [
        words(left - 6, top + (row + 0.5) * cell[1] + 4.5, clock_of_day(float(seconds)), "end")
        for row, seconds in enumerate(clock_s)
    ]
    return picture("chart-narrow", (360, top + len(clock_s) * cell[1] + 4), _label(result), parts)


def _cells(
    grid: FloatArray, scale: Classes, corner: tuple[float, float], cell: tuple[float, float]
) -> list[str]:
    """Return a grid of cells with their watt-hours where there is room; the highest is framed."""
    group = scale.of(grid)
    highest = np.unravel_index(np.nanargmax(grid), grid.shape)
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
            ink = "on-dark" if number < 0.55 * len(scale.colours) else "on-light"
            parts.append(words(x + cell[0] / 2, y + cell[1] / 2 + 4, shown, f"figure {ink}"))
    row, column = (int(part) for part in highest)
    best = (corner[0] + column * cell[0], corner[1] + row * cell[1])
    return [*parts, box("frame bed", best, cell), box("frame", best, cell)]


def _label(result: YearCalendar) -> str:
    return f"Energy by month and hour of leaving, {result.sky} sky"
