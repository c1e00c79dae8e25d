"""Shaded relief, against the angle between a plane and the light."""

import numpy as np
import pytest

from routesolar.physics.hillshade import FLAT_FRAC, ground_gradient, lambert_shade

# Towards the light: north-west, 45 degrees up; east, north, up.
LIGHT = np.array([-0.5, 0.5, np.sqrt(0.5)])


def plane(east_frac, north_frac, pixel_m, shape=(9, 11)):
    rows, cols = np.mgrid[0 : shape[0], 0 : shape[1]]
    return 100.0 + pixel_m * (east_frac * cols - north_frac * rows)


def shade_of(elevation_m, pixel_m):
    return lambert_shade(*ground_gradient(elevation_m, np.array([[pixel_m]])))


@pytest.mark.parametrize("east_frac", [-1.2, -0.1, 0.0, 0.4])
@pytest.mark.parametrize("north_frac", [-0.7, 0.0, 0.25, 1.5])
def test_a_plane_is_as_bright_as_the_cosine_between_its_normal_and_the_light(east_frac, north_frac):
    along_east, along_north = np.array([1, 0, east_frac]), np.array([0, 1, north_frac])
    normal = np.cross(along_east, along_north)
    expected = max(normal @ LIGHT / np.linalg.norm(normal), 0.0)
    shade = shade_of(plane(east_frac, north_frac, 12.5), 12.5)
    assert shade[1:-1, 1:-1] == pytest.approx(expected, abs=1e-12)


def test_level_ground_is_all_alike():
    shade = shade_of(np.full((6, 7), 812.0), 30.0)
    assert np.all(shade[1:-1, 1:-1] == FLAT_FRAC)
    assert pytest.approx(np.sqrt(0.5)) == FLAT_FRAC


def test_a_slope_that_faces_the_light_squarely_is_fully_lit_and_one_turned_away_is_dark():
    facing = np.sqrt(0.5)  # falls 1 per metre towards the north-west
    assert shade_of(plane(facing, -facing, 10.0), 10.0)[4, 4] == pytest.approx(1.0)
    assert shade_of(plane(-facing, facing, 10.0), 10.0)[4, 4] == pytest.approx(0.0, abs=1e-12)
    assert shade_of(plane(-2.0, 2.0, 10.0), 10.0)[4, 4] == 0.0


def test_the_gradient_follows_a_curved_hill():
    # A bowl z = (x^2 + y^2) / 2000 m rises by x / 1000 m and y / 1000 m; differences over two pixels are exact.
    rows, cols = np.mgrid[0:21, 0:21]
    east_m, north_m = 20.0 * (cols - 10), -20.0 * (rows - 10)
    east, north = ground_gradient((east_m**2 + north_m**2) / 2000, np.full((21, 1), 20.0))
    assert east[1:-1, 1:-1] == pytest.approx(east_m[1:-1, 1:-1] / 1000, abs=1e-12)
    assert north[1:-1, 1:-1] == pytest.approx(north_m[1:-1, 1:-1] / 1000, abs=1e-12)


def test_what_is_unknown_stays_unknown_with_its_neighbours():
    elevation_m = plane(0.1, 0.1, 30.0)
    elevation_m[4, 5] = np.nan
    unknown = np.isnan(shade_of(elevation_m, 30.0))
    expected = np.ones_like(unknown)  # the rim has neighbours on one side only
    expected[1:-1, 1:-1] = False
    expected[3:6, 4:7] = True
    # Horn's differences leave the pixel itself out: only its neighbours miss it.
    expected[4, 5] = False
    assert np.array_equal(unknown, expected)
