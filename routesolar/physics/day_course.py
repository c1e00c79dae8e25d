"""The course of a day's light, and what the day's share of sunshine tells of one stretch of it.

Of a stationary process with an exponential memory m, averaged over a day of length D, the moment t after dawn
has the correlation c(t) = (m / D) (2 - exp(-t / m) - exp(-(D - t) / m)) with the day's mean, whose variance is
V = 2 (m / D) (1 - (m / D) (1 - exp(-D / m))) of a moment's. Knowing the mean takes from the variance of any
weighted sum the square of its covariance with it over V: noon is told more of than dawn, and a sum weighted
by the light of the day is told less of than an even one. All functions take arrays that broadcast.
"""

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray, read_only
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.elementary import angle_deg, exponential, sine_cosine

LOWEST_SUN_DEG = 5.0  # where the day begins and ends, as the shares of sunshine were measured
SHORTEST_DAY_MIN = 60.0
DAY_MIN = 1440.0
DUSK_SINE = 0.116  # of 5 degrees, over the cosines of 40 degrees of latitude and of the mean declination


def daylight_min(latitude_deg: ArrayLike, utc_s: ArrayLike) -> FloatArray:
    """Return for how many minutes of the day the sun stands above 5 degrees, 60 to 1440.

    The sun's declination, at the given time, is that of the Astronomical Almanac's short formula (Michalsky
    1988, Solar Energy 40:227; from memory).
    """
    shape, (latitude, time_s) = _in_line(latitude_deg, utc_s)
    minutes = np.empty(len(time_s))
    _fill_daylight(latitude, time_s, minutes)
    return minutes.reshape(shape)


def even_days_told_frac(daylight: ArrayLike, memory_min: float) -> FloatArray:
    """Return V: the variance of the mean over days of `daylight` minutes, as a share of a moment's."""
    shape, (day,) = _in_line(daylight)
    told = np.empty(len(day))
    _fill_even_told(day, memory_min, told)
    return told.reshape(shape)


def told_root(
    after_noon_min: ArrayLike, duration_min: ArrayLike, daylight: ArrayLike, memory_min: float
) -> FloatArray:
    """Return the mean of c over stretches beginning `after_noon_min`, over the square root of V.

    Squared it is the share of the variance that is told; over several stretches the roots add, weighted.
    Before dawn and after dusk c stays as it is there.
    """
    shape, (after_noon, duration, day) = _in_line(after_noon_min, duration_min, daylight)
    root = np.empty(len(day))
    _fill_told_root(after_noon, duration, day, memory_min, root)
    return root.reshape(shape)


def _in_line(*values: ArrayLike) -> tuple[tuple[int, ...], list[FloatArray]]:
    """Return the shape arrays have together, and the arrays in one line each."""
    together = np.broadcast_arrays(*(np.asarray(one, dtype=np.float64) for one in values))
    return together[0].shape, [read_only(one).ravel() for one in together]


@compiled
def _fill_daylight(latitude_deg: FloatArray, utc_s: FloatArray, minutes: FloatArray) -> None:
    tilt, _ = sine_cosine(23.44)
    lowest, _ = sine_cosine(LOWEST_SUN_DEG)
    for j in range(len(minutes)):
        since_2000 = utc_s[j] * (1.0 / 86_400.0) - 10_957.5
        anomaly, _ = sine_cosine(357.528 + 0.985_600_3 * since_2000)
        along, _ = sine_cosine(280.460 + 0.985_647_4 * since_2000 + 1.915 * anomaly)
        declination = tilt * along  # its sine
        sine, cosine = sine_cosine(min(max(latitude_deg[j], -89.9), 89.9))
        high = (lowest - sine * declination) / (cosine * np.sqrt(1.0 - declination * declination))
        at_dusk = min(max(high, -1.0), 1.0)
        half_day_deg = angle_deg(np.sqrt(1.0 - at_dusk * at_dusk), at_dusk)
        minutes[j] = max(half_day_deg * (DAY_MIN / 180.0), SHORTEST_DAY_MIN)


@compiled
def _fill_even_told(day_min: FloatArray, memory_min: float, told: FloatArray) -> None:
    for j in range(len(told)):
        told[j] = _even_told(day_min[j] / memory_min, exponential(-day_min[j] / memory_min))


@compiled
def _fill_told_root(
    after_noon_min: FloatArray,
    duration_min: FloatArray,
    day_min: FloatArray,
    memory_min: float,
    root: FloatArray,
) -> None:
    for j in range(len(root)):
        longer, day = max(duration_min[j], 1e-6), day_min[j]
        dawn, days = after_noon_min[j] + 0.5 * day, day / memory_min
        left = exponential(-days)
        gained = _told_until(dawn + longer, day, memory_min, left) - _told_until(dawn, day, memory_min, left)
        root[j] = gained / (longer * np.sqrt(_even_told(days, left)))


@inlined
def _even_told(days: float, left: float) -> float:
    """Return V of a day so many memories long, after which so much of one is left."""
    return 2 / days * (1 - (1 - left) / days)


@inlined
def _told_until(time_min: float, day_min: float, memory_min: float, left: float) -> float:
    """Return the integral of c from dawn until a time after it; `left` is what is left of dawn at dusk."""
    inside = min(max(time_min, 0.0), day_min)
    to_dawn, to_dusk = exponential(-inside / memory_min), exponential((inside - day_min) / memory_min)
    within = 2 * inside - memory_min * (1 - to_dawn + to_dusk - left)
    return memory_min / day_min * (within + (1 - left) * (time_min - inside))


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
