"""Where the sun stands, seen from any place on Earth at any time.

NREL's Solar Position Algorithm (SPA): Reda & Andreas 2004, Solar Energy 76:577, doi
10.1016/j.solener.2003.12.003; equation numbers are those of the report NREL/TP-560-34302 (2008). Its slow
part, which depends on time alone, is taken from pvlib at full hours; between them the sun's hour angle,
declination and distance change so evenly that a straight line stays within 2e-6 deg. What depends on
the observer, parallax and refraction included, is computed exactly for every point.
"""

import math
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from routesolar.arrays import FloatArray
from routesolar.errors import InputError
from routesolar.physics.blocks import BLOCK, bring, take_out
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.elementary import angle_deg, power, sine_cosine
from routesolar.physics.pvlib_parts import pvlib_module
from routesolar.physics.rows import in_rows
from routesolar.physics.threads import over_departures

spa = pvlib_module("spa")

DELTA_T_S = 67.0  # terrestrial minus universal time; the 75 s of 2026 would move the azimuth by 2.4e-4 deg
AIR_C = 12.0  # for refraction only
_REFRACTION_AT_HORIZON_DEG = 0.5667
_SUN_RADIUS_DEG = 0.26667
_EARTH_AXIS_RATIO = 0.99664719
_EARTH_RADIUS_M = 6_378_140.0
_PARALLAX_AT_1_AU_DEG = 8.794 / 3600
_SPA_YEARS_UTC_S = (-125_281_123_200.0, 127_174_492_800.0)  # from the year -2000 to 6000
_HOUR_S = 3600.0

_ROWS = 8
_LATITUDE, _HEIGHT, _HOUR_ANGLE, _DECLINATION, _DISTANCE, _AZIMUTH, _TRUE, _APPARENT = range(_ROWS)

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
    places, time_s, shape = in_rows((latitude_deg, longitude_deg, elevation_m), utc_s)
    seen = SunPosition(*(np.empty(time_s.shape) for _ in SunPosition._fields))
    hours = _Hours.of(time_s)
    over_departures(lambda first, end: _fill(first, end, _Places(*places), time_s, hours, seen), *time_s.shape)
    return SunPosition(*(field.reshape(shape) for field in seen))


@inlined
def topocentric(
    latitude_deg: float, elevation_m: float, hour_angle_deg: float, declination_deg: float, distance_au: float
) -> tuple[float, float, float]:
    """Return the sun's azimuth, true and apparent elevation in degrees from its geocentric place; a scalar.

    SPA's equations 34 to 46 in rectangular form: the observer's own place on the ellipsoid is
    subtracted from the sun's direction, so that no tangent fails at a pole.
    """
    sin_latitude, cos_latitude = sine_cosine(latitude_deg)
    sin_hour, cos_hour = sine_cosine(hour_angle_deg)
    sin_declination, cos_declination = sine_cosine(declination_deg)
    reduced = np.sqrt(cos_latitude**2 + (_EARTH_AXIS_RATIO * sin_latitude) ** 2)  # Eq. 34, u as sine and cosine
    height = elevation_m / _EARTH_RADIUS_M
    x = cos_latitude / reduced + height * cos_latitude  # Eq. 35
    y = _EARTH_AXIS_RATIO**2 * sin_latitude / reduced + height * sin_latitude  # Eq. 36
    parallax, _ = sine_cosine(_PARALLAX_AT_1_AU_DEG / distance_au)  # Eq. 33

    to_meridian = cos_declination * cos_hour - x * parallax
    to_west = cos_declination * sin_hour
    to_pole = sin_declination - y * parallax

    up = to_pole * sin_latitude + to_meridian * cos_latitude
    south = to_meridian * sin_latitude - to_pole * cos_latitude
    azimuth_deg = angle_deg(to_west, south) + 180.0  # Eq. 45
    elevation_deg = angle_deg(up, np.sqrt(south * south + to_west * to_west))  # Eq. 41
    apparent_deg = elevation_deg + refraction_deg(elevation_deg, isa_pressure_pa(elevation_m))
    return (0.0 if azimuth_deg >= 360.0 else azimuth_deg), elevation_deg, apparent_deg


@inlined
def refraction_deg(elevation_deg: float, pressure_pa: float) -> float:
    """Return by how many degrees the air at 12 C lifts the sun (SPA eq. 42); a scalar.

    Exactly 0 once the sun's upper limb has set.
    """
    if elevation_deg < -(_SUN_RADIUS_DEG + _REFRACTION_AT_HORIZON_DEG):
        return 0.0
    air = (pressure_pa / 101_000.0) * (283.0 / (273.0 + AIR_C))
    sine, cosine = sine_cosine(elevation_deg + 10.3 / (elevation_deg + 5.11))
    return air * 1.02 * cosine / (60 * sine)


@inlined
def isa_pressure_pa(elevation_m: float) -> float:
    """Return the air pressure in Pa of the standard atmosphere (ISO 2533), up to heights of 11 km; a scalar."""
    return 101_325.0 * power(1 - 0.0065 / 288.15 * elevation_m, 5.255_88)


