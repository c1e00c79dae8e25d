"""The sun's geocentric place against SPA's own example, pvlib's evaluation of SPA and astropy."""

import astropy.units as u
import numpy as np
import pytest
from astropy.coordinates import TETE, get_sun
from astropy.time import Time
from astropy.utils import iers
from pvlib import spa

from routesolar.physics.geocentric import DELTA_T_S, geocentric_at

YEAR_S = 365.25 * 86_400


def test_the_worked_example() -> None:
    # NREL/TP-560-34302, table A5.1: 17 October 2003, 12:30:30 at UTC - 7 h, 67 s of delta T, 105.1786 deg west.
    sun = geocentric_at(np.array([1_066_419_030.0]))
    assert sun.distance_au[0] == pytest.approx(0.9965422974, abs=1e-10)
    assert sun.declination_deg[0] == pytest.approx(-9.31434, abs=5e-6)
    assert (sun.hour_angle_deg[0] - 105.1786) % 360 == pytest.approx(11.105900, abs=5e-6)


@pytest.mark.parametrize("years", [50, 3900])
def test_it_is_what_pvlib_makes_of_the_same_algorithm(years: float) -> None:
    # pvlib.spa, BSD library; its count of days since 4713 BC is rounded to 4e-10 days, 1.7e-7 deg of turning.
    utc_s = np.random.default_rng(3).uniform(-years * YEAR_S, years * YEAR_S, 400)
    unused = (0.0, 0.0, 0.0, 0.0, 0.0, DELTA_T_S, 0.0, 1)
    sidereal, right_ascension, declination = spa.solar_position_numpy(utc_s, *unused, sst=True)
    (distance,) = spa.solar_position_numpy(utc_s, *unused, esd=True)
    sun = geocentric_at(utc_s)
    assert np.abs(apart_deg(sun.hour_angle_deg, sidereal - right_ascension)).max() < 3e-7
    assert np.abs(sun.declination_deg - declination).max() < 2e-9
    assert np.abs(sun.distance_au - distance).max() < 1e-12


def test_declination_and_distance_are_those_of_astropy() -> None:
    # astropy.coordinates.get_sun, BSD library (ERFA), in the true equator and equinox of date, 1990 to 2019.
    utc_s = np.random.default_rng(5).uniform(20 * YEAR_S, 49 * YEAR_S, 60)
    when = Time(utc_s, format="unix")
    with iers.conf.set_temp("auto_download", False):  # no network in tests
        theirs = get_sun(when).transform_to(TETE(obstime=when))
    ours = geocentric_at(utc_s)
    assert np.abs(ours.declination_deg - theirs.dec.to_value(u.deg)).max() < 3e-4
    assert np.abs(ours.distance_au - theirs.distance.to_value(u.au)).max() < 2e-6


def apart_deg(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Return differences of angles, -180 to 180."""
    return (one - other + 180) % 360 - 180
