"""What was read: the line on the ground, the marked places, and the plans along it."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum

import numpy as np

from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray, IntArray, length_of, lock_fields
from routesolar.trip.mapped_road import MappedRoad
from routesolar.trip.noun import Noun
from routesolar.trip.ranges import ALONG, check_arrays, check_ranges

MOST_HOURS_A_DAY = 18.0  # six hours are left for the night
WIDTH_BETWEEN = ("opening", "trunks", "crowns")


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceFile:
    """A file that went into a result, so that the result can be traced to it; `path` is where it was.

    `title` is what a route file calls its line, and `invented` that it shows no real land.
    """

    name: str
    sha256: str
    path: str = field(default="", compare=False)
    title: str = field(default="", compare=False)
    invented: bool = field(default=False, compare=False)


def title_of(files: Sequence[SourceFile], name: str) -> str:
    """Return what the route files call their lines, or `name` where one does not say."""
    titles = [file.title for file in files]
    return " + ".join(dict.fromkeys(titles)) if titles and all(titles) else name


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearing:
    """What is said of the trees around a stop instead of those along the road; None where nothing is said.

    `road_width_m` is the width of the clearing it stands in; with one the road's opening is not seen.
    """

    canopy_cover_frac: float | None = None
    canopy_height_m: float | None = None
    road_width_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Waypoint:
    """A named place, from the route file or a map.

    A named point of the planned line (`on_route`) bounds legs only where legs are asked for by waypoint: such
    names are often directions. `clearing` is what is known of the trees of who stops there.
    """

    name: str
    latitude_deg: float
    longitude_deg: float
    on_route: bool = False
    clearing: Clearing | None = None

    def __post_init__(self) -> None:
        check_ranges(self, ("latitude_deg", "longitude_deg"), ALONG)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Route(Noun):
    """Points in the order of travel; all arrays are (n,).

    `elevation_m` and `time_utc_s` (seconds since 1970) are NaN where the file has none. `file_index`
    counts the files of the trip from 0; `piece` counts the stretches between which the file lifted
    its pen (track segments, separate tracks and routes, file ends), so that gaps can be judged.
    """

    name: str
    files: tuple[SourceFile, ...] = field(compare=False)
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    elevation_m: FloatArray
    time_utc_s: FloatArray
    file_index: IntArray
    piece: IntArray
    waypoints: tuple[Waypoint, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """What the files call the road, else their names."""
        return title_of(self.files, self.name)

    def __post_init__(self) -> None:
        n = (length_of(self.latitude_deg, "latitude_deg"),)
        lock_fields(
            self,
            dict.fromkeys(
                ("latitude_deg", "longitude_deg", "elevation_m", "time_utc_s", "file_index", "piece"), n
            ),
            {"file_index": "i8", "piece": "i8"},
        )
        unknown = ("elevation_m", "time_utc_s")
        check_arrays(self, ("latitude_deg", "longitude_deg", *unknown), unknown)
        if np.any(self.file_index < 0) or np.any(self.file_index >= max(len(self.files), 1)):
            raise UsageError(f"file_index must number the {len(self.files)} files from 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A planned stop: where (`at_m` along the route, or a waypoint's name) and how long.

    Exactly one of `duration_s` and `until` is given: a local clock time "HH:MM", "tomorrow HH:MM", a date with
    its time, "sunset", "sunrise" or "next departure".
    `heading_deg` is the parked facing; None keeps the heading of arrival. Under a roof nothing is harvested.
    Cover, height and width are those of the trees and the clearing there; None keeps the road's.
    `said_in` names the file and its entry where one says so.
    """

    at: str
    at_m: float | None = None
    duration_s: float | None = None
    until: str | None = None
    heading_deg: float | None = None
    roofed: bool = False
    canopy_cover_frac: float | None = None
    canopy_height_m: float | None = None
    road_width_m: float | None = None
    said_in: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        if (self.duration_s is None) == (self.until is None):
            raise UsageError(f"the stop at {self.at} needs a duration or a time until, and not both")
        if self.duration_s is not None and not self.duration_s > 0:
            raise UsageError(f"the stop at {self.at} lasts {self.duration_s:g} s; it must last longer than 0")
        own = tuple(Clearing.__dataclass_fields__)
        check_ranges(self, ("heading_deg", "duration_s", *own), ALONG)

    @property
    def clearing(self) -> Clearing | None:
        """What is said of the trees there; None where nothing is."""
        own = {name: getattr(self, name) for name in Clearing.__dataclass_fields__}
        return None if all(value is None for value in own.values()) else Clearing(**own)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """The driving speed between two distances along the route, and the road's width there if it is known."""

    from_m: float
    to_m: float
    speed_mps: float
    road_width_m: float | None = None

    def __post_init__(self) -> None:
        _check_order("pace", self.from_m, self.to_m)
        _check_speed(self.speed_mps)
        check_ranges(self, ("road_width_m",), ALONG)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """What the driver knows about the surroundings between two distances; None where nothing is said.

    `lane_offset_m` is the distance from the road's middle, on the side driven. `road_width_between` is
    "opening", "trunks" or "crowns".
    """

    from_m: float
    to_m: float
    canopy_cover_frac: float | None = None
    canopy_height_m: float | None = None
    road_width_m: float | None = None
    road_width_between: str | None = None
    lane_offset_m: float | None = None
    crown_base_frac: float | None = None
    crown_slenderness: float | None = None
    height_spread_frac: float | None = None
    evergreen_frac: float | None = None
    crown_transmittance_frac: float | None = None
    roofed: bool | None = None

    def __post_init__(self) -> None:
        _check_order("stretch of surroundings", self.from_m, self.to_m)
        check_ranges(self, tuple(self.__dataclass_fields__), ALONG)
        if self.road_width_between is not None:
            check_width_between(self.road_width_between)


