"""Where the sun stands, seen from any place on Earth at any time.

NREL's Solar Position Algorithm (SPA): Reda & Andreas 2004, Solar Energy 76:577, doi
10.1016/j.solener.2003.12.003; equation numbers are those of the report NREL/TP-560-34302 (2008). Its slow
part, which depends on time alone, is taken from pvlib at full hours; between them the sun's hour angle,
declination and distance change so evenly that a straight line stays within 2e-6 deg. What depends on
the observer, parallax and refraction included, is computed exactly for every point.
"""

from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray
from routesolar.errors import InputError
from routesolar.physics.compiled import compiled
from routesolar.physics.pvlib_parts import pvlib_module
from routesolar.physics.threads import over_departures

spa = pvlib_module("spa")
Number = TypeVar("Number", float, FloatArray)

DELTA_T_S = 67.0  # terrestrial minus universal time; the 75 s of 2026 would move the azimuth by 2.4e-4 deg
AIR_C = 12.0  # for refraction only
_REFRACTION_AT_HORIZON_DEG = 0.5667
_SUN_RADIUS_DEG = 0.26667
_EARTH_AXIS_RATIO = 0.99664719
_EARTH_RADIUS_M = 6_378_140.0
_PARALLAX_AT_1_AU_DEG = 8.794 / 3600
_SPA_YEARS_UTC_S = (-125_281_123_200.0, 127_174_492_800.0)  # from the year -2000 to 6000
_HOUR_S = 3600.0

UPPER_LIMB_DEG = -0.8333  # the centre's height when the upper limb touches the horizon: refraction, radius


class SunPosition(NamedTuple):
    """The sun's azimuth from true north, its elevation above the horizon and its distance."""

    azimuth_deg: FloatArray
    elevation_deg: FloatArray
    apparent_elevation_deg: FloatArray
    earth_sun_au: FloatArray


def sun_position(
    latitude_deg: ArrayLike, longitude_deg: ArrayLike, elevation_m: ArrayLike, utc_s: ArrayLike
) -> SunPosition:
    """Return the sun's azimuth, true and apparent elevation in degrees, and its distance in au.

    SPA itself is stated to 0.0003 deg for the years -2000 to 6000; this evaluation of it stays within
    1e-5 deg. Elevations are those of the sun's centre as seen from the place; the apparent one includes
    refraction at the standard atmosphere's pressure for `elevation_m` and 12 C, and as in SPA it has none
    once the upper limb has set (0.833 deg below the horizon). Place and time broadcast together, for
    example (n,) and (d, n); NaN in any of them gives NaN.

    Raises:
        InputError: a time lies outside the years -2000 to 6000.
    """
    place_and_time = (
        np.asarray(v, dtype=np.float64) for v in (latitude_deg, longitude_deg, elevation_m, utc_s)
    )
    latitude, longitude, elevation, utc = np.broadcast_arrays(*place_and_time)
    greenwich_hour_angle_deg, declination_deg, distance_au = _geocentric(utc)
    hour_angle_deg = greenwich_hour_angle_deg + longitude
    given = np.stack([latitude, elevation, hour_angle_deg, declination_deg, distance_au]).reshape(5, -1)
    out = np.empty((3, utc.size))
    over_departures(lambda first, end: _fill_topocentric(given[:, first:end], out[:, first:end]), utc.size, 1)
    azimuth, true, apparent = out.reshape(3, *utc.shape)
    return SunPosition(azimuth, true, apparent, distance_au)


