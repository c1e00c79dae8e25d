"""A weather file carried along a drive: what it says comes out again, what it does not say is not made up."""

import dataclasses

import numpy as np
import pytest
from drives import straight_drive, utc
from mixed_sky import expected_wm2
from numpy.testing import assert_allclose
from samples import sample

from routesolar.errors import InputError
from routesolar.files.weather import read_weather
from routesolar.model.clear_sky import sun_on
from routesolar.model.sky import sky_states
from routesolar.model.weather import weather_warnings
from routesolar.physics.clouds import forecast_sun_out_prob, irradiance_states
from routesolar.trip.sky import WEATHER_VALUES, Sky, WeatherSeries

NOON = utc("2026-06-21T12:00+00:00")


def series(start="2026-06-21T06:00+00:00", places=((48.0, 8.0),), elevation_m=np.nan, **values):
    """An hourly series of 12 steps; values are lists per step, or per step and place."""
    latitude, longitude = np.array(places).T
    shape = (12, len(places))
    columns = {name: np.full(shape, np.nan) for name in WEATHER_VALUES}
    columns |= {name: np.broadcast_to(np.reshape(v, (12, -1)), shape) for name, v in values.items()}
    return WeatherSeries(
        name="weather.csv",
        typical=False,
        latitude_deg=latitude,
        longitude_deg=longitude,
        elevation_m=np.full(len(places), elevation_m),
        time_utc_s=utc(start) + 3600.0 * np.arange(12) + 1800,
        step_s=3600.0,
        averaged_s=3600.0,
        **columns,
    )


def parked(*departures, hours=2.0, latitude_deg=48.0, longitude_deg=8.0, **more):
    return straight_drive(
        latitude_deg,
        longitude_deg,
        list(departures),
        segments=int(12 * hours),
        step_s=300.0,
        speed_mps=0.0,
        **more,
    )


def states_of(weather, segments, name="none"):
    sky = Sky(name=name, weather=weather)
    return sky_states(sky, segments, sun_on(segments).apparent_elevation_deg)


@pytest.mark.download
def test_the_mixture_of_the_two_states_is_the_files_own_irradiance():
    # NSRDB, half-hourly moments of June 2023: parked there at those moments.
    weather = read_weather(sample("pvlib", "tests/data/test_read_psm4.csv"))
    rows = np.flatnonzero(
        (weather.time_utc_s > utc("2023-06-03T00:00+00:00"))
        & (weather.time_utc_s < utc("2023-06-10T00:00+00:00"))
    )
    moments = weather.time_utc_s[rows] - 1.0
    height_m = float(weather.elevation_m[0])
    drive = straight_drive(
        40.53, -108.54, list(moments), segments=2, step_s=2.0, speed_mps=0.0, elevation_m=height_m
    )
    ghi, dni, dhi = (values[:, 0] for values in expected_wm2(states_of(weather, drive), drive))
    high = sun_on(drive).apparent_elevation_deg[:, 0] > 5
    file_ghi, file_dni, file_dhi = (getattr(weather, f"{name}_wm2")[rows, 0] for name in ("ghi", "dni", "dhi"))
    assert high.sum() > 150
    assert_allclose(ghi[high], np.maximum(file_ghi, 0)[high], rtol=1e-6, atol=0.01)
    # The file's three values close to 1-2 W/m2; where its beam leaves less than 2 % diffuse it is cut.
    assert_allclose(dni[high], file_dni[high], atol=2)
    assert_allclose(dhi[high], file_dhi[high], atol=5)


@pytest.mark.parametrize("beam", [np.nan, 0.0, 0.2, 0.6, 1.1])
@pytest.mark.parametrize("ghi", [0.05, 0.3, 0.7, 1.0, 1.2])
def test_states_close_to_what_is_given(ghi, beam):
    states = irradiance_states(ghi, beam, 0.85)
    prob = states.sun_out_prob
    assert prob * states.unobscured_index + (1 - prob) * states.obscured_index == pytest.approx(ghi, rel=1e-12)
    if beam * 0.85 < 0.97 * ghi:
        assert prob * states.unobscured_beam_index == pytest.approx(beam, rel=1e-12)
    assert states.obscured_index > 0
    assert states.unobscured_index >= states.unobscured_beam_index * 0.85


