"""Where the sun stands, seen from any place on Earth at any time.

NREL's Solar Position Algorithm (SPA): Reda & Andreas 2004, Solar Energy 76:577, doi
10.1016/j.solener.2003.12.003; equation numbers are those of the report NREL/TP-560-34302 (2008). Its slow
part, which depends on time alone (geocentric.py), is done at full hours; between them the sun's hour angle,
declination and distance change so evenly that a straight line stays within 2e-6 deg. What depends on
the observer, parallax and refraction included, is computed exactly for every point.
"""

import math
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from routesolar.arrays import FloatArray, room
from routesolar.errors import InputError
from routesolar.physics.blocks import BLOCK, bring, take_out
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.elementary import angle_deg, power, sine_cosine
from routesolar.physics.geocentric import geocentric_at
from routesolar.physics.rows import in_rows
from routesolar.physics.threads import over_departures

AIR_C = 12.0  # for refraction only
_REFRACTION_AT_HORIZON_DEG = 0.5667
_SUN_RADIUS_DEG = 0.26667
_EARTH_AXIS_RATIO = 0.99664719
_EARTH_RADIUS_M = 6_378_140.0
_PARALLAX_AT_1_AU_RAD = math.radians(8.794 / 3600)
_SPA_YEARS_UTC_S = (-125_281_123_200.0, 127_174_492_800.0)  # from the year -2000 to 6000
_HOUR_S = 3600.0

# Rows of a block: the places, the hours before and after, the sun between them, and how it is seen.
_ROWS = 20
_LATITUDE, _HEIGHT, _LONGITUDE, _SINE, _COSINE, _FROM_AXIS, _TO_POLE, _AIR = range(8)
_TIME, _HOUR, _SHARE, _ANGLE, _ANGLE_AFTER, _DECLINATION, _DECLINATION_AFTER = range(8, 15)
_DISTANCE, _DISTANCE_AFTER, _AZIMUTH, _TRUE, _APPARENT = range(15, _ROWS)

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
    seen = SunPosition(*room(4, *time_s.shape))
    hours = _Hours.of(time_s)
    over_departures(lambda first, end: _fill(first, end, _Places(*places), time_s, hours, seen), *time_s.shape)
    return SunPosition(*(field.reshape(shape) for field in seen))


class Observer(NamedTuple):
    """A place from which the sun is seen: its latitude, where it is on the ellipsoid, how dense its air is."""

    sin_latitude: float
    cos_latitude: float
    from_axis: float  # in Earth radii
    to_pole: float
    air_frac: float  # of the density that refraction is tabulated for


@inlined
def observer(latitude_deg: float, elevation_m: float) -> Observer:
    """Return what SPA needs to know of a place (equations 34 to 36); scalars."""
    sine, cosine = sine_cosine(latitude_deg)
    reduced = np.sqrt(cosine**2 + (_EARTH_AXIS_RATIO * sine) ** 2)  # Eq. 34, u as sine and cosine
    height = elevation_m / _EARTH_RADIUS_M
    from_axis = cosine / reduced + height * cosine  # Eq. 35
    to_pole = _EARTH_AXIS_RATIO**2 * sine / reduced + height * sine  # Eq. 36
    return Observer(sine, cosine, from_axis, to_pole, refracting_frac(isa_pressure_pa(elevation_m)))


@inlined
def topocentric(
    place: Observer, hour_angle_deg: float, declination_deg: float, distance_au: float
) -> tuple[float, float, float]:
    """Return the sun's azimuth, true and apparent elevation in degrees from its geocentric place; a scalar.

    SPA's equations 37 to 46 in rectangular form: the observer's own place on the ellipsoid is
    subtracted from the sun's direction, so that no tangent fails at a pole.
    """
    sin_hour, cos_hour = sine_cosine(hour_angle_deg)
    sin_declination, cos_declination = sine_cosine(declination_deg)
    angle = _PARALLAX_AT_1_AU_RAD / distance_au
    parallax = angle * (1.0 - angle * angle * (1 / 6))  # its sine, Eq. 33

    to_meridian = cos_declination * cos_hour - place.from_axis * parallax
    to_west = cos_declination * sin_hour
    to_pole = sin_declination - place.to_pole * parallax

    up = to_pole * place.sin_latitude + to_meridian * place.cos_latitude
    south = to_meridian * place.sin_latitude - to_pole * place.cos_latitude
    azimuth_deg = angle_deg(to_west, south) + 180.0  # Eq. 45
    elevation_deg = angle_deg(up, np.sqrt(south * south + to_west * to_west))  # Eq. 41
    apparent_deg = elevation_deg + refraction_deg(elevation_deg, place.air_frac)
    return (0.0 if azimuth_deg >= 360.0 else azimuth_deg), elevation_deg, apparent_deg


@inlined
def refracting_frac(pressure_pa: float) -> float:
    """Return how much air at 12 C refracts, over that of 1010 hPa and 10 C (SPA eq. 42); a scalar."""
    return (pressure_pa / 101_000.0) * (283.0 / (273.0 + AIR_C))


