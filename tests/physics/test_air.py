"""The usual air: against monthly means of cities and hours of weather stations that it was not made from."""

import csv
from pathlib import Path

import numpy as np
import pvlib
import pytest
from drives import utc
from numpy.testing import assert_allclose
from samples import sample

from routesolar.files.weather import read_weather
from routesolar.physics.air import usual_air_c
from routesolar.physics.sky import ground_altitude_m

WHEEL = Path(pvlib.__file__).parent / "data"
MONTHS = "jan feb mar apr may jun jul aug sep oct nov dec".split()


def usual_of_hours(latitude_deg, longitude_deg, height_m, utc_s):
    place = (np.array([value]) for value in (latitude_deg, longitude_deg, height_m))
    return usual_air_c(*place, np.reshape(utc_s, (-1, 1)))[:, 0]


@pytest.mark.download
def test_monthly_means_of_cities_are_met_within_a_degree_or_two():
    # CHELSA v2.1, 1981-2010, sampled at 270 cities (CC-BY-4.0); cities' heights are a coarse map's.
    path = sample("world-temperature-data", "world_temperature_data/world-temperature.csv")
    rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))
    place = np.array([[float(row["lat"]), float(row["lon"])] for row in rows]).T
    height_m = ground_altitude_m(*place)
    theirs = np.array([[float(row[f"{month}_c"]) for row in rows] for month in MONTHS])
    hours = np.arange(utc("2026-01-01T00:00+00:00"), utc("2027-01-01T00:00+00:00"), 3600 * 7)
    month = hours.astype("datetime64[s]").astype("datetime64[M]").astype(int) % 12
    ours = usual_air_c(*place, height_m, hours[:, None])
    error_c = np.array([ours[month == m].mean(axis=0) for m in range(12)]) - theirs
    assert len(rows) == 270
    assert np.abs(error_c.mean(axis=1)).max() < 0.5
    assert np.sqrt(np.mean(error_c**2)) < 1.4
    assert np.percentile(np.abs(error_c), 90) < 2.0


@pytest.mark.parametrize(("file", "most_c"), [("723170TYA.CSV", 2.5), ("703165TY.csv", 2.5)])
def test_the_hours_of_a_station_month_by_month(file, most_c):
    # TMY3 of Greensboro (NC) and Sand Point (AK): mean of each hour in each month.
    weather = read_weather(WHEEL / file)
    start = utc("2026-01-01T00:00+00:00")
    place = weather.latitude_deg[0], weather.longitude_deg[0], weather.elevation_m[0]
    ours = usual_of_hours(*place, start + weather.time_utc_s)
    month = np.minimum(weather.time_utc_s // (365 / 12 * 86400), 11)
    hour = weather.time_utc_s // 3600 % 24
    error = [
        (ours - weather.air_c[:, 0])[(month == m) & (hour == h)].mean() for m in range(12) for h in range(24)
    ]
    assert np.sqrt(np.mean(np.square(error))) < most_c


def test_july_in_the_mountains_is_no_frost():
    # Sonnblick, 3,106 m: July mean 1.9 C (GeoSphere Austria normals 1981-2010, from memory: 1.5 to 3).
    # Its usual summer nights are near 0, its days above: the standard atmosphere says -5.2 C all day.
    hours = utc("2026-07-15T00:00+00:00") + 3600 * np.arange(24)
    air_c = usual_of_hours(47.05, 12.96, 3106.0, hours)
    assert air_c.mean() == pytest.approx(1.9, abs=2.5)
    assert usual_of_hours(47.0, 12.5, 2310.0, hours).min() > 3


def test_seasons_are_turned_round_south_of_the_equator():
    january, july = (utc(f"2026-{month}-15T12:00+00:00") for month in ("01", "07"))
    hobart, hamburg = (
        usual_of_hours(*place, [january, july]) for place in ((-42.9, 147.3, 10), (53.5, 10, 10))
    )
    assert hobart[0] > hobart[1] + 5
    assert hamburg[1] > hamburg[0] + 12


def test_the_warmest_hour_is_three_by_the_sun_and_the_coldest_five_wherever_it_is():
    minutes = utc("2026-04-10T00:00+00:00") + 60 * np.arange(1440)
    for longitude_deg in (-150.0, -20.5, 35.0, 179.9):
        air_c = usual_of_hours(25.0, longitude_deg, 300.0, minutes)
        solar_h = ((minutes / 3600 + longitude_deg / 15) % 24)[[air_c.argmax(), air_c.argmin()]]
        assert_allclose(solar_h, [15, 5], atol=1.5)


def test_there_is_air_everywhere_and_at_both_sides_of_every_seam():
    latitude, longitude = np.meshgrid(np.linspace(-90, 90, 61), np.linspace(-180, 180, 121))
    air_c = usual_air_c(latitude.ravel(), longitude.ravel(), np.zeros(latitude.size), np.full((1, 1), 1.8e9))
    assert air_c.min() > -60 and air_c.max() < 50
    for lat in (-80.0, 0.0, 66.0):
        east, west = (usual_of_hours(lat, lon, 0.0, [1.8e9]) for lon in (179.999, -179.999))
        assert_allclose(east, west, atol=0.05)
    new_year = utc("2027-01-01T00:00+00:00")
    before, after = usual_of_hours(48.0, 8.0, 0.0, [new_year - 60, new_year + 60])
    assert before == pytest.approx(after, abs=0.1)


def test_it_is_what_it_is_for_a_place_alone_and_for_a_time_alone():
    times = 1.8e9 + np.arange(6).reshape(2, 3) * 5e6
    latitude, longitude, height_m = (
        np.array([10.0, -33, 61]),
        np.array([0.0, 151, -150]),
        np.array([0.0, 50, 900]),
    )
    whole = usual_air_c(latitude, longitude, height_m, times)
    for j in range(3):
        assert_allclose(whole[:, j], usual_of_hours(latitude[j], longitude[j], height_m[j], times[:, j]))