class LegsBy(Enum):
    """What bounds the legs, besides stops: all that is marked, each track, or each named waypoint."""

    AUTO = "auto"
    TRACK = "track"
    WAYPOINT = "waypoint"


@dataclass(frozen=True, slots=True, kw_only=True)
class LegsEvery:
    """Legs of equal length or of equal driving time; exactly one of the two is given."""

    distance_m: float | None = None
    driving_s: float | None = None

    def __post_init__(self) -> None:
        if (self.distance_m is None) == (self.driving_s is None):
            raise UsageError("legs are bounded by a distance or by a driving time, not by both or neither")
        if (self.distance_m is not None and not self.distance_m >= 100) or (
            self.driving_s is not None and not self.driving_s >= 60
        ):
            raise UsageError(
                "legs shorter than 100 m or 1 min are of no use; give longer ones, such as 50km or 60min"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How the route is to be driven: pace, stops, legs, known surroundings, and how finely it is cut.

    Where a pace says nothing, `speed_mps` holds; without it, the recorded times. Of paces and stretches
    that overlap the later one wins. A segment is at most `step_m` long and lasts at most `step_s`, less on
    tight bends. `distance_m` is the road's true length where the route's points are few. Driving takes at most
    `hours_a_day`, then follows a night until the clock time `drive_from_s`; both or neither is given.
    `time_zone` is an IANA name; None means the zone of the route's start. `road` is what a map knows of the
    road, where there is one; `speed_by_map` drives as fast as it says, where no pace and no speed is given.
    """

    speed_mps: float | None = None
    paces: tuple[Pace, ...] = ()
    stops: tuple[Stop, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    legs: LegsBy | LegsEvery = LegsBy.AUTO
    step_m: float = 50.0
    step_s: float = 30.0
    time_zone: str | None = None
    road: MappedRoad | None = None
    speed_by_map: bool = False
    distance_m: float | None = None
    drive_from_s: float | None = None
    hours_a_day: float | None = None

    def __post_init__(self) -> None:
        if (self.drive_from_s is None) != (self.hours_a_day is None):
            raise UsageError(
                "days of driving need both a time and hours, such as --drive-from 9:00 --hours-a-day 4"
            )
        if self.hours_a_day is not None and not 0.1 <= self.hours_a_day <= MOST_HOURS_A_DAY:
            raise UsageError(
                f"{self.hours_a_day:g} h of driving a day are not possible; give 0.1 to {MOST_HOURS_A_DAY:g}"
            )
        if self.distance_m is not None and self.road is not None:
            raise UsageError(
                "--distance and --map contradict each other: on a map the route lies on roads, whose length is "
                "known. Leave out one of the two"
            )
        if self.speed_by_map and (self.road is None or self.speed_mps is not None):
            raise UsageError("speeds are taken from a map where a map is given, and no speed beside it")
        if self.speed_mps is not None:
            _check_speed(self.speed_mps)
        if not (self.step_m >= 1 and self.step_s >= 1):
            raise UsageError(
                f"a step of {self.step_m:g} m and {self.step_s:g} s is too fine; use 1 m and 1 s or more"
            )

    @property
    def waits_for_clock(self) -> bool:
        """Whether a stop or a night lasts until a time of day, so that durations depend on the departure."""
        return self.hours_a_day is not None or any(stop.until is not None for stop in self.stops)

    @property
    def surroundings(self) -> tuple[Stretch, ...]:
        """What is known along the route, the later before the earlier: a pace's road width, then stretches."""
        widths = (
            Stretch(from_m=pace.from_m, to_m=pace.to_m, road_width_m=pace.road_width_m)
            for pace in self.paces
            if pace.road_width_m is not None
        )
        return (*widths, *self.stretches)


def check_width_between(word: str) -> None:
    """Raise UsageError unless it is known what a road's width lies between."""
    if word not in WIDTH_BETWEEN:
        raise UsageError(f"road_width_between is {word!r}; use one of: {', '.join(WIDTH_BETWEEN)}")


def _check_order(what: str, from_m: float, to_m: float) -> None:
    if not 0 <= from_m < to_m:
        raise UsageError(
            f"a {what} runs from {from_m / 1000:g} km to {to_m / 1000:g} km; it must start at 0 km or later "
            "and end after its start"
        )


def _check_speed(speed_mps: float) -> None:
    if not 0.999 <= speed_mps * 3.6 < 360:
        raise UsageError(
            f"a speed of {speed_mps * 3.6:g} km/h is not possible for a road vehicle; give 1 to 359 km/h"
        )
