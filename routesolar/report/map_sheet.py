"""map.png: the drive as a map sheet, with its watts along the day beneath."""

import math
import textwrap
import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.markers import MarkerStyle
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from routesolar.report import text
from routesolar.report.charts import FAINT, INK, OPEN, PAPER, draw_hours, draw_power
from routesolar.report.colours import NOTHING, POWER, Classes, classes, is_dark, rgba
from routesolar.report.figures import figure_png
from routesolar.report.map_signs import Surface, brought, signs_of
from routesolar.report.outlines_drawn import credits_of, in_plane
from routesolar.report.plane import (
    Bounds,
    Lines,
    latitude,
    lines,
    mercator,
    picture_bounds,
    scale_bar,
    slenderness,
    widened,
)
from routesolar.report.png import UNKNOWN, hatched, relief_rgba
from routesolar.report.ticks import degree_ticks
from routesolar.report.units import METRIC, Units, energy
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import Ground, MapPicture, Outlines, Town
from routesolar.trip.harvest import Harvest
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable

_TREES = "#7d9a78"
_GROUND = "#f3efe4"
_WATER = "#d9e3e6"
_DPI = 150
_LETTERS_PT, _LETTERS_UNITS = 7, 12  # of names beside the road: here, and in the units of map_signs
_MOST_LEGS_LISTED = 14
_ARROW = Path([(-0.5, -0.7), (0.4, 0), (-0.5, 0.7)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The sheet's frame in inches: the map above, charts beneath, the key at the right."""

    map_height: float
    width: float = 10.5
    map_width: float = 6.9
    margin: float = 0.55
    heading: float = 1.25
    strip: float = 1.7

    @property
    def height(self) -> float:
        """The whole sheet's height."""
        return self.heading + self.map_height + 0.55 + self.strip + self.margin

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
    plane = lines(harvest.segments)
    tight = plane.bounds(0.07)
    map_width = Sheet(map_height=0).map_width
    sheet = Sheet(map_height=min(max(map_width * slenderness(tight), 3.4), 7.2))
    bounds = widened(tight, sheet.map_width / sheet.map_height)
    scale = classes(float(harvest.power_w.max(initial=0.0)), POWER)
    # Our own look whatever style the machine has; names may use letters that no installed font has.
    with mpl.rc_context(), warnings.catch_warnings():
        mpl.rcdefaults()
        mpl.rcParams.update(
            {"font.size": 8, "axes.linewidth": 0.7, "text.color": INK, "text.parse_math": False}
        )
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        figure = Figure(figsize=(sheet.width, sheet.height), dpi=_DPI, facecolor=PAPER)
        _heading(figure, sheet, report, units)
        chart = sheet.axes(figure, sheet.margin, sheet.heading, (sheet.map_width, sheet.map_height))
        draw_outlines(chart, report.ground.outlines)
        _ground(chart, bounds, report.ground)
        _route(chart, harvest, plane, scale)
        _signs(chart, harvest, scale, units, report.ground.outlines.towns)
        _furniture(chart, bounds, units)
        _key(figure, sheet, report, scale)
        figure.text(
            sheet.margin / sheet.width, 0.09 / sheet.height, credits_of(report.ground), fontsize=6.5, color=OPEN
        )
        strip_top = sheet.heading + sheet.map_height + 0.55
        draw_power(sheet.axes(figure, sheet.margin, strip_top, (sheet.map_width, sheet.strip)), harvest)
        side = sheet.margin + sheet.map_width + 0.75
        draw_hours(sheet.axes(figure, side, strip_top, (sheet.width - side - 0.25, sheet.strip)), harvest)
        return figure_png(figure, [*scale.colours, NOTHING])


def _heading(figure: Figure, sheet: Sheet, report: HarvestReport, units: Units) -> None:
    left = sheet.margin / sheet.width
    answer = text.headline(report)
    size = min(14.0, 1000 / len(answer))
    figure.text(left, 1 - 0.38 / sheet.height, answer, fontsize=size, fontweight="bold")
    figure.text(left, 1 - 0.68 / sheet.height, _short(text.journey(report, units), 150), fontsize=8.5)
    lines = textwrap.wrap(printable(report.rests_on), 190)
    figure.text(left, 1 - 0.80 / sheet.height, "\n".join(lines), fontsize=7, color=OPEN, va="top")


def _ground(axes: Axes, bounds: Bounds, ground: Ground) -> None:
    west, south, east, north = bounds
    axes.set_facecolor(_GROUND)
    if ground.trees is not None:
        _beyond(axes, bounds, ground.trees)
        cover = np.clip(np.nan_to_num(ground.trees.values.astype(np.float64)), 0, 1)
        pixels = rgba(_TREES, 0.75 * cover)
        pixels[hatched(ground.trees.values)] = UNKNOWN
        _image(axes, bounds, ground.trees, pixels)
    if ground.relief is not None:
        _image(axes, bounds, ground.relief, relief_rgba(ground.relief.values))
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)


def _beyond(axes: Axes, bounds: Bounds, picture: MapPicture) -> None:
    """Hatch all that lies beyond a picture: nothing is known there."""
    west, south, east, north = bounds
    whole = Rectangle((west, south), east - west, north - south, fc="none", ec="#c3bdae", hatch="////", lw=0)
    whole.set_zorder(0.3)
    left, low, right, top = picture_bounds(picture, (west + east) / 2)
    known = Rectangle((left, low), right - left, top - low, fc=_GROUND, ec=FAINT, lw=0.7, ls="--")
    known.set_zorder(0.4)
    for patch in (whole, known):
        axes.add_patch(patch)


def _image(axes: Axes, bounds: Bounds, picture: MapPicture, pixels: NDArray[np.uint8]) -> None:
    left, bottom, right, top = picture_bounds(picture, (bounds[0] + bounds[2]) / 2)
    axes.imshow(pixels, extent=(left, right, bottom, top), aspect="auto", zorder=1.2)


def _route(axes: Axes, harvest: Harvest, plane: Lines, scale: Classes) -> None:
    moving = ~harvest.segments.stopped
    groups = scale.of(harvest.power_w)[moving]
    ends = plane.ends[moving]
    axes.add_collection(LineCollection(list(ends), colors=INK, linewidths=4.6, capstyle="round", zorder=3))
    colours = np.array([*scale.colours, NOTHING])[groups]
    axes.add_collection(
        LineCollection(list(ends), colors=colours.tolist(), linewidths=3.0, capstyle="round", zorder=4)
    )


def draw_outlines(axes: Axes, outlines: Outlines) -> None:
    """Draw water and borders."""
    rings = [in_plane(ring) for ring in outlines.water]
    if rings:
        whole = Path.make_compound_path(*(Path(ring, closed=True) for ring in rings))
        axes.add_patch(PathPatch(whole, fc=_WATER, lw=0, zorder=0.5))
    lines = [in_plane(line) for line in outlines.borders]
    axes.add_collection(LineCollection(lines, colors=OPEN, linewidths=0.8, linestyles="-.", zorder=1.5))


def _signs(axes: Axes, harvest: Harvest, scale: Classes, units: Units, towns: Sequence[Town] = ()) -> None:
    """Draw what stands beside the road, laid out in units that make letters as large as on other still maps."""
    box = axes.get_window_extent()
    units_per_pixel = 72 / _DPI * _LETTERS_UNITS / _LETTERS_PT
    width, height = units_per_pixel * box.width, units_per_pixel * box.height
    (west, east), (south, north) = axes.get_xlim(), axes.get_ylim()

    def place(points: FloatArray) -> FloatArray:
        x = (points[..., 0] - west) / (east - west) * width
        return np.stack([x, (north - points[..., 1]) / (north - south) * height], axis=-1)

    taken = [(0.0, height - 68, 0.35 * width, height), (width - 58, 0.0, width, 75.0)]
    surface = Surface(width, height, place, taken)
    brings = brought(harvest.segments, harvest.power_w)
    signs = signs_of(harvest.segments, brings, scale, surface, units, towns)

    def at(x: float, y: float) -> tuple[float, float]:
        return west + x / width * (east - west), north - y / height * (north - south)

    halo = [withStroke(linewidth=2.2, foreground=_GROUND)]
    for (x, y), turn in signs.arrows:
        marker = MarkerStyle(_ARROW).rotated(rad=-turn)
        axes.plot(*at(x, y), marker=marker, ms=6, mew=1.3, mfc="none", mec=INK, zorder=5, path_effects=halo)
    for (x, y), turn in signs.ticks:
        over, down = 8 * math.sin(turn), 8 * math.cos(turn)
        ends = at(x - over, y + down), at(x + over, y - down)
        axes.plot(*zip(*ends, strict=True), "-", color=INK, lw=1)
    for kind, (x, y) in signs.ends:
        inside = INK if kind == "finish" else PAPER
        axes.plot(*at(x, y), "o", ms=6, mfc=inside, mec=PAPER if kind == "finish" else INK, mew=1.3, zorder=6)
    for x, y in signs.dots:
        axes.plot(*at(x, y), "o", ms=2.2, mfc=OPEN, mew=0, zorder=5)
    for words, (x, y), kind in signs.written:
        weight, colour = ("bold", INK) if kind == "name" else ("normal", OPEN)
        axes.text(
            *at(x, y), words, fontsize=_LETTERS_PT, ha="center", va="center", weight=weight, color=colour,
            zorder=7, path_effects=halo,
        )  # fmt: skip
    for badge in signs.badges:
        filled = PAPER if not badge.is_stop else NOTHING if badge.group < 0 else scale.colours[badge.group]
        axes.text(
            *at(*badge.at),
            badge.label,
            color=PAPER if badge.is_stop and is_dark(filled) else INK,
            fontsize=_LETTERS_PT,
            ha="center",
            va="center",
            bbox={
                "boxstyle": "square,pad=0.25" if badge.is_stop else "circle,pad=0.2",
                "facecolor": filled,
                "edgecolor": INK,
                "linewidth": 1.1 if badge.is_stop else 0.8,
            },
            zorder=8,
        )


def _furniture(axes: Axes, bounds: Bounds, units: Units) -> None:
    west, south, east, north = bounds
    across = degree_ticks(west, east, "EW")
    up = degree_ticks(latitude(south), latitude(north), "NS")
    axes.set_xticks([place for place, _ in across], [label for _, label in across])
    axes.set_yticks(
        mercator(np.array([place for place, _ in up])), [label for _, label in up], rotation=90, va="center"
    )
    axes.grid(color=FAINT, linewidth=0.35, alpha=0.6, zorder=2)
    axes.tick_params(length=2.5, labelsize=6.5, colors=INK)
    length, label = scale_bar(bounds, units)
    left, low = west + 0.03 * (east - west), south + 0.04 * (north - south)
    thick = 0.012 * (north - south)
    for part, colour in enumerate((INK, PAPER)):
        corner = (left + part * length / 2, low)
        axes.add_patch(Rectangle(corner, length / 2, thick, facecolor=colour, edgecolor=INK, lw=0.7, zorder=7))
    axes.text(left + length, low + 1.6 * thick, label, fontsize=7, ha="right", va="bottom", zorder=7)
    tip = (west + 0.96 * (east - west), north - 0.03 * (north - south))
    axes.annotate(
        "N",
        xy=tip,
        xytext=(0, -30),
        textcoords="offset points",
        arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 1.2},
        ha="center",
        fontsize=8,
        zorder=7,
    )


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
        axes.add_patch(Rectangle((left, y), 0.32, 0.15, facecolor=_TREES, alpha=0.75, linewidth=0))
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