class _Places(NamedTuple):
    """Where the observer is, (n,)."""

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    elevation_m: FloatArray


class _Hours(NamedTuple):
    """The sun at full hours: its hour angle at Greenwich and declination in degrees and its distance in au.

    `row` tells for each hour from `first` on which of these it is; only hours in use are known.
    """

    first: int
    row: NDArray[np.int64]
    hour_angle_deg: FloatArray
    declination_deg: FloatArray
    distance_au: FloatArray

    @classmethod
    def of(cls, utc_s: FloatArray) -> Self:
        """Return the full hours before and after every time, of any shape.

        Raises:
            InputError: a time lies outside the years -2000 to 6000.
        """
        earliest, latest = (float(end.reduce(utc_s, axis=None, initial=0.0)) for end in (np.fmin, np.fmax))
        for time_s in (earliest, latest):
            if not _SPA_YEARS_UTC_S[0] <= time_s <= _SPA_YEARS_UTC_S[1]:
                raise InputError(
                    f"the time {time_s:.0f} s since 1970 is outside the years -2000 to 6000 that the "
                    "sun's position is known for; check the dates"
                )
        first = math.floor(earliest / _HOUR_S)
        needed = np.zeros(math.floor(latest / _HOUR_S) - first + 2, dtype=np.bool_)
        _mark_hours(utc_s.ravel(), first, needed)
        known = _geocentric_at(np.float64(_HOUR_S) * (np.flatnonzero(needed) + first))
        return cls(first, np.cumsum(needed) - 1, *known)


@compiled
def _mark_hours(utc_s: FloatArray, first: int, needed: NDArray[np.bool_]) -> None:
    """Mark the full hours before and after each time, counted from `first`; of a time not known, none."""
    for time_s in utc_s:
        if not np.isnan(time_s):
            hour = int(np.floor(time_s / _HOUR_S)) - first
            needed[hour] = needed[hour + 1] = True


@compiled
def _fill(first: int, end: int, places: _Places, utc_s: FloatArray, hours: _Hours, seen: SunPosition) -> None:
    """Fill rows of `seen`, (d, n), at places (n,) and times (d, n)."""
    block, count = np.empty((_ROWS, BLOCK)), utc_s.shape[1]
    for i in range(first, end):
        for start in range(0, count, BLOCK):
            stop = min(start + BLOCK, count)
            bring(block, _LATITUDE, places.latitude_deg, start, stop)
            bring(block, _HEIGHT, places.elevation_m, start, stop)
            for j in range(stop - start):
                at = _geocentric(utc_s[i, start + j], hours)
                block[_HOUR_ANGLE, j] = at[0] + places.longitude_deg[start + j]
                block[_DECLINATION, j], block[_DISTANCE, j] = at[1], at[2]
            for j in range(stop - start):
                azimuth, true, apparent = topocentric(
                    block[_LATITUDE, j],
                    block[_HEIGHT, j],
                    block[_HOUR_ANGLE, j],
                    block[_DECLINATION, j],
                    block[_DISTANCE, j],
                )
                block[_AZIMUTH, j], block[_TRUE, j], block[_APPARENT, j] = azimuth, true, apparent
            take_out(block, _AZIMUTH, seen.azimuth_deg[i], start, stop)
            take_out(block, _TRUE, seen.elevation_deg[i], start, stop)
            take_out(block, _APPARENT, seen.apparent_elevation_deg[i], start, stop)
            take_out(block, _DISTANCE, seen.earth_sun_au[i], start, stop)


@inlined
def _geocentric(utc_s: float, hours: _Hours) -> tuple[float, float, float]:
    """Return the hour angle at Greenwich and the declination in degrees, and the distance in au, at a time.

    An instant gives the same bits whatever else is asked for: the hour angle is not unwrapped along the hours.
    """
    if np.isnan(utc_s):
        return np.nan, np.nan, np.nan
    passed = utc_s / _HOUR_S
    hour = np.floor(passed)
    share = passed - hour
    row = hours.row[int(hour) - hours.first]
    turn = hours.hour_angle_deg[row + 1] - hours.hour_angle_deg[row]
    turn = turn + 360.0 if turn < 0.0 else turn
    declination, distance = hours.declination_deg, hours.distance_au
    return (
        hours.hour_angle_deg[row] + share * turn,
        declination[row] + share * (declination[row + 1] - declination[row]),
        distance[row] + share * (distance[row + 1] - distance[row]),
    )


def _geocentric_at(utc_s: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    # The place and the weather pvlib asks for do not enter the geocentric values.
    unused = (0.0, 0.0, 0.0, 0.0, 0.0, DELTA_T_S, 0.0, 1)
    sidereal_deg, right_ascension_deg, declination_deg = spa.solar_position_numpy(utc_s, *unused, sst=True)
    (distance_au,) = spa.solar_position_numpy(utc_s, *unused, esd=True)
    return (sidereal_deg - right_ascension_deg) % 360.0, declination_deg, distance_au
