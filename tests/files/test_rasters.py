"""Reading rasters along a route: place, coding, masks, mosaics."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio
from files.raster_samples import EAST, NORTH, TO_UTM, from_origin, points, write

from routesolar.errors import InputError
from routesolar.files.rasters import read_cover, read_elevation, read_height
from routesolar.trip.surroundings import values_at

GEOD = pyproj.Geod(ellps="WGS84")


def values_of(along):
    return values_at(along.grid, along.placement.col, along.placement.row)


def test_each_point_gets_the_value_of_the_pixel_it_lies_in(tmp_path):
    rows, cols = np.mgrid[0:600, 0:700]
    source = write(tmp_path / "cover.tif", ((rows * 7 + cols * 3) % 101).astype("uint8"))
    rng = np.random.default_rng(1)
    east, south = rng.uniform(0, 700 * 30, 400), rng.uniform(0, 600 * 30, 400)
    along = read_cover([source], *points(east, south))
    col, row = (east // 30).astype(int), (south // 30).astype(int)
    np.testing.assert_allclose(values_of(along), (row * 7 + col * 3) % 101 / 100, atol=1e-6)
    assert along.data_frac == 1.0
    assert along.warnings == ()


@pytest.mark.parametrize("epsg", [32755, 4326, 3857, 28355, 3035])
def test_a_step_on_the_ground_moves_as_far_on_the_grid_as_projecting_it_says(tmp_path, epsg):
    # Oracle: a geodesic of 400 m solved and projected by pyproj. Tolerance 0.2 % of the step: the
    # Jacobian is taken over 50 m and the scale of the projection changes along the step.
    latitude, longitude = (np.array([52.1]), np.array([9.4])) if epsg == 3035 else points(9000, 9000)
    project = pyproj.Transformer.from_crs("EPSG:4326", epsg, always_xy=True)
    x, y = project.transform(longitude[0], latitude[0])
    cell = 0.0003 if epsg == 4326 else 30.0
    grid = from_origin(x - 100 * cell, y + 100 * cell, cell, cell)
    source = write(tmp_path / "cover.tif", np.full((200, 200), 50, "uint8"), crs=epsg, transform=grid)
    place = read_cover([source], latitude, longitude).placement
    for azimuth in range(0, 360, 30):
        to_longitude, to_latitude, _ = GEOD.fwd(longitude[0], latitude[0], azimuth, 400.0)
        to_x, to_y = project.transform(to_longitude, to_latitude)
        expected = np.array([(to_x - x) / cell, (y - to_y) / cell])
        step = 400 * np.array([np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))])
        error = np.linalg.norm(place.cells_per_m[0] @ step - expected)
        assert error < 0.002 * np.linalg.norm(expected)


def test_a_rotated_raster_is_read_where_it_lies(tmp_path):
    rows, cols = np.mgrid[0:300, 0:300]
    c, s = 30 * np.cos(np.radians(25)), 30 * np.sin(np.radians(25))
    turned = rasterio.Affine(c, -s, EAST, -s, -c, NORTH)
    source = write(tmp_path / "cover.tif", ((rows + 2 * cols) % 101).astype("uint8"), transform=turned)
    x, y = EAST + c * 120.5 - s * 80.5, NORTH - s * 120.5 - c * 80.5
    along = read_cover([source], *points(x - EAST, NORTH - y))
    assert values_of(along)[0] == pytest.approx((80 + 240) % 101 / 100)


def test_only_tiles_within_reach_are_in_memory(tmp_path):
    source = write(tmp_path / "cover.tif", np.full((2000, 3000), 40, "uint8"), cell=10.0)
    east = np.linspace(5000, 24000, 400)
    along = read_cover([source], *points(east, 0 * east + 10_000), reach_m=900)
    # The line lies at row 1000, reach 90 cells: rows 910-1090 are tile rows 3 and 4; columns 410-2490
    # are tile columns 1 to 9 (tiles of 256 cells).
    assert len(along.grid.tiles) == 2 * 9
    assert along.grid.slot.shape == (2, 9)


def test_the_small_rectangle_around_a_short_drive_is_read_whole(tmp_path):
    source = write(tmp_path / "cover.tif", np.full((1000, 1000), 40, "uint8"))
    east = np.linspace(1000, 29_000, 400)
    along = read_cover([source], *points(east, east))
    np.testing.assert_array_equal(along.grid.slot >= 0, np.ones((4, 4), dtype=bool))


@pytest.mark.parametrize(
    ("values", "profile", "expected"),
    [
        (np.array([0, 55, 100], "uint8"), {}, [0, 0.55, 1]),
        (np.array([55, 101, 255], "uint8"), {}, [0.55, np.nan, np.nan]),
        (np.array([55, 60, 0], "uint8"), {"nodata": 0}, [0.55, 0.60, np.nan]),
        (np.array([55, -1, 300], "int16"), {}, [0.55, np.nan, np.nan]),
        (np.array([0.55, 1.0, 0], "float32"), {}, [0.55, 1.0, 0]),
        (np.array([0.55, 1.0, -9999], "float32"), {}, [0.55, 1.0, np.nan]),
        (np.array([0.55, 1.0, 255], "float32"), {}, [0.55, 1.0, np.nan]),
        (np.array([0.5, 55, 100], "float32"), {}, [0.005, 0.55, 1.0]),
        (np.array([0.5, np.nan, 0.25], "float64"), {}, [0.5, np.nan, 0.25]),
        (np.array([0.5, -1.7e308, 0.25], "float64"), {"nodata": -1.7e308}, [0.5, np.nan, 0.25]),
        (np.array([5500, 10000, 0], "uint16"), {"scales": (0.0001,)}, [0.55, 1.0, 0]),
        (np.array([550, 1000, 0], "uint16"), {"scales": (0.1,)}, [0.55, 1.0, 0]),
    ],
)
def test_cover_is_read_as_the_data_say(tmp_path, values, profile, expected):
    source = write(tmp_path / "cover.tif", np.repeat(values[None], 4, axis=0), **profile)
    along = read_cover([source], *points([15, 45, 75], [60, 60, 60]))
    np.testing.assert_allclose(values_of(along), expected, atol=1e-6)
    assert along.data_frac == pytest.approx(np.isfinite(expected).mean())


def test_an_alpha_band_and_a_mask_band_hide_pixels(tmp_path):
    cover = np.full((4, 3), 60, "uint8")
    shown = np.tile(np.array([255, 0, 255], "uint8"), (4, 1))
    alpha = write(tmp_path / "alpha.tif", np.stack([cover, shown]), photometric="MINISBLACK", alpha="YES")
    mask = write(tmp_path / "mask.tif", cover, mask=shown)
    for source in (alpha, mask):
        along = read_cover([source], *points([15, 45, 75], [60, 60, 60]))
        np.testing.assert_allclose(values_of(along), [0.6, np.nan, 0.6], atol=1e-6)
        assert along.warnings == ()


def test_points_beyond_the_raster_are_unknown_and_not_treeless(tmp_path):
    source = write(tmp_path / "cover.tif", np.full((100, 100), 70, "uint8"))
    along = read_cover([source], *points([1500, -200, 3100, 90_000], [1500, 1500, 1500, 1500]))
    np.testing.assert_allclose(values_of(along), [0.7, np.nan, np.nan, np.nan], atol=1e-6)
    assert along.data_frac == 0.25


def test_a_mask_of_zeros_and_ones_is_called_out(tmp_path):
    source = write(tmp_path / "forest.tif", np.eye(50, dtype="uint8"))
    along = read_cover([source], *points(700, 700))
    assert "multiply the raster by 100" in along.warnings[0]


def test_fractions_with_a_stray_value_are_called_out(tmp_path):
    # Read as percent, this wood of 60 % would be one of 0.6 %.
    values = np.full((50, 50), 0.6, "f4")
    values[3, 3] = 40
    along = read_cover([write(tmp_path / "forest.tif", values)], *points(700, 700))
    assert "if these are fractions" in along.warnings[0]


def test_treeless_land_is_no_mask(tmp_path):
    source = write(tmp_path / "cover.tif", np.zeros((50, 50), "uint8"))
    assert read_cover([source], *points(700, 700)).warnings == ()


def test_a_raster_with_south_up_is_read_where_it_lies(tmp_path):
    rows, cols = np.mgrid[0:300, 0:300]
    upward = rasterio.Affine(30, 0, EAST, 0, 30, NORTH - 9000)
    source = write(tmp_path / "cover.tif", ((rows + 2 * cols) % 101).astype("uint8"), transform=upward)
    along = read_cover([source], *points(120.5 * 30, 9000 - 80.5 * 30))
    assert values_of(along)[0] == pytest.approx((80 + 240) % 101 / 100)


def test_a_raster_scaled_to_255_is_refused(tmp_path):
    source = write(tmp_path / "byte.tif", np.arange(256, dtype="uint8").reshape(16, 16))
    with pytest.raises(InputError, match=r"byte\.tif holds many different values over 100"):
        read_cover([source], *points(200, 200))


@pytest.mark.parametrize(
    ("values", "profile", "expected"),
    [
        (np.array([0, 18, 42], "uint8"), {}, [0, 18, 42]),
        (np.array([18, 19, 255], "uint8"), {}, [18, 19, np.nan]),
        (np.array([18, 19, 0], "uint8"), {"nodata": 0}, [18, 19, np.nan]),
        (np.array([180, 195, 420], "int16"), {"scales": (0.1,)}, [18, 19.5, 42]),
        (np.array([180, 195, 420], "int16"), {"units": ("dm",)}, [18, 19.5, 42]),
        (np.array([100, 10, 0], "float32"), {"units": ("feet",)}, [30.48, 3.048, 0]),
        (np.array([18, -0.3, -9999], "float32"), {}, [18, 0, np.nan]),
        (np.array([0, 5, 10], "int16"), {"offsets": (2.0,)}, [2, 7, 12]),
    ],
)
def test_heights_are_metres_by_the_declared_scale(tmp_path, values, profile, expected):
    source = write(tmp_path / "height.tif", np.repeat(values[None], 4, axis=0), **profile)
    along = read_height([source], *points([15, 45, 75], [60, 60, 60]))
    np.testing.assert_allclose(values_of(along), expected, atol=1e-5)


def test_heights_in_undeclared_decimetres_are_refused(tmp_path):
    source = write(tmp_path / "dm.tif", np.full((20, 20), 180, "int16"))
    with pytest.raises(InputError, match=r"dm\.tif: 100% of its values .* outside 0 to 120 m.*-scale 0\.1"):
        read_height([source], *points(300, 300))


def test_decimetres_of_half_open_land_are_refused_too(tmp_path):
    heights = np.zeros((60, 60), "int16")
    heights[:, 36:] = np.linspace(80, 250, 24)  # woods of 8 to 25 m on two fifths
    with pytest.raises(InputError, match="if they are decimetres"):
        read_height([write(tmp_path / "dm.tif", heights)], *points(300, 300))
    along = read_height([write(tmp_path / "m.tif", heights, scales=(0.1,))], *points([300, 1750], [300, 300]))
    np.testing.assert_allclose(values_of(along), [0, 24.3], atol=0.1)


def test_a_few_impossible_heights_are_no_data_and_said(tmp_path):
    heights = np.full((20, 20), 18, "int16")
    heights[0, :4] = -32768
    along = read_height([write(tmp_path / "h.tif", heights)], *points([15, 300], [15, 300]))
    np.testing.assert_allclose(values_of(along), [np.nan, 18])
    assert "1.00% of its values" in along.warnings[0]


def test_an_unknown_unit_is_refused(tmp_path):
    source = write(tmp_path / "h.tif", np.full((20, 20), 18, "int16"), units=("furlong",))
    with pytest.raises(InputError, match=r"its unit is 'furlong'; use metre"):
        read_height([source], *points(300, 300))


def test_elevation_keeps_depressions_and_drops_fillers(tmp_path):
    values = np.repeat(np.array([[-410, 1500, -32768, 20]], "int16"), 4, axis=0)
    along = read_elevation([write(tmp_path / "dem.tif", values)], *points([15, 45, 75], [60] * 3), 5000.0)
    np.testing.assert_allclose(values_of(along), [-410, 1500, np.nan])


def test_a_raster_without_crs_is_refused_with_a_remedy(tmp_path):
    source = write(tmp_path / "cover.tif", np.full((9, 9), 50, "uint8"), crs=None)
    with pytest.raises(InputError, match=r"cover\.tif has no coordinate reference system.*-a_srs EPSG"):
        read_cover([source], *points(100, 100))


def test_cells_too_small_to_be_counted_have_no_position(tmp_path):
    # Their size is a number, its inverse none.
    tiny = rasterio.Affine(30.0, 0.0, EAST, 0.0, -6.5e-310, NORTH)
    source = write(tmp_path / "cover.tif", np.full((9, 9), 50, "uint8"), transform=tiny)
    with pytest.raises(InputError, match="has no position"):
        read_cover([source], *points(100, 100))


def test_a_raster_without_position_is_refused(tmp_path):
    source = str(tmp_path / "cover.tif")
    with pytest.warns(rasterio.errors.NotGeoreferencedWarning):
        write(tmp_path / "cover.tif", np.full((9, 9), 50, "uint8"), transform=None)
    with pytest.raises(InputError, match="has no position"):
        read_cover([source], *points(100, 100))


def test_degrees_labelled_as_metres_are_told(tmp_path):
    grid = from_origin(146.9, -41.5, 0.0003, 0.0003)
    source = write(tmp_path / "cover.tif", np.full((9, 9), 50, "uint8"), transform=grid)
    with pytest.raises(InputError, match=r"look like degrees.*assign EPSG:4326"):
        read_cover([source], *points(100, 100))


def test_metres_labelled_as_degrees_are_told(tmp_path):
    source = write(tmp_path / "cover.tif", np.full((9, 9), 50, "uint8"), crs="EPSG:4326")
    with pytest.raises(InputError, match="says its coordinates are degrees"):
        read_cover([source], *points(100, 100))


def test_a_raster_elsewhere_says_how_far(tmp_path):
    source = write(tmp_path / "cover.tif", np.full((100, 100), 50, "uint8"))
    latitude, longitude = points([153_000, 163_000], [1500, 1500])  # the raster is 3 km wide
    with pytest.raises(InputError, match=r"does not come near the route, it is 150 km away"):
        read_cover([source], latitude, longitude)


def test_a_raster_of_no_data_is_refused(tmp_path):
    source = write(tmp_path / "cover.tif", np.full((100, 100), 255, "uint8"))
    with pytest.raises(InputError, match="every pixel near the route is no data"):
        read_cover([source], *points(1500, 1500))


def test_a_picture_is_refused(tmp_path):
    source = write(tmp_path / "photo.tif", np.zeros((3, 50, 50), "uint8"), photometric="RGB")
    with pytest.raises(InputError, match="is a colour picture"):
        read_cover([source], *points(500, 500))


def test_a_missing_file_and_a_text_file_are_told(tmp_path):
    with pytest.raises(InputError, match=r"nowhere\.tif: there is no such file"):
        read_cover([str(tmp_path / "nowhere.tif")], *points(100, 100))
    (tmp_path / "note.tif").write_text("not a raster at all")
    with pytest.raises(InputError, match=r"note\.tif cannot be read"):
        read_cover([str(tmp_path / "note.tif")], *points(100, 100))


@pytest.mark.parametrize("share", [0.02, 0.5, 0.9])
def test_a_file_cut_short_is_told_by_name(tmp_path, share):
    rng = np.random.default_rng(2)
    source = write(tmp_path / "cut.tif", rng.integers(0, 100, (512, 512), "uint8"), compress="deflate")
    whole = Path(source).read_bytes()
    Path(source).write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(InputError, match=r"cut\.tif cannot be read"):
        read_cover([source], *points([100, 15_000], [100, 15_000]))


def test_the_first_file_with_data_wins(tmp_path):
    upper = np.full((100, 100), 80, "uint8")
    upper[:, 50:] = 255
    first = write(tmp_path / "first.tif", upper)
    second = write(tmp_path / "second.tif", np.full((100, 200), 20, "uint8"))
    along = read_cover([first, second], *points([300, 2500, 4500], [1500] * 3))
    np.testing.assert_allclose(values_of(along), [0.8, 0.2, 0.2], atol=1e-6)
    assert [file.name for file in along.files] == ["first.tif", "second.tif"]
    again = read_cover([second, first], *points([300, 2500, 4500], [1500] * 3))
    np.testing.assert_allclose(values_of(again), [0.2, 0.2, 0.2], atol=1e-6)


@pytest.mark.parametrize("masking", ["none", "nodata", "alpha", "mask"])
def test_a_second_file_in_another_crs_extends_the_first(tmp_path, masking):
    # Second file: degrees, 0.0002 deg cells, west half 30 % cover, east half 90 %; a hole in its north.
    first = write(tmp_path / "first.tif", np.full((100, 100), 80, "uint8"))
    left, top = TO_UTM.transform(EAST + 3000, NORTH, direction="INVERSE")
    values = np.full((150, 200), 30, "uint8")
    values[:, 100:] = 90
    shown = np.full_like(values, 255)
    profile = {"crs": "EPSG:4326", "transform": from_origin(left, top, 0.0002, 0.0002)}
    if masking == "nodata":
        values[:40] = 0
        profile["nodata"] = 0
    elif masking == "alpha":
        shown[:40] = 0
        values = np.stack([values, shown])
        profile |= {"photometric": "MINISBLACK", "alpha": "YES"}
    elif masking == "mask":
        shown[:40] = 0
        profile["mask"] = shown
    second = write(tmp_path / "second.tif", values, **profile)
    latitude = np.array([top - 60.5 * 0.0002] * 3 + [top - 20.5 * 0.0002, top + 0.002])
    longitude = left + 0.0002 * np.array([-10, 50, 150, 50, 50])
    along = read_cover([first, second], latitude, longitude)
    hidden = np.nan if masking != "none" else 0.3
    np.testing.assert_allclose(values_of(along), [0.8, 0.3, 0.9, hidden, np.nan], atol=1e-6)


def test_a_file_far_from_the_route_is_left_out_and_said(tmp_path):
    near = write(tmp_path / "near.tif", np.full((100, 100), 80, "uint8"))
    far = write(
        tmp_path / "far.tif", np.full((9, 9), 5, "uint8"), transform=from_origin(EAST + 4e5, NORTH, 30, 30)
    )
    along = read_cover([far, near], *points(1500, 1500))
    assert values_of(along)[0] == pytest.approx(0.8)
    assert along.warnings == ("far.tif has no data near the route and is not used",)


def test_a_virtual_mosaic_is_refused_and_its_parts_asked_for(tmp_path):
    vrt = tmp_path / "all.vrt"
    vrt.write_text('<VRTDataset rasterXSize="120" rasterYSize="50"><SRS>EPSG:32755</SRS></VRTDataset>')
    with pytest.raises(InputError, match=r"all\.vrt is a virtual raster.*give those files"):
        read_cover([str(vrt)], *points([900, 2700], [700, 700]))


def test_a_grid_of_text_cut_short_is_refused_at_once(tmp_path):
    grid = tmp_path / "cut.asc"
    grid.write_text("ncols 60000\nnrows 60000\nxllcorner 500000\nyllcorner 4000000\ncellsize 30\n1 2 3\n")
    (tmp_path / "cut.prj").write_text(pyproj.CRS("EPSG:32755").to_wkt("WKT1_ESRI"))
    with pytest.raises(InputError, match=r"cut\.asc says it has 60000 x 60000 cells but is too short"):
        read_cover([str(grid)], *points([900, 2700], [700, 700]))


def test_a_grid_of_text_is_read(tmp_path):
    grid = tmp_path / "cover.asc"
    cells = "\n".join(" ".join(["35"] * 100) for _ in range(100))
    grid.write_text(f"ncols 100\nnrows 100\nxllcorner {EAST}\nyllcorner {NORTH - 3000}\ncellsize 30\n{cells}\n")
    (tmp_path / "cover.prj").write_text(pyproj.CRS("EPSG:32755").to_wkt("WKT1_ESRI"))
    assert values_of(read_cover([str(grid)], *points(1500, 1500)))[0] == pytest.approx(0.35)


@pytest.mark.parametrize("left", [-180.0, 0.0])
def test_a_world_raster_is_read_on_both_sides_of_the_antimeridian(tmp_path, left):
    cols = np.arange(720)
    values = np.repeat((cols % 101).astype("uint8")[None], 360, axis=0)
    profile = {"crs": "EPSG:4326", "transform": from_origin(left, 90, 0.5, 0.5)}
    source = write(tmp_path / "world.tif", values, **profile)
    longitude = np.array([179.8, -179.8, 0.2, -0.2, 90.3])
    along = read_cover([source], np.full(5, 10.0), longitude)
    expected = np.floor(np.mod(longitude - left, 360) / 0.5) % 101 / 100
    np.testing.assert_allclose(values_of(along), expected, atol=1e-6)


def test_foreign_proj_settings_do_no_harm(tmp_path):
    source = write(tmp_path / "cover.tif", np.full((100, 100), 80, "uint8"))
    latitude, longitude = points(1500, 1500)
    code = (
        "import numpy as np; from routesolar.files.rasters import read_cover;"
        f"print(read_cover([{source!r}], np.array([{latitude[0]}]), np.array([{longitude[0]}])).data_frac)"
    )
    foreign = os.environ | {"PROJ_LIB": str(tmp_path), "PROJ_DATA": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", code], env=foreign, capture_output=True, text=True, check=False
    )
    assert (done.stdout.strip(), done.stderr) == ("1.0", "")


def test_the_hash_is_the_files_own(tmp_path):
    source = write(tmp_path / "cover.tif", np.full((100, 100), 80, "uint8"))
    (file,) = read_cover([source], *points(1500, 1500)).files
    told = subprocess.run(["sha256sum", source], capture_output=True, text=True, check=True).stdout
    assert file.sha256 == told.split()[0]
