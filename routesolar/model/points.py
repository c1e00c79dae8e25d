"""Points on the road from which the trees along a drive are looked at: more on bends and on short drives."""

from typing import NamedTuple, Self

import numpy as np

from routesolar.model.road import RoadLine
from routesolar.physics.geodesy import wrap_longitude_deg
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.fitting import check_canopy_fits
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy

# A low sun shines along the opening for some 10 degrees of turn, and on a few metres of the way to a bend: so
# much of the road's turn, here and within 50 m, calls for a point more.
TURN_DEG = 4.0
AROUND_M, AROUND_DEG = 50.0, 6.0  # turns on a way as long as this
MOST_POINTS = 24  # on a segment: bounds the work on a track however jagged
# Woods of a raster change from cell to cell. What a drive sees is a sample of them, as good as it is large: two
# thousand points tell the energy in very patchy woods to 0.5 %. A long drive has as many anyway.
LEAST_SAMPLE, MOST_SAMPLED = 2000, 8  # on a drive, on a segment
# A house 10 m wide is passed in two such parts. More than 40 km among houses have so many as a sample.
BESIDE_HOUSES_M, MOST_BESIDE_HOUSES = 5.0, 8000


class Points(NamedTuple):
    """p points on the road, in the middles of equal parts of segments; `first` (n,) is each segment's first."""

    segment: IntArray
    first: IntArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    heading_deg: FloatArray

    def along(self, values: FloatArray) -> FloatArray:
        """Return values of segments, (., n), at the points, (., p)."""
        one_each = len(self.segment) == values.shape[-1] and bool(
            (self.segment == np.arange(len(self.segment))).all()
        )
        return values if one_each else values[..., self.segment]

    def mean(self, values: FloatArray) -> FloatArray:
        """Return means over segments, (., n, ...), of values at the points, (., p, ...)."""
        if len(self.first) == len(self.segment):
            return values
        count = np.diff(np.append(self.first, len(self.segment)))
        means: FloatArray = np.add.reduceat(values, self.first, axis=1)
        means /= count.reshape(-1, *[1] * (values.ndim - 2))
        return means

    def on(self, segments: slice) -> tuple[Self, slice]:
        """Return the points on some segments one after the other, and which of all points they are."""
        first = self.first[segments]
        end = self.first[segments.stop] if segments.stop < len(self.first) else len(self.segment)
        there = slice(int(first[0]), int(end))
        return type(self)(self.segment[there], first - first[0], *(values[there] for values in self[2:])), there

    def at(self, some: IntArray) -> Self:
        """Return some of the points, each by itself: means are its own values."""
        return type(self)(self.segment[some], np.arange(len(some)), *(values[some] for values in self[2:]))


def points_along(segments: Segments, canopy: Canopy, among: BoolArray | None = None) -> Points:
    """Return the points from which the trees along a drive are looked at: a segment's middle, or more.

    `among` (n,) tells on which segments buildings or single trees stand near.

    Raises:
        UsageError: the canopy is of other segments.
    """
    check_canopy_fits(segments, canopy)
    line = RoadLine.under(segments)
    count = _counts(segments, canopy, line, among)
    first = np.cumsum(count) - count
    segment = np.repeat(np.arange(segments.count), count)
    latitude, longitude, heading = (
        values[segment]
        for values in (segments.middle_latitude_deg, segments.middle_longitude_deg, segments.heading_deg)
    )
    fine = np.flatnonzero(count[segment] > 1)
    inside = segment[fine]
    share = (fine - first[inside] + 0.5) / count[inside]
    way_m = line.start_m[inside] + share * segments.length_m[inside]
    latitude[fine], longitude_deg = line.at(way_m)
    longitude[fine] = wrap_longitude_deg(longitude_deg)
    heading[fine] = line.heading_deg(way_m, inside, heading[fine])
    return Points(segment, first, latitude, longitude, heading)


def middles(segments: Segments) -> Points:
    """Return the middles of all segments: enough where nothing beside the road shades it."""
    segment = np.arange(segments.count)
    places = segments.middle_latitude_deg, segments.middle_longitude_deg, segments.heading_deg
    return Points(segment, segment, *places)


def _counts(segments: Segments, canopy: Canopy, line: RoadLine, among: BoolArray | None) -> IntArray:
    """Return how many points each segment needs, by how the road turns there and by what stands beside it."""
    moving = np.flatnonzero(~segments.stopped & (segments.length_m > 0))
    here, around = (line.turn_deg(segments, moving, around_m) for around_m in (0.0, AROUND_M))
    turns = np.maximum(here / TURN_DEG, around / AROUND_DEG * segments.length_m[moving] / AROUND_M)
    least = 1.0
    if canopy.placement is not None:
        least = min(LEAST_SAMPLE / max(len(moving), 1), MOST_SAMPLED)
    if among is not None:
        near_m = np.where(among, segments.length_m, 0.0)[moving]
        turns = np.maximum(turns, near_m / max(BESIDE_HOUSES_M, near_m.sum() / MOST_BESIDE_HOUSES))
    count = np.ones(segments.count, dtype=np.int64)
    count[moving] = np.clip(np.ceil(np.maximum(turns, least)), 1, MOST_POINTS)
    return count
