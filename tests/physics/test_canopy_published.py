"""The beam through random stands beside straight and bending roads, against physics that others can repeat.

The table is ray-cast Monte Carlo of physical crowns, standard error up to .0005 (documentation of the shade
model, section 6b, "Checks").
"""

import numpy as np
import pytest
from canopy_scenes import bend, grid_of, grid_views, habit, road_of, s_bend, straight, uniform_views

from routesolar.physics.canopy import TOLERANCE, beam_overlap
from routesolar.physics.crowns import (
    OVERHANG,
    RoadsideStand,
    crown_transmittance,
    outer_share,
    straight_overlap,
)
from routesolar.physics.stand import no_grid

# road, (cover, width, edge, offset), (height, base, ratio), (tau, panel height), (azimuth, elevation), T
LEVEL = [
    (straight(), (0.5, 12, "trunks", 1.75), (18, 0.3, 1.75), (0.1, 1.9), (90, 30), 0.137),
    (straight(), (0.5, 12, "trunks", 1.75), (18, 0.3, 1.75), (0.1, 1.9), (-90, 30), 0.151),
    (straight(), (0.8, 16, "trunks", 0), (20, 0.25, 2.0), (0.1, 1.9), (45, 50), 0.409),
    (straight(), (0.6, 8, "trunks", 1.5), (15, 0.3, 1.0), (0.6, 2.5), (0, 20), 0.800),
    (straight(), (0.6, 8, "crowns", 1.5), (15, 0.3, 1.0), (0.6, 2.5), (0, 20), 1.000),
    (straight(), (0.85, 30, "crowns", -3), (25, 0.4, 1.5), (0.1, 1.9), (120, 40), 0.776),
    (bend(60, 1), (0.5, 14, "trunks", 1.75), (18, 0.3, 1.75), (0.1, 1.9), (0, 20), 0.396),
    (bend(150, -1), (0.4, 12, "trunks", -1.75), (16, 0.3, 1.5), (0.6, 1.9), (-10, 12), 0.879),
    (s_bend(80, 120), (0.6, 12, "trunks", 1.75), (18, 0.3, 1.75), (0.1, 1.9), (15, 25), 0.554),
    (s_bend(80, 120), (0.6, 12, "crowns", 1.75), (18, 0.3, 1.75), (0.1, 1.9), (150, 28), 0.141),
]


def beam(road, stand, tree, panel, sun, slope=(0.0, 0.0)):
    cover, width, edge, offset = stand
    height, base, ratio = tree
    radius = height * (1 - base) / 2 / ratio
    trunks = width / 2 + OVERHANG[edge][0] * radius
    views = uniform_views(cover, height, panel[1], *slope)
    suns = np.array([[float(sun[0])]]), np.array([[float(sun[1])]])
    overlap = beam_overlap(views, road_of(road, trunks, offset), no_grid(), habit(base, ratio), *suns)
    return crown_transmittance(overlap.item(), panel[0])


@pytest.mark.parametrize(("road", "stand", "tree", "panel", "sun", "expected"), LEVEL)
def test_beam_through_a_stand_is_that_of_ray_cast_crowns(road, stand, tree, panel, sun, expected):
    assert beam(road, stand, tree, panel, sun) == pytest.approx(expected, abs=0.002)


# Documentation of the shade model, 6b, "Opening": the road of the first row, so wide between its trunks.
WIDER = [
    (8, (45, 50), 0.369),
    (12, (45, 50), 0.466),
    (16, (45, 50), 0.610),
    (8, (0, 20), 0.672),
    (12, (0, 20), 1.000),
    (16, (0, 20), 1.000),
]


@pytest.mark.parametrize(("width_m", "sun", "expected"), WIDER)
def test_a_wider_road_lets_as_much_more_through_as_documented(width_m, sun, expected):
    # Along the road a bundle of lines may miss TOLERANCE at the trunks' line; the closed form misses nothing.
    found = beam(straight(), (0.5, width_m, "trunks", 1.75), (18, 0.3, 1.75), (0.1, 1.9), sun)
    assert found == pytest.approx(expected, abs=TOLERANCE)
    overlap = straight_overlap(RoadsideStand(0.5, 18.0, width_m / 2, 1.75, 1.9), habit(), *map(float, sun))
    assert crown_transmittance(overlap, 0.1) == pytest.approx(expected, abs=0.0006)


def test_a_low_wood_on_one_side_and_a_high_one_on_the_other():
    # The table's row "west C .3 H 12, east C .8 H 20": cells of 10 m that meet on the road's centreline.
    east = np.arange(200) >= 100
    grid = grid_of(np.tile(np.where(east, 0.8, 0.3), (200, 1)), np.tile(np.where(east, 20.0, 12.0), (200, 1)))
    to_cells = np.array([[0.1, 0.0], [0.0, -0.1]])
    views = grid_views(grid, 100.175, 100.0, to_cells, 1.9)
    road = road_of(straight(), 6.0, 1.75)
    overlap = beam_overlap(views, road, grid, habit(), np.array([[-70.0]]), np.array([[30.0]]))
    assert crown_transmittance(overlap.item(), 0.1) == pytest.approx(0.508, abs=0.002)


@pytest.mark.parametrize(("ahead", "across", "expected"), [(0.12, 0.0, 0.132), (-0.12, 0.05, 0.255)])
def test_sloping_ground_brings_trees_nearer_to_the_beam_or_farther(ahead, across, expected):
    # Sun in the east: the ray looks east, its right is south.
    slope = (ahead, -across)
    found = beam(straight(), (0.5, 14, "trunks", 1.75), (18, 0.3, 1.75), (0.1, 1.9), (90, 35), slope)
    assert found == pytest.approx(expected, abs=0.002)


def test_half_a_radius_from_the_centre_a_chord_leaves_a_fifth_of_the_disc():
    # Documentation of the shade model, section 6b: F(.5) = .1955 (to its digits).
    assert outer_share(0.5) == pytest.approx(0.1955, abs=5e-5)
    assert (outer_share(-1.0), outer_share(0.0), outer_share(1.0)) == (1.0, pytest.approx(0.5), 0.0)


@pytest.mark.parametrize("case", LEVEL[:4])
def test_straight_road_closed_form_is_that_of_ray_cast_crowns(case):
    _, (cover, width, _, offset), (height, base, ratio), (tau, panel_m), (azimuth, elevation), expected = case
    stand = RoadsideStand(*map(float, (cover, height, width / 2, offset, panel_m)))
    overlap = straight_overlap(stand, habit(base, ratio), float(azimuth), float(elevation))
    assert crown_transmittance(overlap, tau) == pytest.approx(expected, abs=0.002)
