"""Single trees against rays followed step by step through ellipsoids."""

import numpy as np
from numpy.testing import assert_allclose
from standing import chords_by_steps, degrees_at, panels_at

from routesolar.physics.dome import direction_weight
from routesolar.physics.standing_crowns import crown_places, met_towards_sky, met_towards_suns

PLACE = (52.0, 13.0)
BASE = 0.3
# A row of poplars 7 m beside the road, 6 m apart, 18 to 24 m tall and 4 m wide.
ROW = [(7.0, 6.0 * k - 30.0, 18.0 + k % 3 * 3.0, 4.0, BASE) for k in range(11)]


def places(trees, evergreen=0.0):
    east, north, height_m, width_m, _ = np.array(trees).T
    return crown_places(*degrees_at(PLACE, east, north), height_m, width_m, np.full(len(trees), evergreen))


def test_a_row_of_poplars_is_met_as_by_rays_cast_at_it():
    random = np.random.default_rng(2)
    count = 60
    at = random.uniform(-3, 3, count), random.uniform(-15, 15, count)
    azimuth_deg, elevation_deg = random.uniform(20, 160, count), random.uniform(10, 65, count)
    met = met_towards_suns(
        places(ROW), panels_at(PLACE, *at), np.full(count, BASE), azimuth_deg[None], elevation_deg[None]
    )
    spots = zip(*at, azimuth_deg, elevation_deg, strict=True)
    cast = [sum(chords_by_steps(tree, (x, y, 2.0), a, e) for tree in ROW) for x, y, a, e in spots]
    assert np.count_nonzero(cast) > 20
    assert_allclose(met[0, 0], cast, atol=0.01)
    assert not met[1:].any()


def test_the_sky_beside_a_row_is_that_of_rays_cast_at_it():
    tau, heading_deg = 0.1, 30.0
    panels = panels_at(PLACE, [0.0], [0.0], heading_deg=heading_deg)
    sky = met_towards_sky(places(ROW), panels, np.array([BASE]))
    left = 1 - sky.hit_frac[0] * (1 - tau ** sky.met[0, 0])
    weight = direction_weight(np.array([[0.0, 0.0, 1.0]]), np.array([heading_deg]))[0]
    # Rays on a level panel by its light: sin^2 of the elevation and the azimuth are spread evenly.
    turns = (np.arange(1000) + 0.5) / 1000
    elevation_deg = np.degrees(np.arcsin(np.sqrt(turns)))
    azimuth_deg = 360 * (np.arange(1000) * 0.6180339887498949 % 1)
    towards = zip(azimuth_deg, elevation_deg, strict=True)
    chords = [
        sum(chords_by_steps(t, (0, 0, 2.0), a, e, 0.05, 60.0) for t in ROW) if a < 180 else 0.0
        for a, e in towards
    ]
    assert_allclose((left * weight).sum() / weight.sum(), np.mean(tau ** np.array(chords)), atol=0.01)


def test_a_panel_under_a_crown_and_one_in_it_meet_what_lies_ahead_of_them():
    tree = (0.0, 0.0, 10.0, 8.0, BASE)
    panels = panels_at(PLACE, [0.0, 0.0], [0.0, 0.0], height_m=6.5)
    met = met_towards_suns(places([tree]), panels, np.full(2, BASE), np.zeros((1, 2)), np.array([[90.0, 20.0]]))
    cast = [chords_by_steps(tree, (0, 0, 6.5), 0.0, e) for e in (90.0, 20.0)]
    assert_allclose(met[0, 0], cast, atol=0.01)


def test_kinds_of_trees_are_told_apart():
    panels, sun = panels_at(PLACE, [0.0], [0.0]), (np.array([[90.0]]), np.array([[55.0]]))
    whole = met_towards_suns(places(ROW), panels, np.array([BASE]), *sun)[0].item()
    assert whole > 0
    for evergreen, kinds in ((1.0, (0, 1, 0)), (0.25, (0.75, 0.25, 0)), (np.nan, (0, 0, 1))):
        met = met_towards_suns(places(ROW, evergreen), panels, np.array([BASE]), *sun)
        assert_allclose(met[:, 0, 0], whole * np.array(kinds))


def test_a_sun_that_is_down_meets_nothing_and_a_far_tree_hides_no_sky():
    suns = np.full((2, 1), 90.0), np.array([[-1.0], [np.nan]])
    assert not met_towards_suns(places(ROW), panels_at(PLACE, [0.0], [0.0]), np.array([BASE]), *suns).any()
    away = met_towards_sky(
        places([(790.0, 0.0, 20.0, 8.0, BASE)]), panels_at(PLACE, [0.0], [0.0]), np.array([BASE])
    )
    assert not away.hit_frac.any()
