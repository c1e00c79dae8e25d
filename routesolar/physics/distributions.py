"""The normal and the Beta distribution, and Dawson's integral.

They are few, and the library that has them takes longer to import than a harvest to compute. Relative
errors are below 1e-12, of Beta distributions with exponents beyond 1,000 below 1e-9, as the tests check.
"""

import math

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled

_MOST_TERMS = 10_000  # of a continued fraction; it needs some root of the larger exponent
_SMALL = 1e-16
_TINY = 1e-300


def normal_cdf(deviation: ArrayLike) -> FloatArray:
    """Return the chance that a standard normal number is below each of (...)."""
    z = np.asarray(deviation, dtype=np.float64)
    return _normal_cdfs(z.ravel()).reshape(z.shape)


def normal_quantile(chance: ArrayLike) -> FloatArray:
    """Return the standard normal number that is undercut with each chance (...), 0 to 1."""
    p = np.asarray(chance, dtype=np.float64)
    return _normal_quantiles(p.ravel()).reshape(p.shape)


def beta_cdf(a: ArrayLike, b: ArrayLike, x: ArrayLike) -> FloatArray:
    """Return the chance that a Beta number of exponents a and b (> 0) is below x, 0 to 1; all broadcast."""
    exponent_a, exponent_b, share = np.broadcast_arrays(a, b, x)
    found = _beta_cdfs(*(_flat(array) for array in (exponent_a, exponent_b, share)))
    return found.reshape(share.shape)


def beta_inverse(a: ArrayLike, b: ArrayLike, chance: ArrayLike) -> FloatArray:
    """Return the number that a Beta number of exponents a and b (> 0) undercuts with each chance."""
    exponent_a, exponent_b, p = np.broadcast_arrays(a, b, chance)
    found = _beta_inverses(*(_flat(array) for array in (exponent_a, exponent_b, p)))
    return found.reshape(p.shape)


def _flat(array: ArrayLike) -> FloatArray:
    return np.array(
        array, dtype=np.float64
    ).ravel()  # a copy: arrays that share their values are not written to


def dawson(x: FloatArray) -> FloatArray:
    """Return Dawson's integral exp(-x^2) int_0^x exp(t^2) dt of each of (n,), for 0 to 10.

    The series of positive terms x exp(-x^2) sum x^2k / (k! (2k + 1)) (DLMF 7.6.1 with 7.5.1).
    """
    return _dawsons(x)


@compiled
def below_normal(z: float) -> float:
    """Return the chance that a standard normal number is below z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


@compiled
def normal_at(p: float) -> float:
    """Return the standard normal number that is undercut with chance p.

    Begun at Abramowitz & Stegun (1964), 26.2.23, and bettered three times by Halley's method.
    """
    if not 0.0 < p < 1.0:
        return -np.inf if p == 0.0 else np.inf if p == 1.0 else np.nan
    tail = min(p, 1.0 - p)
    t = math.sqrt(-2.0 * math.log(tail))
    above = 2.515517 + t * (0.802853 + t * 0.010328)
    below = 1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308))
    z = above / below - t
    for _ in range(3):
        miss = (below_normal(z) - tail) * math.sqrt(2.0 * math.pi) * math.exp(0.5 * z * z)
        z -= miss / (1.0 + 0.5 * z * miss)
    return z if p < 0.5 else -z


@compiled
def _stirling_rest(x: float) -> float:
    """Return log gamma(x) less Stirling's (x - 1/2) log x - x + log(2 pi) / 2 (DLMF 5.11.1)."""
    rest = 0.0
    while x < 10.0:
        rest += (x + 0.5) * math.log1p(1.0 / x) - 1.0
        x += 1.0
    y = 1.0 / (x * x)
    return rest + (1 / 12 - y * (1 / 360 - y * (1 / 1260 - y * (1 / 1680 - y / 1188)))) / x


@compiled
def beta_log_scale(a: float, b: float) -> float:
    """Return the logarithm of x^a (1 - x)^b / B(a, b) at its greatest, x = a / (a + b)."""
    both = a + b
    rest = _stirling_rest(both) - _stirling_rest(a) - _stirling_rest(b)
    return 0.5 * math.log(a * b / (2.0 * math.pi * both)) + rest


