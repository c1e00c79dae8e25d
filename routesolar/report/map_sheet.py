"""map.png: the drive as a map sheet, with its watts along the day beneath."""

import math
import textwrap
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from routesolar.report import text
from routesolar.report.charts import INK, OPEN, PAPER, draw_battery, draw_hours, draw_power
from routesolar.report.colours import NOTHING, POWER, Classes, classes
from routesolar.report.figures import figure_png, our_look
from routesolar.report.map_axes import TREES, draw_map
from routesolar.report.outlines_drawn import credits_of
from routesolar.report.plane import lines, slenderness, widened
from routesolar.report.units import METRIC, Units, energy
from routesolar.trip.ground import Ground
from routesolar.trip.harvest import Harvest
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable

_DPI = 150
_MOST_LEGS_LISTED = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The sheet's frame in inches: the map above, charts beneath, the key at the right."""

    map_height: float
    width: float = 10.5
    map_width: float = 6.9
    margin: float = 0.55
    heading: float = 1.25
    strip: float = 1.7
    battery: float = 0.0

    @property
    def height(self) -> float:
        """The whole sheet's height."""
        return self.heading + self.map_height + 0.55 + self.strip + self.battery + self.margin

    def axes(self, figure: Figure, left: float, top: float, size: tuple[float, float]) -> Axes:
        """Return axes of the given size whose upper left corner is there, in inches from the sheet's."""
        width, height = size
        bottom = self.height - top - height
        return figure.add_axes(
            (left / self.width, bottom / self.height, width / self.width, height / self.height)
        )


def map_png(report: HarvestReport, units: Units = METRIC) -> bytes:
    """Return the map sheet as a PNG, the same bytes for the same report."""
    harvest = report.harvest
    tight = lines(harvest.segments).bounds(0.07)
    map_width = Sheet(map_height=0).map_width
    sheet = Sheet(
        map_height=min(max(map_width * slenderness(tight), 3.4), 7.2),
        battery=0.0 if harvest.charge is None else 1.5,
    )
    bounds = widened(tight, sheet.map_width / sheet.map_height)
    scale = classes(float(harvest.power_w.max(initial=0.0)), POWER)
    with our_look(8):
        figure = Figure(figsize=(sheet.width, sheet.height), dpi=_DPI, facecolor=PAPER)
        _heading(figure, sheet, report, units)
        chart = sheet.axes(figure, sheet.margin, sheet.heading, (sheet.map_width, sheet.map_height))
        draw_map(chart, report, bounds, scale, units)
        _key(figure, sheet, report, scale)
        figure.text(
            sheet.margin / sheet.width, 0.09 / sheet.height, credits_of(report.ground), fontsize=7, color=OPEN
        )
        strip_top = sheet.heading + sheet.map_height + 0.55
        draw_power(sheet.axes(figure, sheet.margin, strip_top, (sheet.map_width, sheet.strip)), harvest)
        side = sheet.margin + sheet.map_width + 0.75
        draw_hours(sheet.axes(figure, side, strip_top, (sheet.width - side - 0.25, sheet.strip)), harvest)
        if sheet.battery:
            charge_top = strip_top + sheet.strip + 0.5
            charge = sheet.axes(figure, sheet.margin, charge_top, (sheet.map_width, sheet.battery - 0.5))
            draw_battery(charge, harvest)
        return figure_png(figure, [*scale.colours, NOTHING])


def _heading(figure: Figure, sheet: Sheet, report: HarvestReport, units: Units) -> None:
    left = sheet.margin / sheet.width
    answer = text.headline(report)
    size = min(14.0, 1000 / len(answer))
    figure.text(left, 1 - 0.38 / sheet.height, answer, fontsize=size, fontweight="bold")
    figure.text(left, 1 - 0.68 / sheet.height, _short(text.journey(report, units), 150), fontsize=8.5)
    lines = textwrap.wrap(printable(report.rests_on), 190)
    figure.text(left, 1 - 0.80 / sheet.height, "\n".join(lines), fontsize=7, color=OPEN, va="top")


