"""Closed forms and laws of the canopy model that hold whatever the scene."""

from itertools import pairwise

import numpy as np
import pytest
from canopy_scenes import (
    bend,
    column_views,
    columns_from,
    grid_of,
    grid_views,
    habit,
    road_of,
    s_bend,
    straight,
    uniform_views,
)
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.special import expn

from routesolar.physics.canopy import beam_overlap
from routesolar.physics.columns import beam_crossings, sky_crossings
from routesolar.physics.corridor import Road
from routesolar.physics.crowns import (
    OVERHANG,
    RoadsideStand,
    column_transmittance,
    crown_transmittance,
    layers,
    straight_overlap,
)
from routesolar.physics.dome import azimuth_deg, azimuth_weight, direction_weight, elevation_deg
from routesolar.physics.hemisphere import sky_overlap
from routesolar.physics.stand import no_grid

NO_ROAD = Road(np.zeros(2, np.int64), np.zeros((0, 5)), np.zeros(0))
UP = np.array([[0.0, 0.0, 1.0]])


def beam(views, road, tree, azimuth, elevation, grid=None):
    suns = np.array([[float(azimuth)]]), np.array([[float(elevation)]])
    return beam_overlap(views, road, grid or no_grid(), tree, *suns).item()


def sky_view(transmittance, normal=UP, heading_deg=0.0):
    weight = direction_weight(normal, np.array([heading_deg]))
    return np.sum(transmittance * weight) / np.sum(weight)


@pytest.mark.parametrize(
    ("cover", "ratio", "tau", "zenith", "expected"),
    # Boolean model of random spheroids, P = exp(ln(1-C) sqrt(1 + (ratio tan z)^2) (1 - tau)) (Nilson 1971,
    # 1999; Li & Strahler 1985); values of the closed form to four digits.
    [
        (0.25, 1, 0, 30, 0.7174),
        (0.25, 1, 0, 60, 0.5625),
        (0.25, 2, 0, 30, 0.6444),
        (0.25, 2, 0, 60, 0.3544),
        (0.5, 1, 0, 30, 0.4492),
        (0.5, 1, 0, 60, 0.25),
        (0.5, 2, 0, 30, 0.3469),
        (0.5, 2, 0, 60, 0.0822),
        (0.8, 1, 0, 30, 0.1559),
        (0.8, 1, 0, 60, 0.04),
        (0.5, 1.5, 0.1, 30, 0.4381),
        (0.5, 1.5, 0.1, 60, 0.1761),
    ],
)
def test_gaps_of_a_wood_without_a_road_are_those_of_the_boolean_model(cover, ratio, tau, zenith, expected):
    views, tree = uniform_views(cover, 18.0, 0.0), habit(0.3, ratio)
    met = beam(views, NO_ROAD, tree, 77.0, 90 - zenith)
    assert crown_transmittance(met, tau) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(
    ("half_layers", "expected"),
    # 2 E3(x), x = L / 2 for L = .5, 1, 2, 3: diffuse light through leaves of all directions (Campbell &
    # Norman 1998, ch. 15); exact.
    [(0.25, 0.6494), (0.5, 0.4432), (1.0, 0.2194), (1.5, 0.1135)],
)
def test_the_sky_through_a_wood_of_spheres_is_that_of_beer_and_lambert(half_layers, expected):
    # Crowns as high as wide stretch their shadow by 1 / sin e, as the beam's way through a layer.
    assert 2 * expn(3, half_layers) == pytest.approx(expected, abs=1e-4)
    views = uniform_views(1 - np.exp(-half_layers), 18.0, 0.0)
    met = sky_overlap(views, NO_ROAD, no_grid(), habit(0.3, 1.0), np.zeros(1))
    # Bands of 7.5 deg: .003 of the sky.
    assert sky_view(np.exp(-met)) == pytest.approx(expected, abs=0.003)


@pytest.mark.parametrize(("tilt", "facing", "expected"), [(0, 0, 0.510), (20, 90, 0.479), (20, 270, 0.509)])
def test_sky_above_a_forest_road_as_seen_by_a_panel(tilt, facing, expected):
    # Documentation of the shade model, 6b: straight, C .6, W 12 between trunks, H 18, o 1.8, tau .1.
    views, road = uniform_views(0.6, 18.0, 1.9), road_of(straight(), 6.0, 1.8)
    met = sky_overlap(views, road, no_grid(), habit(), np.zeros(1))
    t, f = np.radians(tilt), np.radians(facing)
    normal = np.array([[np.sin(t) * np.sin(f), np.sin(t) * np.cos(f), np.cos(t)]])
    assert sky_view(np.exp(-0.9 * met), normal) == pytest.approx(expected, abs=0.002)


def canyon(half_width_m, height_m):
    """Walls on both sides of a street to the north, on 1 m cells; solid from .4 of their height up."""
    heights = np.zeros((1024, 128))
    heights[:, : 64 - half_width_m] = height_m
    heights[:, 64 + half_width_m :] = height_m
    return columns_from(heights)


