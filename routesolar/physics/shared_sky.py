"""How far several drives share their clouds: covariance of their energies, and the chance of being the best.

The causes of doubt are those of bands.py. What lasts all day is the same for every drive of that day; what
passes is shared as far as two drives are near each other in place and time. Nearness is measured as bands.py
measures a drive's own way: clouds drift at CLOUD_DRIFT_MPS, and half of the slow memory fades with time alone.
A drive is cut into k stages: within one the clouds are as bands.py has them, between two their middles count.
"""

from typing import NamedTuple

import numpy as np

from routesolar.arrays import FloatArray, IntArray
from routesolar.physics.bands import (
    CLOUD_DRIFT_MPS,
    FAST_MIN,
    LASTING,
    MID_MIN,
    NEXT_DAY_CORRELATION,
    SLOW_MIN,
    SUN_TERMS,
    TERM_MEMORY,
    EnergyMoments,
    Passage,
    StateEnergy,
    amplitudes,
    beta_quantile,
    forgetting,
    plain_arrays,
    remembered,
    unsure_share,
)
from routesolar.physics.compiled import compiled
from routesolar.physics.distributions import normal_cdf, normal_quantile
from routesolar.physics.geodesy import metres_per_degree, wrap_longitude_deg

FORGOTTEN = 12.0  # memory lengths after which nothing is shared: e^-12
SAMPLES = 8192  # and as many mirrored: a chance is good to 0.4 points
_LEVELS_Z = np.linspace(-4.5, 4.5, 181)  # where quantiles are computed, in standard deviations; linear between
_TIE_FRAC = 1e-9
_DAYS = 400


class StageDoubt(NamedTuple):
    """Amplitudes (Wh) of what makes the energy of d drives uncertain, in k stages of each.

    `passing_wh` (d, k, 5) are the terms that forget, `lasting_wh` (d, k, 4) those that last all day;
    `middle_min` (d, k) is when, in minutes since 1970, and `solar_day` (d, k) the day it belongs to.
    """

    passing_wh: FloatArray
    lasting_wh: FloatArray
    middle_min: FloatArray
    solar_day: FloatArray


class Trace(NamedTuple):
    """One drive's stages: where (k,), when (k,), and what is doubtful, as in StageDoubt."""

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    middle_min: FloatArray
    solar_day: FloatArray
    passing_wh: FloatArray
    lasting_wh: FloatArray


class _Placed(NamedTuple):
    """A trace with its stages' place and time in minutes of the clouds' drift, (k, 3)."""

    where_min: FloatArray
    passing_wh: FloatArray
    lasting_wh: FloatArray
    solar_day: FloatArray


def stage_doubt(energy: StateEnergy, passage: Passage, stage: IntArray, forecast: str) -> StageDoubt:
    """Return the amplitudes of every stage, in Wh; `stage` (n,) numbers each segment's, from 0 upwards.

    Raises:
        UsageError: `forecast` is not a known word.
    """
    on, when = plain_arrays(energy, passage)
    count, departures = int(stage.max()) + 1, on.shape[1]
    doubt = StageDoubt(
        np.zeros((departures, count, len(TERM_MEMORY))),
        np.zeros((departures, count, LASTING)),
        np.zeros((departures, count)),
        np.zeros((departures, count)),
    )
    _fill_doubt(on, when, np.ascontiguousarray(stage, dtype=np.int64), unsure_share(forecast), doubt)
    return doubt


def shared_covariance(traces: list[Trace]) -> FloatArray:
    """Return the covariance of the drives' energies under one sky in Wh2, (r, r), without negative variance."""
    r = len(traces)
    placed = [_placed(trace, traces[0]) for trace in traces]
    sun, rest = np.zeros((r, r)), np.zeros((r, r))
    for i in range(r):
        for j in range(i, r):
            sun[i, j], rest[i, j] = sun[j, i], rest[j, i] = _pair(placed[i], placed[j])
    return _definite(sun) + rest


