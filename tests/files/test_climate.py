"""The usual sky without a file: a small table of MERRA-2 means, checked against a package pinned by digest."""

import numpy as np
import pytest
from drives import straight_drive, utc
from samples import sample

from routesolar.errors import InputError
from routesolar.files.climate import typical_weather
from routesolar.model.clear_sky import sun_on
from routesolar.model.sky import sky_states
from routesolar.physics.bands import UNSURE
from routesolar.trip.sky import Sky

GRID = ("gsee-climate-data", "gsee_climate_data/data/merra2_rad3x3_2011-2015_pdfs_land_prox.npz")


def june_mean_share(latitude_deg, longitude_deg):
    drive = straight_drive(
        latitude_deg, longitude_deg, [utc("2026-06-15T11:30+00:00")], segments=2, speed_mps=0.0
    )
    weather = typical_weather(np.array([latitude_deg]), np.array([longitude_deg]))
    states = sky_states(Sky(name="typical", weather=weather), drive, sun_on(drive).apparent_elevation_deg)
    prob = states.sun_out_prob
    return float((prob * states.unobscured_index + (1 - prob) * states.obscured_index)[0, 0])


@pytest.mark.download
def test_the_table_holds_the_means_of_the_published_distributions():
    with np.load(sample(*GRID)) as stored:
        value, share = stored["xk"].astype(float), stored["pk"].astype(float)
        rows, columns = stored["lat"], stored["lon"]
    for latitude_deg, longitude_deg, month in ((48, 6, 5), (-42, 147, 0), (0, -60, 8), (66, 30, 2)):
        cell = np.argmin(abs(rows - latitude_deg)), np.argmin(abs(columns - longitude_deg)), month
        published = np.nansum(value[cell] * share[cell]) / np.nansum(share[cell])
        weather = typical_weather(np.array([float(latitude_deg)]), np.array([float(longitude_deg)]))
        middle = [15, 45, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349][month]
        assert weather.ghi_wm2[middle, 0] == pytest.approx(published, rel=0.01)


def test_the_cell_of_payerne_has_the_published_june():
    # MERRA-2 cell 48 N 6 E, June: 6.66 kWh/m2 a day, read from the same file in another way.
    weather = typical_weather(np.array([48.0]), np.array([6.0]))
    june = weather.ghi_wm2[165, 0] * 24 / 1000
    assert june == pytest.approx(6.66, rel=0.01)
    assert weather.typical and len(weather.time_utc_s) == 365


def test_deserts_are_brighter_than_wet_coasts():
    # Seville and Bergen, June: clearness 0.72 and far below, from the daily distributions of the same data.
    seville, bergen = june_mean_share(37.4, -6.0), june_mean_share(60.4, 5.3)
    assert bergen < seville < 1.0
    assert seville > 0.85


def test_a_long_route_takes_places_some_fifty_kilometres_apart_and_says_what_it_is():
    latitude, longitude = np.linspace(-41.4, -43.1, 400), np.full(400, 147.2)
    weather = typical_weather(latitude, longitude)
    assert len(weather.latitude_deg) == 4
    assert "too bright" in weather.warnings[0]
    # South of the equator January is the brighter month.
    assert weather.ghi_wm2[14].min() > 2 * weather.ghi_wm2[166].max()


def test_both_sides_of_the_date_line_are_neighbours():
    # Chukotka, 68 N: land on both sides of 180 degrees, and months without sun.
    west, east = (typical_weather(np.array([68.0]), np.array([lon])).ghi_wm2 for lon in (179.99, -179.99))
    assert np.allclose(west, east, rtol=0.01)
    assert west[355] < 2 < 150 < west[165]


def test_the_open_sea_and_the_pole_have_no_climate():
    for place in ((-30.0, -120.0), (89.0, 0.0)):
        with pytest.raises(InputError, match="no climate on land"):
            typical_weather(np.array([place[0]]), np.array([place[1]]))


def test_what_is_usual_is_less_sure_than_any_forecast():
    assert sorted(UNSURE, key=UNSURE.__getitem__) == ["known", "today", "tomorrow", "week", "climate"]
