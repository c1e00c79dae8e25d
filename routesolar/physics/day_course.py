"""The course of a day's light, and what the day's share of sunshine tells of one stretch of it.

Of a stationary process with an exponential memory m, averaged over a day of length D, the moment t after dawn
has the correlation c(t) = (m / D) (2 - exp(-t / m) - exp(-(D - t) / m)) with the day's mean, whose variance is
V = 2 (m / D) (1 - (m / D) (1 - exp(-D / m))) of a moment's. Knowing the mean takes from the variance of any
weighted sum the square of its covariance with it over V: noon is told more of than dawn, and a sum weighted
by the light of the day is told less of than an even one. All functions take arrays that broadcast.
"""

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray

LOWEST_SUN_DEG = 5.0  # where the day begins and ends, as the shares of sunshine were measured
SHORTEST_DAY_MIN = 60.0
DAY_MIN = 1440.0
DUSK_SINE = 0.116  # of 5 degrees, over the cosines of 40 degrees of latitude and of the mean declination


def daylight_min(latitude_deg: ArrayLike, utc_s: ArrayLike) -> FloatArray:
    """Return for how many minutes of the day the sun stands above 5 degrees, 60 to 1440.

    The sun's declination, at the given time, is that of the Astronomical Almanac's short formula (Michalsky
    1988, Solar Energy 40:227; from memory).
    """
    since_2000 = np.asarray(utc_s, dtype=np.float64) / 86_400 - 10_957.5
    anomaly = np.radians(357.528 + 0.985_600_3 * since_2000)
    longitude = np.radians(280.460 + 0.985_647_4 * since_2000 + 1.915 * np.sin(anomaly))
    declination = np.arcsin(np.sin(np.radians(23.44)) * np.sin(longitude))
    latitude = np.radians(np.clip(latitude_deg, -89.9, 89.9))
    above = np.sin(np.radians(LOWEST_SUN_DEG)) - np.sin(latitude) * np.sin(declination)
    half_day = np.arccos(np.clip(above / (np.cos(latitude) * np.cos(declination)), -1.0, 1.0))
    return np.maximum(half_day / np.pi * DAY_MIN, SHORTEST_DAY_MIN)


def even_days_told_frac(daylight: ArrayLike, memory_min: float) -> FloatArray:
    """Return V: the variance of the mean over days of `daylight` minutes, as a share of a moment's."""
    days = np.asarray(daylight, dtype=np.float64) / memory_min
    return 2 / days * (1 - (1 - np.exp(-days)) / days)


def told_root(
    after_noon_min: ArrayLike, duration_min: ArrayLike, daylight: ArrayLike, memory_min: float
) -> FloatArray:
    """Return the mean of c over stretches beginning `after_noon_min`, over the square root of V.

    Squared it is the share of the variance that is told; over several stretches the roots add, weighted.
    Before dawn and after dusk c stays as it is there.
    """
    day, length = np.asarray(daylight, dtype=np.float64), np.asarray(duration_min, dtype=np.float64)
    dawn = np.asarray(after_noon_min, dtype=np.float64) + day / 2
    longer = np.maximum(length, 1e-6)
    mean = (_told_until(dawn + longer, day, memory_min) - _told_until(dawn, day, memory_min)) / longer
    root: FloatArray = mean / np.sqrt(even_days_told_frac(day, memory_min))
    return root


def _told_until(time_min: FloatArray, day_min: FloatArray, memory_min: float) -> FloatArray:
    """Return the integral of c from dawn until a time after it."""
    part, inside = memory_min / day_min, np.clip(time_min, 0.0, day_min)
    left, to_dawn, to_dusk = (np.exp(-t / memory_min) for t in (day_min, inside, day_min - inside))
    at_the_ends = part * (1 - left) * (time_min - inside)
    integral: FloatArray = part * (2 * inside - memory_min * (1 - to_dawn + to_dusk - left)) + at_the_ends
    return integral


def light_course(after_noon_min: ArrayLike, daylight: ArrayLike) -> FloatArray:
    """Return the light on a level panel under a clear sky as a share of noon's.

    The sine of the sun's height is sin(lat) sin(dec) + cos(lat) cos(dec) cos(hour angle), which the day's
    length fixes but for its scale; clear light goes as its power of 1.15 (Adnot et al. 1979, from memory).
    """
    angles = (
        np.asarray(minutes, dtype=np.float64) * 2 * np.pi / DAY_MIN for minutes in (after_noon_min, daylight)
    )
    hour, day = angles
    at_dusk = np.cos(day / 2) - DUSK_SINE
    course: FloatArray = (np.maximum(np.cos(hour) - at_dusk, 0.0) / (1 - at_dusk)) ** 1.15
    return course
