"""Take a receiver's noise out of a recorded track: a line of noisy points is longer than the road.

Every distance between noisy points is too long on average, the more so the denser they lie and the less their
errors have in common (Ranacher et al. 2016, Int. J. Geogr. Inf. Sci. 30:316).
"""

from typing import NamedTuple

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded, solve_banded

from routesolar.physics.geodesy import metres_per_degree, wrap_longitude_deg
from routesolar.timetable.restoring import restored
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray

DENSE_S, LEAST_POINTS = 10.0, 60  # sparser points lie so far apart that noise hardly lengthens the line
BREAK_S = 60.0  # what happened in a longer pause of the recorder is not guessed
FELT_M = 0.5  # less noise than this is not worth touching the track
POLAR_DEG = 85.0
DRAWS = 8  # of errors such as the receiver's, to see what smoothing does to a track
_CHUNK, _CHUNKS = 500, 3  # points that the noise is estimated from
_LEAST_STEP_S = 0.05
REST_S, REST_MPS = 20.0, 1.0  # slower than this from end to end is standing


class Motion(NamedTuple):
    """How a vehicle moves and its receiver errs, along each axis.

    Its velocity is a random walk of `agility_m2ps3`; errors are partly new at every point and partly
    linger for `linger_s`, with these standard deviations.
    """

    agility_m2ps3: float
    fresh_m: float
    lingering_m: float
    linger_s: float


# Weak beliefs, as a median and the factor of one standard deviation, and hard bounds: judgement, no source. A
# car that turns at 1 m/s2 for some seconds has an agility of about 1. Wider bounds for what lingers would take
# a road that weaves for a straight one.
_USUAL = np.log([0.5, 2.0, 2.0, 20.0])
_FACTOR = np.array([1.0, 1.5, 1.5, 1.0])
_LEAST, _MOST = np.log([0.8, 0.09, 0.09, 15.0]), np.log([10.0, 15.0, 8.0, 120.0])


def steadied(
    latitude_deg: FloatArray, longitude_deg: FloatArray, utc_s: FloatArray, piece: IntArray
) -> tuple[FloatArray, FloatArray] | None:
    """Return the points (n,) where the vehicle most likely was; None where there is no noise to speak of.

    The smoother of Rauch, Tung & Striebel (1965, AIAA J. 3:1445) for a velocity that wanders (Bar-Shalom, Li &
    Kirubarajan 2001, section 6.2; from memory) and for errors that linger; how fast and how large both are is
    what makes the track itself most likely. Where the vehicle stands, its points become one.

    What smoothing takes from bends is put back (`restoring`). Errors of 8 m, fresh or lingering, a point every
    second: lengths within .5 % on open and winding roads; on nothing but hairpins of 15 to 40 m driven at
    2 m/s2 to the side within 2 % on average (one track of 4 km, by chance, within 5 %); 1 to 3 % too long in
    towns where half the time is stood at lights. Points 5 s apart leave out 5 % of hairpins of 20 m even
    without noise; with 8 m of new noise at each, up to 14 % of such bends cannot be told from it.
    """
    if not _is_dense(utc_s) or np.abs(latitude_deg).max() > POLAR_DEG:
        return None
    north, east = metres_per_degree(latitude_deg)
    steps = np.stack(
        [np.diff(latitude_deg) * north[1:], wrap_longitude_deg(np.diff(longitude_deg)) * east[1:]], 1
    )
    metres = np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
    breaks = np.flatnonzero((np.diff(piece) != 0) | (np.diff(utc_s) > BREAK_S)) + 1
    runs = np.split(np.arange(len(utc_s)), breaks)
    motion = fitted_motion([(utc_s[run], metres[run]) for run in runs])
    if motion is None:
        return None
    factors = [_factor(utc_s[run], motion) for run in runs]

    def smooth(track: FloatArray) -> FloatArray:
        return np.concatenate(
            [_smoothed(track[run], factor, motion) for run, factor in zip(runs, factors, strict=True)]
        )

    def settled(track: FloatArray) -> FloatArray:
        return np.concatenate([_at_rest(utc_s[run], track[run]) for run in runs])

    def length_m(track: FloatArray) -> float:
        steps_m = np.linalg.norm(np.diff(settled(track), axis=0), axis=1)
        steps_m[breaks - 1] = 0.0
        return float(steps_m.sum())

    track = smooth(metres)
    if np.sqrt(np.mean(np.sum((track - metres) ** 2, axis=1))) < FELT_M:
        return None
    moved = settled(restored(track, smooth, length_m, _errors(utc_s, motion))) - metres
    return latitude_deg + moved[:, 0] / north, wrap_longitude_deg(longitude_deg + moved[:, 1] / east)


