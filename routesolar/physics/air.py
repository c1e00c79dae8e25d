"""The air that is usual at a place, on a day of the year, at an hour: where nobody says how warm it is."""

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled
from routesolar.physics.threads import over_departures
from routesolar.physics.world_maps import between_nodes, usual_air, usual_swing

LAPSE_C_PER_M = 0.0065  # ISO 2533 standard atmosphere
_DAY_S, _YEAR_DAYS = 86_400.0, 365.2425


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
    shape = np.broadcast_shapes((1, 1), time_s.shape, place[0].shape)
    waves, months = between_nodes(usual_air(), *place), _swings_c(place)
    level = np.broadcast_to(np.stack([height_m, place[1]]), (2, shape[1])).copy()
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
    for i in range(time_s.shape[0]):
        for j in range(time_s.shape[1]):
            days = time_s[i, j] / _DAY_S
            if np.isnan(days):
                air_c[i, j] = np.nan
                continue
            year_frac = days / _YEAR_DAYS % 1.0
            mean_c = _season(waves[j], year_frac) - LAPSE_C_PER_M * level[0, j]
            air_c[i, j] = mean_c + _swing_c(months[j], year_frac) * _of_day(days + level[1, j] / 360.0)


@compiled
def _season(wave: FloatArray, year_frac: float) -> float:
    """Return what a place's waves (5,) come to at a share of the year that is gone."""
    cosine, sine = np.cos(2 * np.pi * year_frac), np.sin(2 * np.pi * year_frac)
    half_year = wave[3] * (2.0 * cosine * cosine - 1.0) + wave[4] * 2.0 * sine * cosine
    return wave[0] + wave[1] * cosine + wave[2] * sine + half_year


@compiled
def _swing_c(months: FloatArray, year_frac: float) -> float:
    """Return highest less lowest air of the day, linear between the middles of months (12,)."""
    month = year_frac * 12 - 0.5
    first = int(np.floor(month))
    return (first + 1 - month) * months[first % 12] + (month - first) * months[(first + 1) % 12]


@compiled
def _of_day(solar_days: float) -> float:
    """Return where in its daily swing the air stands, about 0 on average; its highest less its lowest is 1."""
    angle = 2 * np.pi * (solar_days % 1.0)
    return -0.46 * np.sin(angle + 0.9) + 0.11 * np.sin(2 * angle + 0.9)
