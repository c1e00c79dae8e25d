"""Where the sun stands seen from the middle of the Earth, at any time.

NREL's Solar Position Algorithm (SPA): Reda & Andreas 2004, Solar Energy 76:577, doi
10.1016/j.solener.2003.12.003; equation numbers are those of the report NREL/TP-560-34302 (2008). The report's
tables of periodic terms, A4.2 and A4.3, are taken from pvlib.
"""

from typing import NamedTuple

import numpy as np

from routesolar.arrays import FloatArray, IntArray
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.elementary import angle_deg, sine_cosine
from routesolar.physics.pvlib_parts import pvlib_module

DELTA_T_S = 67.0  # terrestrial minus universal time; the 75 s of 2026 would move the azimuth by 2.4e-4 deg
_DAY_S, _CENTURY_DAYS = 86_400.0, 36_525.0
_UNIX_DAYS = 2_440_587.5 - 2_451_545.0  # from the epoch J2000 to 1970
# Elongation of the moon, anomalies of sun and moon, the moon's latitude and node, in degrees: Eq. 15 to 19.
_ANGLES = np.array(
    [
        [297.85036, 445_267.111480, -0.0019142, 1 / 189_474],
        [357.52772, 35_999.050340, -0.0001603, -1 / 300_000],
        [134.96298, 477_198.867398, 0.0086972, 1 / 56_250],
        [93.27191, 483_202.017538, -0.0036825, 1 / 327_270],
        [125.04452, -1_934.136261, 0.0020708, 1 / 450_000],
    ]
)
# The mean obliquity of the ecliptic in arc seconds, by powers of ten thousand years: Eq. 24.
_OBLIQUITY = np.array(
    [84_381.448, -4_680.93, -1.55, 1_999.25, -51.38, -249.67, -39.05, 7.12, 27.87, 5.79, 2.45]
)
_MOST_POWER = 5


class Geocentric(NamedTuple):
    """The sun's hour angle at Greenwich and its declination in degrees, its distance in au, all (n,)."""

    hour_angle_deg: FloatArray
    declination_deg: FloatArray
    distance_au: FloatArray


class _Terms(NamedTuple):
    """Periodic terms, A cos(B + C t) t^power in rows of (A, B, C, power), and those of nutation.

    `angles` (k, 5) are multiples of _ANGLES, `nutation` (k, 4) the amplitudes a, b, c, d of Eq. 20 and 21.
    """

    longitude_rad: FloatArray
    latitude_rad: FloatArray
    radius_au: FloatArray
    angles: IntArray
    nutation: FloatArray


def geocentric_at(utc_s: FloatArray) -> Geocentric:
    """Return where the sun stands at times (n,) in seconds since 1970, within the years -2000 to 6000.

    SPA is stated to 0.0003 deg. Within 2e-7 deg of pvlib's evaluation of it, whose days are rounded so far.
    """
    seen = Geocentric(*np.empty((3, len(utc_s))))
    _fill(_TERMS, utc_s, seen)
    return seen


def _read_terms() -> _Terms:
    spa = pvlib_module("spa")

    def of(*powers: FloatArray) -> FloatArray:
        return np.vstack([np.column_stack([table, np.full(len(table), k)]) for k, table in enumerate(powers)])

    return _Terms(
        longitude_rad=of(spa.L0, spa.L1, spa.L2, spa.L3, spa.L4, spa.L5),
        latitude_rad=of(spa.B0, spa.B1),
        radius_au=of(spa.R0, spa.R1, spa.R2, spa.R3, spa.R4),
        angles=np.array(spa.NUTATION_YTERM_ARRAY, dtype=np.int64),
        nutation=np.array(spa.NUTATION_ABCD_ARRAY, dtype=np.float64),
    )


_TERMS = _read_terms()


@compiled
def _fill(terms: _Terms, utc_s: FloatArray, seen: Geocentric) -> None:
    angles, powers = np.empty(len(_ANGLES)), np.empty(_MOST_POWER + 1)
    for j in range(len(utc_s)):
        days = utc_s[j] / _DAY_S + _UNIX_DAYS
        century = (days + DELTA_T_S / _DAY_S) / _CENTURY_DAYS  # of terrestrial time
        for k in range(len(powers)):
            powers[k] = (century / 10.0) ** k
        for k in range(len(angles)):
            angles[k] = _polynomial(_ANGLES[k], century)
        to_longitude_deg, to_obliquity_deg = _nutation_deg(terms, angles, century)
        obliquity_deg = _polynomial(_OBLIQUITY, century / 100.0) / 3600.0 + to_obliquity_deg  # Eq. 25
        radius_au = _periodic(terms.radius_au, powers)
        longitude_deg = np.degrees(_periodic(terms.longitude_rad, powers)) + 180.0  # Eq. 13
        latitude_deg = -np.degrees(_periodic(terms.latitude_rad, powers))  # Eq. 14
        longitude_deg += to_longitude_deg - 20.4898 / (3600.0 * radius_au)  # Eq. 26 and 27
        sine, cosine = sine_cosine(longitude_deg % 360.0)
        up, level = sine_cosine(latitude_deg)
        tilt_sine, tilt_cosine = sine_cosine(obliquity_deg)
        right_ascension_deg = angle_deg(sine * tilt_cosine - up / level * tilt_sine, cosine)  # Eq. 30
        sidereal_deg = (280.46061837 + 360.98564736629 * days) % 360.0  # Eq. 28
        in_centuries = days / _CENTURY_DAYS
        sidereal_deg += in_centuries**2 * (0.000387933 - in_centuries / 38_710_000.0)
        sidereal_deg += to_longitude_deg * tilt_cosine  # Eq. 29
        sine_declination = up * tilt_cosine + level * tilt_sine * sine  # Eq. 31
        across = np.sqrt(1.0 - sine_declination * sine_declination)
        seen.hour_angle_deg[j] = (sidereal_deg - right_ascension_deg) % 360.0
        seen.declination_deg[j] = angle_deg(sine_declination, across)
        seen.distance_au[j] = radius_au


@inlined
def _polynomial(factors: FloatArray, x: float) -> float:
    """Return the sum of factors times powers of x, from the power of 0 on."""
    total = 0.0
    for k in range(len(factors) - 1, -1, -1):
        total = total * x + factors[k]
    return total


@inlined
def _periodic(rows: FloatArray, powers: FloatArray) -> float:
    """Return the sum of periodic terms (Eq. 9 to 11), over 1e8: radians, or au."""
    total = 0.0
    for k in range(len(rows)):
        total += rows[k, 0] * np.cos(rows[k, 1] + rows[k, 2] * powers[1]) * powers[int(rows[k, 3])]
    return total / 1e8


@inlined
def _nutation_deg(terms: _Terms, angles: FloatArray, century: float) -> tuple[float, float]:
    """Return by how many degrees nutation moves longitude and obliquity (Eq. 20 to 23)."""
    to_longitude = to_obliquity = 0.0
    for k in range(len(terms.angles)):
        angle = 0.0
        for m in range(len(angles)):
            angle += terms.angles[k, m] * angles[m]
        sine, cosine = sine_cosine(angle)
        to_longitude += (terms.nutation[k, 0] + terms.nutation[k, 1] * century) * sine
        to_obliquity += (terms.nutation[k, 2] + terms.nutation[k, 3] * century) * cosine
    return to_longitude / 36_000_000.0, to_obliquity / 36_000_000.0
