"""The picture of the cover under the map."""

import numpy as np
import pyproj
import pytest
import rasterio
from files.raster_samples import EAST, NORTH, TO_UTM, from_origin, points, write

from routesolar.files.canopy_picture import canopy_picture
from routesolar.files.rasters import read_cover

TO_MERCATOR = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)


def pixel_at(picture, latitude, longitude):
    """Return the cover over a place, by Web Mercator proportions (projected by pyproj)."""
    pixels = picture.cover_frac
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
    assert max(picture.cover_frac.shape) == 600


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
    assert max(picture.cover_frac.shape) == 600
