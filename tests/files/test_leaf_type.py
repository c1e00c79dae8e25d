"""Evergreen shares from leaf-type rasters, against counting by hand."""

import numpy as np
import pytest
from files.raster_samples import points, write

from routesolar.errors import InputError
from routesolar.files.leaf_type import read_evergreen_frac


def test_the_share_is_that_of_the_trees_within_100_m(tmp_path):
    # 10 m cells, the point in the middle of one; the oracle counts cell centres within 100 m.
    kinds = np.random.default_rng(3).choice([0, 1, 2], size=(90, 90), p=[0.3, 0.5, 0.2]).astype("uint8")
    place = write(tmp_path / "leaf.tif", kinds, cell=10.0)
    south, east = (np.mgrid[0:90, 0:90] + 0.5) * 10
    near = kinds[np.hypot(east - 455, south - 345) < 100.5]
    along = read_evergreen_frac([place], *points(455.0, 345.0))
    # Cells whose centre lies on the very circle may fall either way.
    assert along.evergreen_frac[0] == pytest.approx(np.sum(near == 2) / np.sum(near > 0), abs=0.01)
    assert along.data_frac == 1
    assert [file.name for file in along.files] == ["leaf.tif"]


def test_a_point_without_trees_takes_the_mean_of_the_others(tmp_path):
    kinds = np.zeros((300, 300), "uint8")
    kinds[:, 250:275] = 1
    kinds[:, 275:] = 2
    place = write(tmp_path / "leaf.tif", kinds, cell=10.0)
    along = read_evergreen_frac([place], *points([500.0, 2620.0, 2880.0], [1500.0] * 3))
    assert along.evergreen_frac[1] == 0
    assert along.evergreen_frac[2] == 1
    assert 0.4 < along.evergreen_frac[0] < 0.6
    assert (along.data_frac, along.warnings) == (1.0, ())  # no trees is knowledge, too


def test_what_is_unknown_is_counted_and_takes_the_mean_of_the_rest(tmp_path):
    kinds = np.full((100, 400), 255, "uint8")
    kinds[:, :50] = 2
    kinds[:, 50:100] = 1
    place = write(tmp_path / "leaf.tif", kinds, cell=10.0)
    along = read_evergreen_frac([place], *points([250.0, 750.0, 2500.0, 9000.0], [500.0] * 4))
    np.testing.assert_array_equal(along.evergreen_frac, [1, 0, 0.5, 0.5])
    assert along.data_frac == 0.5
    assert "leaf.tif: the leaf type is unknown on 50.0% of the route" in along.warnings[0]


def test_unclassified_cells_do_not_count(tmp_path):
    kinds = np.full((100, 100), 254, "uint8")
    kinds[50:] = 255
    kinds[40:60, 45:50] = 2
    place = write(tmp_path / "leaf.tif", kinds, cell=10.0)
    assert read_evergreen_frac([place], *points(500.0, 500.0)).evergreen_frac[0] == 1


def test_coarse_cells_are_asked_too(tmp_path):
    kinds = np.full((10, 10), 1, "uint8")
    kinds[:, 5:] = 2
    place = write(tmp_path / "leaf.tif", kinds, cell=300.0)
    along = read_evergreen_frac([place], *points([750.0, 2250.0], [1500.0, 1500.0]))
    np.testing.assert_array_equal(along.evergreen_frac, [0, 1])


def test_evergreen_broadleaves_are_added(tmp_path):
    kinds = np.full((100, 100), 1, "uint8")
    kinds[::4] = 2
    place = write(tmp_path / "leaf.tif", kinds, cell=10.0)
    plain, half = (
        read_evergreen_frac([place], *points(500.0, 500.0), share).evergreen_frac[0] for share in (0, 0.5)
    )
    assert half == pytest.approx(plain + (1 - plain) / 2)


@pytest.mark.parametrize(
    "values", [np.full((50, 50), 60, "uint8"), np.full((50, 50), 1.0, "f4")], ids=["percent", "decimal"]
)
def test_other_rasters_are_refused(tmp_path, values):
    with pytest.raises(InputError, match="is not a raster of leaf types"):
        read_evergreen_frac([write(tmp_path / "cover.tif", values, cell=10.0)], *points(250.0, 250.0))


def test_a_raster_without_trees_is_refused(tmp_path):
    place = write(tmp_path / "leaf.tif", np.zeros((50, 50), "uint8"), cell=10.0)
    with pytest.raises(InputError, match="no trees"):
        read_evergreen_frac([place], *points(250.0, 250.0))