@inlined
def refraction_deg(elevation_deg: float, air_frac: float) -> float:
    """Return by how many degrees the air lifts the sun (SPA eq. 42), from `refracting_frac`; a scalar.

    Exactly 0 once the sun's upper limb has set.
    """
    if elevation_deg < -(_SUN_RADIUS_DEG + _REFRACTION_AT_HORIZON_DEG):
        return 0.0
    sine, cosine = sine_cosine(elevation_deg + 10.3 / (elevation_deg + 5.11))
    return air_frac * 1.02 * cosine / (60 * sine)


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
        ends = (float(end.reduce(utc_s, axis=None, initial=np.nan)) for end in (np.fmin, np.fmax))
        earliest, latest = (0.0 if math.isnan(end) else end for end in ends)
        for time_s in (earliest, latest):
            if not _SPA_YEARS_UTC_S[0] <= time_s <= _SPA_YEARS_UTC_S[1]:
                raise InputError(
                    f"the time {time_s:.0f} s since 1970 is outside the years -2000 to 6000 that the "
                    "sun's position is known for; check the dates"
                )
        first = math.floor(earliest / _HOUR_S)
        needed = np.zeros(math.floor(latest / _HOUR_S) - first + 2, dtype=np.bool_)
        needed[:2] = True  # those of the earliest time, or of none
        _mark_hours(utc_s.ravel(), first, needed)
        known = geocentric_at(np.float64(_HOUR_S) * (np.flatnonzero(needed) + first))
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
    for start in range(0, count, BLOCK):
        stop = min(start + BLOCK, count)
        _bring_places(block, start, stop, places)
        for i in range(first, end):
            _fill_part(i, start, stop, block, utc_s, hours, seen)


@inlined
def _fill_part(
    i: int, start: int, stop: int, block: FloatArray, utc_s: FloatArray, hours: _Hours, seen: SunPosition
) -> None:
    """Fill a block of a row of `seen`."""
    bring(block[_TIME], utc_s[i], start, stop)
    _between_hours(block, stop - start, hours)
    for j in range(stop - start):
        place = Observer(
            block[_SINE, j],
            block[_COSINE, j],
            block[_FROM_AXIS, j],
            block[_TO_POLE, j],
            block[_AIR, j],
        )
        azimuth, true, apparent = topocentric(
            place, block[_ANGLE, j], block[_DECLINATION, j], block[_DISTANCE, j]
        )
        block[_AZIMUTH, j], block[_TRUE, j], block[_APPARENT, j] = azimuth, true, apparent
    take_out(block[_AZIMUTH], seen.azimuth_deg[i], start, stop)
    take_out(block[_TRUE], seen.elevation_deg[i], start, stop)
    take_out(block[_APPARENT], seen.apparent_elevation_deg[i], start, stop)
    take_out(block[_DISTANCE], seen.earth_sun_au[i], start, stop)


@inlined
def _bring_places(block: FloatArray, start: int, stop: int, places: _Places) -> None:
    """Bring what the sun's place depends on but time."""
    bring(block[_LATITUDE], places.latitude_deg, start, stop)
    bring(block[_LONGITUDE], places.longitude_deg, start, stop)
    bring(block[_HEIGHT], places.elevation_m, start, stop)
    for j in range(stop - start):
        place = observer(block[_LATITUDE, j], block[_HEIGHT, j])
        block[_SINE, j], block[_COSINE, j] = place.sin_latitude, place.cos_latitude
        block[_FROM_AXIS, j], block[_TO_POLE, j] = place.from_axis, place.to_pole
        block[_AIR, j] = place.air_frac


@inlined
def _between_hours(block: FloatArray, count: int, hours: _Hours) -> None:
    """Work out the sun's local hour angle, its declination and distance at the times of a block.

    An instant gives the same bits whatever else is asked for: the hour angle is not unwrapped along the hours.
    """
    for j in range(count):
        passed = block[_TIME, j] / _HOUR_S
        block[_HOUR, j] = np.floor(passed)
        block[_SHARE, j] = passed - block[_HOUR, j]
    for j in range(count):
        hour = block[_HOUR, j]
        row = hours.row[0 if np.isnan(hour) else int(hour) - hours.first]
        block[_ANGLE, j], block[_ANGLE_AFTER, j] = hours.hour_angle_deg[row], hours.hour_angle_deg[row + 1]
        block[_DECLINATION, j] = hours.declination_deg[row]
        block[_DECLINATION_AFTER, j] = hours.declination_deg[row + 1]
        block[_DISTANCE, j], block[_DISTANCE_AFTER, j] = hours.distance_au[row], hours.distance_au[row + 1]
    for j in range(count):
        share, angle = block[_SHARE, j], block[_ANGLE, j]  # of a time not known, not known
        turn = block[_ANGLE_AFTER, j] - angle
        turn = turn + 360.0 if turn < 0.0 else turn
        block[_ANGLE, j] = angle + share * turn + block[_LONGITUDE, j]
        block[_DECLINATION, j] += share * (block[_DECLINATION_AFTER, j] - block[_DECLINATION, j])
        block[_DISTANCE, j] += share * (block[_DISTANCE_AFTER, j] - block[_DISTANCE, j])
