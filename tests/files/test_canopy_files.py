"""Composing the canopy: filling what is unknown, heights on the cover's cells, columns, constants."""

from dataclasses import replace

import numpy as np
import pytest
from files.raster_samples import EAST, NORTH, TO_UTM, from_origin, points, write

from routesolar.errors import InputError, UsageError
from routesolar.files.canopy_files import CanopySources, Said, canopy_from
from routesolar.files.raster_fill import fill_unknown
from routesolar.files.rasters import read_cover
from routesolar.trip.surroundings import Trees, values_at


def canopy_at(east_m, south_m, said=None, **sources):
    latitude, longitude = points(east_m, south_m)
    return canopy_from(latitude, longitude, CanopySources(**sources), said or Said.nothing(len(latitude)))


def on_grid(canopy, grid, shift=(0, 0)):
    place = canopy.placement
    return values_at(grid, place.col + shift[0], place.row + shift[1])


def test_an_unknown_cell_takes_the_mean_of_the_known_cells_within_a_kilometre(tmp_path):
    # Oracle: the definition, computed cell by cell. The blocks are 16 cells (480 m), so the disk is known
    # to half a block: with cover changing by .067 per km the mean moves by under .016.
    rows, cols = np.mgrid[0:300, 0:300]
    cover = np.round(cols * 0.2 + 10).astype("uint8")
    hole = np.hypot(rows - 150, cols - 150) < 12
    source = write(tmp_path / "cover.tif", np.where(hole, 255, cover).astype("uint8"))
    canopy = canopy_at([150.5 * 30], [150.5 * 30], cover=(source,)).canopy
    near = (np.hypot(rows - 150, cols - 150) * 30 <= 1000) & ~hole
    assert on_grid(canopy, canopy.cover_frac)[0] == pytest.approx(cover[near].mean() / 100, abs=0.016)
    assert on_grid(canopy, canopy.cover_frac, (30, 0))[0] == pytest.approx(cover[150, 180] / 100)
    assert canopy.data_frac == 0.0
    assert "unknown on 100.0% of the route" in canopy.warnings[-1]


def test_points_that_no_raster_reaches_take_the_routes_mean(tmp_path):
    cover = np.full((300, 300), 20, "uint8")
    cover[:, 150:] = 60
    source = write(tmp_path / "cover.tif", cover)
    canopy = canopy_at([1500, 7500, 500_000], [4500, 4500, 4500], cover=(source,)).canopy
    np.testing.assert_allclose(canopy.uniform_cover_frac, [np.nan, np.nan, 0.4])
    assert canopy.data_frac == pytest.approx(2 / 3)


def test_nothing_in_the_filled_corridor_is_unknown(tmp_path):
    cover = np.full((400, 400), 255, "uint8")
    cover[10, 10] = 80
    source = write(tmp_path / "cover.tif", cover)
    along = read_cover([source], *points([1000, 11_500], [1000, 11_500]))
    assert np.isnan(along.grid.tiles).any()
    assert fill_unknown(along) == pytest.approx(0.8)
    assert (along.grid.slot >= 0).sum() == 4
    np.testing.assert_allclose(along.grid.tiles, 0.8, atol=1e-6)
    with pytest.raises(ValueError, match="read-only"):
        along.grid.tiles[0] = 0


def test_filling_leaves_known_cells_alone(tmp_path):
    rng = np.random.default_rng(3)
    cover = rng.integers(0, 101, (300, 300)).astype("uint8")
    cover[rng.uniform(size=cover.shape) < 0.3] = 255
    along = read_cover([write(tmp_path / "cover.tif", cover)], *points([4500], [4500]))
    fill_unknown(along)
    grid = along.grid
    rows, cols = (index.ravel() for index in np.mgrid[0:300, 0:300])
    x, y = EAST + cols * 30 + 15, NORTH - rows * 30 - 15
    col, row = (x - along.transform.c) / 30, (along.transform.f - y) / 30
    known = (cover.ravel() <= 100) & np.isfinite(values_at(grid, col, row))
    assert known.sum() > 10_000
    np.testing.assert_allclose(values_at(grid, col, row)[known], cover.ravel()[known] / 100, atol=1e-6)


def test_metre_heights_become_the_mean_of_covered_pixels_per_cell_raised_by_8_percent(tmp_path):
    # Oracle: a loop over the cells of the cover raster, written here; 1.08 from the shade model's notes.
    rng = np.random.default_rng(4)
    heights = rng.uniform(0, 30, (1200, 1200)).astype("float32")
    cover = write(tmp_path / "cover.tif", np.full((40, 40), 50, "uint8"))
    height = write(tmp_path / "height.tif", heights, cell=1.0)
    canopy = canopy_at([600], [600], cover=(cover,), height=(height,)).canopy
    for down, right in [(0, 0), (-3, 5), (7, -9)]:
        cell = heights[(20 + down) * 30 : (21 + down) * 30, (20 + right) * 30 : (21 + right) * 30]
        expected = cell[cell > 2].mean() * 1.08
        assert on_grid(canopy, canopy.height_m, (right, down))[0] == pytest.approx(expected, rel=1e-4)