def test_hourly_means_give_the_hours_energy():
    # From the middle of one hour to the middle of the next, at the file's height; the rest is the curve of
    # clear irradiance within an hour near noon.
    drive = parked(NOON - 1800, hours=1, elevation_m=250.0)
    weather = series(ghi_wm2=np.full(12, 300.0), elevation_m=250.0)
    assert expected_wm2(states_of(weather, drive), drive)[0].mean() == pytest.approx(300.0, rel=0.01)


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "height_m"),
    # Heights of the towns, from memory; the coarse world map says 1,874, 1,006 and 2,630 m.
    [(45.92, 6.87, 1035.0), (46.50, 11.35, 262.0), (46.02, 7.75, 1608.0)],
    ids=["Chamonix", "Bolzano", "Zermatt"],
)
@pytest.mark.parametrize("said", [True, False])
def test_irradiance_measured_in_a_deep_valley_comes_out_as_it_went_in(
    latitude_deg, longitude_deg, height_m, said
):
    # Haurwitz (1945, J. Meteorol. 2:154) has 950 W/m2 with the sun at 67 deg: 400 is under half.
    place = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg, "elevation_m": height_m}
    drive = parked(NOON - 1800, hours=1, **place)
    weather = series(
        places=((latitude_deg, longitude_deg),),
        elevation_m=height_m if said else np.nan,
        ghi_wm2=np.full(12, 400.0),
    )
    assert expected_wm2(states_of(weather, drive), drive)[0].mean() == pytest.approx(400.0, rel=0.01)


def test_a_place_off_the_road_without_a_height_is_said():
    drive = parked(NOON, latitude_deg=48.2)  # 22 km off
    ghi = np.full(12, 300.0)
    (said,) = weather_warnings(series(ghi_wm2=ghi), drive)
    assert "add a column elevation_m" in said
    assert not weather_warnings(series(ghi_wm2=ghi, elevation_m=100.0), drive)
    assert not weather_warnings(series(cloud_frac=ghi / 1000), drive)


def test_a_cloud_fraction_counts_for_more_of_a_low_sun():
    drive = parked(utc("2026-06-21T06:30+00:00"), NOON)
    states = states_of(series(cloud_frac=np.full(12, 0.5)), drive)
    elevation = sun_on(drive).apparent_elevation_deg
    assert_allclose(states.sun_out_prob, forecast_sun_out_prob(0.5, elevation))
    assert np.all(states.sun_out_prob[0] < states.sun_out_prob[1])


def test_between_two_places_the_nearer_counts_for_more():
    weather = series(places=((48.0, 8.0), (48.0, 10.0)), air_c=np.tile([10.0, 20.0], (12, 1)))
    at = [
        states_of(weather, parked(NOON, longitude_deg=lon), "clear").air_c[0, 0]
        for lon in (8.0, 8.5, 9.0, 10.0)
    ]
    assert at[0] == pytest.approx(10.0, abs=0.01) and at[3] == pytest.approx(20.0, abs=0.01)
    # Inverse square: a third of the way's distances 1:3 weigh 9:1.
    assert at[1] == pytest.approx(11.0, abs=0.05) and at[2] == pytest.approx(15.0, abs=0.01)


def test_without_light_in_the_file_the_named_sky_stands_and_the_air_is_the_files():
    wind = {"wind_mps": np.full(12, 4.0), "wind_from_deg": np.tile([350.0, 10.0], 6)}
    states = states_of(series(air_c=np.arange(12.0), **wind), parked(NOON - 150, hours=1 / 12), "overcast")
    assert states.sun_out_prob == 0.03
    # 12:00 lies between the middles of the 06-07 ... 11-12 and 12-13 hours: 5 and 6.
    assert_allclose(states.air_c, 5.5)
    # North is the mean of 350 and 10 degrees, not south; the speed is the mean of speeds.
    assert_allclose(np.cos(np.radians(states.wind_from_deg)), 1.0, atol=1e-9)
    assert_allclose(states.wind_mps, 4.0)


