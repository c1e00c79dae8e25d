"""What was read: the line on the ground, the marked places, and the plans along it."""

from dataclasses import dataclass

from routesolar.trip.arrays import FloatArray, IntArray, lock_fields


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceFile:
    """A file that went into a result, so that the result can be traced to it."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Waypoint:
    """A named place from the route file."""

    name: str
    latitude_deg: float
    longitude_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """Points in the order of travel; all arrays are (n,).

    `elevation_m` and `time_utc_s` (seconds since 1970) are NaN where the file has none. `file_index`
    counts the files of the trip from 0; `piece` counts the stretches between which the file lifted
    its pen (track segments, separate tracks and routes, file ends), so that gaps can be judged.
    """

    name: str
    files: tuple[SourceFile, ...]
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    elevation_m: FloatArray
    time_utc_s: FloatArray
    file_index: IntArray
    piece: IntArray
    waypoints: tuple[Waypoint, ...] = ()
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        n = (len(self.latitude_deg),)
        lock_fields(
            self,
            dict.fromkeys(
                ("latitude_deg", "longitude_deg", "elevation_m", "time_utc_s", "file_index", "piece"), n
            ),
            {"file_index": "i8", "piece": "i8"},
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A planned stop: where (`at_m` along the route, or a waypoint's name) and how long.

    Exactly one of `duration_s` and `until` (a local clock time, "HH:MM") is given.
    `heading_deg` is the parked facing; None keeps the heading of arrival. Under a roof nothing is harvested.
    """

    at: str
    at_m: float | None = None
    duration_s: float | None = None
    until: str | None = None
    heading_deg: float | None = None
    roofed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """The driving speed between two distances along the route."""

    from_m: float
    to_m: float
    speed_mps: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """What the driver knows about the surroundings between two distances; None where nothing is said."""

    from_m: float
    to_m: float
    canopy_cover_frac: float | None = None
    canopy_height_m: float | None = None
    road_width_m: float | None = None
    roofed: bool = False