def test_heights_in_degrees_land_on_the_covers_cells(tmp_path):
    left, top = TO_UTM.transform(EAST - 500, NORTH + 500, direction="INVERSE")
    cols = np.tile(np.arange(300), (300, 1))
    heights = (5 + cols * 0.1).astype("float32")
    profile = {"crs": "EPSG:4326", "transform": from_origin(left, top, 0.0001, 0.0001)}
    height = write(tmp_path / "height.tif", heights, **profile)
    cover = write(tmp_path / "cover.tif", np.full((40, 40), 50, "uint8"))
    canopy = canopy_at([15 + 30 * 20], [15 + 30 * 20], cover=(cover,), height=(height,)).canopy
    longitude, _ = TO_UTM.transform(EAST + 15 + 30 * 20, NORTH - 15 - 30 * 20, direction="INVERSE")
    expected = 5 + ((longitude - left) / 0.0001 - 0.5) * 0.1  # 8-11 m pixels: no single crowns, not raised
    assert on_grid(canopy, canopy.height_m)[0] == pytest.approx(expected, abs=0.06)


def test_coarser_heights_are_taken_from_the_pixel_around(tmp_path):
    heights = np.arange(100, dtype="uint8").reshape(10, 10) + 5
    height = write(tmp_path / "height.tif", heights, cell=300.0)
    cover = write(tmp_path / "cover.tif", np.full((100, 100), 50, "uint8"))
    canopy = canopy_at([1000, 2000], [500, 2500], cover=(cover,), height=(height,)).canopy
    np.testing.assert_allclose(on_grid(canopy, canopy.height_m), [heights[1, 3], heights[8, 6]])


def test_a_cell_of_unknown_height_takes_the_mean_height_around(tmp_path):
    heights = np.full((100, 100), 20, "uint8")
    heights[40:50, 40:50] = 0  # no tree there by this raster, though the cover raster knows some
    height = write(tmp_path / "height.tif", heights)
    cover = write(tmp_path / "cover.tif", np.full((100, 100), 50, "uint8"))
    canopy = canopy_at([45 * 30], [45 * 30], cover=(cover,), height=(height,)).canopy
    assert on_grid(canopy, canopy.height_m)[0] == pytest.approx(20)


def test_heights_of_a_part_of_the_route_are_said_to_be_so(tmp_path):
    height = write(tmp_path / "height.tif", np.full((20, 20), 24, "uint8"))
    cover = write(tmp_path / "cover.tif", np.full((400, 400), 50, "uint8"))
    canopy = canopy_at([300, 900, 3000, 11_000], [300, 300, 300, 300], cover=(cover,), height=(height,)).canopy
    assert "tree heights are unknown on 75.0% of the route" in canopy.warnings[-1]
    np.testing.assert_allclose(on_grid(canopy, canopy.height_m), 24)


def test_metre_heights_alone_are_columns(tmp_path):
    heights = np.zeros((500, 500), "float32")
    heights[200:300] = 18
    height = write(tmp_path / "height.tif", heights, cell=2.0)
    read = canopy_at([500, 500, 3000], [500, 100, 500], height=(height,))
    canopy = read.canopy
    assert canopy.cover_frac is None
    np.testing.assert_allclose(on_grid(canopy, canopy.height_m)[:2], [18, 0])
    np.testing.assert_allclose(canopy.uniform_height_m, [np.nan, np.nan, 18 * 1.08])
    assert np.isnan(canopy.uniform_cover_frac[:2]).all()
    assert 0.15 < canopy.uniform_cover_frac[2] < 0.25  # a fifth of the raster is under trees
    assert np.nanmax(read.picture.values) == 1.0


def test_coarse_heights_alone_are_refused(tmp_path):
    height = write(tmp_path / "height.tif", np.full((50, 50), 18, "uint8"))
    with pytest.raises(InputError, match=r"height\.tif: pixels of 30 m .*--canopy"):
        canopy_at([700], [700], height=(height,))


def test_coarse_heights_with_one_cover_for_all_are_used(tmp_path):
    height = write(tmp_path / "height.tif", np.full((50, 50), 18, "uint8"))
    canopy = canopy_at([700], [700], height=(height,), cover_frac=0.6).canopy
    assert on_grid(canopy, canopy.cover_frac)[0] == pytest.approx(0.6)
    assert on_grid(canopy, canopy.height_m)[0] == 18
    assert [file.name for file in canopy.files] == ["height.tif"]


