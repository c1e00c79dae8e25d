"""Exponential, logarithm, power, sine, cosine and angle, of sums, products and square roots alone.

A library's function is called for one number at a time. These have no call, no table and no branch, so the
compiler computes several numbers at once where a loop runs over arrays. Each brings its argument near zero,
where the Taylor series needs a dozen terms, summed in pairs that need not wait for each other; it is right to a
few units of the last place of a double. They round alike on every processor that follows IEEE 754. NaN stays
NaN.
"""

import numpy as np

from routesolar.physics.compiled import inlined

# ln 2 in two parts: the first has so few digits that its products with whole numbers are exact.
_LN2_HIGH, _LN2_LOW = 0.693147180369123816490, 1.90821492927058770002e-10
_PER_LN2 = 1.44269504088896340736
_ROUNDING = 6755399441055744.0  # 1.5 x 2^52: added to a double, what is left of it is a whole number
_FRACTION_BITS, _EXPONENT_OF_ONE = 52, 1023
_ROOT_HALF_BITS = 0x3FE6A09E667F3BCD
_EXPONENT_MASK = -(1 << 52)
_TWO_52, _TWO_52_BITS = 4503599627370496.0, 0x4330000000000000
_RAD_PER_DEG = np.pi / 180.0
_TAN_11_25_DEG, _TAN_22_5_DEG, _TAN_33_75_DEG = (np.tan(eighths * np.pi / 16) for eighths in (1, 2, 3))


@inlined
def exponential(x: float) -> float:
    """Return e to the power x; beyond +-700, that of +-700."""
    x = 700.0 if x > 700.0 else x
    x = -700.0 if x < -700.0 else x
    shifted = x * _PER_LN2 + _ROUNDING
    twos = shifted - _ROUNDING
    r = x - twos * _LN2_HIGH - twos * _LN2_LOW
    exponent = np.float64(shifted).view(np.int64) + _EXPONENT_OF_ONE
    return (1.0 + _beyond_one(r)) * np.int64(exponent << _FRACTION_BITS).view(np.float64)


@inlined
def _beyond_one(r: float) -> float:
    """Return e to the power r, less 1, for |r| up to 0.35: the Taylor series to the twelfth power."""
    z = r * r
    w = z * z
    low = 1 / 6 + r * (1 / 24) + z * (1 / 120 + r * (1 / 720))
    middle = 1 / 5040 + r * (1 / 40320) + z * (1 / 362880 + r * (1 / 3628800))
    high = 1 / 39916800 + r * (1 / 479001600)
    return r + (0.5 * z + r * z * (low + w * (middle + w * high)))


@inlined
def exponential_less_one(x: float) -> float:
    """Return e to the power x, less 1, exact also for the smallest x."""
    return _beyond_one(x) if abs(x) < 0.35 else exponential(x) - 1.0


@inlined
def logarithm(x: float) -> float:
    """Return the natural logarithm of a positive number; of 0, minus 709."""
    bits = np.float64(x).view(np.int64)
    exponent_bits = (bits - _ROOT_HALF_BITS) & _EXPONENT_MASK
    m = np.int64(bits - exponent_bits).view(np.float64)  # root of a half to root of two
    # A whole number as the last bits of 2^52 is a double: no lane has to convert an integer.
    raised = ((exponent_bits >> _FRACTION_BITS) + 2048) & 4095
    twos = np.int64(raised | _TWO_52_BITS).view(np.float64) - (_TWO_52 + 2048.0)
    s = (m - 1.0) / (m + 1.0)
    z = s * s
    w = z * z
    low = 1 / 3 + z * (1 / 5) + w * (1 / 7 + z * (1 / 9))
    high = 1 / 11 + z * (1 / 13) + w * (1 / 15 + z * (1 / 17)) + w * w * (1 / 19 + z * (1 / 21))
    series = low + w * w * high
    near = 2.0 * s + (2.0 * s * z * series + twos * _LN2_LOW)
    return twos * _LN2_HIGH + near + (x - x)


@inlined
def power(base: float, exponent: float) -> float:
    """Return a positive number to a power; 0 of anything else."""
    return 0.0 if base <= 0.0 else exponential(exponent * logarithm(base))


@inlined
def sine_cosine(angle_deg: float) -> tuple[float, float]:
    """Return sine and cosine of an angle in degrees; exact at the quarters of a turn."""
    shifted = angle_deg * (1 / 90) + _ROUNDING
    x = (angle_deg - (shifted - _ROUNDING) * 90.0) * _RAD_PER_DEG
    z = x * x
    w = z * z
    low = 1 / 6 - z * (1 / 120) + w * (1 / 5040 - z * (1 / 362880))
    high = 1 / 39916800 - z * (1 / 6227020800) + w * (1 / 1307674368000)
    sine = x - x * z * (low + w * w * high)
    low = 1 / 24 - z * (1 / 720) + w * (1 / 40320 - z * (1 / 3628800))
    high = 1 / 479001600 - z * (1 / 87178291200) + w * (1 / 20922789888000)
    cosine = 1.0 - (0.5 * z - w * (low + w * w * high))
    quarter = np.float64(shifted).view(np.int64)
    odd = (quarter & 1) == 1
    first, second = (cosine, sine) if odd else (sine, cosine)
    return (-first if (quarter & 2) == 2 else first), (-second if ((quarter + 1) & 2) == 2 else second)


@inlined
def angle_deg(y: float, x: float) -> float:
    """Return the angle in degrees, -180 to 180, from the x axis to a point; 0 for none.

    Within an eighth of a turn it is turned back by 0, 22.5 or 45 degrees, tan(a - b) = (y - x tan b) /
    (x + y tan b), so that the series of the inverse tangent is short.
    """
    across, along = abs(y), abs(x)
    steep = across > along
    near, far = (along, across) if steep else (across, along)
    back_deg, back = (22.5, _TAN_22_5_DEG) if near > far * _TAN_11_25_DEG else (0.0, 0.0)
    back_deg, back = (45.0, 1.0) if near > far * _TAN_33_75_DEG else (back_deg, back)
    across_left, along_left = near - back * far, far + back * near
    t = across_left / (along_left if along_left != 0.0 else 1.0)
    z = t * t
    w = z * z
    low = 1 / 3 - z * (1 / 5) + w * (1 / 7 - z * (1 / 9))
    high = 1 / 11 - z * (1 / 13) + w * (1 / 15 - z * (1 / 17)) + w * w * (1 / 19 - z * (1 / 21))
    series = low + w * w * high
    turned = back_deg + (t - t * z * series) * (1.0 / _RAD_PER_DEG)
    turned = 90.0 - turned if steep else turned
    turned = 180.0 - turned if x < 0.0 else turned
    return -turned if y < 0.0 else turned
