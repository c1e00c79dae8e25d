"""Sums over legs: energy, losses and times, from watts on segments."""

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.clock import local_clock_s
from routesolar.trip.harvest import HourResult, LegResult
from routesolar.trip.segments import Segments

_HOUR_S = 3600.0


class Powers(NamedTuple):
    """Watts of one departure, (n,): of the drive, without trees and terrain, and without clouds as well."""

    power_w: FloatArray
    open_sky_w: FloatArray
    clear_sky_w: FloatArray


def leg_starts(segments: Segments) -> IntArray:
    """Return the index of each leg's first segment."""
    return np.flatnonzero(np.diff(segments.leg, prepend=-1)).astype(np.int64)


def leg_sums(segments: Segments, values: FloatArray) -> FloatArray:
    """Return the sums over each leg, (..., legs), of values (..., n)."""
    sums: FloatArray = np.add.reduceat(values, leg_starts(segments), axis=-1)
    return sums


def leg_results(
    segments: Segments, powers_w: Powers, more: Sequence[Mapping[str, float]]
) -> tuple[LegResult, ...]:
    """Return each leg's sums of one departure, with more fields of every leg."""
    bounds = [*leg_starts(segments), segments.count]
    each = zip(segments.legs, pairwise(bounds), more, strict=True)
    return tuple(
        LegResult(leg=number, name=leg.name, kind=leg.kind, **_sums(segments, slice(*ends), powers_w), **fields)
        for number, (leg, ends, fields) in enumerate(each, start=1)
    )


def trip_result(segments: Segments, powers_w: Powers, more: Mapping[str, float]) -> LegResult:
    """Return the sums over the whole trip of one departure, as a leg numbered 0, with more fields."""
    return LegResult(leg=0, name="total", kind="trip", **_sums(segments, slice(None), powers_w), **more)


def lost_frac(kept: float, whole: float) -> float | None:
    """Return the share of `whole` that is not kept; None where there was nothing to lose."""
    return 1 - kept / whole if whole > 0 else None


def hour_results(
    segments: Segments,
    energy_wh: FloatArray,
    load_wh: FloatArray | None = None,
    lasting_to: Callable[[FloatArray], FloatArray] | None = None,
) -> tuple[HourResult, ...]:
    """Return the energy, and the loads' if given, within each local clock hour of one departure.

    `lasting_to` gives the chance that up to given moments no load has lacked power.

    A segment counts in the hour of its middle, so an hour's bounds are true to half a segment.
    """
    middle_utc_s = segments.middle_utc_s[0]
    into_hour_s = local_clock_s(middle_utc_s, segments.time_zone) % _HOUR_S
    starts, hour = np.unique(np.rint(middle_utc_s - into_hour_s), return_inverse=True)
    driving = np.bincount(hour, weights=np.where(segments.stopped, 0.0, energy_wh))
    stopped = np.bincount(hour, weights=np.where(segments.stopped, energy_wh, 0.0))
    loads = None if load_wh is None else np.bincount(hour, weights=load_wh)
    lasts_prob = None if lasting_to is None else lasting_to(starts + _HOUR_S)
    return tuple(
        HourResult(
            start_utc_s=float(start),
            driving_wh=float(driving[index]),
            stopped_wh=float(stopped[index]),
            load_wh=None if loads is None else float(loads[index]),
            lasts_prob=None if lasts_prob is None else float(lasts_prob[index]),
        )
        for index, start in enumerate(starts)
    )


def _sums(segments: Segments, part: slice, powers_w: Powers) -> dict[str, Any]:
    """Return the sums over one part of the trip, as LegResult names them."""
    hours = segments.duration_s[0, part] / _HOUR_S
    energy_wh, open_wh, clear_wh = (float(np.sum(power[part] * hours)) for power in powers_w)
    start = segments.start_utc_s[0, part]
    duration_s = float(hours.sum() * _HOUR_S)
    return {
        "start_utc_s": float(start[0]),
        "end_utc_s": float(start[-1] + segments.duration_s[0, part][-1]),
        "distance_km": float(segments.length_m[part].sum() / 1000),
        "duration_s": duration_s,
        "mean_w": energy_wh * _HOUR_S / duration_s if duration_s > 0 else 0.0,
        "peak_w": float(powers_w.power_w[part].max()),
        "energy_wh": energy_wh,
        "open_sky_wh": open_wh,
        "clear_sky_wh": clear_wh,
        "shade_loss_frac": lost_frac(energy_wh, open_wh),
        "cloud_loss_frac": lost_frac(open_wh, clear_wh),
    }
