"""When the sun rises and sets at a place."""

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray
from routesolar.physics.sun import UPPER_LIMB_DEG, sun_position

STEP_S = 60.0  # between looks at the sun, straight between: good to a second outside the polar circles
_HALF_DAY_S = 43_200.0
_DAY_S = 86_400.0


def sunset_utc_s(latitude_deg: float, longitude_deg: float, elevation_m: float, utc_s: ArrayLike) -> FloatArray:
    """Return when the sun's upper limb sets on the solar day of each instant, UTC seconds, as `utc_s` (d,).

    Where it does not set that day: the end of the solar day. Where it does not rise: NaN.
    """
    return _crossing_utc_s((latitude_deg, longitude_deg, elevation_m), utc_s, 1.0)


def sunrise_utc_s(
    latitude_deg: float, longitude_deg: float, elevation_m: float, utc_s: ArrayLike
) -> FloatArray:
    """Return when the sun's upper limb rises on the solar day of each instant, UTC seconds, as `utc_s` (d,).

    Where it does not set that day: the start of the solar day. Where it does not rise: NaN.
    """
    return _crossing_utc_s((latitude_deg, longitude_deg, elevation_m), utc_s, -1.0)


def _crossing_utc_s(place: tuple[float, float, float], utc_s: ArrayLike, side: float) -> FloatArray:
    """Return when the sun crosses the horizon after (side 1) or before (side -1) noon of the solar days."""
    latitude_deg, longitude_deg, elevation_m = place
    ahead_s = longitude_deg / 360 * _DAY_S
    noon_utc_s = (np.floor((np.asarray(utc_s, dtype=np.float64) + ahead_s) / _DAY_S) + 0.5) * _DAY_S - ahead_s
    away_s = np.arange(0.0, _HALF_DAY_S + STEP_S / 2, STEP_S)
    moments = noon_utc_s[:, None] + side * away_s
    height = sun_position(latitude_deg, longitude_deg, elevation_m, moments).elevation_deg - UPPER_LIMB_DEG
    up = height > 0
    last_up = np.where(up.any(axis=1), up.shape[1] - 1 - up[:, ::-1].argmax(axis=1), 0)
    rows, after = np.arange(len(noon_utc_s)), np.minimum(last_up + 1, up.shape[1] - 1)
    fall = height[rows, last_up] - height[rows, after]
    part = np.divide(height[rows, last_up], fall, out=np.zeros_like(fall), where=fall > 0)
    crossing: FloatArray = noon_utc_s + side * (last_up + part) * STEP_S
    return np.where(up.any(axis=1), crossing, np.nan)
