"""What the day's share tells, beside covariances summed directly; daylight beside the sun's own height."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from routesolar.physics import day_course
from routesolar.physics.day_course import daylight_min, even_days_told_frac, light_course, told_root
from routesolar.physics.sun import sun_position

# Latitude, the sun's declination (Astronomical Almanac, rounded), day.
DUSKS = [
    (latitude, declination, date)
    for latitude in (0.0, 46.8, 60.0)
    for declination, date in ((-21.2, "2026-01-15"), (0.0, "2026-03-20"), (23.4, "2026-06-21"))
]


@pytest.mark.parametrize("day_min", [240.0, 660.0, 960.0])
def test_what_is_told_equals_covariances_summed_directly(day_min):
    # Steps of half a minute of exp(-|s - t| / 100): the covariance of every moment with the mean of the day.
    time = np.arange(0.25, day_min, 0.5)
    with_day = np.exp(-np.abs(time[:, None] - time) / 100).mean(axis=1)
    assert even_days_told_frac(day_min, 100.0) == pytest.approx(with_day.mean(), rel=1e-4)
    root = told_root(time - 0.25 - day_min / 2, 0.5, day_min, 100.0)
    assert_allclose(root, with_day / np.sqrt(with_day.mean()), rtol=1e-4)


def test_the_mean_over_a_stretch_is_the_mean_of_its_parts_beyond_dawn_too():
    parts = told_root(np.arange(-400.0, -100.0, 10.0), 10.0, 660.0, 100.0)
    assert told_root(-400.0, 300.0, 660.0, 100.0) == pytest.approx(parts.mean(), rel=1e-12)
    assert_allclose(parts[:7], told_root(-330.0, 1e-6, 660.0, 100.0), rtol=1e-6)


@pytest.mark.parametrize("latitude_deg", [-34.0, 0.0, 36.6, 46.8, 60.0])
@pytest.mark.parametrize("date", ["2026-01-15", "2026-03-20", "2026-06-21", "2026-10-05"])
def test_daylight_is_the_time_that_the_sun_stands_above_five_degrees(latitude_deg, date):
    # The sun's path after NREL SPA, refraction taken off by looking at 5.16 degrees; its declination at the
    # day's beginning moves by up to 0.4 degrees within the day, 4 minutes at 60 degrees.
    start = np.datetime64(date, "s").astype(float)
    utc_s = start + 60.0 * np.arange(1440)[:, None]
    height = sun_position(np.array([latitude_deg]), np.zeros(1), np.zeros(1), utc_s).apparent_elevation_deg
    assert daylight_min(latitude_deg, start) == pytest.approx((height > 5.16).sum(), abs=6.0)


def test_beyond_the_polar_circle_a_day_is_an_hour_or_all_of_it():
    summer, winter = (np.datetime64(d, "s").astype(float) for d in ("2026-06-21", "2026-12-21"))
    assert daylight_min(80.0, summer) == 1440.0
    assert daylight_min(80.0, winter) == 60.0


def course_beside_the_sun(latitude_deg: float, date: str) -> tuple[np.ndarray, np.ndarray]:
    """Ours and the sun's, after NREL SPA at longitude 0, as shares of noon's; the middle is solar noon."""
    start = np.datetime64(date, "s").astype(float)
    utc_s = start + 60.0 * np.arange(1440)[:, None]
    sun = sun_position(np.array([latitude_deg]), np.zeros(1), np.zeros(1), utc_s)
    height = sun.apparent_elevation_deg[:, 0]
    above = np.flatnonzero(height > 5)
    light = np.sin(np.radians(height[above])) ** 1.15
    return light_course(above - above.mean(), daylight_min(latitude_deg, start)), light / light.max()


@pytest.mark.parametrize("latitude_deg", [0.0, 36.6, 46.8])
@pytest.mark.parametrize("date", ["2026-01-15", "2026-03-20", "2026-06-21"])
def test_the_light_of_a_day_follows_the_suns_height(latitude_deg, date):
    # The day's length leaves the scale of its dusk open, which is taken for 40 degrees of latitude: .020 off at
    # the equator, .015 at 47 N, and .035 there in January, when noon itself is low.
    ours, light = course_beside_the_sun(latitude_deg, date)
    assert_allclose(ours, light, atol=0.036)
    assert light_course(721.0, 700.0) == 0.0


@pytest.mark.parametrize("latitude_deg, declination_deg, date", DUSKS)
def test_with_the_dusk_of_its_own_latitude_the_light_follows_the_sun_closely(
    monkeypatch, latitude_deg, declination_deg, date
):
    # Found .001 to .019; refraction and the rounding of the day's length to minutes are the rest.
    scale = np.cos(np.radians(latitude_deg)) * np.cos(np.radians(declination_deg))
    monkeypatch.setattr(day_course, "DUSK_SINE", np.sin(np.radians(5.0)) / scale)
    assert_allclose(*course_beside_the_sun(latitude_deg, date), atol=0.02)
