"""Buildings against closed forms of a street and against rays followed step by step into solids."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from standing import box, degrees_at, hidden_by_solids, panels_at, rings_at

from routesolar.physics.dome import direction_weight
from routesolar.physics.prisms import behind_buildings, indoors, rings_of
from routesolar.physics.sun import sun_position

PLACE = (47.0, 8.0)
NO_SUN = np.zeros((1, 1)), np.zeros((1, 1))
HOUSE = box(6.0, -8.0, 16.0, 2.0)
YARD = [box(-30.0, -25.0, 30.0, 25.0), box(-14.0, -9.0, 14.0, 9.0)]
TEE = np.array([(5, -20), (25, -20), (25, 20), (5, 20), (5, 6), (14, 6), (14, -6), (5, -6)], float)


def street(height_m, width_m, place=PLACE, half_length_m=1500.0):
    edges = ((-width_m / 2 - 12, -width_m / 2), (width_m / 2, width_m / 2 + 12))
    return rings_of(
        *rings_at(
            place,
            [box(west, -half_length_m, east, half_length_m) for west, east in edges],
            [height_m, height_m],
        )
    )


def level_view(sky, heading_deg):
    weight = direction_weight(np.tile([0.0, 0.0, 1.0], (len(sky), 1)), np.full(len(sky), heading_deg))
    return (sky * weight).sum(axis=(1, 2)) / weight.sum(axis=(1, 2))


@pytest.mark.parametrize("heading_deg", [0.0, 37.0])
@pytest.mark.parametrize(
    ("height_m", "width_m", "aside_m"), [(12, 20, 0), (20, 12, 0), (15, 20, 4), (8, 9, -3)]
)
def test_a_street_leaves_the_closed_form_of_its_sky(height_m, width_m, aside_m, heading_deg):
    # An endless wall seen under an angle b takes (1 - cos b) / 2 of a level panel's even sky (any text on
    # radiative exchange: the view factor of an endless strip).
    panels = panels_at(PLACE, [aside_m], [0.0], height_m=2.4, heading_deg=heading_deg)
    _, sky = behind_buildings(street(height_m, width_m), panels, *NO_SUN)
    walls = np.arctan2(height_m - 2.4, width_m / 2 - np.array([aside_m, -aside_m]))
    assert_allclose(level_view(sky, heading_deg), 1 - np.sum((1 - np.cos(walls)) / 2), atol=0.005)


@pytest.mark.parametrize("latitude_deg", [47.0, -35.0])
@pytest.mark.parametrize("month", [3, 6, 12])
def test_the_sun_looks_into_a_street_in_the_minutes_that_geometry_says(latitude_deg, month):
    # Walls along the meridian hide a sun of elevation e and azimuth a where tan e < H |sin a| / (W / 2).
    seconds = np.datetime64(f"2026-{month:02d}-21T00:00:00").astype(float) + np.arange(0.0, 86_400.0, 20.0)
    sun = sun_position(latitude_deg, 8.0, 0.0, seconds)
    azimuth_deg, elevation_deg = sun.azimuth_deg, sun.apparent_elevation_deg
    place = (latitude_deg, 8.0)
    panels = panels_at(place, [0.0], [0.0], height_m=2.0)
    suns = azimuth_deg[:, None], elevation_deg[:, None]
    hidden, _ = behind_buildings(street(14.0, 18.0, place), panels, *suns)
    up = elevation_deg > 0
    needed = 12.0 * np.abs(np.sin(np.radians(azimuth_deg))) / 9.0
    looks_in = up & (np.tan(np.radians(np.maximum(elevation_deg, 0.0))) >= needed)
    seen = up & ~hidden[:, 0]
    assert 0 < looks_in.sum() < up.sum()
    changes, expected = (np.flatnonzero(np.diff(values.astype(int))) for values in (seen, looks_in))
    assert len(changes) == len(expected)
    assert np.abs(changes - expected).max() * 20.0 <= 60.0


@pytest.mark.parametrize(
    ("rings", "where"),
    [([HOUSE], (-4, 6, -10, 12)), ([TEE], (-12, 4, -22, 22)), (YARD, (-13, 13, -8, 8))],
    ids=["a house", "a house with wings", "a courtyard"],
)
def test_bodies_hide_the_suns_that_rays_cast_at_them_meet(rings, where):
    random = np.random.default_rng(4)
    west, east, south, north = where
    count = 150
    east_m, north_m = random.uniform(west, east, count), random.uniform(south, north, count)
    azimuth_deg, elevation_deg = random.uniform(0, 360, count), random.uniform(3, 60, count)
    tops = [9.0] * len(rings)
    panels = panels_at(PLACE, east_m, north_m)
    hidden, _ = behind_buildings(
        rings_of(*rings_at(PLACE, rings, tops)), panels, azimuth_deg[None], elevation_deg[None]
    )
    spots = zip(east_m, north_m, azimuth_deg, elevation_deg, strict=True)
    cast = np.array([hidden_by_solids(rings, tops, (x, y, 2.0), a, e) for x, y, a, e in spots])
    assert 12 < cast.sum() < count - 10
    assert np.count_nonzero(hidden[0] != cast) <= 1  # a ray may pass a corner between two steps


def test_a_courtyard_leaves_the_sky_that_rays_cast_at_it_leave():
    panels = panels_at(PLACE, [3.0], [-2.0], heading_deg=20.0)
    _, sky = behind_buildings(rings_of(*rings_at(PLACE, YARD, [12.0, 12.0])), panels, *NO_SUN)
    # Even light on a level panel: sin^2 of the elevation is spread evenly.
    azimuth_deg = (np.arange(180) + 0.5) * 2.0
    lit_frac = []
    for azimuth in np.radians(azimuth_deg):
        ways = [
            (14 * np.sign(np.sin(azimuth)) - 3.0) / np.sin(azimuth),
            (9 * np.sign(np.cos(azimuth)) + 2.0) / np.cos(azimuth),
        ]
        lit_frac.append(np.cos(np.arctan2(10.0, min(ways))) ** 2)
    assert_allclose(level_view(sky, 20.0), np.mean(lit_frac), atol=0.003)


def test_hills_behind_houses_hide_no_more_than_what_shows_above_the_roofs():
    rings = street(12.0, 20.0)
    alone, low, high = (
        level_view(behind_buildings(rings, panels_at(PLACE, [0.0], [0.0], hills_deg=hills), *NO_SUN)[1], 0.0)
        for hills in (0.0, 10.0, 60.0)
    )
    # Towards azimuth a the roofs stand under atan(10 |sin a| / 10); hills of 10 degrees show between.
    azimuth = np.radians((np.arange(3600) + 0.5) / 10)
    roofs = np.arctan(np.abs(np.sin(azimuth)))
    for view, hills_deg in ((alone, 0.0), (low, 10.0), (high, 60.0)):
        assert_allclose(view, np.mean(np.cos(np.maximum(roofs, np.radians(hills_deg))) ** 2), atol=0.004)


def test_a_vehicle_that_a_map_puts_into_a_house_stands_beside_its_nearest_wall():
    rings = rings_of(*rings_at(PLACE, [HOUSE], [9.0]))
    suns = np.tile(np.arange(0.0, 360.0, 15.0)[:, None], 2), np.full((24, 2), 35.0)
    # 1 m behind its western wall, at 6 m: it stands at 4 m.
    hidden, sky = behind_buildings(rings, panels_at(PLACE, [7.0, 4.0], [-3.0, -3.0]), *suns)
    assert 0 < hidden[:, 0].sum() < 24
    assert_allclose(hidden[:, 0], hidden[:, 1])
    assert_allclose(sky[0], sky[1])
    places = degrees_at(PLACE, np.array([7.0, 4.0, 20.0]), np.array([-3.0, -3.0, -3.0]))
    assert indoors(rings, *places).tolist() == [True, False, False]


def test_in_a_terrace_the_vehicle_steps_out_into_the_street_not_into_the_neighbours():
    row = [box(6.0, -8.0 + 6 * k, 16.0, -2.0 + 6 * k) for k in range(4)]
    rings = rings_of(*rings_at(PLACE, row, [9.0] * 4))
    suns = np.tile(np.arange(0.0, 360.0, 15.0)[:, None], 2), np.full((24, 2), 35.0)
    # Nearest is the wall to the neighbour, .5 m off; the street lies 3 m to the west.
    hidden, sky = behind_buildings(rings, panels_at(PLACE, [9.0, 4.0], [3.5, 3.5]), *suns)
    assert_allclose(hidden[:, 0], hidden[:, 1])
    assert_allclose(sky[0], sky[1])


def test_deep_in_a_block_without_a_free_wall_near_the_block_is_left_out():
    block = [box(6.0 * i, 6.0 * k, 6.0 * i + 6.0, 6.0 * k + 6.0) for i in range(-5, 5) for k in range(-5, 5)]
    rings = rings_of(*rings_at(PLACE, block, [9.0] * 100))
    _, sky = behind_buildings(rings, panels_at(PLACE, [3.0], [3.0]), *NO_SUN)
    assert 0.0 < level_view(sky, 0.0).item() < 1.0


def test_roofs_below_the_panel_and_houses_far_away_hide_nothing():
    low, far = box(3.0, -5.0, 9.0, 5.0), box(400.0, -5.0, 410.0, 5.0)
    rings = rings_of(*rings_at(PLACE, [low, far], [1.5, 10.0]))
    hidden, sky = behind_buildings(rings, panels_at(PLACE, [0.0], [0.0]), np.array([[90.0]]), np.array([[2.5]]))
    assert not hidden.any()
    assert (sky == 1.0).all()


@pytest.mark.parametrize(("slope", "hides"), [(0.0, True), (-0.3, False), (0.3, True)])
def test_houses_down_the_slope_hide_less(slope, hides):
    # A house 7 m over the panel from 20 m on: 19 degrees on the level, 3 where the ground falls by .3.
    rings = rings_of(*rings_at(PLACE, [box(20.0, -8.0, 30.0, 8.0)], [9.0]))
    panels = panels_at(PLACE, [0.0], [0.0], slope=(slope, 0.0))
    hidden, _ = behind_buildings(rings, panels, np.array([[90.0]]), np.array([[15.0]]))
    assert hidden.item() is hides


@pytest.mark.parametrize("place", [(52.0, 179.9999), (-16.8, -179.99995), (70.0, 20.0), (0.0, 0.0)])
def test_a_house_hides_the_same_sun_everywhere_on_earth(place):
    rings = rings_of(*rings_at(place, [HOUSE], [9.0]))
    suns = np.arange(0.0, 360.0, 5.0)[:, None], np.full((72, 1), 30.0)
    hidden, sky = behind_buildings(rings, panels_at(place, [0.0], [0.0]), *suns)
    here, around = behind_buildings(
        rings_of(*rings_at(PLACE, [HOUSE], [9.0])), panels_at(PLACE, [0.0], [0.0]), *suns
    )
    assert_allclose(hidden, here)
    assert_allclose(sky, around, atol=1e-6)
