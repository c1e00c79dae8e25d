"""The opening of the road in cover rasters: its share of pixels, the wood beside, where trunks begin."""

import numpy as np
import pytest
from canopy_scenes import grid_of as small_grid
from canopy_scenes import grid_views, habit
from numpy.testing import assert_allclose
from planted_wood import cover_raster, pixel_road, planted_wood, scene

from routesolar.physics.canopy import beam_overlap
from routesolar.physics.crowns import OVERHANG, crown_transmittance, layers
from routesolar.physics.opening import open_share, stand_cover, trunk_lines_m
from routesolar.physics.stand import block_means, block_side, grid_of, no_grid

ONE_TILE = np.zeros((1, 1), np.int32)


def test_a_road_along_pixels_takes_all_of_its_own_and_the_edge_of_their_neighbours():
    # 12 m wide in the middle of pixels of 10 m: one metre of each neighbour. 64 points a pixel.
    road = pixel_road([[75.0, -50.0], [75.0, 250.0]], 12.0, 10.0)
    share = open_share(road, ONE_TILE, (1, 16, 16))[0]
    assert_allclose(share[3, 5:10], [0.0, 0.1, 1.0, 0.1, 0.0], atol=1 / 128)


@pytest.mark.parametrize("angle", [0.1, 0.5, 0.8, 1.3])
def test_a_road_takes_its_own_area_whatever_its_direction_and_passes_counted_once(angle):
    middle, step = np.array([320.0, 320.0]), 200.0 * np.array([np.cos(angle), np.sin(angle)])
    there = [middle - step, middle, middle + step]
    road = pixel_road([*there, *there[::-1]], 12.0, 10.0)
    share = open_share(road, ONE_TILE, (1, 64, 64))
    # A capsule's area; a point in 64 stands for 1.6 m2, and errors along the edges cancel.
    assert share.sum() * 100.0 == pytest.approx(12.0 * 400.0 + np.pi * 36.0, rel=0.01)


def test_the_wood_beside_shows_in_pixels_as_documented():
    # Documentation of the shade model, 6b, "Pixel cover": C; C / (1 - f) up to .15; else pooled over 5 x 5.
    rng = np.random.default_rng(3)
    cover = rng.uniform(0.3, 0.8, (1, 16, 16)).astype(np.float32)
    share = np.zeros_like(cover)
    share[0, 7, :], share[0, 8, :] = 0.6, 0.1
    cover[0, 8, 3], cover[0, 8, 4], cover[0, 12, 5] = 0.95, np.nan, np.nan
    found = stand_cover(cover, share, ONE_TILE, 10.0)[0]
    assert_allclose(found[10], cover[0, 10], rtol=1e-6)
    assert found[8, 9] == pytest.approx(cover[0, 8, 9] / 0.9, rel=1e-6)
    assert found[8, 3] == pytest.approx(0.98)
    window = np.s_[0, 5:10, 8:13]
    assert found[7, 10] == pytest.approx(cover[window].sum() / (1 - share[window]).sum(), rel=1e-5)
    assert np.isnan(found[8, 4])
    assert np.isnan(found[12, 5])
    # A pixel that is unknown is not known to be bare: the window leaves it out on both sides.
    known = np.isfinite(cover[0, 5:10, 2:7])
    pooled = np.nansum(cover[0, 5:10, 2:7]) / (1 - share[0, 5:10, 2:7])[known].sum()
    assert found[7, 4] == pytest.approx(pooled, rel=1e-5)


@pytest.mark.parametrize(("between", "behind"), [("opening", 0.13), ("trunks", 0.0), ("crowns", 1.0)])
def test_trunks_begin_behind_the_edge_of_the_road(between, behind):
    # C .6, H 18: r = .7 x 9 / 1.75 = 3.6 m.
    grid = small_grid(np.full((40, 40), 0.6), np.full((40, 40), 18.0))
    views = grid_views(grid, 20.0, 20.0, np.eye(2) / 10, 2.0)
    found = trunk_lines_m(views, grid, np.array([12.0]), habit(), OVERHANG[between])
    assert found == pytest.approx([6.0 + behind * 3.6], abs=1e-4)


