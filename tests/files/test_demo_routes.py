"""The shipped demo is what its program makes, is small, and hangs together."""

import importlib
import sys
from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio

from routesolar.files.gpx import read_route
from routesolar.files.rasters import read_cover, read_elevation, read_height
from routesolar.files.rigfile import read_rig
from routesolar.files.tripfile import read_trip_file
from routesolar.trip.surroundings import values_at

DEMO = Path(__file__).parents[2] / "demo_routes"
GEOD = pyproj.Geod(ellps="WGS84")


@pytest.fixture(scope="module")
def maker():
    """The demo's own program."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(DEMO)
        yield importlib.import_module("make_demo")
    for name in ("make_demo", "demo_land", "demo_roads"):
        sys.modules.pop(name, None)


@pytest.fixture(scope="module")
def roads(maker):
    return maker.make_roads()


def route_km(name):
    route = read_route([DEMO / name])
    legs = GEOD.inv(
        route.longitude_deg[:-1], route.latitude_deg[:-1], route.longitude_deg[1:], route.latitude_deg[1:]
    )[2]
    return route, legs.sum() / 1000


def some_cells(name, count=4000):
    """Return values and cell-centre coordinates (km from the land's origin) of random cells of a raster."""
    with rasterio.open(DEMO / name) as raster:
        values, t = raster.read(1), raster.transform
    rng = np.random.default_rng(9)
    row, col = rng.integers(0, values.shape[0], count), rng.integers(0, values.shape[1], count)
    east, north = t.c + (col + 0.5) * t.a, t.f + (row + 0.5) * t.e
    return values[row, col], (east - 440_000) / 1000, (north - 5_385_000) / 1000


def test_the_rasters_are_what_the_program_makes(maker, roads):
    # Rounding may fall otherwise on another machine: one unit, in a few cells of a thousand.
    cover, x, y = some_cells("cover.tif")
    made = maker.seen_cover_pct(x, y, list(roads.values()))
    difference = np.abs(made.astype(int) - cover)
    assert difference.max() <= 1
    assert (difference > 0).mean() < 0.005
    ground, x, y = some_cells("terrain.tif")
    made = np.round(maker.land.elevation_m(x, y))
    assert np.abs(made - ground).max() <= 1
    assert (made != ground).mean() < 0.005


def test_the_metre_scale_raster_is_what_the_program_makes(maker, roads):
    with rasterio.open(DEMO / "height_site_a.tif") as raster:
        shipped, left, top = raster.read(1), raster.bounds.left, raster.bounds.top
    west, north = round((left - 440_000) / 1000, 2), round((top - 5_385_000) / 1000, 2)
    box = (west, round(north - 0.4, 2), round(west + 0.4, 2), north)
    site = maker.make_places(roads)["sampling site A"]
    made = maker.single_crowns(box, list(roads.values()), site)
    assert (made != shipped).mean() < 0.005


def test_the_routes_are_what_the_program_makes(maker, roads):
    for name in ("coast", "forest"):
        route, length_km = route_km(f"{name}.gpx")
        assert length_km == pytest.approx(roads[name].along_km[-1], rel=0.002)
        latitude, longitude = maker.geographic(roads[name].x[[0, -1]], roads[name].y[[0, -1]])
        np.testing.assert_allclose(route.latitude_deg[[0, -1]], latitude, atol=2e-6)
        np.testing.assert_allclose(route.longitude_deg[[0, -1]], longitude, atol=2e-6)


def test_the_demo_is_small():
    assert sum(path.stat().st_size for path in DEMO.iterdir() if path.is_file()) < 1.5e6


def test_both_roads_join_the_same_two_places():
    coast, forest = (read_route([DEMO / name]) for name in ("coast.gpx", "forest.gpx"))
    for end in (0, -1):
        apart_m = GEOD.inv(
            coast.longitude_deg[end],
            coast.latitude_deg[end],
            forest.longitude_deg[end],
            forest.latitude_deg[end],
        )[2]
        assert apart_m < 30


@pytest.mark.parametrize("name", ["coast.gpx", "forest.gpx", "transit_day.gpx", "gauge_run.gpx"])
def test_waypoints_lie_on_the_road_and_nothing_is_odd(name):
    route, _ = route_km(name)
    assert route.warnings == (f"{name} says that it is invented: there is no such road",)
    assert route.waypoints
    for place in route.waypoints:
        ones = np.ones_like(route.latitude_deg)
        apart_m = GEOD.inv(
            route.longitude_deg, route.latitude_deg, place.longitude_deg * ones, place.latitude_deg * ones
        )[2]
        assert apart_m.min() < 40  # half the spacing of the points, and the receiver's noise
    assert np.isfinite(route.elevation_m).all()
    assert np.isfinite(route.time_utc_s).all() == (name == "gauge_run.gpx")


def test_the_roads_lie_on_the_terrain():
    for name in ("coast.gpx", "forest.gpx", "gauge_run.gpx"):
        route, _ = route_km(name)
        place = route.latitude_deg, route.longitude_deg
        along = read_elevation([str(DEMO / "terrain.tif")], *place, 100.0)
        ground_m = values_at(along.grid, along.placement.col, along.placement.row)
        # Roads are cut into slopes and filled over hollows, as real ones are.
        assert np.quantile(np.abs(ground_m - route.elevation_m), 0.95) < 25
        assert abs(np.mean(ground_m - route.elevation_m)) < 3


def test_the_coast_is_open_and_the_forest_is_a_forest():
    share = {}
    for name in ("coast", "forest"):
        route, _ = route_km(f"{name}.gpx")
        place = route.latitude_deg, route.longitude_deg
        along = read_cover([str(DEMO / "cover.tif")], *place)
        height = read_height([str(DEMO / "height.tif")], *place)
        assert (along.data_frac, along.warnings) == (1.0, ())
        assert (height.data_frac, height.warnings) == (1.0, ())
        beside = values_at(along.grid, along.placement.col + 3, along.placement.row + 3)
        share[name] = np.mean(beside > 0.55)
    assert share["coast"] < 0.2
    assert share["forest"] > 0.6


@pytest.mark.parametrize("name", ["coast.toml", "forest.toml", "transit_day.toml"])
def test_trip_files_name_what_is_there(name):
    trip = read_trip_file(DEMO / name)
    route = read_route(trip.routes)
    names = {place.name for place in route.waypoints}
    assert {stop.at for stop in trip.stops} <= names
    assert isinstance(trip.rig, Path)
    rig = read_rig(trip.rig)
    assert rig.panels[0].rated_w == 220
    rasters = [*trip.canopy, *trip.terrain, trip.canopy_height]
    assert all(Path(raster).is_file() for raster in rasters)
    assert trip.drive_side == "left"


def test_the_paces_of_the_long_day_change_where_the_roads_do():
    trip = read_trip_file(DEMO / "transit_day.toml")
    _, coast_km = route_km("coast.gpx")
    _, day_km = route_km("transit_day.gpx")
    starts_km = [pace.from_m / 1000 for pace in trip.paces]
    assert starts_km[0] == pytest.approx(coast_km, abs=0.1)
    assert trip.paces[-1].to_m / 1000 > day_km
    hairpins = [pace for pace in trip.paces if pace.speed_mps < 8]
    assert len(hairpins) == 1
    roads = [(pace.from_m, pace.to_m) for pace in trip.paces if pace not in hairpins]
    assert [(s.from_m, s.to_m) for s in trip.stretches] == roads


@pytest.mark.parametrize("name", ["forest", "transit_day"])
def test_the_forest_road_has_hairpins_in_the_wood_driven_as_such_bends_are(name):
    trip = read_trip_file(DEMO / f"{name}.toml")
    route, _ = route_km(f"{name}.gpx")
    heading, _, step_m = GEOD.inv(
        route.longitude_deg[:-1], route.latitude_deg[:-1], route.longitude_deg[1:], route.latitude_deg[1:]
    )
    turn_deg = np.abs((np.diff(heading) + 180) % 360 - 180)
    bent = 1 + np.flatnonzero((turn_deg > 8) & (step_m[1:] < 10) & (step_m[:-1] < 10))
    radius_m = step_m[bent] / np.radians(turn_deg[bent - 1])
    assert 20 < np.median(radius_m) < 25
    assert turn_deg[bent - 1].sum() > 7 * 180 * 0.9
    assert np.ptp(route.elevation_m[bent]) > 40
    along_m = np.cumsum(step_m)[bent - 1]
    (pace,) = (pace for pace in trip.paces if pace.speed_mps < 8)
    assert pace.from_m < along_m.min() and along_m.max() < pace.to_m
    # What road design allows where cars go slowly: a side friction of .28 at 30 km/h (AASHTO's Green Book, from
    # memory).
    assert pace.speed_mps**2 / np.median(radius_m) < 2.7
    along = read_cover([str(DEMO / "cover.tif")], route.latitude_deg[bent], route.longitude_deg[bent])
    assert values_at(along.grid, along.placement.col + 1, along.placement.row + 1).mean() > 0.4


def test_every_file_says_in_itself_that_it_is_invented():
    for path in [path for path in DEMO.iterdir() if path.suffix in (".gpx", ".toml", ".tif")]:
        if path.suffix == ".tif":
            with rasterio.open(path) as raster:
                assert raster.tags()["TIFFTAG_IMAGEDESCRIPTION"].startswith("Invented"), path.name
        else:
            head = path.read_text(encoding="utf-8")[:400]
            assert "Invented for a demonstration" in head, path.name
            if path.suffix == ".gpx":
                assert any("invented" in warning for warning in read_route([path]).warnings), path.name
