"""The drive as a still map in SVG: what a page shows without JavaScript and on paper."""

from base64 import b64encode
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from routesolar.report.colours import NOTHING, POWER, classes
from routesolar.report.plane import (
    Bounds,
    leg_middles,
    lines,
    mercator,
    picture_bounds,
    scale_bar,
    slenderness,
    widened,
)
from routesolar.report.plane import latitude as latitude_of
from routesolar.report.png import canopy_png
from routesolar.report.ticks import degree_ticks
from routesolar.report.units import Units
from routesolar.trip.arrays import FloatArray
from routesolar.trip.harvest_report import HarvestReport

_WIDTH = 960
_LOWEST, _TALLEST = 380, 760
_TREES = (110, 143, 104)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """From the plane's degrees to the picture's units, y down."""

    bounds: Bounds
    height: int

    def place(self, points: FloatArray) -> FloatArray:
        """Return points (..., 2) in the picture."""
        west, south, east, north = self.bounds
        x = (points[..., 0] - west) / (east - west) * _WIDTH
        y = (north - points[..., 1]) / (north - south) * self.height
        return np.stack([x, y], axis=-1)


def map_svg(report: HarvestReport, units: Units) -> str:
    """Return the still map as an SVG element; its colours other than the classes' are left to CSS."""
    tight = lines(report.harvest.segments).bounds(0.06)
    height = round(min(max(_WIDTH * slenderness(tight), _LOWEST), _TALLEST))
    frame = Frame(bounds=widened(tight, _WIDTH / height), height=height)
    parts = [
        f'<svg class="sheet" viewBox="0 0 {_WIDTH} {height}" role="img" '
        'aria-label="Map of the drive, coloured by expected watts">',
        f'<rect class="ground" width="{_WIDTH}" height="{height}"/>',
        *_trees(report, frame),
        *_graticule(frame),
        *_road(report, frame),
        *_numbers(report, frame),
        *_furniture(frame, units),
        "</svg>",
    ]
    return "".join(parts)


def _trees(report: HarvestReport, frame: Frame) -> Iterable[str]:
    picture = report.canopy_picture
    if picture is None:
        return
    west, south, east, north = picture_bounds(picture, (frame.bounds[0] + frame.bounds[2]) / 2)
    (left, top), (right, bottom) = frame.place(np.array([[west, north], [east, south]])).tolist()
    data = b64encode(canopy_png(picture, _TREES)).decode()
    yield (
        f'<image x="{left:.2f}" y="{top:.2f}" width="{right - left:.2f}" height="{bottom - top:.2f}" '
        f'preserveAspectRatio="none" href="data:image/png;base64,{data}"/>'
    )


def _graticule(frame: Frame) -> Iterable[str]:
    west, south, east, north = frame.bounds
    for place, label in degree_ticks(west, east, "EW"):
        x = frame.place(np.array([place, south]))[0]
        yield f'<path class="graticule" d="M{x:.1f} 0V{frame.height}"/>'
        if x < _WIDTH - 90:  # clear of the frame and the compass
            yield f'<text x="{x + 3:.1f}" y="3" dominant-baseline="hanging">{label}</text>'
    for place, label in degree_ticks(latitude_of(south), latitude_of(north), "NS"):
        y = frame.place(np.array([west, float(mercator(np.array(place)))]))[1]
        yield f'<path class="graticule" d="M0 {y:.1f}H{_WIDTH}"/><text x="3" y="{y - 3:.1f}">{label}</text>'


def _road(report: HarvestReport, frame: Frame) -> Iterable[str]:
    harvest = report.harvest
    moving = ~harvest.segments.stopped
    ends = frame.place(lines(harvest.segments).ends[moving])
    scale = classes(float(harvest.power_w.max(initial=0)), POWER)
    group = scale.of(harvest.power_w[moving])
    if not len(ends):
        return
    yield f'<path class="casing" d="{_path(ends)}"/>'
    for number in np.unique(group).tolist():
        colour = NOTHING if number < 0 else scale.colours[number]
        yield f'<path class="road" stroke="{colour}" d="{_path(ends[group == number])}"/>'


def _path(ends: FloatArray) -> str:
    """Return lines as one path to a tenth of a unit, joined where one begins at the other's end."""
    tenths = np.round(ends * 10).astype(int).tolist()
    written = [_moved(*tenths[0])]
    for (_, before), (start, end) in pairwise(tenths):
        if start != before:
            written.append(_moved(start, end))
        elif end != start:
            written.append(f"l{_pair(end[0] - start[0], end[1] - start[1])}")
    return "".join(written)


def _moved(start: list[int], end: list[int]) -> str:
    return f"M{_pair(*start)}l{_pair(end[0] - start[0], end[1] - start[1])}"


def _pair(x_tenths: int, y_tenths: int) -> str:
    return f"{x_tenths / 10:g} {y_tenths / 10:g}"


def _numbers(report: HarvestReport, frame: Frame) -> Iterable[str]:
    places = frame.place(lines(report.harvest.segments).middles)
    for leg, middle in zip(report.harvest.legs, leg_middles(report.harvest), strict=True):
        x, y = places[middle]
        shape = (
            f'<rect x="{x - 9:.1f}" y="{y - 9:.1f}" width="18" height="18"/>'
            if leg.kind == "stop"
            else f'<circle cx="{x:.1f}" cy="{y:.1f}" r="9.5"/>'
        )
        yield (
            f'<g class="number {"stop" if leg.kind == "stop" else "drive"}">{shape}'
            f'<text x="{x:.1f}" y="{y + 4:.1f}">{leg.leg}</text></g>'
        )


def _furniture(frame: Frame, units: Units) -> Iterable[str]:
    length, label = scale_bar(frame.bounds, units)
    width = length / (frame.bounds[2] - frame.bounds[0]) * _WIDTH
    bottom, right = frame.height - 18, _WIDTH - 24
    yield (
        f'<g class="scale"><path d="M20 {bottom - 6}V{bottom}H{20 + width:.1f}V{bottom - 6}"/>'
        f'<text x="{20 + width / 2:.1f}" y="{bottom - 5}">{label}</text></g>'
        f'<g class="north"><path d="M{right} 52V22m-5 8l5-10l5 10"/><text x="{right}" y="66">N</text></g>'
    )