def test_where_a_wood_stands_on_one_side_only_its_own_trees_set_the_edge():
    cover = np.zeros((40, 40))
    cover[:, 20:] = 0.9
    grid = small_grid(cover, np.full((40, 40), 18.0))
    views = grid_views(grid, 20.0, 20.0, np.eye(2) / 10, 2.0)
    found = trunk_lines_m(views, grid, np.array([12.0]), habit(), OVERHANG["opening"])
    assert found == pytest.approx([6.0 + 0.31 * 3.6], abs=1e-4)
    bare = grid_views(grid, 5.0, 20.0, np.eye(2) / 10, 2.0)
    assert trunk_lines_m(bare, grid, np.array([12.0]), habit(), OVERHANG["opening"]) == [6.0]


@pytest.mark.compiled
@pytest.mark.parametrize("cell", [10, 20, 30])
def test_a_raster_of_a_planted_wood_shades_as_the_wood_does_once_the_road_is_taken_out(cell):
    cover = 0.7
    wood = planted_wood(cover, 12.0, np.random.default_rng(5))
    views, road, suns = scene(wood, cell)
    tiles, slot, size = cover_raster(wood, cell)
    known = views._replace(layers=np.full(len(views.col), layers(cover)), height_m=views.default_height_m)
    truth = crown_transmittance(beam_overlap(known, road, no_grid(), habit(), *suns), 0.1).mean(axis=1)

    def error(tiles):
        met = beam_overlap(views, road, grid_of((tiles, slot), None, size), habit(), *suns)
        return np.sqrt(np.mean((crown_transmittance(met, 0.1).mean(axis=1) - truth) ** 2))

    share = open_share(pixel_road(wood.vertex_m, 12.0, cell), slot, tiles.shape)
    # Documentation of the shade model, 6b: .003-.008 over 5 km; .05-.09 for the cover as it is.
    assert error(stand_cover(tiles, share, slot, float(cell))) <= 0.010
    assert error(tiles) > 0.04


@pytest.mark.compiled
@pytest.mark.parametrize("cover", [0.4, 0.7])
def test_cells_that_show_single_crowns_make_a_wood_darker_the_finer_they_are(cover):
    # Pixels are full or empty there, and random crowns of the full ones overlap where real ones stand apart.
    # Found .09 too dark on 2 m, .06 on 4 m, .03 on 6 m at cover .4, half of that at .7: so finer cells than 4 m
    # are put together (block_side). 4 m of road width move a single sun by .10 (documentation, 6b).
    wood = planted_wood(cover, 12.0, np.random.default_rng(7), pieces=60)
    too_dark = []
    for cell in (6, 4, 2):
        views, road, suns = scene(wood, cell)
        tiles, slot, size = cover_raster(wood, cell)
        known = views._replace(layers=np.full(len(views.col), layers(cover)), height_m=views.default_height_m)
        truth = crown_transmittance(beam_overlap(known, road, no_grid(), habit(), *suns), 0.1).mean()
        share = open_share(pixel_road(wood.vertex_m, 12.0, cell), slot, tiles.shape)
        stand = stand_cover(tiles, share, slot, float(cell))
        met = beam_overlap(views, road, grid_of((stand, slot), None, size), habit(), *suns)
        too_dark.append(truth - crown_transmittance(met, 0.1).mean())
    assert 0 < too_dark[0] < too_dark[1] < too_dark[2] < 0.10


def test_cells_of_cover_are_put_together_up_to_four_metres_by_powers_of_two():
    sides = {0.01: 256, 0.5: 8, 1.0: 4, 1.9: 2, 2.0004: 2, 3.0: 2, 3.9984: 1, 4.0: 1, 30.0: 1}
    assert {cell_m: block_side(cell_m, 256) for cell_m in sides} == sides


def test_means_over_blocks_leave_out_what_is_unknown_and_follow_their_weights():
    values = np.array([[[1.0, 3.0, np.nan, np.nan], [np.nan, 5.0, np.nan, np.nan]] * 2], np.float32)
    weight = np.array([[[1.0, 0.0, 1.0, 1.0], [1.0, 3.0, 1.0, 1.0]] * 2], np.float32)
    assert_allclose(block_means(values, 2), [[[3.0, np.nan], [3.0, np.nan]]])
    assert_allclose(block_means(values, 2, weight), [[[4.0, np.nan], [4.0, np.nan]]])
