"""A drive as a still map in SVG: what a page shows without JavaScript and on paper."""

from collections.abc import Iterable
from typing import NamedTuple

from routesolar.report.colours import POWER, Classes, classes
from routesolar.report.map_parts import (
    WIDTH,
    Frame,
    frame_around,
    furniture_boxes,
    road_svg,
    sheet_svg,
    signs_svg,
)
from routesolar.report.map_signs import Brought, Surface, brought, signs_of
from routesolar.report.pieces import Pieces, piece_ends, pieces_of
from routesolar.report.plane import lines
from routesolar.report.units import Units
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import Ground
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.segments import Segments

MARGIN = 0.06  # around the route, as a share of its larger side


class Painted(NamedTuple):
    """A drive in pieces with the watts of each (k,), their classes, and what the legs bring."""

    segments: Segments
    pieces: Pieces
    power_w: FloatArray
    scale: Classes
    brings: Brought


def map_svg(report: HarvestReport, units: Units) -> str:
    """Return the still map of a harvest as an SVG element."""
    harvest = report.harvest
    segments = harvest.segments
    every = pieces_of(segments, 2 * segments.count)
    scale = classes(float(harvest.power_w.max(initial=0)), POWER)
    brings = brought(segments, harvest.power_w)
    return painted_svg(Painted(segments, every, harvest.power_w, scale, brings), report.ground, units)


def painted_svg(painted: Painted, ground: Ground, units: Units) -> str:
    """Return the still map of a drive as an SVG element; colours other than the classes' are left to CSS."""
    frame = frame_around(lines(painted.segments).bounds(MARGIN))
    surface = Surface(WIDTH, frame.height, frame.place, furniture_boxes(frame))
    signs = signs_of(painted.segments, painted.brings, painted.scale, surface, units, ground.outlines.towns)
    label = "Map of the drive, coloured by expected watts"
    return sheet_svg(frame, label, ground, [*_road(painted, frame), *signs_svg(signs, painted.scale)], units)


def _road(painted: Painted, frame: Frame) -> Iterable[str]:
    moving = ~painted.segments.stopped[painted.pieces.first]
    ends = frame.place(piece_ends(painted.segments, painted.pieces)[moving])
    return road_svg(ends, painted.scale.of(painted.power_w[moving]), painted.scale)
