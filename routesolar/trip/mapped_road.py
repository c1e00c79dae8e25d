"""The road that a route was found to follow on a map."""

from dataclasses import dataclass

import numpy as np

from routesolar.errors import UsageError
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray, lock_fields
from routesolar.trip.noun import Noun

LINE = ("latitude_deg", "longitude_deg", "elevation_m", "time_utc_s", "file_index", "piece")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class MappedRoad(Noun):
    """The road under a route as a map knows it: p points of the line on it, and s stretches of these points.

    The line is the route's own where it follows no road. Times and heights are those of the route, NaN where it
    has none; `file_index` and `piece` are as in `Route`.
    `first_point` (s,) numbers the point where a stretch begins. `road` is its kind in the map's words, empty
    where the route follows no road of the map; there all is NaN and False. `carriageway_m` is its width,
    `opening_m` that between the trees, `width_sd_frac` the doubt of the latter as a share; `width_from` says
    what they were taken from, `speed_from` whether `speed_mps` is the limit or what is usual. `matched_frac` is
    the share of the route that follows roads; `faults` are tags that make no sense, and how often.
    """

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    elevation_m: FloatArray
    time_utc_s: FloatArray
    file_index: IntArray
    piece: IntArray
    first_point: IntArray
    road: tuple[str, ...]
    carriageway_m: FloatArray
    opening_m: FloatArray
    width_sd_frac: FloatArray
    lane_offset_m: FloatArray
    speed_mps: FloatArray
    tunnel: BoolArray
    ferry: BoolArray
    bridge: BoolArray
    width_from: tuple[str, ...]
    speed_from: tuple[str, ...]
    matched_frac: float = 1.0
    faults: tuple[tuple[str, int], ...] = ()
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        s = np.shape(self.first_point)
        flags, texts = ("tunnel", "ferry", "bridge"), ("road", "width_from", "speed_from")
        numbers = ("carriageway_m", "opening_m", "width_sd_frac", "lane_offset_m", "speed_mps")
        kinds = {"first_point": np.int64, **dict.fromkeys(flags, bool)}
        p = np.shape(self.latitude_deg)
        lock_fields(self, dict.fromkeys(LINE, p), {"file_index": np.int64, "piece": np.int64})
        lock_fields(self, dict.fromkeys(("first_point", *numbers, *flags), s), kinds)
        if any(len(getattr(self, name)) != s[0] for name in texts):
            raise UsageError(f"{', '.join(texts)} must each say something of all {s[0]} stretches")
        if not s[0] or self.first_point[0] != 0 or np.any(np.diff(self.first_point) < 0):
            raise UsageError("first_point must number points of the route in order, from 0")

    @property
    def matched(self) -> BoolArray:
        """Whether the route follows a road of the map, (s,)."""
        return np.array([bool(road) for road in self.road], dtype=bool)

    @property
    def roofed(self) -> BoolArray:
        """Whether no light comes in: tunnels, covered ways, and the decks of ferries, (s,)."""
        roofed: BoolArray = self.tunnel | self.ferry
        return roofed