def _key(figure: Figure, sheet: Sheet, report: HarvestReport, scale: Classes) -> None:
    left = sheet.margin + sheet.map_width + 0.3
    axes = sheet.axes(figure, left, sheet.heading, (sheet.width - left - 0.2, sheet.map_height))
    axes.set_axis_off()
    axes.set_xlim(0, sheet.width - left - 0.2)
    axes.set_ylim(sheet.map_height, 0)
    axes.text(0, 0.05, "Expected watts", fontweight="bold", va="top")
    y = 0.3
    rows = [(colour, _range(scale, number)) for number, colour in enumerate(scale.colours)][::-1]
    if np.any(scale.of(report.harvest.power_w) < 0):
        rows.append((NOTHING, "none"))
    for colour, label in rows:
        axes.add_patch(Rectangle((0, y), 0.32, 0.15, facecolor=colour, edgecolor=INK, linewidth=0.5))
        axes.text(0.42, y + 0.075, label, va="center_baseline", fontsize=7.5)
        y += 0.19
    _sign_key(axes, report.harvest, y + 0.06)
    y += 0.25
    if _ground_key(axes, report.ground, y + 0.06):
        y += 0.25 + (0.22 if report.ground.trees is not None else 0)
    _legs(axes, report.harvest, y + 0.2, sheet)


def _sign_key(axes: Axes, harvest: Harvest, y: float) -> None:
    """Draw the key of numbers in circles and, where there are stops, in squares."""
    axes.plot(0.16, y + 0.075, "o", ms=9, mfc=PAPER, mec=INK, mew=0.8)
    axes.text(0.42, y + 0.075, "driven leg", va="center_baseline", fontsize=7.5)
    if any(leg.kind == "stop" for leg in harvest.legs):
        axes.plot(1.36, y + 0.075, "s", ms=8.5, mfc=PAPER, mec=INK, mew=1.1)
        axes.text(1.56, y + 0.075, "stop, by its mean", va="center_baseline", fontsize=7.5)


def _ground_key(axes: Axes, ground: Ground, y: float) -> bool:
    """Draw the key of trees and hills in a row; return whether there is any."""
    left = 0.0
    if ground.trees is not None:
        axes.add_patch(Rectangle((left, y), 0.32, 0.15, facecolor=TREES, alpha=0.75, linewidth=0))
        axes.text(left + 0.42, y + 0.075, "trees (hatched: not known)", va="center_baseline", fontsize=7.5)
        y += 0.22
    if ground.relief is not None:
        for at, shading in ((left, (1, 1, 1, 0.6)), (left + 0.16, (0, 0, 0, 0.4))):
            axes.add_patch(Rectangle((at, y), 0.16, 0.15, facecolor=shading, linewidth=0))
        axes.text(left + 0.42, y + 0.075, "hills, lit from north-west", va="center_baseline", fontsize=7.5)
    return ground.trees is not None or ground.relief is not None


def _legs(axes: Axes, harvest: Harvest, y: float, sheet: Sheet) -> None:
    axes.text(0, y, "Legs", fontweight="bold", va="top")
    room = min(_MOST_LEGS_LISTED, math.floor((sheet.map_height - y - 0.3) / 0.2))
    listed = harvest.legs if len(harvest.legs) <= room else harvest.legs[: max(room - 1, 0)]
    right = axes.get_xlim()[1]
    for leg in listed:
        y += 0.2
        axes.text(0, y + 0.07, f"{leg.leg}  {_short(printable(leg.name), 27)}", va="top", fontsize=7.5)
        axes.text(right, y + 0.07, energy(leg.energy_wh), va="top", ha="right", fontsize=7.5)
    if len(listed) < len(harvest.legs):
        axes.text(0, y + 0.27, f"and {len(harvest.legs) - len(listed)} more", va="top", fontsize=7.5)


def _range(scale: Classes, number: int) -> str:
    return f"{scale.step * number:g} to {scale.step * (number + 1):g} W"


def _short(words: str, most: int) -> str:
    return words if len(words) <= most else f"{words[: most - 1].rstrip()}…"
