"""The road's own line under a drive: places and headings along it, and its straight pieces."""

from typing import NamedTuple, Self

import numpy as np

from routesolar.physics.geodesy import destination, metres_per_degree, wrap_longitude_deg
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.segments import Segments

HEADING_M = 20.0  # of line that tells a point's heading: shorter, and a receiver's noise turns the vehicle
LOOKS = 16  # at the heading, to tell a turn
CLEARING_M = 1.0  # of road that stands for a place: its opening is round
_APART_M = 1000.0  # put between runs of road, so that no window reaches from one into the next


class RoadPieces(NamedTuple):
    """The road's k straight pieces in degrees, and the segment each lies in; a stop's has no length."""

    segment: IntArray
    start_latitude_deg: FloatArray
    start_longitude_deg: FloatArray
    end_latitude_deg: FloatArray
    end_longitude_deg: FloatArray


class RoadLine(NamedTuple):
    """The road's corners by the way along it, which leaps where the road is not driven, and the runs' ends."""

    way_m: FloatArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray  # without a leap at the antimeridian
    start_m: FloatArray  # of each segment, (n,), and the ends of its run
    first_m: FloatArray
    last_m: FloatArray

    @classmethod
    def under(cls, segments: Segments) -> Self:
        """Return the line under a drive."""
        segment, share, latitude_deg, longitude_deg = _corners(segments)
        run = np.concatenate([[0], np.cumsum(~segments.driven_on[:-1])])
        start_m = segments.along_m + _APART_M * run
        way_m = start_m[segment] + share * segments.length_m[segment]
        bounds = np.flatnonzero(np.diff(run, prepend=-1, append=run[-1] + 1))
        end_m = start_m + segments.length_m
        longitude_deg = np.unwrap(longitude_deg, period=360.0)
        ends = start_m[bounds[run]], end_m[bounds[run + 1] - 1]
        return cls(way_m, latitude_deg, longitude_deg, start_m, *ends)

    def at(self, way_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return latitude and longitude in degrees."""
        return np.interp(way_m, self.way_m, self.latitude_deg), np.interp(way_m, self.way_m, self.longitude_deg)

    def heading_deg(self, way_m: FloatArray, segment: IntArray, otherwise_deg: FloatArray) -> FloatArray:
        """Return headings over 20 m of line; where its ends meet, another."""
        first_m, last_m = self.first_m[segment], self.last_m[segment]
        from_m = np.maximum(np.minimum(way_m - HEADING_M / 2, last_m - HEADING_M), first_m)
        start, end = self.at(from_m), self.at(np.minimum(from_m + HEADING_M, last_m))
        north, east = metres_per_degree(start[0])
        north_m, east_m = (end[0] - start[0]) * north, (end[1] - start[1]) * east
        heading = np.degrees(np.arctan2(east_m, north_m)) % 360.0
        return np.where(np.hypot(east_m, north_m) < 1.0, otherwise_deg, heading)

    def turn_deg(self, segments: Segments, rows: IntArray, around_m: float) -> FloatArray:
        """Return by how much the road turns along segments and so far around, left and right alike."""
        look = np.linspace(0.0, 1.0, LOOKS)[:, None]
        way_m = self.start_m[rows] - around_m + look * (segments.length_m[rows] + 2 * around_m)
        segment = np.broadcast_to(rows, way_m.shape)
        heading = self.heading_deg(way_m, segment, segments.heading_deg[segment])
        turn: FloatArray = np.abs(wrap_longitude_deg(np.diff(heading, axis=0))).sum(axis=0)
        return turn


def road_pieces(segments: Segments) -> RoadPieces:
    """Return the straight pieces of the road, cut where segments end, without stops that stand aside.

    Where nothing is driven, a metre of road; the opening around it is a clearing as wide as said.
    """
    segment, _, latitude_deg, longitude_deg = _corners(segments)
    within = (np.diff(segment) == 0) & ~stands_aside(segments)[segment[:-1]]
    start, end = (np.s_[:-1], np.s_[1:])
    pieces = RoadPieces(
        segment[start][within],
        latitude_deg[start][within],
        longitude_deg[start][within],
        latitude_deg[end][within],
        longitude_deg[end][within],
    )
    return pieces if segments.length_m.any() else _clearing(pieces, segments)


def stands_aside(segments: Segments) -> BoolArray:
    """Return which segments of a drive stand in a clearing with a width of its own, (n,), not on the road."""
    wide = [leg.clearing is not None and leg.clearing.road_width_m is not None for leg in segments.legs]
    aside: BoolArray = np.array(wide)[segments.leg] & bool(segments.length_m.any())
    return aside


def clearing_pieces(segments: Segments) -> RoadPieces:
    """Return a metre of road for each clearing beside it, along the vehicle, each by its first segment."""
    aside = np.flatnonzero(stands_aside(segments))
    segment = aside[np.diff(segments.leg[aside], prepend=-1) != 0]
    start = segments.latitude_deg[segment], segments.longitude_deg[segment]
    ends = [
        destination(float(north), float(east), float(segments.heading_deg[row]), np.array([CLEARING_M]))
        for row, north, east in zip(segment, *start, strict=True)
    ]
    end_deg = np.array(ends).reshape(-1, 2).T
    return RoadPieces(segment, *start, end_deg[0], end_deg[1])


def _clearing(pieces: RoadPieces, segments: Segments) -> RoadPieces:
    """Return the pieces of a stay, the first of them a metre long, along the vehicle."""
    place = float(pieces.start_latitude_deg[0]), float(pieces.start_longitude_deg[0])
    end_deg = destination(*place, float(segments.heading_deg[0]), np.array([CLEARING_M]))
    ends = pieces.end_latitude_deg.copy(), pieces.end_longitude_deg.copy()
    for end, (moved,) in zip(ends, end_deg, strict=True):
        end[0] = moved
    return pieces._replace(end_latitude_deg=ends[0], end_longitude_deg=ends[1])


def metres_from_middle(
    segments: Segments, segment: IntArray, latitude_deg: FloatArray, longitude_deg: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return metres east and north of the middle of the segment that each place lies in."""
    north, east = metres_per_degree(segments.middle_latitude_deg[segment])
    apart_deg = wrap_longitude_deg(longitude_deg - segments.middle_longitude_deg[segment])
    return apart_deg * east, (latitude_deg - segments.middle_latitude_deg[segment]) * north


def _corners(segments: Segments) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    """Return the road's corners in order and both ends of each segment: segment, share of it, degrees."""
    bends, every = segments.bends, np.arange(segments.count)
    segment = np.concatenate([every, bends.segment, every])
    share = np.concatenate([np.zeros(segments.count), bends.share, np.ones(segments.count)])
    latitude_deg = np.concatenate([segments.latitude_deg, bends.latitude_deg, segments.end_latitude_deg])
    longitude_deg = np.concatenate([segments.longitude_deg, bends.longitude_deg, segments.end_longitude_deg])
    order = np.lexsort((share, segment))
    return segment[order], share[order], latitude_deg[order], longitude_deg[order]