@compiled
def _beta_weight(a: float, b: float, x: float, log_scale: float) -> float:
    """Return x^a (1 - x)^b / B(a, b), the density times x (1 - x), without the loss of large exponents."""
    from_mean = (a + b) * x - a
    below = a * _log_ratio(x, a, a + b, from_mean)
    above = b * _log_ratio(1.0 - x, b, a + b, -from_mean)
    return math.exp(log_scale + below + above)


@compiled
def _log_ratio(share: float, part: float, whole: float, off: float) -> float:
    """Return log(share * whole / part), whose argument is 1 + off / part."""
    return math.log1p(off / part) if abs(off) < 0.5 * part else math.log(share * whole / part)


@compiled
def _beta_fraction(a: float, b: float, x: float) -> float:
    """Return the continued fraction of the incomplete Beta function (DLMF 8.17.22), by Lentz's method."""
    c, d = 1.0, 1.0 / _not_nothing(1.0 - (a + b) * x / (a + 1.0))
    value = d
    for m in range(1, _MOST_TERMS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        d = 1.0 / _not_nothing(1.0 + even * d)
        c = _not_nothing(1.0 + even / c)
        value *= c * d
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        d = 1.0 / _not_nothing(1.0 + odd * d)
        c = _not_nothing(1.0 + odd / c)
        value *= c * d
        if abs(c * d - 1.0) < _SMALL:
            break
    return value


@compiled
def _not_nothing(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


@compiled
def beta_below(a: float, b: float, x: float, log_scale: float) -> tuple[float, float]:
    """Return the chance that a Beta number is below x, and its density there."""
    if not 0.0 < x < 1.0:
        return (0.0 if x <= 0.0 else 1.0 if x >= 1.0 else np.nan), 0.0
    weight = _beta_weight(a, b, x, log_scale)
    if x < (a + 1.0) / (a + b + 2.0):
        chance = weight * _beta_fraction(a, b, x) / a
    else:
        chance = 1.0 - weight * _beta_fraction(b, a, 1.0 - x) / b
    return chance, weight / (x * (1.0 - x))


@compiled
def beta_at(a: float, b: float, p: float) -> float:
    """Return the number that a Beta number undercuts with chance p: Newton's steps in a shrinking bracket."""
    if not (0.0 < p < 1.0 and a > 0.0 and b > 0.0):
        return p if p in (0.0, 1.0) and a > 0.0 and b > 0.0 else np.nan
    low, high = 0.0, 1.0
    log_scale = beta_log_scale(a, b)
    x = a / (a + b)
    for _ in range(200):
        reached, density = beta_below(a, b, x, log_scale)
        if reached > p:
            high = x
        else:
            low = x
        step = (reached - p) / density if density > 0.0 else np.inf
        after = x - step
        if not low <= after <= high:
            after = 0.5 * (low + high)
        if abs(after - x) <= 1e-9 * min(x, 1.0 - x):  # the next step would be its square
            return after
        x = after
    return x


@compiled
def _normal_cdfs(deviation: FloatArray) -> FloatArray:
    found = np.empty(len(deviation))
    for i in range(len(found)):
        found[i] = below_normal(deviation[i])
    return found


@compiled
def _normal_quantiles(chance: FloatArray) -> FloatArray:
    found = np.empty(len(chance))
    for i in range(len(found)):
        found[i] = normal_at(chance[i])
    return found


@compiled
def _beta_cdfs(a: FloatArray, b: FloatArray, x: FloatArray) -> FloatArray:
    found = np.empty(len(x))
    for i in range(len(found)):
        found[i] = beta_below(a[i], b[i], x[i], beta_log_scale(a[i], b[i]))[0]
    return found


@compiled
def _beta_inverses(a: FloatArray, b: FloatArray, chance: FloatArray) -> FloatArray:
    found = np.empty(len(chance))
    for i in range(len(found)):
        found[i] = beta_at(a[i], b[i], chance[i])
    return found


@compiled
def _dawsons(x: FloatArray) -> FloatArray:
    found = np.empty(len(x))
    for i in range(len(found)):
        square, term, total, k = x[i] * x[i], math.exp(-x[i] * x[i]) * x[i], 0.0, 0
        while term > _SMALL * total:
            total += term / (2 * k + 1)
            k += 1
            term *= square / k
        found[i] = total
    return found