def test_one_cover_beside_metre_heights_is_refused(tmp_path):
    height = write(tmp_path / "height.tif", np.full((50, 50), 18, "uint8"), cell=2.0)
    with pytest.raises(UsageError, match="drop one"):
        canopy_at([50], [50], height=(height,), cover_frac=0.6)


def test_what_the_driver_says_wins(tmp_path):
    source = write(tmp_path / "cover.tif", np.full((100, 100), 50, "uint8"))
    silent = np.array([np.nan, np.nan])
    said = Said(
        cover_frac=np.array([np.nan, 0.9]),
        height_m=np.array([25.0, np.nan]),
        road_width_m=np.array([8.0, np.nan]),
        lane_offset_m=np.array([np.nan, 0.5]),
    )
    canopy = canopy_at([600, 900], [600, 900], said, cover=(source,), height_m=18.0, road_width_m=14.0).canopy
    np.testing.assert_array_equal(canopy.uniform_cover_frac, [np.nan, 0.9])
    np.testing.assert_array_equal(canopy.uniform_height_m, [25.0, np.nan])
    np.testing.assert_array_equal(canopy.default_height_m, [18.0, 18.0])
    np.testing.assert_array_equal(canopy.road_width_m, [8.0, 14.0])
    np.testing.assert_array_equal(canopy.lane_offset_m, [1.75, 0.5])
    plain = canopy_at([600, 900], [600, 900], cover=(source,)).canopy
    np.testing.assert_array_equal(plain.uniform_cover_frac, silent)


def test_a_stretch_the_driver_described_is_not_unknown(tmp_path):
    source = write(tmp_path / "cover.tif", np.full((100, 100), 50, "uint8"))
    said = replace(Said.nothing(2), cover_frac=np.array([np.nan, 0.9]))
    canopy = canopy_at([600, 9000], [600, 900], said, cover=(source,)).canopy
    assert (canopy.data_frac, canopy.warnings) == (1.0, ())


def test_without_any_canopy_the_sky_is_open_and_that_is_said():
    canopy = canopy_at([0, 100], [0, 0]).canopy
    assert canopy.is_open
    assert canopy.warnings == ("no canopy is given for all or part of the route: open sky is assumed there",)
    constant = canopy_at([0, 100], [0, 0], cover_frac=0.6).canopy
    np.testing.assert_array_equal(constant.uniform_cover_frac, [0.6, 0.6])
    assert constant.warnings == ()


@pytest.mark.parametrize(("side", "offset_m"), [("right", 1.75), ("left", -1.75)])
def test_the_lane_lies_on_the_side_driven(side, offset_m):
    canopy = canopy_at([0], [0], drive_side=side, trees=Trees()).canopy
    assert canopy.lane_offset_m[0] == offset_m


def test_doubt_is_the_smaller_the_better_is_known_who_said_it(tmp_path):
    # One standard deviation: the project's stated priors (README, "How unsure trees are"), no outside source.
    silent = canopy_at([0, 100], [0, 0], cover_frac=0.6).canopy.doubt
    np.testing.assert_array_equal(silent.road_width_sd_frac, [0.25, 0.25])
    np.testing.assert_array_equal(silent.cover_sd_frac, [0.08, 0.08])
    assert silent.raster_cover_sd_frac == 0.0
    source = write(tmp_path / "cover.tif", np.full((100, 100), 50, "uint8"))
    by_stretch = replace(
        Said.nothing(2), cover_frac=np.array([np.nan, 0.9]), road_width_m=np.array([np.nan, 8.0])
    )
    doubt = canopy_at([600, 900], [600, 900], by_stretch, cover=(source,), road_width_m=14.0).canopy.doubt
    np.testing.assert_array_equal(doubt.road_width_sd_frac, [0.15, 0.10])
    np.testing.assert_array_equal(doubt.cover_sd_frac, [0.08, 0.05])
    assert doubt.raster_cover_sd_frac == 0.05
    heights = write(tmp_path / "height.tif", np.full((100, 100), 15, "uint8"), cell=2.0)
    seen = canopy_at([50, 100], [50, 100], height=(heights,)).canopy.doubt
    assert seen.causes == (False, True, True, True)  # the crowns seen may be more or fewer (heights_sd_frac)
    assert seen.heights_sd_frac == 0.10
    assert not seen.moves_cover
    assert silent.heights_sd_frac == doubt.heights_sd_frac == 0.0


def test_the_same_words_are_one_error_and_other_words_another():
    width, cover, _ = canopy_at([0], [0], cover_frac=0.6, road_width_m=11.0).canopy.doubt.rests_on
    same, _, _ = canopy_at([0], [0], cover_frac=0.4, road_width_m=11.0).canopy.doubt.rests_on
    other, denser, _ = canopy_at([0], [0], cover_frac=0.7, road_width_m=16.0).canopy.doubt.rests_on
    assert width == same != other
    assert cover != denser
