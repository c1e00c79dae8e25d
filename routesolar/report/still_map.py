"""A drive as a still map in SVG: what a page shows without JavaScript and on paper."""

from collections.abc import Iterable
from typing import NamedTuple

from routesolar.report.colours import POWER, Classes, classes
from routesolar.report.map_parts import Frame, frame_around, number_svg, road_svg, sheet_svg
from routesolar.report.pieces import Pieces, piece_ends, pieces_of
from routesolar.report.plane import leg_middles, lines
from routesolar.report.units import Units
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import Ground
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.segments import Segments

MARGIN = 0.06  # around the route, as a share of its larger side


class Painted(NamedTuple):
    """A drive in pieces with the watts of each, (k,), and the classes they are painted in."""

    segments: Segments
    pieces: Pieces
    power_w: FloatArray
    scale: Classes


def map_svg(report: HarvestReport, units: Units) -> str:
    """Return the still map of a harvest as an SVG element."""
    harvest = report.harvest
    every = pieces_of(harvest.segments, 2 * harvest.segments.count)
    scale = classes(float(harvest.power_w.max(initial=0)), POWER)
    painted = Painted(harvest.segments, every, harvest.power_w, scale)
    return painted_svg(painted, report.ground, units)


def painted_svg(painted: Painted, ground: Ground, units: Units) -> str:
    """Return the still map of a drive as an SVG element; colours other than the classes' are left to CSS."""
    frame = frame_around(lines(painted.segments).bounds(MARGIN))
    label = "Map of the drive, coloured by expected watts"
    return sheet_svg(frame, label, ground, [*_road(painted, frame), *_numbers(painted, frame)], units)


def _road(painted: Painted, frame: Frame) -> Iterable[str]:
    moving = ~painted.segments.stopped[painted.pieces.first]
    ends = frame.place(piece_ends(painted.segments, painted.pieces)[moving])
    return road_svg(ends, painted.scale.of(painted.power_w[moving]), painted.scale)


def _numbers(painted: Painted, frame: Frame) -> Iterable[str]:
    segments = painted.segments
    places = frame.place(lines(segments).middles[leg_middles(segments)])
    for number, (leg, place) in enumerate(zip(segments.legs, places, strict=True), 1):
        yield number_svg(place, str(number), stop=leg.kind == "stop")
