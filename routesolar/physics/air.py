"""The air that is usual at a place, on a day of the year, at an hour: where nobody says how warm it is."""

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray
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
    time_s = np.asarray(utc_s, np.float64)
    year_frac = time_s / _DAY_S / _YEAR_DAYS % 1.0
    height_m = np.nan_to_num(np.asarray(elevation_m, np.float64))
    mean_c = _season(between_nodes(usual_air(), *place), year_frac) - LAPSE_C_PER_M * height_m
    return mean_c + _swing_c(place, year_frac) * _of_day(time_s / _DAY_S + place[1] / 360.0)


def _season(waves: FloatArray, year_frac: FloatArray) -> FloatArray:
    """Return what n waves (n, 5) come to at shares of the year that are gone, (d, n)."""
    angle = 2 * np.pi * year_frac
    parts = np.ones_like(angle), np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle)
    season: FloatArray = sum(wave * part for wave, part in zip(waves.T, parts, strict=True))
    return season


def _swing_c(place: tuple[FloatArray, FloatArray], year_frac: FloatArray) -> FloatArray:
    """Return highest less lowest air of the day, (d, n), linear between the middles of months."""
    world = usual_swing()
    north_deg = world.south_deg + world.step_deg * (len(world.values) - 1)
    months = between_nodes(world, place[0].clip(world.south_deg, north_deg), place[1])
    month = year_frac * 12 - 0.5
    first = np.nan_to_num(np.floor(month)).astype(np.int64)
    n = np.arange(len(months))
    swing_c: FloatArray = (first + 1 - month) * months[n, first % 12] + (month - first) * months[
        n, (first + 1) % 12
    ]
    return swing_c


def _of_day(solar_days: FloatArray) -> FloatArray:
    """Return where in its daily swing the air stands, about 0 on average; its highest less its lowest is 1."""
    angle = 2 * np.pi * (solar_days % 1.0)
    return -0.46 * np.sin(angle + 0.9) + 0.11 * np.sin(2 * angle + 0.9)
