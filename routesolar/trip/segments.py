"""The timed drive: one row a segment, one column a departure."""

from dataclasses import dataclass, field, replace
from typing import Self

import numpy as np

from routesolar.errors import UsageError
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray, length_of, lock_fields
from routesolar.trip.noun import Noun
from routesolar.trip.ranges import ALONG, check_arrays
from routesolar.trip.route import Clearing, SourceFile, Waypoint, title_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A part of the trip between two places: `kind` is "drive" or "stop"; a stop may have its own clearing."""

    name: str
    kind: str
    clearing: Clearing | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Bends(Noun):
    """Where the road turns within segments: b corners in the order of travel.

    `segment` numbers the segment a corner lies in, `share` is the part of its length that lies before the
    corner. From a segment's start over its corners to its end the road runs straight.
    """

    segment: IntArray
    share: FloatArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray

    def __post_init__(self) -> None:
        b = np.shape(self.segment)
        lock_fields(self, dict.fromkeys(self.__dataclass_fields__, b), {"segment": "i8"})
        check_arrays(self, ("latitude_deg", "longitude_deg"))
        if not np.all((self.share >= 0) & (self.share <= 1)) or np.any(np.diff(self.segment + self.share) < 0):
            raise UsageError("bends are corners in the order of travel; share is from 0 to 1 of a segment")

    @classmethod
    def none(cls) -> Self:
        """Return no corner: every segment is straight."""
        nothing = np.zeros(0)
        return cls(
            segment=np.zeros(0, dtype=np.int64), share=nothing, latitude_deg=nothing, longitude_deg=nothing
        )

    def after(self, first: int) -> Self:
        """Return the bends of the segments from one on, which then counts as 0."""
        kept = self.segment >= first
        return type(self)(
            segment=self.segment[kept] - first,
            share=self.share[kept],
            latitude_deg=self.latitude_deg[kept],
            longitude_deg=self.longitude_deg[kept],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Segments(Noun):
    """n segments in the order of travel, timed for d departures.

    Geometry is (n,): position and elevation at the segment's start and at its middle, heading clockwise
    from north, grade as rise over run, speed (0 at a stop), length and `along_m` from the route's start
    to the segment's start. Timing is (d, n): the start in UTC seconds and the duration. A stop is a
    segment with zero speed and length. `driven_on` is False where the road does not go on from this
    segment to the next (a gap in space): the line must not be drawn across. The segments of one departure
    follow each other without a break in time (places that only stand may each have a time of their own); with
    more than one departure a stop until a clock time may last 0 s for those that come too late for it.
    `leg` numbers the leg of each segment from 0; a leg's segments are consecutive.
    `stretch` (n,) numbers the stretch of a map's road (`Plan.road`) each segment lies on; None without a map.
    `bends` are the road's corners between the ends of segments; left out, segments are straight. `route_name`,
    `files` and `pace` say what was driven and where the speeds came from ("80 km/h", "as recorded");
    `waypoints` are the route file's named places, `stated` is what was said of the trip, as a trip file's text.
    """

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    elevation_m: FloatArray
    middle_latitude_deg: FloatArray
    middle_longitude_deg: FloatArray
    middle_elevation_m: FloatArray
    end_latitude_deg: FloatArray
    end_longitude_deg: FloatArray
    heading_deg: FloatArray
    grade_frac: FloatArray
    speed_mps: FloatArray
    length_m: FloatArray
    along_m: FloatArray
    leg: IntArray
    stopped: BoolArray
    roofed: BoolArray
    driven_on: BoolArray
    start_utc_s: FloatArray
    duration_s: FloatArray
    departure_utc_s: FloatArray
    legs: tuple[Leg, ...]
    time_zone: str
    stretch: IntArray | None = None
    bends: Bends = field(default_factory=Bends.none)
    has_elevation: bool = True
    route_name: str = ""
    files: tuple[SourceFile, ...] = ()
    waypoints: tuple[Waypoint, ...] = ()
    pace: str = ""
    stated: str = field(default="", compare=False)
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        n = length_of(self.latitude_deg, "latitude_deg")
        d = length_of(self.departure_utc_s, "departure_utc_s")
        flat = [
            name
            for name in self.__dataclass_fields__
            if name not in _NOT_PER_SEGMENT and name not in ("start_utc_s", "duration_s", "departure_utc_s")
        ]
        shapes: dict[str, tuple[int, ...]] = dict.fromkeys(flat, (n,))
        shapes |= {"start_utc_s": (d, n), "duration_s": (d, n), "departure_utc_s": (d,)}
        if self.stretch is not None:
            lock_fields(self, {"stretch": (n,)}, {"stretch": "i8"})
        lock_fields(self, shapes, {"leg": "i8", "stopped": bool, "roofed": bool, "driven_on": bool})
        check_arrays(self, tuple(name for name in shapes if name in ALONG))
        if self.leg[0] < 0 or self.leg[-1] >= len(self.legs) or np.any(np.diff(self.leg) < 0):
            raise UsageError(f"leg must number the {len(self.legs)} legs from 0, in the order of the segments")
        if np.any((self.bends.segment < 0) | (self.bends.segment >= n)):
            raise UsageError(f"bends lie in segments from 0 to {n - 1}; give each the number of its segment")
        if not self.stopped.all() and np.any(self.start_utc_s[:, 1:] < self.start_utc_s[:, :-1]):
            raise UsageError("start_utc_s decreases along the drive; put segments in the order they are driven")

    def last(self, count: int) -> Self:
        """Return the last `count` segments; their legs keep their numbers."""
        names = self.__dataclass_fields__.keys() - _NOT_PER_SEGMENT - {"departure_utc_s"}
        bends = self.bends.after(self.count - count)
        stretch = None if self.stretch is None else self.stretch[-count:]
        return replace(
            self, bends=bends, stretch=stretch, **{name: getattr(self, name)[..., -count:] for name in names}
        )

    @property
    def middle_utc_s(self) -> FloatArray:
        """UTC seconds at the middle of every segment, (d, n)."""
        middle: FloatArray = self.duration_s / 2
        middle += self.start_utc_s
        return middle

    @property
    def arrival_utc_s(self) -> FloatArray:
        """UTC seconds at the end of the trip, (d,)."""
        arrival: FloatArray = self.start_utc_s[:, -1] + self.duration_s[:, -1]
        return arrival

    @property
    def title(self) -> str:
        """What the route files call the road, else their names."""
        return title_of(self.files, self.route_name)

    @property
    def count(self) -> int:
        """Number of segments n."""
        return len(self.latitude_deg)


_NOT_PER_SEGMENT = frozenset(
    {
        "stretch",
        "legs",
        "time_zone",
        "bends",
        "has_elevation",
        "route_name",
        "files",
        "waypoints",
        "pace",
        "stated",
        "notes",
        "warnings",
    }
)
