"""Parts of a still map in SVG, to be put together: the sheet, trees, roads, numbers."""

import math
from base64 import b64encode
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from markupsafe import escape

from routesolar.report.colours import NOTHING, Classes, is_dark
from routesolar.report.label_room import Place
from routesolar.report.map_signs import Signs
from routesolar.report.outlines_drawn import in_plane, line_paths
from routesolar.report.plane import Bounds, mercator, picture_bounds, scale_bar, slenderness, widened
from routesolar.report.plane import latitude as latitude_of
from routesolar.report.png import canopy_png, relief_png
from routesolar.report.ticks import degree_ticks
from routesolar.report.units import Units
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.ground import Ground, MapPicture, Outlines

# So small that letters are large enough on paper and on a phone, where a script may not run.
WIDTH = 450
_LOWEST, _TALLEST = 178, 270
_TREES = (110, 143, 104)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """From the plane's degrees to the picture's units, y down."""

    bounds: Bounds
    height: int

    def place(self, points: FloatArray) -> FloatArray:
        """Return points (..., 2) in the picture."""
        west, south, east, north = self.bounds
        x = (points[..., 0] - west) / (east - west) * WIDTH
        y = (north - points[..., 1]) / (north - south) * self.height
        return np.stack([x, y], axis=-1)


def frame_around(bounds: Bounds) -> Frame:
    """Return a frame that shows the bounds, grown where it would be too flat or too tall."""
    height = round(min(max(WIDTH * slenderness(bounds), _LOWEST), _TALLEST))
    return Frame(bounds=widened(bounds, WIDTH / height), height=height)


def sheet_svg(frame: Frame, label: str, ground: Ground, drawn: Iterable[str], units: Units) -> str:
    """Return a map as an SVG element: what is drawn, over trees, hills and degrees, with scale and compass.

    Colours other than those of classes are left to CSS.
    """
    parts = [
        f'<svg class="sheet" viewBox="0 0 {WIDTH} {frame.height}" role="img" aria-label="{label}">',
        f'<rect class="ground" width="{WIDTH}" height="{frame.height}"/>',
        *_outlines(ground.outlines, frame),
        *_ground(ground, frame),
        *_graticule(frame),
        *drawn,
        *_furniture(frame, units),
        "</svg>",
    ]
    return "".join(parts)


def road_svg(ends: FloatArray, group: IntArray, scale: Classes) -> Iterable[str]:
    """Yield lines (k, 2, 2) in the picture as a cased road, each line in its class."""
    if not len(ends):
        return
    yield f'<path class="casing" d="{path(ends)}"/>'
    for number in np.unique(group).tolist():
        colour = NOTHING if number < 0 else scale.colours[number]
        yield f'<path class="road" stroke="{colour}" d="{path(ends[group == number])}"/>'


def number_svg(place: Place, label: str, *, stop: bool, colour: str = "") -> str:
    """Return a leg's number at a place in the picture: in a coloured square for a stop, else in a circle."""
    x, y = place
    fill = f' fill="{colour}"' if colour else ""
    shape = (
        f'<rect{fill} x="{x - 11:.1f}" y="{y - 10:.1f}" width="22" height="20" rx="2"/>'
        if stop
        else f'<circle cx="{x:.1f}" cy="{y:.1f}" r="9.5"/>'
    )
    kind = "drive" if not stop else "stop on-dark" if colour and is_dark(colour) else "stop"
    return f'<g class="number {kind}">{shape}<text x="{x:.1f}" y="{y + 4:.1f}">{label}</text></g>'


def signs_svg(signs: Signs, scale: Classes) -> Iterable[str]:
    """Yield all that stands beside the road."""
    for (x, y), turn in signs.arrows:
        moved = f"translate({x:.1f} {y:.1f}) rotate({math.degrees(turn):.0f})"
        for kind in ("arrow bed", "arrow"):
            yield f'<path class="{kind}" transform="{moved}" d="M-3.5 -5L3 0L-3.5 5"/>'
    for (x, y), turn in signs.ticks:
        across, down = -6 * math.sin(turn), 6 * math.cos(turn)
        yield f'<path class="tick" d="M{x + across:.1f} {y + down:.1f}L{x - across:.1f} {y - down:.1f}"/>'
    for kind, (x, y) in signs.ends:
        yield f'<circle class="end-{kind}" cx="{x:.1f}" cy="{y:.1f}" r="5.5"/>'
    for badge in signs.badges:
        colour = "" if not badge.is_stop else NOTHING if badge.group < 0 else scale.colours[badge.group]
        yield number_svg(badge.at, badge.label, stop=badge.is_stop, colour=colour)
    for words, (x, y), kind in signs.written:
        yield f'<text class="map-label {kind}" x="{x:.1f}" y="{y + 4:.1f}">{escape(words)}</text>'
    for x, y in signs.dots:
        yield f'<circle class="town" cx="{x:.1f}" cy="{y:.1f}" r="2"/>'


