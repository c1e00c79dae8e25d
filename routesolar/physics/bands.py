"""P10, P50 and P90 of the energy of parts of a drive, from the two states of the sky.

Four things vary about the mean: whether the sun is out, how bright a hidden sky is and how bright an open one
is, and the day's haze. Each is a stationary process seen from the moving vehicle, a sum of terms that forget at
their own rate; what lasts all day (a cloudy day's own darkness, an uncertain statement) never forgets.
Mean and variance follow exactly, segment by segment; a Beta distribution between the darkest and the
brightest possible sum carries them. Percentiles are never added: every part has a sum of its own.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray, IntArray
from routesolar.errors import UsageError
from routesolar.physics.compiled import compiled
from routesolar.physics.day_course import DAY_MIN, told_root
from routesolar.physics.distributions import beta_inverse
from routesolar.physics.elementary import exponential

# Share of the sun's variance that lies between days of the same statement, by what is said of the day: measured
# afterwards; stated with an error of 0.12, 0.20 or 0.30 (standard deviation of the day's sunshine share).
# "climate": nothing is stated but what is usual there (0.40, 0.47, 0.53 at the three stations).
UNSURE = {"known": 0.0, "today": 0.068, "tomorrow": 0.152, "week": 0.245, "climate": 0.47}
UNSURE_AT_ENDS = 0.025  # added to p (1 - p): days stated as cloudless or sunless miss too

# Minutes after which a term forgets when parked: gaps and edges, single clouds, cloud fields.
FAST_MIN, MID_MIN, SLOW_MIN = 2.5, 15.0, 100.0
CLOUD_DRIFT_MPS = 10.0  # judgement: the speed at which cloud patterns pass a parked vehicle
NEXT_DAY_CORRELATION = 0.3  # of what lasts all day; measured 0.36 for the sunshine share of Payerne

# Shares of the processes' variances by term. Fitted to the 10th, 50th and 90th percentile of 10 to 180 minutes
# and a day at three SURFRAD stations, 2018, each statement made in three manners, and rounded. UNSURE and
# HIDDEN_LASTING were then set by hand, up to a tenth off the fit (0.064, 0.157, 0.259; 0.41), with the
# coverage of all three stations and of Payerne, June 2016, in sight (benchmarks/band_coverage.py).
SUN_FAST = 0.13  # the rest is slow
HIDDEN_LASTING = 0.45  # under a sky without sun; less as the sun shares the day
OUT_FAST = 0.30
# Of a day's energy, standard deviation: one cloudless day has more haze than the next, and one place than its
# climatology. Days found by their smoothness at the three stations lie 0.039, 0.029 and 0.024 (root mean
# square) about the clear sky, each station counted alike 0.031, of which a clear sky's few clouds and brighter
# moments make 0.012 (benchmarks/clear_sky.py).
HAZE_SD = 0.029
# Where there is more sun, the clouds that hide it are thinner (clouds.sun_out_states): between days by
# HIDDEN_RISE of clear for the whole sunshine share, within a day by half of that.
HIDDEN_LEAST, HIDDEN_RISE = 0.285, 0.52
THINNER_WITHIN = 0.5
DARKEST_SHARE = 0.03
# Top of the brighter state in standard deviations: of the haze, or of a hidden sky; and of moments, at 10 min.
HAZE_TOP, HIDDEN_TOP, BRIEF_TOP = 3.0, 0.50, 0.70

MEMORY_MIN = np.array([FAST_MIN, MID_MIN, SLOW_MIN])
SUN_TERMS = 2
TERM_MEMORY = np.array([0, 2, 1, 0, 1])  # of the sun's two terms, the hidden sky's one, the open sky's two
LASTING = 4  # what the day's share already tells (taken away), the open statement, hidden sky, haze


class StateEnergy(NamedTuple):
    """Energy of both states on segments and what mixes them; every array broadcasts to (d, n).

    `unobscured_wh`, `obscured_wh`: the chain's result with the sun unobscured, or obscured, all the time.
    `most_wh`: the most that can pass (a controller's limit); infinite where there is none.
    """

    unobscured_wh: FloatArray
    obscured_wh: FloatArray
    sun_out_prob: FloatArray
    unobscured_index: FloatArray
    obscured_index: FloatArray
    unobscured_sd: FloatArray
    obscured_sd: FloatArray
    most_wh: FloatArray | float = np.inf


class Passage(NamedTuple):
    """When and how fast segments are passed; every array broadcasts to (d, n).

    `daylight_min` is how long the day's light lasts there (day_course.daylight_min).
    """

    start_utc_s: FloatArray
    duration_s: FloatArray
    speed_mps: FloatArray
    longitude_deg: FloatArray
    daylight_min: FloatArray


class EnergyMoments(NamedTuple):
    """The Beta distributions of the energy of parts of d drives, (d, parts): mean, variance, least and most."""

    mean_wh: FloatArray
    variance_wh2: FloatArray
    low_wh: FloatArray
    high_wh: FloatArray


class EnergyBands(NamedTuple):
    """The 10th, 50th and 90th percentile, (d, parts) Wh: nine times in ten at least `p10`."""

    p10: FloatArray
    p50: FloatArray
    p90: FloatArray


def unsure_share(forecast: str) -> float:
    """Return the share of the sun's variance that a statement leaves open for the whole day.

    Raises:
        UsageError: `forecast` is not "known", "today", "tomorrow", "week" or "climate".
    """
    if forecast not in UNSURE:
        raise UsageError(f'forecast is "{forecast}"; give one of {", ".join(UNSURE)}')
    return UNSURE[forecast]


def trip_parts(leg: ArrayLike, stopped: ArrayLike) -> IntArray:
    """Return (3, n) part numbers: the L legs 0..L-1, then L the whole trip, L+1 driving, L+2 stopped."""
    legs = np.asarray(leg, dtype=np.int64)
    count = int(legs.max()) + 1
    return np.stack([legs, np.full_like(legs, count), count + 1 + np.asarray(stopped, dtype=np.int64)])


def energy_bands_wh(energy: StateEnergy, passage: Passage, parts: IntArray, forecast: str) -> EnergyBands:
    """Return the percentiles of the energy of every part of d drives over n segments, (d, parts) in Wh.

    `parts` is (q, n): each row gives every segment to one part, -1 to none; a part's segments need not
    touch. The parts' number is the greatest plus one. A part without sun gives 0, a NaN within it NaN.
    Calibrated on five-minute means of SURFRAD 2018; unverified for driving, tilt, shade and clipping.

    Raises:
        UsageError: `forecast` is not one of the five words.
    """
    return beta_percentiles(*energy_moments(energy, passage, parts, forecast))


def energy_moments(energy: StateEnergy, passage: Passage, parts: IntArray, forecast: str) -> EnergyMoments:
    """Return mean, variance and bounds of every part's energy, (d, parts); see `energy_bands_wh`."""
    on, when = plain_arrays(energy, passage)
    most = np.array(np.broadcast_to(energy.most_wh, on.shape[1:]), dtype=np.float64)
    whole = np.ascontiguousarray(parts, dtype=np.int64)
    sums = _sums(on, most, when, whole, unsure_share(forecast))
    mean, top, spread, darkest, cap, minutes, variance = np.moveaxis(sums, -1, 0)
    brief = BRIEF_TOP * np.sqrt(10 / np.maximum(minutes, 10))
    return EnergyMoments(mean, variance, darkest, np.minimum(cap, top + brief * spread))


def plain_arrays(energy: StateEnergy, passage: Passage) -> tuple[FloatArray, FloatArray]:
    """Return what the loops read: states (7, d, n); start, minutes, pace, solar day, told root (5, d, n)."""
    shape = np.broadcast_shapes(*(np.shape(array) for array in (*energy, *passage)))
    on = np.array([np.broadcast_to(array, shape) for array in energy[:7]], dtype=np.float64)
    start_min, duration_min = (np.broadcast_to(array, shape) / 60 for array in passage[:2])
    pace = np.broadcast_to(np.hypot(passage.speed_mps, CLOUD_DRIFT_MPS) / CLOUD_DRIFT_MPS, shape)
    solar_min = start_min + 4 * np.asarray(passage.longitude_deg)
    solar_day = np.floor((solar_min + duration_min / 2) / DAY_MIN)
    after_noon_min = solar_min - (solar_day + 0.5) * DAY_MIN
    told = told_root(after_noon_min, duration_min, passage.daylight_min, SLOW_MIN)
    return on, np.stack([start_min, duration_min, pace, solar_day, told])


def beta_percentiles(mean: FloatArray, variance: FloatArray, low: FloatArray, high: FloatArray) -> EnergyBands:
    """Return P10, P50 and P90 of the Beta distribution on [low, high] of this mean and variance.

    0 where `high` is not above `low` (night). A mean at a bound and a variance beyond what the bounds allow
    are drawn in a little. NaN stays NaN.
    """
    return EnergyBands(*(beta_quantile(mean, variance, low, high, level) for level in (0.1, 0.5, 0.9)))


def beta_quantile(
    mean: FloatArray, variance: FloatArray, low: FloatArray, high: FloatArray, level: ArrayLike
) -> FloatArray:
    """Return the energy not reached with probability `level`; everything broadcasts. See `beta_percentiles`."""
    shape = beta_shape(mean, variance, low, high)
    quantile: FloatArray = shape.lit * (low + shape.width_wh * beta_inverse(shape.a, shape.b, level))
    return quantile


class BetaShape(NamedTuple):
    """A Beta distribution's exponents, its width above the least energy, and 1 where there is light, else 0."""

    a: FloatArray
    b: FloatArray
    width_wh: FloatArray
    lit: FloatArray


def beta_shape(mean: FloatArray, variance: FloatArray, low: FloatArray, high: FloatArray) -> BetaShape:
    """Return the Beta distribution on [low, high] of this mean and variance; see `beta_percentiles`."""
    width = np.where(high > low, high - low, np.where(np.isnan(high - low), np.nan, 1.0))
    centre = np.clip((mean - low) / width, 0.01, 0.99)
    spread = np.clip(variance / width**2, 1e-6, 0.95 * centre * (1 - centre))
    size = centre * (1 - centre) / spread - 1
    return BetaShape(centre * size, (1 - centre) * size, width, np.where(high <= low, 0.0, 1.0))


@compiled
def amplitudes(
    on: FloatArray, told: FloatArray, j: int, i: int, unsure: float, terms: FloatArray, lasting: FloatArray
) -> None:
    """Fill the amplitudes (Wh) of one segment: `terms` that forget (5), and those that last all day (4)."""
    out, hidden = on[0, j, i], on[1, j, i]
    prob = min(max(on[2, j, i], 0.01), 0.99)
    both = prob * (1 - prob)
    swing = out - hidden
    thinner = hidden / on[4, j, i] * HIDDEN_RISE * (1 - prob)
    sun = np.sqrt(both * (1 - unsure))
    terms[0] = sun * swing * np.sqrt(SUN_FAST)
    terms[1] = sun * (swing + THINNER_WITHIN * thinner) * np.sqrt(1 - SUN_FAST)
    dull = hidden * on[6, j, i] / on[4, j, i]
    all_day = HIDDEN_LASTING * (1 - prob)
    terms[2] = dull * np.sqrt((1 - prob) * (1 - all_day))
    bright = out * on[5, j, i] / on[3, j, i]
    passing = bright * np.sqrt(prob)
    terms[3] = passing * np.sqrt(OUT_FAST)
    terms[4] = passing * np.sqrt(1 - OUT_FAST)
    lasting[0] = terms[1] * told[j, i]
    lasting[1] = np.sqrt((both + UNSURE_AT_ENDS) * unsure) * (swing + thinner)
    lasting[2] = dull * (1 - prob) * np.sqrt(all_day)
    lasting[3] = HAZE_SD * (prob * out + (1 - prob) * hidden)


@compiled
def forgetting(when: FloatArray, j: int, i: int, rates: FloatArray) -> float:
    """Fill how often each memory is renewed over segment i, and return the same for the gap before it.

    Moving at `pace` times the clouds' drift meets new clouds that much faster; half of the slow memory is
    evolution in place (judgement), which driving does not hasten.
    """
    pace, minutes = when[2, j, i], when[1, j, i]
    rates[0] = pace / FAST_MIN * minutes
    rates[1] = pace / MID_MIN * minutes
    rates[2] = ((pace - 1) / (2 * SLOW_MIN) + 1 / SLOW_MIN) * minutes
    if i == 0:
        return 0.0
    return max(when[0, j, i] - when[0, j, i - 1] - when[1, j, i - 1], 0.0)


@compiled
def _close_day(day: FloatArray, total: FloatArray, squares: FloatArray) -> None:
    """Add a day's lasting amplitudes to the sums over days and start the next."""
    for b in range(LASTING):
        total[b] += day[b]
        squares[b] += day[b] ** 2
        day[b] = 0.0


@compiled
def _sums(on: FloatArray, most: FloatArray, when: FloatArray, parts: IntArray, unsure: float) -> FloatArray:
    """Return (d, parts, 7): mean, top, its spread, darkest, cap (Wh), minutes of new sky, variance (Wh2)."""
    count = parts.max() + 1
    departures = len(most)
    sums = np.zeros((departures, count, 7))
    for j in range(departures):
        _sum_drive(on, most, when, parts, unsure, j, sums[j])
    return sums


@compiled
def _sum_drive(
    on: FloatArray, most: FloatArray, when: FloatArray, parts: IntArray, unsure: float, j: int, sums: FloatArray
) -> None:
    """Fill the sums of one drive's parts."""
    count, terms = len(sums), len(TERM_MEMORY)
    kept, variance = np.zeros((count, terms)), np.zeros((count, 2))
    day, total, squares = np.zeros((count, LASTING)), np.zeros((count, LASTING)), np.zeros((count, LASTING))
    of_day = np.full(count, -1e9)
    seen, clock, rates = np.zeros((count, 3)), np.zeros(3), np.zeros(3)
    amplitude, lasting = np.zeros(terms), np.zeros(LASTING)
    for i in range(most.shape[1]):
        gap_min = forgetting(when, j, i, rates)
        if gap_min > 0.0:
            clock += gap_min / MEMORY_MIN
        dark = on[0, j, i] == 0.0 and on[1, j, i] == 0.0
        if not dark:
            amplitudes(on, when[4], j, i, unsure, amplitude, lasting)
        for row in range(len(parts)):
            part = parts[row, i]
            if part < 0:
                continue
            _add_plain(on, most, when, j, i, sums[part])
            if dark:  # nothing in doubt; what is remembered fades when next it is asked for
                continue
            if when[3, j, i] != of_day[part]:
                _close_day(day[part], total[part], squares[part])
                of_day[part] = when[3, j, i]
            day[part] += lasting
            _advance(amplitude, rates, clock, seen[part], kept[part], variance[part])
        for memory in range(3):
            clock[memory] += rates[memory]
    for part in range(count):
        _close_day(day[part], total[part], squares[part])
        known = max(variance[part, 0] - squares[part, 0], 0.0)
        sums[part, 6] = known + variance[part, 1]
        for b in range(1, LASTING):
            apart = NEXT_DAY_CORRELATION * (total[part, b] ** 2 - squares[part, b])
            sums[part, 6] += squares[part, b] + apart


@compiled
def _advance(
    amplitude: FloatArray,
    rates: FloatArray,
    clock: FloatArray,
    seen: FloatArray,
    kept: FloatArray,
    variance: FloatArray,
) -> None:
    """Add one segment's variance, its covariance with the part's earlier segments, and remember it."""
    for memory in range(len(rates)):
        fresh, mean_left, pair = remembered(rates[memory])
        since = clock[memory] - seen[memory]
        since_left = exponential(-since) if since != 0.0 else 1.0
        seen[memory] = clock[memory] + rates[memory]
        for k in range(len(amplitude)):
            if TERM_MEMORY[k] == memory:
                u, earlier = amplitude[k], kept[k] * since_left
                variance[0 if k < SUN_TERMS else 1] += u * (u * pair + 2 * mean_left * earlier)
                kept[k] = earlier * fresh + u * mean_left


@compiled
def remembered(x: float) -> tuple[float, float, float]:
    """Return what is left of a memory after x of its lengths, on average until then, and between all pairs."""
    fresh = exponential(-x)
    mean_left = (1 - fresh) / x if x > 1e-6 else 1 - x / 2
    return fresh, mean_left, 2 * (1 - mean_left) / x if x > 1e-6 else 1 - x / 3


@compiled
def _add_plain(on: FloatArray, most: FloatArray, when: FloatArray, j: int, i: int, sums: FloatArray) -> None:
    """Add one segment's mean, bounds and minutes of new sky to its part's sums.

    The brighter state sets the top: in deep shade that is the hidden sun, whose clouds are a bright dome.
    """
    out, hidden, prob = on[0, j, i], on[1, j, i], on[2, j, i]
    sums[0] += prob * out + (1 - prob) * hidden
    if out >= hidden:
        sums[1] += out * (1 + HAZE_TOP * HAZE_SD)
        sums[2] += out * on[5, j, i] / on[3, j, i]
    else:
        spread = hidden * on[6, j, i] / on[4, j, i]
        sums[1] += hidden + HIDDEN_TOP * spread
        sums[2] += spread
    sums[3] += hidden * DARKEST_SHARE / on[4, j, i]
    sums[4] += most[j, i]
    if out > 0:
        sums[5] += when[1, j, i] * when[2, j, i]