def _is_dense(utc_s: FloatArray) -> bool:
    return len(utc_s) >= LEAST_POINTS and float(np.median(np.diff(utc_s))) <= DENSE_S


def fitted_motion(runs: list[tuple[FloatArray, FloatArray]]) -> Motion | None:
    """Return what makes the tracks (times (n,), metres (n, 2)) most likely; None where all are too short."""
    chunks = [
        (utc_s[first : first + _CHUNK], metres[first : first + _CHUNK])
        for utc_s, metres in runs
        for first in range(0, len(utc_s), _CHUNK)
    ]
    chunks = [chunk for chunk in chunks if len(chunk[0]) >= min(LEAST_POINTS, max(len(c[0]) for c in chunks))]
    if not chunks or len(chunks[0][0]) < LEAST_POINTS // 2:
        return None
    some = [chunks[index] for index in np.unique(np.linspace(0, len(chunks) - 1, _CHUNKS).astype(int))]

    def unlikeliness(logs: FloatArray) -> float:
        motion = Motion(*np.exp(np.clip(logs, _LEAST, _MOST)).tolist())
        doubt = float(np.sum(((logs - _USUAL) / _FACTOR) ** 2)) / 2
        return doubt + sum(_unlikeliness(utc_s, metres - metres[0], motion) for utc_s, metres in some)

    corners = np.vstack([_USUAL, _USUAL + 1.5 * np.eye(4)])
    options = {"maxfev": 160, "xatol": 0.05, "fatol": 0.5, "initial_simplex": corners}
    from scipy.optimize import minimize  # slow to import, and planned routes have no noise

    best = minimize(unlikeliness, _USUAL, method="Nelder-Mead", options=options).x
    return Motion(*np.exp(np.clip(best, _LEAST, _MOST)).tolist())


def _errors(utc_s: FloatArray, motion: Motion) -> list[FloatArray]:
    """Return errors (n, 2) such as the receiver's, a few draws of them."""
    lasting = np.exp(-np.diff(utc_s) / motion.linger_s)
    renewed = np.sqrt(1 - np.concatenate([[0.0], lasting]) ** 2)[:, None]
    links = np.stack([np.ones_like(utc_s), -np.append(lasting, 0.0)])
    draws = np.random.default_rng(0).standard_normal((DRAWS, 2, len(utc_s), 2))
    return [
        motion.fresh_m * fresh + motion.lingering_m * solve_banded((1, 0), links, renewed * new)
        for fresh, new in draws
    ]


def _factor(utc_s: FloatArray, motion: Motion) -> FloatArray | None:
    """Return the factor of the equations of a run of road; None where it is too short for any."""
    if len(utc_s) < 3:
        return None
    band, _ = _equations(utc_s, motion)
    factor: FloatArray = cholesky_banded(band, lower=True, check_finite=False)
    return factor


def _smoothed(metres: FloatArray, factor: FloatArray | None, motion: Motion) -> FloatArray:
    """Return the likeliest positions, (n, 2), given all points before and after."""
    if factor is None:
        return metres
    places: FloatArray = metres[0] + _solved(factor, metres - metres[0], motion)[::3]
    return places


