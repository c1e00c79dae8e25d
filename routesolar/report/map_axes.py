"""The map of a drive on matplotlib axes: ground, road, and what stands beside it."""

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.markers import MarkerStyle
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from routesolar.report.charts import FAINT, INK, OPEN, PAPER
from routesolar.report.colours import NOTHING, Classes, is_dark, rgba
from routesolar.report.map_signs import Surface, brought, signs_of
from routesolar.report.outlines_drawn import in_plane
from routesolar.report.plane import Bounds, Lines, latitude, lines, mercator, picture_bounds, scale_bar
from routesolar.report.png import UNKNOWN, hatched, relief_rgba
from routesolar.report.ticks import degree_ticks
from routesolar.report.units import Units
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import Ground, MapPicture, Outlines, Town
from routesolar.trip.harvest import Harvest
from routesolar.trip.harvest_report import HarvestReport

TREES = "#7d9a78"
_GROUND = "#f3efe4"
_WATER = "#d9e3e6"
_LETTERS_UNITS = 12  # of names beside the road, in the units of map_signs
_ARROW = Path([(-0.5, -0.7), (0.4, 0), (-0.5, 0.7)])


def draw_map(
    axes: Axes, report: HarvestReport, bounds: Bounds, scale: Classes, units: Units, letters_pt: float = 7.0
) -> None:
    """Draw a drive, its road in classes of watts; names beside it have letters of such a size."""
    harvest = report.harvest
    _outlines(axes, report.ground.outlines)
    _ground(axes, bounds, report.ground)
    _route(axes, harvest, lines(harvest.segments), scale)
    draw_signs(axes, harvest, scale, units, report.ground.outlines.towns, letters_pt)
    _furniture(axes, bounds, units, letters_pt)


def _ground(axes: Axes, bounds: Bounds, ground: Ground) -> None:
    west, south, east, north = bounds
    axes.set_facecolor(_GROUND)
    if ground.trees is not None:
        _beyond(axes, bounds, ground.trees)
        cover = np.clip(np.nan_to_num(ground.trees.values.astype(np.float64)), 0, 1)
        pixels = rgba(TREES, 0.75 * cover)
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


def _outlines(axes: Axes, outlines: Outlines) -> None:
    """Draw water, borders, coasts and large roads."""
    for waters in (outlines.water, outlines.ponds):
        rings = [in_plane(ring) for ring in waters]
        if rings:
            whole = Path.make_compound_path(*(Path(ring, closed=True) for ring in rings))
            axes.add_patch(PathPatch(whole, fc=_WATER, lw=0, zorder=0.5))
    roads = [in_plane(line) for line in outlines.roads]
    axes.add_collection(LineCollection(roads, colors=FAINT, linewidths=1.0, zorder=1.4))
    coasts = [in_plane(line) for line in outlines.coasts]
    axes.add_collection(LineCollection(coasts, colors=OPEN, linewidths=0.8, zorder=1.3))
    lines = [in_plane(line) for line in outlines.borders]
    axes.add_collection(LineCollection(lines, colors=OPEN, linewidths=0.8, linestyles="-.", zorder=1.5))


def draw_signs(
    axes: Axes,
    harvest: Harvest,
    scale: Classes,
    units: Units,
    towns: Sequence[Town] = (),
    letters_pt: float = 7.0,
) -> None:
    """Draw what stands beside the road, laid out in units that make letters as large as on other still maps."""
    box = axes.get_window_extent()
    larger = letters_pt / 7
    units_per_pixel = 72 / axes.figure.dpi * _LETTERS_UNITS / letters_pt
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
        axes.plot(
            *at(x, y),
            marker=marker,
            ms=6 * larger,
            mew=1.3 * larger,
            mfc="none",
            mec=INK,
            zorder=5,
            path_effects=halo,
        )
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
            *at(x, y), words, fontsize=letters_pt, ha="center", va="center", weight=weight, color=colour,
            zorder=7, path_effects=halo,
        )  # fmt: skip
    for badge in signs.badges:
        filled = PAPER if not badge.is_stop else NOTHING if badge.group < 0 else scale.colours[badge.group]
        axes.text(
            *at(*badge.at),
            badge.label,
            color="#fff" if is_dark(filled) else "#000",
            fontsize=letters_pt,
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


def _furniture(axes: Axes, bounds: Bounds, units: Units, letters_pt: float) -> None:
    west, south, east, north = bounds
    across = degree_ticks(west, east, "EW")
    up = degree_ticks(latitude(south), latitude(north), "NS")
    axes.set_xticks([place for place, _ in across], [label for _, label in across])
    axes.set_yticks(
        mercator(np.array([place for place, _ in up])), [label for _, label in up], rotation=90, va="center"
    )
    axes.grid(color=FAINT, linewidth=0.35, alpha=0.6, zorder=2)
    axes.tick_params(length=2.5, labelsize=letters_pt - 0.5, colors=INK)
    length, label = scale_bar(bounds, units)
    left, low = west + 0.03 * (east - west), south + 0.04 * (north - south)
    thick = 0.012 * (north - south)
    for part, colour in enumerate((INK, PAPER)):
        corner = (left + part * length / 2, low)
        axes.add_patch(Rectangle(corner, length / 2, thick, facecolor=colour, edgecolor=INK, lw=0.7, zorder=7))
    axes.text(left + length, low + 1.6 * thick, label, fontsize=letters_pt, ha="right", va="bottom", zorder=7)
    tip = (west + 0.96 * (east - west), north - 0.03 * (north - south))
    axes.annotate(
        "N",
        xy=tip,
        xytext=(0, -30),
        textcoords="offset points",
        arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 1.2},
        ha="center",
        fontsize=letters_pt + 1,
        zorder=7,
    )
