"""The pictures of trees and hills under the map."""

import numpy as np
import pyproj
import pytest
import rasterio
from files.raster_samples import EAST, NORTH, TO_UTM, from_origin, points, write

from routesolar.files.map_pictures import canopy_picture, read_relief
from routesolar.files.rasters import read_cover

TO_MERCATOR = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)


def pixel_at(picture, latitude, longitude):
    """Return the cover over a place, by Web Mercator proportions (projected by pyproj)."""
    pixels = picture.values
    west, south = TO_MERCATOR.transform(picture.west_deg, picture.south_deg)
    east, north = TO_MERCATOR.transform(picture.east_deg, picture.north_deg)
    x, y = TO_MERCATOR.transform(longitude, latitude)
    row = int((north - y) / (north - south) * pixels.shape[0])
    col = int((x - west) / (east - west) * pixels.shape[1])
    return pixels[row, col]


def test_a_wood_lies_where_it_stands_and_unknown_land_is_unknown(tmp_path):
    cover = np.zeros((400, 600), "uint8")
    cover[100:140, 300:340] = 100
    cover[300:, :100] = 255
    source = write(tmp_path / "cover.tif", cover)
    latitude, longitude = points(np.linspace(500, 17_500, 40), np.linspace(500, 11_500, 40))
    picture = canopy_picture(read_cover([source], latitude, longitude))

    def at(col, row):
        lon, lat = TO_UTM.transform(EAST + (col + 0.5) * 30, NORTH - (row + 0.5) * 30, direction="INVERSE")
        return pixel_at(picture, lat, lon)

    assert at(320, 120) == 1.0
    assert at(280, 120) == 0.0
    assert np.isnan(at(50, 350))
    assert max(picture.values.shape) == 600


def test_the_picture_runs_on_across_the_antimeridian(tmp_path):
    values = np.full((100, 200), 50, "uint8")
    profile = {"crs": "EPSG:4326", "transform": from_origin(179.9, -16.9, 0.001, 0.001)}
    source = write(tmp_path / "islands.tif", values, **profile)
    along = read_cover([source], np.array([-16.95, -16.95]), np.array([179.95, -179.95]))
    picture = canopy_picture(along)
    assert picture.west_deg == pytest.approx(179.9, abs=0.002)
    assert picture.east_deg == pytest.approx(180.1, abs=0.002)


def test_a_long_corridor_makes_no_larger_picture(tmp_path):
    path = tmp_path / "wide.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        count=1,
        dtype="uint8",
        height=20_000,
        width=20_000,
        crs="EPSG:32755",
        transform=from_origin(EAST, NORTH, 10, 10),
        sparse_ok=True,
        tiled=True,
        compress="deflate",
    ):
        pass
    latitude, longitude = points(np.linspace(1000, 190_000, 4000), np.linspace(1000, 190_000, 4000))
    picture = canopy_picture(read_cover([str(path)], latitude, longitude))
    assert max(picture.values.shape) == 600


def hills(path, elevation_m, **profile):
    """Return the shaded picture of a raster of 400 x 600 cells of 30 m, around a road in its middle."""
    source = write(path, elevation_m.astype("float32"), **profile)
    latitude, longitude = points(np.linspace(7_000, 11_000, 40), np.linspace(5_000, 7_000, 40))
    return read_relief([source], latitude, longitude)


def at_cell(picture, col, row):
    lon, lat = TO_UTM.transform(EAST + (col + 0.5) * 30, NORTH - (row + 0.5) * 30, direction="INVERSE")
    return pixel_at(picture, lat, lon)


def test_a_slope_is_shaded_as_lambert_says(tmp_path):
    # Rises 0.8 per metre to the east: as steep as is drawn unchanged; light from the north-west, 45 degrees up.
    _, cols = np.mgrid[0:400, 0:600]
    picture = hills(tmp_path / "slope.tif", 0.8 * 30.0 * cols % 24_000)
    light, normal = np.array([-0.5, 0.5, np.sqrt(0.5)]), np.array([-0.8, 0.0, 1.0])
    expected = normal @ light / np.linalg.norm(normal)
    # Grid north is 0.3 degrees or less from true north, and the ground 0.04 % from the sphere's.
    assert at_cell(picture, 300, 200) == pytest.approx(expected, abs=0.005)
    assert max(picture.values.shape) == 600


def test_a_ridge_lies_where_it_stands_and_unknown_ground_is_unknown(tmp_path):
    _, cols = np.mgrid[0:400, 0:600]
    elevation_m = np.clip(600 - 20.0 * np.abs(cols - 320), 0, None)  # a ridge from south to north
    elevation_m[:, 400:] = -9999
    picture = hills(tmp_path / "ridge.tif", elevation_m, nodata=-9999)
    assert at_cell(picture, 312, 200) > 0.85  # its western side has the light
    assert at_cell(picture, 328, 200) < 0.4
    assert at_cell(picture, 250, 200) == pytest.approx(np.sqrt(0.5), abs=1e-6)  # level
    assert np.isnan(at_cell(picture, 405, 200))


def test_low_hills_are_drawn_higher_and_level_ground_stays_level(tmp_path):
    rows, cols = np.mgrid[0:400, 0:600]
    low = hills(tmp_path / "low.tif", 20.0 * np.sin(cols / 8) * np.sin(rows / 8))
    assert np.nanmin(low.values) < 0.45
    flat = hills(tmp_path / "flat.tif", np.full((400, 600), 7.0))
    assert np.nanmin(flat.values) == pytest.approx(np.sqrt(0.5), abs=1e-6)
    assert np.nanmax(flat.values) == pytest.approx(np.sqrt(0.5), abs=1e-6)


def test_hills_are_drawn_beneath_all_that_a_map_of_the_route_may_show(tmp_path):
    picture = hills(tmp_path / "flat.tif", np.full((400, 600), 7.0))
    latitude, longitude = points([7_000, 11_000], [5_000, 7_000])
    across, up = np.ptp(longitude), np.ptp(latitude)
    assert picture.west_deg < longitude.min() - 0.05 * across
    assert picture.east_deg > longitude.max() + 0.05 * across
    assert picture.south_deg < latitude.min() - 0.05 * up
    assert picture.north_deg > latitude.max() + 0.05 * up


def test_hills_run_on_across_the_antimeridian(tmp_path):
    _, cols = np.mgrid[0:200, 0:400]
    profile = {"crs": "EPSG:4326", "transform": from_origin(179.8, -16.9, 0.001, 0.001)}
    source = write(tmp_path / "islands.tif", (50.0 * np.sin(cols / 9)).astype("float32"), **profile)
    picture = read_relief([source], np.array([-17.0, -17.0]), np.array([179.95, -179.95]))
    assert picture.west_deg < 179.95 < 180.05 < picture.east_deg
    known = np.isfinite(picture.values).any(axis=0)
    assert known.mean() > 0.9