def test_a_drive_past_the_files_end_is_refused():
    weather = series(ghi_wm2=np.full(12, 300.0))
    states_of(weather, parked(utc("2026-06-21T16:00+00:00")))
    with pytest.raises(InputError, match=r"covers 2026-06-21T06:00:00Z to 2026-06-21T18:00:00Z"):
        states_of(weather, parked(utc("2026-06-21T16:05+00:00")))


def test_a_gap_of_two_hours_is_filled_and_said_and_one_of_four_is_refused():
    ghi = np.full(12, 300.0)
    ghi[5] = np.nan
    filled = states_of(series(ghi_wm2=ghi), parked(NOON - 3600))
    assert np.all(np.isfinite(filled.sun_out_prob))
    (said,) = weather_warnings(series(ghi_wm2=ghi), parked(NOON - 3600))
    assert "gaps of the sky" in said
    assert not weather_warnings(series(ghi_wm2=np.full(12, 300.0)), parked(NOON - 3600))
    ghi[4:7] = np.nan
    with pytest.raises(InputError, match="has no sky data"):
        states_of(series(ghi_wm2=ghi), parked(NOON - 3600))


def test_a_gap_of_six_hours_is_refused_from_either_side_of_it():
    ghi = np.full(12, 300.0)
    ghi[3:9] = np.nan  # 09:00 to 15:00
    for hour in (9.2, 12.0, 14.6):  # beside the last value before it, amid, beside the first value after it
        with pytest.raises(InputError, match="has no sky data"):
            states_of(series(ghi_wm2=ghi), parked(NOON + (hour - 12) * 3600, hours=0.25))


def test_values_that_end_before_the_files_times_are_not_carried_on():
    ghi = np.where(np.arange(12) < 9, 300.0, np.nan)
    weather = series(ghi_wm2=ghi, air_c=np.full(12, 20.0))
    assert np.all(np.isfinite(states_of(weather, parked(NOON + 2 * 3600, hours=1)).sun_out_prob))
    with pytest.raises(InputError, match="the end of its values"):
        states_of(weather, parked(NOON + 2 * 3600, hours=2))


def test_at_night_the_sky_may_be_unknown_at_the_end_of_a_file():
    ghi = [300.0, 200.0, 100.0, 20.0, 0.0, 0.0, *[np.nan] * 6]
    weather = series(start="2026-06-21T16:00+00:00", ghi_wm2=ghi)
    assert np.all(np.isfinite(states_of(weather, parked(utc("2026-06-22T00:00+00:00"))).sun_out_prob))


def test_a_gap_by_night_does_not_matter():
    ghi = np.where(np.arange(12) < 5, np.nan, 100.0)
    weather = series(start="2026-06-20T22:00+00:00", ghi_wm2=ghi)
    drive = parked(utc("2026-06-20T22:30+00:00"), hours=4)
    assert np.all(np.isfinite(states_of(weather, drive).sun_out_prob))


def test_sunlight_at_night_betrays_a_wrong_offset():
    weather = series(start="2026-06-20T18:00+00:00", ghi_wm2=np.full(12, 300.0))
    with pytest.raises(InputError, match="check the offsets of its times"):
        states_of(weather, parked(utc("2026-06-20T22:30+00:00"), hours=1))


def test_a_place_far_off_the_road_is_said():
    drive = parked(NOON, latitude_deg=49.0)
    (said,) = weather_warnings(series(ghi_wm2=np.full(12, 300.0), elevation_m=100.0), drive)
    assert "up to 111 km" in said


@pytest.mark.parametrize(
    ("ghi_wm2", "said"),
    [
        (1600.0, "more than the sun can give"),  # BSRN's limit at 06:30 is 900 W/m2
        (0.6, "no cloud is that dark"),  # kW/m2
    ],
)
def test_irradiance_in_other_units_is_refused(ghi_wm2, said):
    with pytest.raises(InputError, match=said):
        states_of(series(ghi_wm2=np.full(12, ghi_wm2)), parked(utc("2026-06-21T07:00+00:00")))


