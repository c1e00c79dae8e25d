"""Terrain read from rasters of every fineness and CRS, against closed forms and the same ground read whole."""

import math

import numpy as np
import pytest
from files.raster_samples import from_origin, points, write
from pyproj import Geod, Transformer
from rasterio import Affine

from routesolar.errors import InputError
from routesolar.files.rasters import read_elevation
from routesolar.files.terrain import read_ground_elevation, read_terrain
from routesolar.physics.terrain import max_pool
from routesolar.trip.surroundings import values_at

NOT_TRACKED = np.array([np.nan])


def metres(rows, cols, cell_m):
    """East and south of the top left corner of every cell's centre."""
    south, east = np.mgrid[0:rows, 0:cols]
    return (east + 0.5) * cell_m, (south + 0.5) * cell_m


@pytest.mark.parametrize("cell_m", [10.0, 30.0, 90.0])
def test_a_wall_to_the_east_stands_as_high_as_its_distance_says(tmp_path, cell_m):
    # Closed form: atan(H sin(az) / d); a step passes the edge by a twentieth of the distance or half a cell,
    # and the blocks of the far ground begin half a step sooner.
    east, _ = metres(round(8000 / cell_m), round(8000 / cell_m), cell_m)
    wall = 100.0 + 300.0 * (east >= 5400.0)
    place = write(tmp_path / "dem.tif", wall.astype("f4"), cell=cell_m)
    terrain = read_terrain([place], *points(3600.0, 4000.0), NOT_TRACKED, eye_m=0.0)
    edge_m = east[0][east[0] >= 5400.0][0] - 3600.0
    for azimuth_deg in (90, 60):
        rise = 300.0 * math.sin(math.radians(azimuth_deg)) / edge_m
        share = 0.05 + 0.5 * cell_m / edge_m
        low, high = (math.degrees(math.atan(rise / (1 + sign * share))) for sign in (1, -1))
        assert low < terrain.horizon_deg[0, azimuth_deg // 5] < high
    assert np.all(terrain.horizon_deg[0, 37:71] == 0)


def test_the_eye_is_the_roof(tmp_path):
    east, _ = metres(300, 300, 10.0)
    place = write(tmp_path / "dem.tif", (50.0 + 60.0 * (east >= 1700)).astype("f4"), cell=10.0)
    low, high = (
        read_terrain([place], *points(1500.0, 1500.0), NOT_TRACKED, eye_m).horizon_deg[0, 18]
        for eye_m in (0, 4)
    )
    assert math.tan(math.radians(low)) - math.tan(math.radians(high)) == pytest.approx(4 / 205, rel=0.06)


def test_far_ground_is_read_as_the_highest_of_each_block(tmp_path):
    # The oracle is numpy's maximum over blocks, whole and with unknown cells.
    ground = np.random.default_rng(4).uniform(0, 900, (1024, 1024)).astype("f4")
    ground[200:230, 300:500] = -9999
    place = write(tmp_path / "dem.tif", ground, cell=10.0, nodata=-9999)
    col, row = np.meshgrid(np.arange(256) + 0.5, np.arange(256) + 0.5)
    latitude_deg, longitude_deg = points(col.ravel() * 40, row.ravel() * 40)
    along = read_elevation([place], latitude_deg, longitude_deg, 100.0, pooled=4)
    seen = values_at(along.grid, along.placement.col, along.placement.row).reshape(256, 256)
    known = np.where(ground == -9999, np.float32(np.nan), ground)
    np.testing.assert_array_equal(seen, max_pool(known, 4))
    assert along.cell_m == pytest.approx(40.0, rel=1e-3)


@pytest.mark.parametrize(
    ("crs", "latitude_deg", "longitude_deg"),
    [
        ("EPSG:3035", 40.0, -7.0),
        ("EPSG:4326", 61.0, 9.0),
        ("EPSG:32755", -42.0, 149.5),
        ("EPSG:3413", 70.0, 20.0),
    ],
)
def test_a_hill_stands_in_its_true_bearing_in_any_crs(tmp_path, crs, latitude_deg, longitude_deg):
    # The hill's bearing and distance are the ellipsoid's own (Geod); grid north is up to 65 deg off the true.
    bearing_deg, distance_m, height_m = 145.0, 6000.0, 900.0
    tip = Geod(ellps="WGS84").fwd(longitude_deg, latitude_deg, bearing_deg, distance_m)[:2]
    to_crs = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    (x0, y0), metre = to_crs.transform(longitude_deg, latitude_deg), 1 / 111_200 if crs == "EPSG:4326" else 1.0
    cell = np.array([30.0 * metre / (math.cos(math.radians(latitude_deg)) if metre < 1 else 1), 30.0 * metre])
    count = 900
    placing = from_origin(x0 - count / 2 * cell[0], y0 + count / 2 * cell[1], *cell)
    rows, cols = np.mgrid[0:count, 0:count] + 0.5
    x, y = placing.c + cols * placing.a, placing.f + rows * placing.e
    longitudes, latitudes = to_crs.transform(x, y, direction="INVERSE")
    metres_per_deg = 111_200.0
    from_tip_m = np.hypot(
        (longitudes - tip[0]) * metres_per_deg * math.cos(math.radians(tip[1])),
        (latitudes - tip[1]) * metres_per_deg,
    )
    place = write(
        tmp_path / "dem.tif", np.maximum(0, height_m - from_tip_m / 2).astype("f4"), crs=crs, transform=placing
    )
    terrain = read_terrain([place], np.array([latitude_deg]), np.array([longitude_deg]), NOT_TRACKED, 0.0)
    horizon_deg = terrain.horizon_deg[0]
    assert np.argmax(horizon_deg) == bearing_deg / 5
    assert horizon_deg.max() == pytest.approx(math.degrees(math.atan(height_m / distance_m)), abs=0.5)
    assert np.count_nonzero(horizon_deg) <= 7  # its foot is 1800 m wide, 17.5 degrees each side


def test_slopes_and_elevations_of_a_plane(tmp_path):
    east, south = metres(400, 400, 25.0)
    plane = 800.0 + 0.10 * east - 0.04 * south
    place = write(tmp_path / "dem.tif", plane.astype("f4"), cell=25.0)
    at = points([5000.0, 3210.0], [5000.0, 4321.0])
    terrain = read_terrain([place], *at, np.full(2, np.nan), 2.0)
    np.testing.assert_allclose(terrain.slope_east_frac, 0.10, atol=1e-3)
    np.testing.assert_allclose(terrain.slope_north_frac, 0.04, atol=1e-3)
    expected_m = [800 + 500 - 200, 800 + 321 - 0.04 * 4321]
    np.testing.assert_allclose(read_ground_elevation([place], *at), expected_m, atol=0.01)


def test_a_point_off_the_raster_is_unknown(tmp_path):
    place = write(tmp_path / "dem.tif", np.full((300, 300), 70.0, "f4"))
    at = points([4500.0, 90_000.0], [4500.0, 4500.0])
    elevation_m = read_ground_elevation([place], *at)
    assert elevation_m[0] == pytest.approx(70.0)
    assert np.isnan(elevation_m[1])
    terrain = read_terrain([place], *at, np.full(2, np.nan), 2.0)
    assert np.isnan(terrain.slope_east_frac[1])
    assert np.all(terrain.horizon_deg == 0)
    assert terrain.data_frac == 0.5


def test_missing_ground_is_said_with_its_share(tmp_path):
    place = write(tmp_path / "dem.tif", np.full((300, 300), 70.0, "f4"))
    terrain = read_terrain([place], *points(4500.0, 4500.0), NOT_TRACKED, 2.0)
    # 9 of 60 km are there, but most samples of a ray lie near: they are a twentieth of the distance apart.
    assert terrain.data_frac == 1
    start, end = (
        "dem.tif: unknown for ",
        "% of the ground within 30 km of the road, counted the more the nearer it is; unknown ground hides "
        "no sun",
    )
    warning = terrain.warnings[-1]
    assert warning.startswith(start)
    assert warning.endswith(end)
    assert 20 < int(warning.removeprefix(start).removesuffix(end)) < 60
    assert [file.name for file in terrain.files] == ["dem.tif"]


def test_beyond_a_second_file_in_another_crs_decimal_elevations_are_unknown(tmp_path):
    first = write(tmp_path / "first.tif", np.full((100, 100), 70.0, "f4"))
    latitude_deg, longitude_deg = points([1500, 6000, 6000], [1500, 1500, 3900])
    placing = from_origin(longitude_deg[1] - 0.02, latitude_deg[1] + 0.02, 0.0003, 0.0003)
    second = write(tmp_path / "second.tif", np.full((133, 133), 90.0, "f4"), crs="EPSG:4326", transform=placing)
    elevation_m = read_ground_elevation([first, second], latitude_deg, longitude_deg)
    np.testing.assert_array_equal(elevation_m, [70.0, 90.0, np.nan])


def test_the_tracks_own_elevation_stands_in_for_a_hole_in_the_raster(tmp_path):
    east, south = metres(300, 300, 30.0)
    ground = np.where(np.hypot(east - 4500, south - 4500) < 150, np.nan, 200.0 + 100.0 * (east > 5400))
    place = write(tmp_path / "dem.tif", ground.astype("f4"), nodata=np.nan)
    at = points(4500.0, 4500.0)
    known, unknown = (
        read_terrain([place], *at, np.array([own_m]), 0.0).horizon_deg[0, 18] for own_m in (180.0, np.nan)
    )
    assert known == pytest.approx(math.degrees(math.atan(120 / 915)), abs=0.4)
    assert unknown == 0


def test_a_raster_turned_on_its_side_shows_the_same_horizon(tmp_path):
    rough = np.random.default_rng(8).uniform(0, 60, (300, 300)).astype("f4")
    upright = write(tmp_path / "upright.tif", rough)
    turned_to = Affine(0.0, 30.0, 500_000.0, -30.0, 0.0, 5_400_000.0)  # columns run south, rows run east
    turned = write(tmp_path / "turned.tif", rough.T.copy(), transform=turned_to)
    at = points(4515.0, 4620.0)
    first, second = (read_terrain([place], *at, NOT_TRACKED, 2.0).horizon_deg for place in (upright, turned))
    assert np.max(first) > 10
    # The first cells are the same; far blocks are counted from another corner, so they may differ.
    np.testing.assert_allclose(first, second, atol=0.3)


def test_a_raster_elsewhere_is_refused(tmp_path):
    place = write(tmp_path / "dem.tif", np.full((300, 300), 70.0, "f4"))
    with pytest.raises(InputError, match="does not come near the route"):
        read_terrain([place], *points(400_000.0, 4500.0), NOT_TRACKED, 2.0)