@compiled
def topocentric(
    latitude_deg: float, elevation_m: float, hour_angle_deg: float, declination_deg: float, distance_au: float
) -> tuple[float, float, float]:
    """Return the sun's azimuth, true and apparent elevation in degrees from its geocentric place; a scalar.

    SPA's equations 34 to 46 in rectangular form: the observer's own place on the ellipsoid is
    subtracted from the sun's direction, so that no tangent fails at a pole.
    """
    sin_latitude, cos_latitude = np.sin(np.radians(latitude_deg)), np.cos(np.radians(latitude_deg))
    hour_angle, declination = np.radians(hour_angle_deg), np.radians(declination_deg)
    reduced = np.sqrt(cos_latitude**2 + (_EARTH_AXIS_RATIO * sin_latitude) ** 2)  # Eq. 34, u as sine and cosine
    height = elevation_m / _EARTH_RADIUS_M
    x = cos_latitude / reduced + height * cos_latitude  # Eq. 35
    y = _EARTH_AXIS_RATIO**2 * sin_latitude / reduced + height * sin_latitude  # Eq. 36
    parallax = np.sin(np.radians(_PARALLAX_AT_1_AU_DEG / distance_au))  # Eq. 33

    to_meridian = np.cos(declination) * np.cos(hour_angle) - x * parallax
    to_west = np.cos(declination) * np.sin(hour_angle)
    to_pole = np.sin(declination) - y * parallax

    up = to_pole * sin_latitude + to_meridian * cos_latitude
    south = to_meridian * sin_latitude - to_pole * cos_latitude
    azimuth_deg = np.degrees(np.arctan2(to_west, south)) + 180.0  # Eq. 45
    elevation_deg = np.degrees(np.arctan2(up, np.sqrt(south * south + to_west * to_west)))  # Eq. 41
    apparent_deg = elevation_deg + refraction_deg(elevation_deg, isa_pressure_pa(elevation_m))
    return azimuth_deg % 360.0, elevation_deg, apparent_deg


@compiled
def refraction_deg(elevation_deg: float, pressure_pa: float) -> float:
    """Return by how many degrees the air at 12 C lifts the sun (SPA eq. 42); a scalar.

    Exactly 0 once the sun's upper limb has set.
    """
    if elevation_deg < -(_SUN_RADIUS_DEG + _REFRACTION_AT_HORIZON_DEG):
        return 0.0
    air = (pressure_pa / 101_000.0) * (283.0 / (273.0 + AIR_C))
    return air * 1.02 / (60 * np.tan(np.radians(elevation_deg + 10.3 / (elevation_deg + 5.11))))


@compiled
def isa_pressure_pa(elevation_m: Number) -> Number:
    """Return the air pressure in Pa of the standard atmosphere (ISO 2533), for heights up to 11 km.

    Takes a scalar, also inside compiled code, or an array.
    """
    return 101_325.0 * (1 - 0.0065 / 288.15 * elevation_m) ** 5.255_88


@compiled
def _fill_topocentric(given: FloatArray, out: FloatArray) -> None:
    """Fill azimuth, true and apparent elevation (3, n) for what `topocentric` takes, (5, n)."""
    for i in range(given.shape[1]):
        azimuth, true, apparent = topocentric(given[0, i], given[1, i], given[2, i], given[3, i], given[4, i])
        out[0, i], out[1, i], out[2, i] = azimuth, true, apparent


def _geocentric(utc_s: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the hour angle at Greenwich and the declination in degrees, and the distance in au."""
    first, last = _SPA_YEARS_UTC_S
    outside = (utc_s < first) | (utc_s > last)
    if outside.any():
        raise InputError(
            f"the time {utc_s[outside][0]:.0f} s since 1970 is outside the years -2000 to 6000 that the "
            "sun's position is known for; check the dates"
        )
    hour = np.floor(np.nan_to_num(utc_s) / _HOUR_S).astype(np.int64)
    origin = hour.min(initial=0)
    needed = np.zeros(hour.max(initial=0) - origin + 2, dtype=bool)
    needed[hour - origin] = needed[hour - origin + 1] = True
    row = (np.cumsum(needed) - 1)[hour - origin]
    fraction = utc_s / _HOUR_S - hour
    grid = _geocentric_at((np.flatnonzero(needed) + origin) * _HOUR_S)
    # Per hour, not unwrapped along the grid: an instant gives the same bits whatever else is asked for.
    turn = (grid[0][row + 1] - grid[0][row]) % 360.0
    declination, distance = (v[row] + fraction * (v[row + 1] - v[row]) for v in grid[1:])
    return grid[0][row] + fraction * turn, declination, distance


def _geocentric_at(utc_s: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    # The place and the weather pvlib asks for do not enter the geocentric values.
    unused = (0.0, 0.0, 0.0, 0.0, 0.0, DELTA_T_S, 0.0, 1)
    sidereal_deg, right_ascension_deg, declination_deg = spa.solar_position_numpy(utc_s, *unused, sst=True)
    (distance_au,) = spa.solar_position_numpy(utc_s, *unused, esd=True)
    return (sidereal_deg - right_ascension_deg) % 360.0, declination_deg, distance_au