def correlation_with(one: Trace, others: list[Trace]) -> FloatArray:
    """Return the correlation of one drive's energy with each of the others', -1 to 1; 0 without doubt."""
    here, *there = (_placed(trace, one) for trace in (one, *others))
    own = _pair(here, here)
    correlations = []
    for place in there:
        shared, theirs = _pair(here, place), _pair(place, place)
        sun, rest = (np.array([[own[k], shared[k]], [shared[k], theirs[k]]]) for k in range(2))
        correlations.append(correlation(_definite(sun) + rest)[0, 1])
    return np.array(correlations)


def correlation(covariance: FloatArray) -> FloatArray:
    """Return correlations from covariances; 1 with itself, 0 with what has no variance."""
    deviation = np.sqrt(np.diag(covariance))
    scale = np.outer(deviation, deviation)
    shared = np.divide(covariance, scale, out=np.zeros_like(covariance), where=scale > 0)
    np.fill_diagonal(shared, 1.0)
    return np.clip(shared, -1.0, 1.0)


def win_frac(moments: EnergyMoments, correlation: FloatArray, seed: int) -> FloatArray:
    """Return each drive's chance of bringing the most of all under one sky, (r,); together 1.

    The moments are (r,); the energies' Beta distributions are joined by a Gaussian copula of this correlation.
    Drives that bring the same to nine digits share the win.
    """
    table = quantile_table(moments)
    normal = np.random.default_rng(seed).standard_normal((SAMPLES, len(table)))
    drawn = np.concatenate([normal, -normal]) @ _root(correlation).T
    energy = np.stack([np.interp(drawn[:, r], _LEVELS_Z, table[r]) for r in range(len(table))], axis=1)
    most = energy.max(axis=1, keepdims=True)
    best = energy >= most - _TIE_FRAC * np.abs(most)
    share: FloatArray = np.mean(best / best.sum(axis=1, keepdims=True), axis=0)
    return share


def beats_frac(moments: EnergyMoments, best: int, correlations: FloatArray) -> FloatArray:
    """Return the chance that drive `best` brings more than each drive under one sky, (r,); a tie counts half.

    `correlations` (r,) are with `best`. As `win_frac`, but exact but for a mean over 400 equally likely days.
    """
    table = quantile_table(moments)
    day = normal_quantile((np.arange(_DAYS) + 0.5) / _DAYS)
    brings = np.interp(day, _LEVELS_Z, table[best])
    chances = np.empty(len(table))
    for r, (theirs, shared) in enumerate(zip(table, correlations, strict=True)):
        apart = np.sqrt(1 - shared**2)
        if apart**2 < _TIE_FRAC:  # a correlation of 1 is off by some 1e-16
            surplus = brings - np.interp(day * shared, _LEVELS_Z, theirs)
            chances[r] = np.mean(np.where(np.abs(surplus) <= _TIE_FRAC * brings, 0.5, surplus > 0))
        else:
            equal = np.interp(brings, theirs, _LEVELS_Z, left=-np.inf, right=np.inf)
            chances[r] = np.mean(normal_cdf((equal - shared * day) / apart))
    return chances


def quantile_table(moments: EnergyMoments) -> FloatArray:
    """Return the drives' energies in Wh at normal levels from -4.5 to 4.5 standard deviations, (r, 181)."""
    mean, variance, low, high = (np.asarray(field)[:, None] for field in moments)
    return beta_quantile(mean, variance, low, high, normal_cdf(_LEVELS_Z))


def _root(correlation: FloatArray) -> FloatArray:
    """Return a matrix whose rows, of length 1, have these correlations; same drives have the same rows."""
    values, vectors = np.linalg.eigh(correlation)
    root: FloatArray = vectors * np.sqrt(np.where(values > 1e-9, values, 0.0))
    return root / np.linalg.norm(root, axis=1, keepdims=True)


def _definite(matrix: FloatArray) -> FloatArray:
    """Return the nearest matrix without negative variance."""
    values, vectors = np.linalg.eigh(matrix)
    definite: FloatArray = (vectors * np.maximum(values, 0.0)) @ vectors.T
    return definite


