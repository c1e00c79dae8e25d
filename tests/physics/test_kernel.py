"""The fused chain against pvlib's own functions, one step at a time."""

import numpy as np
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routesolar.physics.face_light import Diffuse, View, per_level, plane_of_array
from routesolar.physics.kernel import sun_vector
from routesolar.physics.sky import hay_davies

ANGLE = st.floats(0, 359)
SHARE = st.floats(0, 1)


def view(
    tilt_deg: float, facing_deg: float, azimuth_deg: float, elevation_deg: float, extra_wm2: float
) -> View:
    east, north, up = sun_vector(azimuth_deg, elevation_deg)
    tilt, facing = np.radians(tilt_deg), np.radians(facing_deg)
    cosine = np.sin(tilt) * (np.sin(facing) * east + np.cos(facing) * north) + np.cos(tilt) * up
    cosine = max(cosine, 0.0)
    return View(cosine, 1.0, up, per_level(cosine, up), extra_wm2, np.cos(tilt), *[1.0] * 9)


@given(st.floats(0, 60), ANGLE, ANGLE, st.floats(2, 89), st.floats(0, 1000), st.floats(0, 500))
def test_the_unshaded_plane_agrees_with_pvlib_hay_davies(tilt, facing, azimuth, elevation, dni, dhi):
    # pvlib.irradiance.haydavies and get_ground_diffuse, BSD library, itself tested against Hay & Davies (1980).
    zenith, extra, albedo = 90 - elevation, 1367.0, 0.2
    ghi = dni * np.cos(np.radians(zenith)) + dhi
    seen = view(tilt, facing, azimuth, elevation, extra)
    ours = plane_of_array(seen, dni, Diffuse(dhi, hay_davies(dni, extra), 1.0), albedo)
    diffuse = pvlib.irradiance.haydavies(tilt, facing, dhi, dni, extra, zenith, azimuth)
    direct = pvlib.irradiance.beam_component(tilt, facing, zenith, azimuth, dni)
    reflected = pvlib.irradiance.get_ground_diffuse(tilt, ghi, albedo)
    assert sum(ours) == pytest.approx(diffuse + direct + reflected, abs=1e-8)


@pytest.mark.parametrize(
    ("dhi", "dni", "zenith", "azimuth", "tilt", "facing", "expected"),
    [
        # pvlib 0.16.1 computed with an extraterrestrial irradiance of 1367 W/m2; tolerance 0.1 W/m2.
        (100.0, 900.0, 60.0, 180.0, 30.0, 180.0, 145.91),
        (100.0, 800.0, 60.0, 180.0, 30.0, 0.0, 38.70),
        (300.0, 200.0, 50.0, 150.0, 20.0, 240.0, 289.63),
    ],
)
def test_sky_diffuse_examples(dhi, dni, zenith, azimuth, tilt, facing, expected):
    seen = view(tilt, facing, azimuth, 90 - zenith, 1367.0)
    diffuse = Diffuse(dhi, hay_davies(dni, 1367.0), 1.0)
    _, circumsolar, isotropic, _ = plane_of_array(seen, dni, diffuse, 0.0)
    assert circumsolar + isotropic == pytest.approx(expected, abs=0.1)


@given(st.tuples(*[SHARE] * 5), st.floats(0, 1000), st.floats(0, 500), ANGLE, st.floats(1, 89))
def test_shade_never_adds_light(left, dni, dhi, azimuth, elevation):
    *left, clear = left
    seen = view(15.0, 40.0, azimuth, elevation, 1361.0)
    diffuse = Diffuse(dhi, hay_davies(dni, 1361.0), clear)
    open_sum = sum(plane_of_array(seen, dni, diffuse, 0.2))
    names = ("beam_frac", "sky_frac", "around_sun_frac", "clear_sky_frac")
    shaded = seen._replace(**dict(zip(names, left, strict=True)))
    assert sum(plane_of_array(shaded, dni, diffuse, 0.2)) <= open_sum * (1 + 1e-12)


def test_a_level_panel_gets_the_global_irradiance_under_open_sky():
    seen = view(0.0, 0.0, 200.0, 35.0, 1361.0)
    dni, dhi = 700.0, 120.0
    ghi = dni * np.sin(np.radians(35.0)) + dhi
    diffuse = Diffuse(dhi, hay_davies(dni, 1361.0), 1.0)
    assert sum(plane_of_array(seen, dni, diffuse, 0.2)) == pytest.approx(ghi, abs=1e-9)
