"""Drives laid side by side under one sky: how likely one brings more than another."""

import numpy as np

from routesolar.physics.bands import EnergyMoments
from routesolar.physics.shared_sky import (
    Trace,
    beats_frac,
    correlation,
    correlation_with,
    shared_covariance,
    win_frac,
)
from routesolar.trip.arrays import FloatArray
from routesolar.trip.sweep import Sweep


def best_wins_frac(sweep: Sweep, best: int) -> FloatArray:
    """Return the chance that one departure brings more than each under the same sky, (d,); a tie is half."""
    every = range(len(sweep.departure_utc_s))
    shared = correlation_with(trace_of(sweep, best), [trace_of(sweep, i) for i in every])
    return beats_frac(_moments([(sweep, i) for i in every]), best, shared)


def best_of_all_frac(drives: list[tuple[Sweep, int]], seed: int) -> FloatArray:
    """Return each drive's chance of bringing the most of all under one sky, (r,); ties are shared."""
    shared = correlation(shared_covariance([trace_of(sweep, i) for sweep, i in drives]))
    return win_frac(_moments(drives), shared, seed)


def trace_of(sweep: Sweep, departure: int) -> Trace:
    """Return one departure's stages as physics.shared_sky takes them."""
    stages = sweep.stages
    return Trace(
        stages.latitude_deg,
        stages.longitude_deg,
        stages.middle_min[departure],
        stages.solar_day[departure],
        stages.passing_wh[departure],
        stages.lasting_wh[departure],
    )


def _moments(drives: list[tuple[Sweep, int]]) -> EnergyMoments:
    fields = ("mean_wh", "variance_wh2", "low_wh", "high_wh")
    return EnergyMoments(*(np.array([getattr(sweep, name)[i] for sweep, i in drives]) for name in fields))
