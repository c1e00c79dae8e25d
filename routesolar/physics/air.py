"""The air that is usual at a place, on a day of the year, at an hour: where nobody says how warm it is."""

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray
from routesolar.physics.blocks import BLOCK, bring, take_out
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.elementary import sine_cosine
from routesolar.physics.threads import over_departures
from routesolar.physics.world_maps import between_nodes, usual_air, usual_swing

LAPSE_C_PER_M = 0.0065  # ISO 2533 standard atmosphere
_DAY_S, _YEAR_DAYS = 86_400.0, 365.2425
_LATE_DEG = np.degrees(0.9)
# Rows of a block: the place with its waves and its swings in twelve months, then the time and its air.
_ROWS = 26
_HEIGHT, _LONGITUDE, _WAVES, _MONTHS = 0, 1, 2, 7
_DAYS, _YEAR, _MONTH, _SHARE, _SWING, _SWING_AFTER, _AIR = range(19, _ROWS)


def usual_air_c(
    latitude_deg: ArrayLike, longitude_deg: ArrayLike, elevation_m: ArrayLike, utc_s: ArrayLike
) -> FloatArray:
    """Return the usual air temperature in C 2 m above the ground at n places (n,) and times (d, n).

    The mean of the season follows 1979-2014 (ERA-Interim, in Recommendation ITU-R P.1510-1), brought from sea
    level to the place by the standard lapse. Against the monthly means of 270 cities it is off by 1.2 C (rms),
    in one month of ten by 1.8 C and more; single days are several degrees off. About it the air swings over the
    day: as wide as the place's usual sunshine lets it (FAO Irrigation and Drainage Paper 56, eq. 50; at four
    stations up to half too wide, 4 C), in the shape of Campbell & Norman 1998, eq. 2.2 (from memory), lowest
    around five and highest around three by the sun. Unknown height counts as sea level, NaN time gives NaN.
    """
    place = np.asarray(latitude_deg, np.float64), np.asarray(longitude_deg, np.float64)
    height_m = np.nan_to_num(np.asarray(elevation_m, np.float64))
    time_s = np.asarray(utc_s, np.float64)
    waves, months = between_nodes(usual_air(), *place), _swings_c(place)
    shape = np.broadcast_shapes((1, 1), time_s.shape, place[0].shape)
    level = np.broadcast_to(np.stack([height_m, place[1]]), (2, shape[1])).copy()
    waves, months = (np.broadcast_to(each, (shape[1], each.shape[1])).copy() for each in (waves, months))
    air_c = np.empty(shape)
    time_s = np.ascontiguousarray(np.broadcast_to(time_s, shape))
    over_departures(
        lambda first, end: _fill_air(waves, months, level, time_s[first:end], air_c[first:end]), *shape
    )
    return air_c


def _swings_c(place: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Return highest less lowest air of the day in the middles of months, (n, 12)."""
    world = usual_swing()
    north_deg = world.south_deg + world.step_deg * (len(world.values) - 1)
    return between_nodes(world, place[0].clip(world.south_deg, north_deg), place[1])


@compiled
def _fill_air(
    waves: FloatArray, months: FloatArray, level: FloatArray, time_s: FloatArray, air_c: FloatArray
) -> None:
    """Fill the air (d, n) from waves (n, 5), swings (n, 12), height and longitude (2, n)."""
    block, count = np.empty((_ROWS, BLOCK)), time_s.shape[1]
    for start in range(0, count, BLOCK):
        stop = min(start + BLOCK, count)
        bring(block[_HEIGHT], level[0], start, stop)
        bring(block[_LONGITUDE], level[1], start, stop)
        for j in range(stop - start):
            for k in range(_MONTHS - _WAVES):
                block[_WAVES + k, j] = waves[start + j, k]
            for k in range(_DAYS - _MONTHS):
                block[_MONTHS + k, j] = months[start + j, k]
        for i in range(len(time_s)):
            _fill_part(i, start, stop, block, time_s, air_c)


@inlined
def _fill_part(i: int, start: int, stop: int, block: FloatArray, time_s: FloatArray, air_c: FloatArray) -> None:
    """Fill the air of a block of places at a row of times."""
    bring(block[_DAYS], time_s[i], start, stop)
    for j in range(stop - start):
        block[_DAYS, j] *= 1.0 / _DAY_S
        block[_YEAR, j] = _gone(block[_DAYS, j] * (1.0 / _YEAR_DAYS))
    _swing_of_season(block, stop - start)
    for j in range(stop - start):
        mean_c = _season(block, j) - LAPSE_C_PER_M * block[_HEIGHT, j]
        of_day = _of_day(block[_DAYS, j] + block[_LONGITUDE, j] * (1.0 / 360.0))
        block[_AIR, j] = mean_c + block[_SWING, j] * of_day
    take_out(block[_AIR], air_c[i], start, stop)


@inlined
def _gone(turns: float) -> float:
    """Return the share of a turn that is gone."""
    return turns - np.floor(turns)


@inlined
def _season(block: FloatArray, j: int) -> float:
    """Return what a place's waves come to at a share of the year that is gone."""
    sine, cosine = sine_cosine(360.0 * block[_YEAR, j])
    mean, year_cosine, year_sine = block[_WAVES, j], block[_WAVES + 1, j], block[_WAVES + 2, j]
    half_year = (
        block[_WAVES + 3, j] * (2.0 * cosine * cosine - 1.0) + block[_WAVES + 4, j] * 2.0 * sine * cosine
    )
    return mean + year_cosine * cosine + year_sine * sine + half_year


@inlined
def _swing_of_season(block: FloatArray, count: int) -> None:
    """Work out highest less lowest air of the day, linear between the middles of months; NaN of no time."""
    for j in range(count):
        month = block[_YEAR, j] * 12.0 - 0.5
        block[_MONTH, j] = np.floor(month)
        block[_SHARE, j] = month - block[_MONTH, j]
    for j in range(count):
        month = block[_MONTH, j]
        first = 0 if np.isnan(month) else int(month) + 12
        block[_SWING, j] = block[_MONTHS + first % 12, j]
        block[_SWING_AFTER, j] = block[_MONTHS + (first + 1) % 12, j]
    for j in range(count):
        share = block[_SHARE, j]
        block[_SWING, j] = (1.0 - share) * block[_SWING, j] + share * block[_SWING_AFTER, j]


@inlined
def _of_day(solar_days: float) -> float:
    """Return where in its daily swing the air stands, about 0 on average; its highest less its lowest is 1."""
    turn_deg = 360.0 * _gone(solar_days)
    once, _ = sine_cosine(turn_deg + _LATE_DEG)
    twice, _ = sine_cosine(2.0 * turn_deg + _LATE_DEG)
    return -0.46 * once + 0.11 * twice
