"""A long day on the road: driving against standing, the best hours, and how long the loads outrun the sun."""

from dataclasses import dataclass

import numpy as np

from routesolar.model.battery import loads_w
from routesolar.trip.arrays import BoolArray, FloatArray
from routesolar.trip.harvest import Harvest, HourResult
from routesolar.trip.rig import Rig

BEST_SHARE = 0.8  # of the best hour: as good as the best


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """A stretch of time in which the sun gives less than the loads take; `missing_wh` is by how much."""

    start_utc_s: float
    end_utc_s: float
    solar_wh: float
    load_wh: float

    @property
    def missing_wh(self) -> float:
        """What the loads took beyond the sun, in Wh."""
        return self.load_wh - self.solar_wh


@dataclass(frozen=True, slots=True, kw_only=True)
class TransitDay:
    """One day's answers; powers are means in W over driving and over standing, None without any.

    `best_hours` is the run of clock hours around the best in which each brings nearly as much.
    `shortage` is None without loads, or where the sun always carries them.
    """

    driving_wh: float
    stopped_wh: float
    driving_w: float | None
    stopped_w: float | None
    hours: tuple[HourResult, ...]
    best_hours: tuple[HourResult, ...]
    load_wh: float
    shortage: Shortage | None
    start_utc_s: float
    end_utc_s: float
    time_zone: str


def transit_day(harvest: Harvest, rig: Rig) -> TransitDay:
    """Return the answers of a simulated day; a rig without loads has no shortage."""
    segments = harvest.segments
    duration_s = segments.duration_s[0]
    load_w = loads_w(
        rig.loads, segments.start_utc_s, segments.duration_s, segments.stopped, segments.time_zone
    )[0]
    standing = np.asarray(segments.stopped)
    return TransitDay(
        driving_wh=harvest.driving_wh,
        stopped_wh=harvest.stopped_wh,
        driving_w=_mean_w(harvest.driving_wh, float(duration_s[~standing].sum())),
        stopped_w=_mean_w(harvest.stopped_wh, float(duration_s[standing].sum())),
        hours=harvest.hours,
        best_hours=_best_hours(harvest.hours),
        load_wh=float(np.sum(load_w * duration_s) / 3600),
        shortage=_shortage(harvest, load_w),
        start_utc_s=float(segments.departure_utc_s[0]),
        end_utc_s=float(segments.arrival_utc_s[0]),
        time_zone=segments.time_zone,
    )


def hour_wh(hour: HourResult) -> float:
    """Return what a clock hour brings, in Wh."""
    return hour.driving_wh + hour.stopped_wh


def _mean_w(energy_wh: float, seconds: float) -> float | None:
    return energy_wh * 3600 / seconds if seconds > 0 else None


def _best_hours(hours: tuple[HourResult, ...]) -> tuple[HourResult, ...]:
    """Return the consecutive hours around the best that bring nearly as much; none without sun."""
    energy_wh = np.array([hour_wh(hour) for hour in hours])
    if not np.any(energy_wh > 0):
        return ()
    best = int(energy_wh.argmax())
    good = energy_wh >= BEST_SHARE * energy_wh[best]
    first, last = _run_around(good, best)
    return hours[first : last + 1]


def _run_around(good: BoolArray, at: int) -> tuple[int, int]:
    """Return the first and last index of the unbroken run of True around an index."""
    bad = np.flatnonzero(~good)
    before, after = bad[bad < at], bad[bad > at]
    return (int(before[-1]) + 1 if len(before) else 0), (int(after[0]) - 1 if len(after) else len(good) - 1)


def _shortage(harvest: Harvest, load_w: FloatArray) -> Shortage | None:
    """Return the longest unbroken time in which the sun gives less than the loads take."""
    start_s, duration_s = harvest.segments.start_utc_s[0], harvest.segments.duration_s[0]
    short = harvest.power_w < load_w
    if not short.any():
        return None
    edges = np.flatnonzero(np.diff(np.concatenate([[False], short, [False]]).astype(int)))
    runs = edges.reshape(-1, 2)
    lasted_s = [duration_s[first:end].sum() for first, end in runs]
    first, end = runs[int(np.argmax(lasted_s))]
    hours = duration_s[first:end] / 3600
    return Shortage(
        start_utc_s=float(start_s[first]),
        end_utc_s=float(start_s[end - 1] + duration_s[end - 1]),
        solar_wh=float(np.sum(harvest.power_w[first:end] * hours)),
        load_wh=float(np.sum(load_w[first:end] * hours)),
    )
