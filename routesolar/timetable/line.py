"""The driven line: knots on the ground, and any place between them by the distance along it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

import numpy as np

from routesolar.physics.geodesy import destination, distance_m, heading_deg
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray

HEADING_M = 20.0  # shorter, and the receiver's noise turns the vehicle
SAME_PLACE_M = 0.01  # a mark this close to a knot needs no knot of its own


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """m knots joined by m - 1 links, each link a geodesic of WGS 84.

    `run` counts the stretches that are driven without a gap: the link between two runs is not driven and has
    no length along the line. The road is `stretch` times as long as the links: where points are few, it winds
    between them, and its true length can be known. `source` is the route point a knot stands for, or follows.
    `drive_s` is the driving time to the knot, without stops (NaN while unknown); `wait_s` the recorded stop at
    it.
    A place on the line is a fractional knot number: 3.25 is a quarter of the way from knot 3 to knot 4.
    """

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    elevation_m: FloatArray
    run: IntArray
    source: IntArray
    drive_s: FloatArray
    wait_s: FloatArray
    along_m: FloatArray
    link_heading_deg: FloatArray
    stretch: float = 1.0

    @classmethod
    def through(
        cls,
        latitude_deg: FloatArray,
        longitude_deg: FloatArray,
        *,
        elevation_m: FloatArray,
        run: IntArray,
        source: IntArray,
        drive_s: FloatArray,
        wait_s: FloatArray,
        stretch: float = 1.0,
    ) -> Self:
        """Return the line through the given knots, with its lengths and headings worked out."""
        ends = (latitude_deg[:-1], longitude_deg[:-1], latitude_deg[1:], longitude_deg[1:])
        link_m = np.where(np.diff(run) == 0, distance_m(*ends) * stretch, 0.0)
        return cls(
            latitude_deg=latitude_deg,
            longitude_deg=longitude_deg,
            elevation_m=elevation_m,
            run=run,
            source=source,
            drive_s=drive_s,
            wait_s=wait_s,
            along_m=np.concatenate([[0.0], np.cumsum(link_m)]),
            link_heading_deg=carried(heading_deg(*ends)),
            stretch=stretch,
        )

    @property
    def length_m(self) -> float:
        """Length of all that is driven, in metres."""
        return float(self.along_m[-1])

    @property
    def driven(self) -> BoolArray:
        """True for the links that are driven, (m - 1,)."""
        same_run: BoolArray = np.diff(self.run) == 0
        return same_run

    def as_long_as(self, length_m: float) -> Self:
        """Return the same line on the ground, along which the road is so long."""
        stretch = self.stretch * length_m / self.length_m
        return replace(self, stretch=stretch, along_m=self.along_m * (length_m / self.length_m))

    def at(self, values: FloatArray, place: FloatArray) -> FloatArray:
        """Return a quantity given at the knots, between them in proportion to the way."""
        return np.interp(place, np.arange(len(values)), values)

    def position(self, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return latitude and longitude in degrees at places on the line."""
        link = self.link(place)
        metres = (place - link) * (self.along_m[link + 1] - self.along_m[link]) / self.stretch
        start = self.latitude_deg[link], self.longitude_deg[link]
        latitude_deg, longitude_deg = destination(*start, self.link_heading_deg[link], metres)
        knot = np.rint(place).astype(np.int64)
        return (
            np.where(place == knot, self.latitude_deg[knot], latitude_deg),
            np.where(place == knot, self.longitude_deg[knot], longitude_deg),
        )

    def link(self, place: FloatArray) -> IntArray:
        """Return the number of the link each place lies on."""
        return np.clip(np.floor(place).astype(np.int64), 0, len(self.along_m) - 2)

    def place(self, along_m: FloatArray, run: IntArray) -> FloatArray:
        """Return the place at a distance along the line, kept within the run it must lie on."""
        along = np.asarray(along_m, dtype=np.float64)
        link = np.clip(np.searchsorted(self.along_m, along, side="right") - 1, 0, len(self.along_m) - 2)
        length = self.along_m[link + 1] - self.along_m[link]
        share = np.divide(along - self.along_m[link], length, out=np.zeros_like(along), where=length > 0)
        first = np.searchsorted(self.run, run, side="left")
        last = np.searchsorted(self.run, run, side="right") - 1
        place: FloatArray = np.clip(link + np.clip(share, 0.0, 1.0), first, last)
        return place

    def window(
        self, along_m: FloatArray, run: IntArray, width_m: float
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return places half a width before and after, moved inwards at a run's ends, and the way between."""
        first_m = self.along_m[np.searchsorted(self.run, run, side="left")]
        last_m = self.along_m[np.searchsorted(self.run, run, side="right") - 1]
        from_m = np.maximum(np.minimum(along_m - width_m / 2, last_m - width_m), first_m)
        to_m = np.minimum(from_m + width_m, last_m)
        return self.place(from_m, run), self.place(to_m, run), to_m - from_m

    def heading_deg(self, along_m: FloatArray, run: IntArray, link: IntArray) -> FloatArray:
        """Return headings over 20 m of line; where it turns back on itself, those of the links."""
        before, after, _ = self.window(along_m, run, HEADING_M)
        ends = (*self.position(before), *self.position(after))
        turned = distance_m(*ends) < 1.0
        return np.where(turned, self.link_heading_deg[link] % 360, heading_deg(*ends))

    def knot(self, along_m: float, run: int | None = None) -> int:
        """Return the first knot at or after a distance along the line, or along one run of it.

        At the very end of the line it is the last knot.
        """
        if run is not None:
            first, last = np.searchsorted(self.run, [run, run + 1]).tolist()
            inside = int(np.searchsorted(self.along_m[first:last], along_m - SAME_PLACE_M))
            return int(min(first + inside, last - 1))
        if along_m >= self.length_m - SAME_PLACE_M:
            return len(self.along_m) - 1
        return int(np.searchsorted(self.along_m, along_m - SAME_PLACE_M))

    def with_knots(self, along_m: Sequence[float] | FloatArray) -> Self:
        """Return the same line with a knot at each of these distances along it."""
        wanted = np.unique(np.clip(np.asarray(along_m, dtype=np.float64), 0.0, self.length_m))
        after = np.clip(np.searchsorted(self.along_m, wanted), 1, len(self.along_m) - 1)
        apart = np.minimum(np.abs(self.along_m[after] - wanted), np.abs(self.along_m[after - 1] - wanted))
        fresh = wanted[apart > SAME_PLACE_M]
        if not fresh.size:
            return self
        link = np.searchsorted(self.along_m, fresh) - 1  # strictly inside this link, so it is driven
        place = link + (fresh - self.along_m[link]) / (self.along_m[link + 1] - self.along_m[link])
        latitude_deg, longitude_deg = self.position(place)
        order = np.argsort(np.concatenate([np.arange(len(self.along_m)), place]), kind="stable")

        def merged(values: FloatArray, new: FloatArray) -> FloatArray:
            return np.concatenate([values, new])[order]

        return type(self).through(
            merged(self.latitude_deg, latitude_deg),
            merged(self.longitude_deg, longitude_deg),
            elevation_m=merged(self.elevation_m, self.at(self.elevation_m, place)),
            run=np.concatenate([self.run, self.run[link]])[order],
            source=np.concatenate([self.source, self.source[link]])[order],
            drive_s=merged(self.drive_s, self.at(self.drive_s, place)),
            wait_s=merged(self.wait_s, np.zeros_like(fresh)),
            stretch=self.stretch,
        )


def carried(headings_deg: FloatArray) -> FloatArray:
    """Return headings where NaN is replaced by the one before it (at the start, by the first after it)."""
    known = np.flatnonzero(~np.isnan(headings_deg))
    if not known.size:
        return np.zeros_like(headings_deg)
    before = np.searchsorted(known, np.arange(len(headings_deg)), side="right") - 1
    filled: FloatArray = headings_deg[known[np.maximum(before, 0)]]
    return filled
