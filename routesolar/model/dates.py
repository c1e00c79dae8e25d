"""A row a day: what every local calendar day of a trip brings, uses and leaves in the battery."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from routesolar.arrays import weighted_sum
from routesolar.model.charge import LEG_TERMS, Days, PoorCourse
from routesolar.physics.bands import EnergyBands
from routesolar.physics.sun import UPPER_LIMB_DEG, SunPosition
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.clock import midnights_utc_s, to_local
from routesolar.trip.harvest import DayResult
from routesolar.trip.segments import Segments


class Dates(NamedTuple):
    """The k local calendar days that a drive touches: their bounds within it, and what of it lies in each.

    `bounds_utc_s` is (k + 1,); `share_frac` (k, n) is how much of a segment's time lies in a day, together 1.
    """

    bounds_utc_s: FloatArray
    share_frac: FloatArray

    @property
    def days(self) -> int:
        """Number of days k."""
        return len(self.share_frac)

    def part_of(self) -> IntArray:
        """Return the day that most of each segment lies in, (n,)."""
        part: IntArray = self.share_frac.argmax(axis=0).astype(np.int64)
        return part


def dates_of(segments: Segments) -> Dates:
    """Return the local calendar days of a drive's first departure."""
    start_s, end_s = segments.start_utc_s[0], segments.start_utc_s[0] + segments.duration_s[0]
    first_s, last_s = float(start_s[0]), float(end_s[-1])
    bounds_s = np.array([first_s, *midnights_utc_s(first_s, last_s, segments.time_zone), last_s])
    # A segment without time belongs to the day in which it stands.
    inside = np.clip(np.searchsorted(bounds_s, start_s, side="right") - 1, 0, len(bounds_s) - 2)
    at_once = (np.arange(len(bounds_s) - 1)[:, None] == inside).astype(np.float64)
    until_s = np.minimum(end_s, bounds_s[1:, None])
    over_s = np.maximum(until_s - np.maximum(start_s, bounds_s[:-1, None]), 0.0)
    whole_s = over_s.sum(axis=0)
    share = np.divide(over_s, whole_s, out=at_once, where=whole_s > 0)
    return Dates(bounds_s, share)


def day_results(
    segments: Segments,
    dates: Dates,
    sun: SunPosition,
    energy_wh: FloatArray,
    bands: EnergyBands,
    course: tuple[Days, PoorCourse] | None,
) -> tuple[DayResult, ...]:
    """Return a row a day; `bands` are the percentiles of each day's energy by itself, (k,).

    `course` is the battery's, its spans those of `moments_within`.
    """
    turns = _turns(segments, sun)
    terms: list[dict[str, Any]] = [{}] * dates.days
    if course is not None:
        terms = _battery(segments, dates, turns, *course)
    driving_wh = weighted_sum(np.where(segments.stopped, 0.0, energy_wh), dates.share_frac.T)
    stopped_wh = weighted_sum(np.where(segments.stopped, energy_wh, 0.0), dates.share_frac.T)
    return tuple(
        DayResult(
            date=to_local(start_s, segments.time_zone).date().isoformat(),
            start_utc_s=start_s,
            end_utc_s=end_s,
            dawn_utc_s=_turn(turns[0], start_s, end_s, first=True),
            dusk_utc_s=_turn(turns[1], start_s, end_s, first=False),
            energy_wh=float(driving_wh[day] + stopped_wh[day]),
            energy_low_wh=float(bands.p10[day]),
            energy_high_wh=float(bands.p90[day]),
            driving_wh=float(driving_wh[day]),
            stopped_wh=float(stopped_wh[day]),
            **terms[day],
        )
        for day, (start_s, end_s) in enumerate(_spans(dates))
    )


def bands_of(everything: EnergyBands, first: int, count: int) -> EnergyBands:
    """Return the percentiles of days, (k,), that are the parts of a drive from `first` on.

    A last day in which not even half a segment lies is no part, and brings nothing.
    """
    return EnergyBands(*(np.pad(band[0, first:], (0, first + count - band.shape[1])) for band in everything))


def _spans(dates: Dates) -> list[tuple[float, float]]:
    bounds_s = dates.bounds_utc_s.tolist()
    return list(pairwise(bounds_s))


def _turns(segments: Segments, sun: SunPosition) -> tuple[FloatArray, FloatArray]:
    """Return when the sun's upper limb rises and sets on the way, UTC seconds; straight between segments."""
    height = sun.elevation_deg[0] - UPPER_LIMB_DEG
    middle_s = segments.middle_utc_s[0]
    at = np.flatnonzero((height[1:] < 0) != (height[:-1] < 0))
    share = height[at] / (height[at] - height[at + 1])
    turn_s = middle_s[at] + share * (middle_s[at + 1] - middle_s[at])
    rising = height[at] < 0
    return turn_s[rising], turn_s[~rising]


def _turn(turns_s: FloatArray, start_s: float, end_s: float, *, first: bool) -> float | None:
    """Return the first or last turn within a day; None if there is none."""
    within = turns_s[(turns_s >= start_s) & (turns_s < end_s)]
    return None if len(within) == 0 else float(within[0 if first else -1])


def moments_within(segments: Segments, dates: Dates) -> BoolArray:
    """Tell which of the start and the segments' ends lie in each day, (k, n + 1), both its ends counted."""
    at_s = _moments_s(segments)
    return np.array([(at_s >= start_s) & (at_s <= end_s) for start_s, end_s in _spans(dates)])


def _moments_s(segments: Segments) -> FloatArray:
    """Return when the drive starts and its segments end, (n + 1,), UTC seconds."""
    return np.append(segments.start_utc_s[0, 0], segments.start_utc_s[0] + segments.duration_s[0])


def _battery(
    segments: Segments, dates: Dates, turns: Sequence[FloatArray], days: Days, poor: PoorCourse
) -> list[dict[str, Any]]:
    """Return the battery's terms of each day, as DayResult names them."""
    at_s = _moments_s(segments)
    course = np.append(days.start_soc_frac, days.mean["soc_frac"])
    sums = {name: weighted_sum(days.mean[term], dates.share_frac.T) for term, name in LEG_TERMS.items()}

    def soc(utc_s: float | None) -> float | None:
        return None if utc_s is None else float(np.interp(utc_s, at_s, course))

    rows: list[dict[str, Any]] = []
    for day, (start_s, end_s) in enumerate(_spans(dates)):
        moments = np.array([start_s, *at_s[(at_s > start_s) & (at_s < end_s)], end_s])
        charge = np.interp(moments, at_s, course)
        rows.append(
            {name: float(values[day]) for name, values in sums.items()}
            | {
                "soc_start_frac": soc(start_s),
                "soc_dawn_frac": soc(_turn(turns[0], start_s, end_s, first=True)),
                "soc_dusk_frac": soc(_turn(turns[1], start_s, end_s, first=False)),
                "soc_end_frac": soc(end_s),
                "lowest_soc_frac": float(charge.min()),
                "lowest_utc_s": float(moments[charge.argmin()]),
                "lasts_prob": float(days.lasting_to(np.array(end_s))) if days.draw.load_w.shape[2] else None,
                "lowest_soc_poor_frac": float(poor.lowest_soc_frac[day]),
            }
        )
    return rows