def furniture_boxes(frame: Frame) -> list[tuple[float, float, float, float]]:
    """Return where scale and compass stand."""
    return [(8, frame.height - 40, 170, frame.height), (WIDTH - 40, 10, WIDTH, 76)]


def path(ends: FloatArray) -> str:
    """Return lines (k, 2, 2) as one path to a tenth of a unit, joined where one begins at the other's end."""
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


def _outlines(outlines: Outlines, frame: Frame) -> Iterable[str]:
    """Yield water, borders, coasts and large roads."""
    kinds = (
        ("water", outlines.water, "z"),
        ("water", outlines.ponds, "z"),
        ("border", outlines.borders, ""),
        ("coast", outlines.coasts, ""),
        ("main-road", outlines.roads, ""),
    )
    for kind, lines, end in kinds:
        drawn = line_paths((frame.place(in_plane(line)) for line in lines), end)
        if drawn:
            yield f'<path class="{kind}" d="{drawn}"/>'


def _ground(ground: Ground, frame: Frame) -> Iterable[str]:
    """Yield the trees and, over them, the shade of the hills, which leaves level ground as it is."""
    if ground.trees is not None:
        yield _beyond(ground.trees, frame)
        yield _image("trees", ground.trees, canopy_png(ground.trees, _TREES), frame)
    if ground.relief is not None:
        yield _image("relief", ground.relief, relief_png(ground.relief), frame)


def _beyond(picture: MapPicture, frame: Frame) -> str:
    """Return a hatched rim over all that lies beyond a picture: nothing is known there."""
    west, south, east, north = picture_bounds(picture, (frame.bounds[0] + frame.bounds[2]) / 2)
    (left, top), (right, bottom) = frame.place(np.array([[west, north], [east, south]])).tolist()
    hole = f"M{left:.1f} {top:.1f}V{bottom:.1f}H{right:.1f}V{top:.1f}Z"
    return (
        '<defs><pattern id="hatch" width="9" height="9" patternUnits="userSpaceOnUse">'
        '<path d="M-1 10L10 -1M-1 1L1 -1M8 10L10 8"/></pattern></defs>'
        f'<path class="not-known" d="M-9 -9H{WIDTH + 9}V{frame.height + 9}H-9Z{hole}" fill-rule="evenodd"/>'
    )


def _image(kind: str, picture: MapPicture, png: bytes, frame: Frame) -> str:
    west, south, east, north = picture_bounds(picture, (frame.bounds[0] + frame.bounds[2]) / 2)
    (left, top), (right, bottom) = frame.place(np.array([[west, north], [east, south]])).tolist()
    data = b64encode(png).decode()
    return (
        f'<image class="{kind}" x="{left:.2f}" y="{top:.2f}" width="{right - left:.2f}" '
        f'height="{bottom - top:.2f}" preserveAspectRatio="none" href="data:image/png;base64,{data}"/>'
    )


def _graticule(frame: Frame) -> Iterable[str]:
    west, south, east, north = frame.bounds
    for place, label in degree_ticks(west, east, "EW"):
        x = frame.place(np.array([place, south]))[0]
        yield f'<path class="graticule" d="M{x:.1f} 0V{frame.height}"/>'
        if 44 < x < WIDTH - 80:  # clear of the other degrees and the compass
            yield f'<text x="{x + 3:.1f}" y="3" dominant-baseline="hanging">{label}</text>'
    for place, label in degree_ticks(latitude_of(south), latitude_of(north), "NS"):
        y = frame.place(np.array([west, float(mercator(np.array(place)))]))[1]
        yield f'<path class="graticule" d="M0 {y:.1f}H{WIDTH}"/>'
        if 22 < y < frame.height - 44:  # and of the scale
            yield f'<text x="3" y="{y - 3:.1f}">{label}</text>'


def _furniture(frame: Frame, units: Units) -> Iterable[str]:
    length, label = scale_bar(frame.bounds, units)
    width = length / (frame.bounds[2] - frame.bounds[0]) * WIDTH
    bottom, right = frame.height - 18, WIDTH - 24
    yield (
        f'<g class="scale"><path d="M20 {bottom - 6}V{bottom}H{20 + width:.1f}V{bottom - 6}"/>'
        f'<text x="{20 + width / 2:.1f}" y="{bottom - 5}">{label}</text></g>'
        f'<g class="north"><path d="M{right} 52V22m-5 8l5-10l5 10"/><text x="{right}" y="66">N</text></g>'
    )
