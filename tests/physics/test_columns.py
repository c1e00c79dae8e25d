"""Columns of a metre-scale height raster, against walls one can work out by hand and against fine sampling."""

from functools import cache

import numpy as np
import pytest
from canopy_scenes import column_views, columns_from, habit
from numpy.testing import assert_allclose

from routesolar.physics.columns import (
    beam_crossings,
    chords_per_way,
    sky_crossings,
)
from routesolar.physics.crowns import column_transmittance
from routesolar.physics.dome import azimuth_deg, elevation_deg

SIZE = 64
HERE = SIZE // 2 + 0.5


def wall(height_m=20.0):
    """A wall from 10 to 14 m east of a panel at (HERE, HERE), on 1 m cells, rows growing south."""
    heights = np.zeros((SIZE, SIZE))
    heights[:, SIZE // 2 + 10 : SIZE // 2 + 14] = height_m
    return columns_from(heights)


def path_m(columns, view, azimuth, elevation, tree=None):
    """Metres within solid columns of 20 m: the crossings times the crowns' mean chord."""
    tree = tree or habit()
    suns = np.full((1, 1), float(azimuth)), np.full((1, 1), float(elevation))
    met = beam_crossings(view, columns, tree, *suns).item()
    slope = np.tan(np.radians(elevation))
    return met / chords_per_way(tree, slope) * 20.0 * np.hypot(1.0, slope)


@pytest.mark.parametrize(("elevation", "metres", "left"), [(45, 5.657, 0.0830), (30, 3.966, 0.1747)])
def test_the_beam_through_a_wall_is_as_long_as_geometry_says(elevation, metres, left):
    # Documentation of the shade model, 6b: wall x = 10-14 m, h 20, base 8, panel 1.9 m, .44 per metre.
    # The panel stands half a cell into its cell, so that the wall is 10 m away.
    columns, view = wall(), column_views(SIZE // 2, HERE, 1.9)
    found = path_m(columns, view, 90, elevation, habit(0.4))
    assert found == pytest.approx(metres, abs=5e-4)
    assert np.exp(-0.44 * found) == pytest.approx(left, abs=1e-4)


def test_no_wall_stands_on_the_other_side():
    assert path_m(wall(), column_views(HERE, HERE, 1.9), 270, 30) == 0.0


@pytest.mark.parametrize(
    ("elevation", "tau", "per_metre"),
    # Documentation of the shade model, 6b: what an 18 m stand takes per metre of path (two digits).
    # Its leafless figure holds a factor for hidden crowns; see test_columns_monte_carlo for ours.
    [(60, 0.1, 0.34), (45, 0.1, 0.39), (30, 0.1, 0.44)],
)
def test_a_stand_of_18_m_takes_so_much_of_the_beam_a_metre(elevation, tau, per_metre):
    slope = np.tan(np.radians(elevation))
    crossings_per_metre = chords_per_way(habit(), slope) / 18.0 / np.hypot(1.0, slope)
    assert -np.log(column_transmittance(crossings_per_metre, tau)) == pytest.approx(per_metre, abs=0.005)


def sampled_path_m(heights, place, sun, panel_m, step=0.002):
    """The same by looking at the middle of every two millimetres: another method altogether."""
    azimuth, elevation = np.radians(sun)
    s = np.arange(0, 40 / np.tan(elevation), step) + step / 2
    col, row = place[0] + s * np.sin(azimuth), place[1] - s * np.cos(azimuth)
    inside = (col >= 0) & (row >= 0) & (col < heights.shape[1]) & (row < heights.shape[0])
    cell = row[inside].astype(int), col[inside].astype(int)
    s, height, top = s[inside], heights[cell], uphill(heights)[cell]
    level = panel_m + s * np.tan(elevation)
    base = habit().base_frac
    top = np.where(height < (1 + base) / 2 * top, height / ((1 + base) / 2 + (1 - base) / 3), top)
    solid = (level < height) & (level > (1 + base) * top - height)
    return np.sum(step / top[solid])


@cache
def _uphill(heights_bytes, shape):
    heights = np.frombuffer(heights_bytes).reshape(shape)
    padded = np.pad(heights, 1, constant_values=-1.0)
    around = np.stack([padded[r : r + shape[0], c : c + shape[1]] for r in range(3) for c in range(3)])
    best = around.argmax(axis=0)
    row, col = np.indices(shape)
    row, col = np.where(heights > 2, row + best // 3 - 1, row), np.where(heights > 2, col + best % 3 - 1, col)
    at = np.indices(shape)
    for _ in range(6):
        at = row[at[0], at[1]], col[at[0], at[1]]
    return heights[at[0], at[1]]


def uphill(heights):
    """The height six steps uphill from each cell, by following everywhere the highest neighbour at once."""
    return _uphill(heights.tobytes(), heights.shape)


def test_ways_through_a_wood_of_columns_are_those_of_fine_sampling():
    rng = np.random.default_rng(7)
    heights = np.where(rng.random((160, 160)) < 0.35, rng.uniform(3, 25, (160, 160)), 0.0)
    heights[60:100, 60:80] = 0.0  # a clearing, for blocks that are skipped
    columns = columns_from(heights)
    for _ in range(40):
        place, sun = rng.uniform(70, 90, 2), (rng.uniform(0, 360), rng.uniform(18, 70))
        found = beam_crossings(column_views(*place, 2.4), columns, habit(), *np.array(sun).reshape(2, 1, 1))
        expected = sampled_path_m(heights, place, sun, 2.4)
        # 2 mm of 3 m trees, at each of some forty borders, in quadrature.
        assert found.item() / chords_per_way(habit(), np.tan(np.radians(sun[1]))) == pytest.approx(
            expected, abs=0.003
        )


def test_a_turned_raster_of_half_metre_cells_shows_the_same_wall():
    # Columns run 30 deg east of north; the panel sees the wall straight ahead of its columns' direction.
    fine = np.zeros((256, 256))
    fine[:, 148:156] = 20.0
    turn = np.radians(30.0)
    cells_per_m = 2.0 * np.array([[np.cos(turn), -np.sin(turn)], [-np.sin(turn), -np.cos(turn)]])
    view = column_views(128, 128.3, 1.9, cells_per_m)
    assert path_m(columns_from(fine), view, 120, 45) == pytest.approx(5.657, abs=5e-4)


def test_the_sky_holds_what_the_beam_meets_in_each_direction():
    rng = np.random.default_rng(8)
    heights = np.where(rng.random((256, 256)) < 0.3, rng.uniform(3, 25, (256, 256)), 0.0)
    columns, view = columns_from(heights), column_views(128.2, 127.6, 2.4)
    azimuth, elevation = np.meshgrid(azimuth_deg() + 35.0, elevation_deg(), indexing="ij")
    beam = beam_crossings(view, columns, habit(), azimuth.reshape(-1, 1), elevation.reshape(-1, 1))
    sky = sky_crossings(view, columns, habit(), np.array([35.0]))
    assert_allclose(sky[0], beam.reshape(azimuth.shape), rtol=1e-9, atol=1e-12)


def test_beyond_its_edge_the_raster_is_mirrored_and_what_is_not_in_memory_is_unknown():
    columns, edge = wall(), column_views(HERE, 0.5, 1.9)
    assert path_m(columns, edge, 60, 30) == pytest.approx(path_m(columns, edge, 120, 30), rel=1e-6)
    hole = columns._replace(slot=np.full_like(columns.slot, -1))
    assert np.isnan(path_m(hole, column_views(HERE, HERE, 1.9), 90, 30))


def test_points_that_know_their_cover_and_suns_below_the_horizon_look_at_no_column():
    columns, view = wall(), column_views(HERE, HERE, 1.9)
    suns = np.array([[90.0]]), np.array([[30.0]])
    known = view._replace(layers=np.array([0.7]))
    assert beam_crossings(known, columns, habit(), *suns) == 0.0
    assert not sky_crossings(known, columns, habit(), np.zeros(1)).any()
    assert np.isnan(beam_crossings(view, columns, habit(), suns[0], -suns[1]))
    uphill = view._replace(slope_east=np.array([0.7]))
    assert np.isinf(beam_crossings(uphill, columns, habit(), *suns))