@pytest.mark.parametrize(
    ("ratio", "expected"),
    # Infinite canyon, from the middle of its floor: cos(atan(2 H / W)); exact.
    [(0.25, 0.8944), (0.5, 0.7071), (1.0, 0.4472), (2.0, 0.2425)],
)
def test_a_street_between_walls_sees_the_sky_of_a_canyon(ratio, expected):
    # From .4 H up the walls are solid: a panel there stands on the floor of a canyon .6 H deep.
    width_m = 20
    height_m = ratio * width_m / 0.6
    views = column_views(64.0, 512.5, 0.4 * height_m)._replace(tallest_m=np.full((1, 2), height_m))
    crossed = sky_crossings(views, canyon(width_m // 2, height_m), habit(), np.zeros(1))
    # 20 x 12 directions, one line each: .02 of the sky.
    assert sky_view(column_transmittance(crossed, 0.0)) == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize(
    ("elevation", "reach_m"),
    # (H - h) / tan e for H 20, h 3.
    [(15, 63.44), (30, 29.44), (45, 17.00), (60, 9.81)],
)
@pytest.mark.parametrize("from_wall_deg", [90, 45])
def test_a_wall_shades_as_far_as_its_shadow_is_long(elevation, reach_m, from_wall_deg):
    # A wall along the road, 10 cells of half a metre thick; its shadow reaches (H - h) |sin| / tan e across.
    across_m = reach_m * np.sin(np.radians(from_wall_deg))
    heights = np.zeros((512, 512))
    heights[:, 300:310] = 20.0
    columns, half_m = columns_from(heights), np.diag([2.0, -2.0])
    suns = np.array([[float(from_wall_deg)]]), np.array([[float(elevation)]])
    for beside_m, shaded in ((-0.1, True), (0.1, False)):
        views = column_views(300 - 2 * (across_m + beside_m), 256.3, 3.0, half_m)
        assert (beam_crossings(views, columns, habit(), *suns).item() > 0) == shaded


def test_a_sun_along_a_straight_road_is_never_shaded_where_no_crown_reaches_the_lane():
    views, road = uniform_views(0.9, 25.0, 2.4), road_of(straight(), 9.0, 1.75)
    # r = 5 m, trunks 9 m from the centreline: 9 - 1.75 > 5.
    assert all(beam(views, road, habit(), 0.0, elevation) == 0.0 for elevation in (2, 10, 40, 80))


@pytest.mark.parametrize("above_deg", [0.01, 0.3, 1.0, 2.9])
@pytest.mark.parametrize("hill", [0.0, 0.1])
def test_a_sun_barely_over_the_hillside_does_not_slip_through_a_wood(hill, above_deg):
    # Its ray runs beneath the crowns for hundreds of metres, beyond where trees are looked at.
    sun = 90.0, np.degrees(np.arctan(hill)) + above_deg
    stand = beam(uniform_views(0.7, 16.0, 2.4, slope_east=hill), road_of(straight(), 6.0, 1.75), habit(), *sun)
    assert crown_transmittance(stand, 0.1) < 0.01
    heights = np.full((512, 2048), 16.0)
    heights[:, :110] = 0.0
    views = column_views(100.0, 256.5, 2.4)._replace(slope_east=np.array([hill]))
    single = beam_crossings(views, columns_from(heights), habit(), *np.array(sun).reshape(2, 1, 1))
    assert column_transmittance(single, 0.1).item() < 0.01


stands = st.tuples(st.floats(0.02, 0.95), st.floats(8.0, 28.0), st.floats(3.0, 12.0), st.floats(-2.5, 2.5))
suns = st.tuples(st.floats(0.0, 360.0), st.floats(4.0, 85.0))


@given(stands, suns, st.sampled_from([1.2, 1.75, 2.3]))
@example((0.75, 20.0, 3.0, 0.0), (0.0, 4.0), 2.3)
def test_lines_sum_to_the_closed_form_beside_a_straight_road(stand, sun, ratio):
    cover, height, trunks, offset = stand
    closed = straight_overlap(RoadsideStand(cover, height, trunks, offset, 2.0), habit(0.3, ratio), *sun)
    found = beam(
        uniform_views(cover, height, 2.0), road_of(straight(), trunks, offset), habit(0.3, ratio), *sun
    )
    # Of 4,000 drawn .004 at most; .021 with the sun in the road's own line, where within half a degree it goes
    # from shining along the crowns' edges to standing behind them. Asked: one in a hundred over .02 (6b).
    beside_deg = min(sun[0] % 180, 180 - sun[0] % 180)
    within = 0.005 if beside_deg > 1.0 else 0.025
    # Trees whose crowns begin below the panel count from the panel on, in the closed form as a whole.
    if 0.3 * height >= 2.0:
        assert crown_transmittance(found, 0.1) == pytest.approx(crown_transmittance(closed, 0.1), abs=within)


@given(suns, st.sampled_from([bend(60, 1, 6.0), s_bend(80, 120, 6.0), straight()]))
def test_more_cover_never_lets_more_through(sun, line):
    road = road_of(line, 6.0, 1.75)
    met = [beam(uniform_views(c, 18.0, 2.4), road, habit(), *sun) for c in (0.1, 0.4, 0.8)]
    assert all(0.0 <= thin <= dense for thin, dense in pairwise(met))
    # A uniform stand's overlap is in proportion to its layers.
    assert_allclose(
        np.array(met) * layers(0.4),
        met[1] * np.array([layers(c) for c in (0.1, 0.4, 0.8)]),
        rtol=0.02,
        atol=0.02,
    )


def test_a_spread_of_heights_is_three_stands_of_a_third_each():
    road = RoadsideStand(0.6, 18.0, 7.0, 1.0, 2.0)
    expected = np.mean(
        [
            straight_overlap(road._replace(height_m=18.0 * (1 + 1.22 * 0.2 * step)), habit(), 70.0, 35.0)
            for step in (-1, 0, 1)
        ]
    )
    found = beam(
        uniform_views(0.6, 18.0, 2.0), road_of(straight(), 7.0, 1.0), habit(spread_frac=0.2), 70.0, 35.0
    )
    assert found == pytest.approx(expected, rel=0.005)


def test_a_uniform_raster_is_the_uniform_stand():
    grid = grid_of(np.full((60, 60), 0.6), np.full((60, 60), 18.0))
    road, tree = road_of(s_bend(80, 120, 4.0), 7.0, 1.75), habit()
    views = grid_views(grid, 30.3, 29.8, np.diag([1 / 10, -1 / 10]), 2.4)
    for azimuth, elevation in ((15, 25), (150, 28), (200, 50), (0, 15), (90, 30)):
        raster = beam(views, road, tree, azimuth, elevation, grid)
        uniform = beam(uniform_views(0.6, 18.0, 2.4), road, tree, azimuth, elevation)
        assert crown_transmittance(raster, 0.1) == pytest.approx(crown_transmittance(uniform, 0.1), abs=0.005)


def test_a_mirrored_world_has_a_mirrored_sky():
    right = sky_overlap(
        uniform_views(0.6, 18.0, 1.9), road_of(bend(90, 1, 4.0), 6.0, 1.8), no_grid(), habit(), np.zeros(1)
    )
    left = sky_overlap(
        uniform_views(0.6, 18.0, 1.9), road_of(bend(90, -1, 4.0), 6.0, -1.8), no_grid(), habit(), np.zeros(1)
    )
    assert_allclose(right[0], left[0, ::-1], rtol=1e-6, atol=1e-6)


def test_every_direction_of_the_sky_has_its_share():
    assert azimuth_weight().mean() == pytest.approx(1.0)
    assert np.all(np.diff(azimuth_deg()) > 0)
    # An open sky over a tilted panel: all of its own dome; over a level one the weights are the bands'
    # differences of sin^2.
    weight = direction_weight(UP, np.zeros(1))[0]
    edge = np.radians(np.arange(0.0, 91.0, 7.5))
    assert_allclose(weight.sum(axis=0) / weight.sum(), np.diff(np.sin(edge) ** 2), rtol=1e-12)
    assert_allclose(elevation_deg(), np.arange(3.75, 90.0, 7.5))
    # Half the dome open: a panel tilted to it sees more of its dome than one tilted away.
    east = (np.sin(np.radians(azimuth_deg())) > 0)[:, None] * np.ones(12)
    tilt = np.radians(30.0)
    towards, away = (np.array([[s * np.sin(tilt), 0.0, np.cos(tilt)]]) for s in (1, -1))
    assert sky_view(east, towards) > 0.5 > sky_view(east, away)
    # A tilted plane's view of the half: (1 + sin of the tilt's share...) closed form of a lune, by Monte Carlo.
    rng = np.random.default_rng(5)
    directions = rng.normal(size=(3, 200_000))
    directions[2] = np.abs(directions[2])
    directions /= np.linalg.norm(directions, axis=0)
    cosine = np.maximum(0.0, towards[0] @ directions)
    assert sky_view(east, towards) == pytest.approx(cosine[directions[0] > 0].sum() / cosine.sum(), abs=0.01)


def test_trunks_stand_behind_the_edge_that_was_measured():
    # Documentation of the shade model, 6b, "Opening": edges of equal covered area.
    assert_allclose(OVERHANG["opening"][1:], [0.03, 0.07, 0.13, 0.19, 0.31, 0.38])
    assert not OVERHANG["trunks"].any()
    assert (OVERHANG["crowns"] == 1).all()