@pytest.mark.download
def test_a_typical_year_serves_any_year_and_its_leap_day_too():
    weather = read_weather(sample("pvlib", "tests/data/NLD_Amsterdam062400_IWEC.epw"))
    days = [utc(f"{day}T10:00+00:00") for day in ("2023-02-28", "2024-02-28", "2024-02-29", "2024-03-01")]
    new_year = utc("2027-12-31T23:30+00:00")
    drive = parked(*days, new_year, latitude_deg=52.3, longitude_deg=4.77, elevation_m=-2.0)
    states = states_of(weather, drive)
    assert_allclose(states.air_c[0], states.air_c[1])
    assert_allclose(states.air_c[1], states.air_c[2])
    assert not np.allclose(states.air_c[2], states.air_c[3])
    assert np.all(np.isfinite(states.air_c[4]))
    assert any("typical year, not a forecast" in said for said in weather_warnings(weather, drive))
    # The file's own hours of 28 February, 10-11 and 11-12 UTC, are 11-12 and 12-13 of its clock (UTC+1).
    row = np.searchsorted(weather.time_utc_s, (31 + 27) * 86400 + 10.5 * 3600)
    ghi = expected_wm2(states, drive)[0][0].reshape(2, 12).mean(axis=1)
    assert_allclose(ghi, weather.ghi_wm2[row : row + 2, 0], rtol=0.1)


def test_the_files_air_is_brought_from_its_height_to_the_roads():
    weather = series(air_c=np.full(12, 20.0))
    high = series(air_c=np.full(12, 20.0), elevation_m=500.0)
    # ISO 2533: 6.5 C a km.
    assert_allclose(states_of(high, parked(NOON, elevation_m=1500.0), "clear").air_c, 13.5)
    assert_allclose(states_of(weather, parked(NOON, elevation_m=1500.0), "clear").air_c, 20.0)


def test_a_forecast_along_the_route_holds_where_the_vehicle_is_at_its_time():
    # From 48 N eastwards, half a degree an hour; the air warms by 1 C a step, as the file's own rows say.
    hours = np.arange(12)
    moving = dataclasses.replace(
        series(air_c=hours, cloud_frac=hours / 20),
        moving=True,
        latitude_deg=np.full(12, 48.0),
        longitude_deg=8.0 + hours / 2,
        elevation_m=np.full(12, 100.0),
    )
    drive = straight_drive(
        48.0,
        11.0,
        [NOON + 1800],
        segments=12,
        step_s=300.0,
        speed_mps=10.0,
        heading_deg=90.0,
        elevation_m=100.0,
    )
    states = states_of(moving, drive)
    assert_allclose(states.air_c[0], 6.0 + (np.arange(12) + 0.5) / 12, atol=1e-6)
    assert not weather_warnings(moving, drive)  # 36 km/h are half a degree an hour
    late = dataclasses.replace(drive, start_utc_s=drive.start_utc_s - 4 * 3600.0)
    (said,) = weather_warnings(moving, late)
    assert "km from the nearest place in it" in said


def test_light_of_a_moving_place_is_that_of_the_same_place_standing():
    ghi = np.full(12, 300.0)
    standing = series(ghi_wm2=ghi, elevation_m=250.0)
    at = {"latitude_deg": 48.0, "longitude_deg": 8.0, "elevation_m": 250.0}
    moving = dataclasses.replace(
        standing, moving=True, **{name: np.full(12, value) for name, value in at.items()}
    )
    drive = parked(NOON - 1800, hours=3)
    one, other = (states_of(weather, drive) for weather in (standing, moving))
    for name in ("sun_out_prob", "unobscured_index", "obscured_index", "unobscured_beam_index"):
        assert_allclose(getattr(one, name), getattr(other, name), rtol=1e-12)