def _placed(trace: Trace, reference: Trace) -> _Placed:
    """Return a trace in the clouds' own measure: minutes they take to drift north and east, and of time."""
    latitude_deg, longitude_deg = reference.latitude_deg[0], reference.longitude_deg[0]
    north_m, east_m = metres_per_degree(float(latitude_deg))
    per_m = 1 / (60 * CLOUD_DRIFT_MPS)
    north_min = (trace.latitude_deg - latitude_deg) * north_m * per_m
    east_min = wrap_longitude_deg(trace.longitude_deg - longitude_deg) * east_m * per_m
    return _Placed(
        np.column_stack([north_min, east_min, trace.middle_min]),
        np.ascontiguousarray(trace.passing_wh),
        trace.lasting_wh,
        trace.solar_day,
    )


def _pair(one: _Placed, other: _Placed) -> tuple[float, float]:
    """Return the covariance of two drives: of the sun's part, and of the rest."""
    sun, rest = _passing(one.where_min, one.passing_wh, other.where_min, other.passing_wh)
    known, lasting = _lasting(one, other)
    return sun - known, rest + lasting


def _lasting(one: _Placed, other: _Placed) -> tuple[float, float]:
    """Return the covariance of what the day's share tells already, and of the rest that lasts all day."""
    days = np.unique(np.concatenate([one.solar_day, other.solar_day]))
    a, b = (
        np.array([trace.lasting_wh[trace.solar_day == day].sum(axis=0) for day in days])
        for trace in (one, other)
    )
    same = (a * b).sum(axis=0)
    apart = NEXT_DAY_CORRELATION * (a.sum(axis=0) * b.sum(axis=0) - same)
    return float(same[0]), float(same[1:].sum() + apart[1:].sum())


@compiled
def _fill_doubt(on: FloatArray, when: FloatArray, stage: IntArray, unsure: float, doubt: StageDoubt) -> None:
    terms, lasting, rates = np.zeros(len(TERM_MEMORY)), np.zeros(LASTING), np.zeros(3)
    count = doubt.middle_min.shape[1]
    for j in range(on.shape[1]):
        passed, minutes = np.zeros((count, 3)), np.zeros(count)
        for i in range(on.shape[2]):
            k = stage[i]
            if minutes[k] == 0.0:
                doubt.middle_min[j, k], doubt.solar_day[j, k] = when[0, j, i], when[3, j, i]
            minutes[k] += when[1, j, i]
            if on[0, j, i] == 0.0 and on[1, j, i] == 0.0:
                continue
            forgetting(when, j, i, rates)
            amplitudes(on, when[4], j, i, unsure, terms, lasting)
            doubt.passing_wh[j, k] += terms
            doubt.lasting_wh[j, k] += lasting
            passed[k] += rates
        doubt.middle_min[j] += minutes / 2
        for k in range(count):
            for t in range(len(terms)):
                doubt.passing_wh[j, k, t] *= np.sqrt(remembered(passed[k, TERM_MEMORY[t]])[2])


@compiled
def _passing(
    here: FloatArray, one_wh: FloatArray, there: FloatArray, other_wh: FloatArray
) -> tuple[float, float]:
    """Return the covariance of what passes: of the sun's terms, and of the rest."""
    sun, rest = 0.0, 0.0
    left = np.zeros(3)
    for i in range(len(here)):
        if one_wh[i].max() == 0.0:
            continue
        for j in range(len(there)):
            time_min = abs(here[i, 2] - there[j, 2])
            away_min = np.sqrt(time_min**2 + (here[i, 0] - there[j, 0]) ** 2 + (here[i, 1] - there[j, 1]) ** 2)
            left[0] = _left(away_min / FAST_MIN)
            left[1] = _left(away_min / MID_MIN)
            left[2] = _left((away_min + time_min) / (2 * SLOW_MIN))
            if left[2] == 0.0:
                continue
            for t in range(len(TERM_MEMORY)):
                both = one_wh[i, t] * other_wh[j, t] * left[TERM_MEMORY[t]]
                if t < SUN_TERMS:
                    sun += both
                else:
                    rest += both
    return sun, rest


@compiled
def _left(lengths: float) -> float:
    return np.exp(-lengths) if lengths < FORGOTTEN else 0.0