def _solved(factor: FloatArray, metres: FloatArray, motion: Motion) -> FloatArray:
    """Return position, velocity and lingering error of every point, one after the other, (3 n, 2)."""
    right = np.zeros((3 * len(metres), 2))
    right[::3] = right[2::3] = metres / motion.fresh_m**2
    solution: FloatArray = cho_solve_banded((factor, True), right, check_finite=False)
    return solution


def _unlikeliness(utc_s: FloatArray, metres: FloatArray, motion: Motion) -> float:
    """Return minus the logarithm of how likely both axes are together, but for a constant."""
    band, log_variance = _equations(utc_s, motion)
    factor = cholesky_banded(band, lower=True, check_finite=False)
    state = _solved(factor, metres, motion)
    misfit = np.sum(metres * (metres - state[::3] - state[2::3])) / motion.fresh_m**2
    return float(misfit / 2 + 2 * np.log(factor[0]).sum() + log_variance)


def _equations(utc_s: FloatArray, motion: Motion) -> tuple[FloatArray, float]:
    """Return the lower band (6, 3 n) of the least-squares matrix, and the sum of all logarithms of variances.

    The unknowns are position, velocity and lingering error of each point in turn; positions and velocities of
    neighbours are tied by a white acceleration, lingering errors by a Gauss-Markov process.
    """
    step_s = np.maximum(np.diff(utc_s), _LEAST_STEP_S)
    q, lasting = motion.agility_m2ps3, np.exp(-step_s / motion.linger_s)
    fresh, first = motion.fresh_m**2, motion.lingering_m**2
    renewed = first * (1 - lasting**2)
    place, speed, error = (
        np.zeros((6, len(utc_s))) for _ in range(3)
    )  # a column of the matrix for each unknown
    cube, square, single = 12 / (q * step_s**3), 6 / (q * step_s**2), 2 / (q * step_s)
    place[0, :-1] += cube
    place[0, 1:] += cube
    place[1, :-1] += square
    place[1, 1:] -= square
    place[3, :-1], place[4, :-1] = -cube, square
    speed[0, :-1] += 2 * single
    speed[0, 1:] += 2 * single
    speed[2, :-1], speed[3, :-1] = -square, single
    error[0, :-1] += lasting**2 / renewed
    error[0, 1:] += 1 / renewed
    error[0, 0] += 1 / first
    error[3, :-1] = -lasting / renewed
    place[0] += 1 / fresh
    error[0] += 1 / fresh
    place[2] = 1 / fresh
    band = np.stack([place, speed, error], axis=2).reshape(6, -1)
    variances = len(utc_s) * np.log(fresh) + np.log(first) + np.log(renewed).sum()
    return band, float(variances + np.log(q**2 * step_s**4 / 12).sum())


def _at_rest(utc_s: FloatArray, metres: FloatArray) -> FloatArray:
    """Return the points with those of each rest drawn together at their mean."""
    slow = _is_slow(utc_s, metres)
    edges = np.flatnonzero(np.diff(slow)) + 1
    together = metres.copy()
    for part in np.split(np.arange(len(utc_s)), edges):
        if slow[part[0]]:
            together[part] = metres[part].mean(axis=0)
    return together


def _is_slow(utc_s: FloatArray, metres: FloatArray) -> BoolArray:
    """Return whether no way within 10 s before and after each point is longer than a standing vehicle's.

    Both halves count: from 10 s before a hairpin to 10 s after it is not far.
    """
    around = [np.clip(utc_s + half_s, utc_s[0], utc_s[-1]) for half_s in (-REST_S / 2, REST_S / 2)]
    before, after = (np.stack([np.interp(at, utc_s, axis) for axis in metres.T], axis=1) for at in around)
    ways_m = np.linalg.norm([after - before, metres - before, after - metres], axis=2)
    slow: BoolArray = ways_m.max(axis=0) < REST_MPS * (around[1] - around[0])
    return slow
