"""A real car drive of another project, from file to watt-hours: as recorded before sunrise, and at noon."""

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pyproj
import pytest
import rasterio
from rasterio import Affine
from samples import sample

from routesolar.files.canopy_files import CanopySources, Said, canopy_from
from routesolar.files.gpx import read_route
from routesolar.model.simulation import simulate
from routesolar.timetable import drive, parse_departure
from routesolar.trip.harvest import Harvest
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.route import Plan, Route
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

pytestmark = pytest.mark.download

RATED_W = 200.0
UTM = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32633", always_xy=True)
NOON = "2020-12-18 12:00"


@pytest.fixture(scope="module")
def route() -> Route:
    """Near Visnjan in Istria, 2020-12-18 06:15:50 to 06:24:24 UTC: gpxpy 1.6.2, source package."""
    return read_route([sample("gpxpy", "test_files/around-visnjan-with-car.gpx")])


@pytest.fixture(scope="module")
def noon(route: Route) -> Segments:
    departure = parse_departure(NOON, "Europe/Zagreb")
    return drive(route, np.array([departure.utc_s]), plan=Plan())


def harvest(segments: Segments, canopy: Canopy | None = None, sky: str = "clear") -> Harvest:
    rig = Rig(panels=(Panel(rated_w=RATED_W),))
    trees = canopy or Canopy.open(segments.count)
    return simulate(segments, rig, trees, Terrain.flat(segments.count), [Sky(name=sky)])


def under_raster(folder: Path, segments: Segments, cover_pct: np.ndarray) -> Canopy:
    """Lay a cover raster of 10 m cells with 300 m to spare around the drive, and read it along the drive."""
    latitude, longitude = segments.middle_latitude_deg, segments.middle_longitude_deg
    east, north = UTM.transform(longitude, latitude)
    west, top = np.floor(east.min() - 300), np.ceil(north.max() + 300)
    columns, rows = (int(np.ceil((span + 600) / 10)) for span in (np.ptp(east), np.ptp(north)))
    cells = np.broadcast_to(cover_pct, (rows, columns)).astype("uint8")
    profile = {"driver": "GTiff", "count": 1, "dtype": "uint8", "crs": "EPSG:32633", "nodata": 255}
    path = folder / f"cover{cells[0, 0]}.tif"
    with rasterio.open(
        path, "w", height=rows, width=columns, transform=Affine(10, 0, west, 0, -10, top), **profile
    ) as out:
        out.write(cells[None])
    sources = CanopySources(cover=(str(path),), height_m=12.0, road_width_m=8.0)
    canopy = canopy_from(latitude, longitude, sources, Said.nothing(segments.count)).canopy
    assert canopy.data_frac == 1.0
    return canopy


def test_as_recorded_it_lies_before_sunrise_and_gives_exactly_nothing(route: Route) -> None:
    segments = drive(route, None, plan=Plan())
    # pvlib's SPA (Reda and Andreas 2004): the sun is 4.4 to 3.1 degrees below the horizon all along.
    ends = pd.DatetimeIndex(["2020-12-18 06:15:50", "2020-12-18 06:24:24"], tz="UTC")
    sun = pvlib.solarposition.get_solarposition(ends, route.latitude_deg[0], route.longitude_deg[0])
    np.testing.assert_allclose(sun["elevation"], [-4.4, -3.1], atol=0.1)
    result = harvest(segments)
    np.testing.assert_allclose(result.sun_elevation_deg[[0, -1]], sun["elevation"], atol=0.1)
    for name in ("energy_wh", "power_w", "ghi_wm2", "dni_wm2", "dhi_wm2", "clear_sky_w"):
        assert np.all(getattr(result, name) == 0.0), name
    assert result.totals.energy_wh == 0.0
    assert result.totals.shade_loss_frac is None


def test_moved_to_noon_it_keeps_its_pace(route: Route, noon: Segments) -> None:
    recorded = drive(route, None, plan=Plan())
    shift_s = noon.departure_utc_s[0] - recorded.departure_utc_s[0]
    assert noon.departure_utc_s[0] == datetime(2020, 12, 18, 11, 0, tzinfo=UTC).timestamp()
    np.testing.assert_allclose(noon.start_utc_s - recorded.start_utc_s, shift_s, rtol=0, atol=1e-5)
    np.testing.assert_array_equal(noon.speed_mps, recorded.speed_mps)
    assert noon.arrival_utc_s[0] - noon.departure_utc_s[0] == pytest.approx(514.0, abs=1e-5)


def test_at_noon_an_open_road_gives_what_pvlib_expects_of_a_level_panel(noon: Segments) -> None:
    # Rating times clear-sky irradiance (Ineichen and Perez 2002) times what glass lets in at that height of the
    # sun (De Soto 2006), both by pvlib, for 514 s, less soiling 3 %, wiring 2 %, controller 3 %. The estimate
    # leaves out slopes, the diffuse light's own reflection and the cell's temperature: some percent each.
    place = pvlib.location.Location(noon.latitude_deg[0], noon.longitude_deg[0], altitude=230)
    minutes = pd.date_range("2020-12-18 11:00", periods=9, freq="1min", tz="UTC")
    ghi_wm2 = place.get_clearsky(minutes)["ghi"].mean()
    let_in = pvlib.iam.physical(place.get_solarposition(minutes)["apparent_zenith"].mean())
    expected_wh = RATED_W * ghi_wm2 / 1000 * let_in * 514 / 3600 * 0.97 * 0.98 * 0.97
    assert harvest(noon).totals.clear_sky_wh == pytest.approx(expected_wh, rel=0.1)


def test_at_noon_trees_take_their_part_of_it(noon: Segments, tmp_path: Path) -> None:
    open_wh = harvest(noon).totals.energy_wh
    energy_wh = {}
    for percent in (0, 30, 60, 90):
        shaded = harvest(noon, under_raster(tmp_path, noon, np.array(percent)))
        energy_wh[percent] = shaded.totals.energy_wh
        assert shaded.totals.open_sky_wh == pytest.approx(open_wh, rel=1e-9)
        assert shaded.totals.shade_loss_frac == pytest.approx(1 - energy_wh[percent] / open_wh, abs=1e-9)
    assert energy_wh[0] == pytest.approx(open_wh, rel=1e-9)
    assert open_wh > energy_wh[30] > energy_wh[60] > energy_wh[90] > 0


def test_a_wood_on_one_half_of_the_land_shades_the_drive_only_there(noon: Segments, tmp_path: Path) -> None:
    columns = int(
        np.ceil((np.ptp(UTM.transform(noon.middle_longitude_deg, noon.middle_latitude_deg)[0]) + 600) / 10)
    )
    west_only = np.where(np.arange(columns) < columns // 2, 80, 0)
    result = harvest(noon, under_raster(tmp_path, noon, west_only))
    east, _ = UTM.transform(noon.middle_longitude_deg, noon.middle_latitude_deg)
    edge = np.floor(east.min() - 300) + 10 * (columns // 2)
    # At 21 degrees of sun a 12 m tree shades 31 m; the sky is hidden a little farther away.
    np.testing.assert_allclose(result.beam_transmittance_frac[east > edge + 60], 1.0, atol=1e-9)
    # A short piece that heads for the sun sees it down the road's opening.
    in_wood = result.beam_transmittance_frac[east < edge - 60]
    assert np.all(in_wood < 0.95) and np.median(in_wood) < 0.3
    assert (east > edge + 60).any() and (east < edge - 60).any()
