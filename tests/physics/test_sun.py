"""The sun's place against SPA's own example, pvlib's full SPA, astropy, a textbook and FAO's tables."""

from collections.abc import Callable
from datetime import UTC, datetime

import astropy.units as u
import numpy as np
import pytest
from astropy.coordinates import AltAz, EarthLocation, get_sun
from astropy.time import Time
from astropy.utils import iers
from hypothesis import given
from hypothesis import strategies as st
from oracles import Published, published
from pvlib import spa

from routesolar.errors import InputError
from routesolar.physics import attitude, sky, sun
from routesolar.physics.geocentric import DELTA_T_S

FAR_AWAY_AU = 1e12  # no parallax: the textbook's geocentric trigonometry
UPPER_LIMB_SETS_DEG = -0.8333
PARALLAX_AT_HORIZON_DEG = 8.794 / 3600  # SPA's rise and set are geocentric
FAO_CONSTANT_WM2 = 0.0820e6 / 60
DAY_S = 86_400
YEAR_2026_S = datetime(2026, 1, 1, tzinfo=UTC).timestamp()

latitudes = st.floats(-90, 90)
longitudes = st.floats(-180, 180)
heights = st.floats(-400, 5000)
times = st.floats(datetime(1980, 1, 1, tzinfo=UTC).timestamp(), datetime(2060, 1, 1, tzinfo=UTC).timestamp())


# SPA's own worked example


@pytest.mark.parametrize("known", published("sun.csv", "zenith_without_refraction"), ids=str)
def test_zenith_of_the_worked_example(known: Published) -> None:
    assert abs(90 - sun.sun_position(**known.inputs).elevation_deg - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("sun.csv", "azimuth"), ids=str)
def test_azimuth_of_the_worked_example(known: Published) -> None:
    assert abs(sun.sun_position(**known.inputs).azimuth_deg - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("sun.csv", "topocentric_declination"), ids=str)
def test_topocentric_declination_of_the_worked_example(known: Published) -> None:
    assert abs(equatorial_deg(known)[0] - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("sun.csv", "topocentric_hour_angle"), ids=str)
def test_topocentric_hour_angle_of_the_worked_example(known: Published) -> None:
    assert abs(equatorial_deg(known)[1] - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("sun.csv", "refraction"), ids=str)
def test_refraction_of_the_worked_example(known: Published) -> None:
    lift = sun.refraction_deg(known.inputs["elevation_deg"], sun.refracting_frac(known.inputs["pressure_pa"]))
    # Eq. 42 goes with the inverse of the absolute temperature, 273 + C.
    lift *= (273 + sun.AIR_C) / (273 + known.inputs["air_c"])
    assert abs(lift - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("sun.csv", "incidence"), ids=str)
def test_incidence_of_the_worked_example(known: Published) -> None:
    place = {name: known.inputs[name] for name in ("latitude_deg", "longitude_deg", "elevation_m", "utc_s")}
    normal = attitude.panel_normal(known.inputs["tilt_deg"], known.inputs["facing_deg"], 0, 0, 0)
    elevation = 90 - known.inputs["apparent_zenith_deg"]
    cosine = attitude.incidence_cos(normal, sun.sun_position(**place).azimuth_deg, elevation)
    assert abs(np.degrees(np.arccos(cosine)) - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("sun.csv", "sunrise"), ids=str)
def test_the_sun_rises_when_published(known: Published) -> None:
    midnight = known.inputs["day_utc_s"]
    assert abs(crossing_s(known, midnight, midnight + DAY_S / 2) - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("sun.csv", "sunset"), ids=str)
def test_the_sun_sets_when_published(known: Published) -> None:
    midnight = known.inputs["day_utc_s"]
    assert abs(crossing_s(known, midnight + DAY_S / 2, midnight + DAY_S) - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("sun.csv", "transit"), ids=str)
def test_the_sun_crosses_the_meridian_when_published(known: Published) -> None:
    place = {name: known.inputs[name] for name in ("latitude_deg", "longitude_deg", "elevation_m")}
    noon = bisect(
        lambda t: sun.sun_position(utc_s=t, **place).azimuth_deg - 180, known.value - 7e3, known.value + 7e3
    )
    assert abs(noon - known.value) <= known.tolerance


# Other implementations


def test_a_year_at_every_latitude_stays_within_1e_5_deg_of_full_spa() -> None:
    rng = np.random.default_rng(7)
    count = 4000
    latitude = np.where(
        np.arange(count) < 400, np.repeat([-90.0, 90.0], count // 2), rng.uniform(-90, 90, count)
    )
    longitude, elevation = rng.uniform(-180, 180, count), rng.uniform(-400, 5000, count)
    utc = YEAR_2026_S + rng.uniform(0, 365 * DAY_S, count)
    ours = sun.sun_position(latitude, longitude, elevation, utc)
    pressure_hpa = np.vectorize(sun.isa_pressure_pa)(elevation) / 100
    place = (latitude, longitude, elevation, pressure_hpa, sun.AIR_C, DELTA_T_S, 0.5667, 1)
    _, _, apparent, true, azimuth, _ = spa.solar_position_numpy(utc, *place)
    (distance_au,) = spa.solar_position_numpy(utc, *place, esd=True)
    assert angle_between_deg(ours.azimuth_deg, ours.elevation_deg, azimuth, true).max() < 1e-5
    assert np.abs(ours.earth_sun_au - distance_au).max() < 1e-8
    # Close to where refraction ends the two may stand on different sides of the step.
    clear_of_the_step = np.abs(true + 0.83337) > 1e-4
    assert np.abs(ours.apparent_elevation_deg - apparent)[clear_of_the_step].max() < 1e-5


@given(st.floats(-89.9, 89.9), heights, st.floats(0, 360), st.floats(-23.5, 23.5), st.floats(0.01, 1.02))
def test_parallax_is_spas_even_of_a_sun_a_hundred_times_nearer(
    latitude: float, height: float, hour_angle: float, declination: float, distance_au: float
) -> None:
    # At the true distance parallax is 0.0024 deg, and a wrong height or ellipsoid would hide in it.
    ours = sun.topocentric(sun.observer(latitude, height), hour_angle, declination, distance_au)
    parallax = spa.equatorial_horizontal_parallax(distance_au)
    reduced = spa.uterm(latitude)
    x, y = spa.xterm(reduced, latitude, height), spa.yterm(reduced, latitude, height)
    shift = spa.parallax_sun_right_ascension(x, parallax, hour_angle, declination)
    seen_declination = spa.topocentric_sun_declination(declination, x, y, parallax, shift, hour_angle)
    seen_hour_angle = spa.topocentric_local_hour_angle(hour_angle, shift)
    elevation = spa.topocentric_elevation_angle_without_atmosphere(latitude, seen_declination, seen_hour_angle)
    astronomers = spa.topocentric_astronomers_azimuth(seen_hour_angle, seen_declination, latitude)
    azimuth = spa.topocentric_azimuth_angle(astronomers)
    # SPA's arc sine loses digits at the zenith.
    assert angle_between_deg(ours[0], ours[1], azimuth, elevation) < (1e-10 if abs(elevation) < 85 else 2e-6)


def test_astropy_sees_the_sun_in_the_same_place() -> None:
    # Independent of SPA: astropy's built-in ephemeris. SPA takes UT1 for UTC (up to 0.9 s or 0.004 deg off).
    rng = np.random.default_rng(11)
    count = 60
    latitude, longitude = rng.uniform(-90, 90, count), rng.uniform(-180, 180, count)
    utc = rng.uniform(*(datetime(y, 1, 1, tzinfo=UTC).timestamp() for y in (1990, 2023)), count)
    with iers.conf.set_temp("auto_download", False):
        where = EarthLocation(lat=latitude * u.deg, lon=longitude * u.deg, height=0 * u.m)
        when = Time(utc, format="unix")
        theirs = get_sun(when).transform_to(AltAz(obstime=when, location=where))
    ours = sun.sun_position(latitude, longitude, 0, utc)
    apart = angle_between_deg(ours.azimuth_deg, ours.elevation_deg, theirs.az.deg, theirs.alt.deg)
    assert apart.max() < 0.005


# Textbook and tables


@pytest.mark.parametrize("known", published("attitude.csv", "sun_zenith"), ids=str)
def test_zenith_of_the_textbooks_examples(known: Published) -> None:
    _, elevation, _ = sun.topocentric(*textbook(known))
    assert abs(90 - elevation - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("attitude.csv", "sun_azimuth"), ids=str)
def test_azimuth_of_the_textbooks_examples(known: Published) -> None:
    azimuth, _, _ = sun.topocentric(*textbook(known))
    assert abs(azimuth - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("daily_sun.csv", "extraterrestrial_day"), ids=str)
def test_a_day_above_the_air_brings_what_fao_tabulates(known: Published) -> None:
    declination_deg, distance_au = fao_sun(known)
    elevation_deg = elevations_of_a_day_deg(known.inputs["latitude_deg"], declination_deg)
    level = np.maximum(np.sin(np.radians(elevation_deg)), 0).mean()
    total_mj = (
        FAO_CONSTANT_WM2 / sky.SOLAR_CONSTANT_WM2 * sky.extraterrestrial_wm2(distance_au) * level * DAY_S / 1e6
    )
    assert abs(total_mj - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("daily_sun.csv", "day_length"), ids=str)
def test_a_day_is_as_long_as_fao_tabulates(known: Published) -> None:
    declination_deg, _ = fao_sun(known)
    up = elevations_of_a_day_deg(known.inputs["latitude_deg"], declination_deg) > 0
    assert abs(up.mean() * 24 - known.value) <= known.tolerance


@pytest.mark.parametrize("day_of_year", [15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349])
@pytest.mark.parametrize("latitude", [-60, -35, 0, 20, 48, 60])
def test_the_true_sun_brings_in_a_day_what_the_closed_form_does(latitude: float, day_of_year: int) -> None:
    # FAO-56 eq. 21 and 25 with the true declination at noon: FAO's own (eq. 24) is up to 1 deg off in October.
    noon = datetime(2025, 1, 1, 12, tzinfo=UTC).timestamp() + (day_of_year - 1) * DAY_S
    at_the_pole = sun.sun_position(90, 0, 0, noon)
    lat, declination = np.radians([latitude, at_the_pole.elevation_deg + PARALLAX_AT_HORIZON_DEG])
    sunset = np.arccos(-np.tan(lat) * np.tan(declination))
    hours = sunset * np.sin(lat) * np.sin(declination) + np.cos(lat) * np.cos(declination) * np.sin(sunset)
    closed_mj = sky.SOLAR_CONSTANT_WM2 / at_the_pole.earth_sun_au**2 * hours / np.pi * DAY_S / 1e6

    utc = noon + np.arange(-DAY_S / 2, DAY_S / 2, 60.0) + 30
    day = sun.sun_position(latitude, 0, 0, utc)
    level = np.maximum(np.sin(np.radians(day.elevation_deg)), 0)
    total_mj = np.mean(sky.extraterrestrial_wm2(day.earth_sun_au) * level) * DAY_S / 1e6
    assert abs(total_mj / closed_mj - 1) < 0.005
    assert abs((day.elevation_deg > 0).mean() * 24 - sunset * 24 / np.pi) < 0.05


@pytest.mark.parametrize(
    "latitude, date, noon_deg",
    [
        (40, "2026-06-21", 73.45),
        (40, "2026-12-21", 26.55),
        (-40, "2026-12-21", 73.45),
        (-40, "2026-06-21", 26.55),
    ],
)
def test_noon_at_the_solstices(latitude: float, date: str, noon_deg: float) -> None:
    # 90 - |latitude - declination| with the declination of the solstice, 23.44 deg.
    utc = datetime.fromisoformat(date + "T00:00Z").timestamp() + np.arange(0, DAY_S, 60.0)
    assert abs(sun.sun_position(latitude, 0, 0, utc).elevation_deg.max() - noon_deg) < 0.05


def test_the_equators_day_lasts_seven_minutes_more_than_half() -> None:
    # Refraction and the sun's disc: 2 * 0.833 deg at 15 deg an hour, 12.11 h; any almanac.
    utc = datetime(2026, 3, 20, tzinfo=UTC).timestamp() + np.arange(0, DAY_S, 30.0)
    up = sun.sun_position(0, 0, 0, utc).elevation_deg > UPPER_LIMB_SETS_DEG
    assert abs(up.sum() * 30 / 3600 - 12.11) < 0.02


def test_at_the_equinox_the_sun_rises_in_the_east_everywhere() -> None:
    # 2026-03-20 14:46 UTC (any almanac); over half a day the declination changes by 0.2 deg.
    noon = datetime(2026, 3, 20, 12, tzinfo=UTC).timestamp()
    latitude = np.array([-50.0, -20.0, 0.0, 20.0, 50.0])
    utc = noon + np.arange(-12 * 3600, 0, 60.0)[:, None]
    position = sun.sun_position(latitude, 0, 0, utc)
    rising = np.argmax(position.elevation_deg > 0, axis=0)
    assert np.abs(position.azimuth_deg[rising, np.arange(5)] - 90).max() < 0.8


def test_the_earth_is_nearest_in_january_and_farthest_in_july() -> None:
    # Perihelion 0.98330 au on 2026-01-03, aphelion 1.01664 au on 2026-07-06 (any almanac, from memory).
    distance = sun.sun_position(0, 0, 0, YEAR_2026_S + np.arange(365) * float(DAY_S)).earth_sun_au
    assert abs(distance.min() - 0.98330) < 5e-5
    assert abs(distance.max() - 1.01664) < 5e-5
    assert np.argmin(distance) in range(1, 5)
    assert np.argmax(distance) in range(184, 189)


# Laws


def test_at_the_poles_the_sun_circles_at_its_declination() -> None:
    utc = datetime(2026, 6, 21, tzinfo=UTC).timestamp() + np.arange(0, DAY_S, 600.0)
    north, south = sun.sun_position(90, 0, 0, utc), sun.sun_position(-90, 0, 0, utc)
    assert np.ptp(north.elevation_deg) < 0.01
    assert np.abs(north.elevation_deg + south.elevation_deg + 2 * PARALLAX_AT_HORIZON_DEG).max() < 0.001
    assert np.abs(np.diff(np.unwrap(north.azimuth_deg, period=360)) - 2.5).max() < 0.001
    assert np.abs(np.diff(np.unwrap(south.azimuth_deg, period=360)) + 2.5).max() < 0.001


def test_the_polar_day_has_no_night_and_the_polar_night_no_day() -> None:
    utc = datetime(2026, 6, 21, tzinfo=UTC).timestamp() + np.arange(0, DAY_S, 600.0)
    assert (sun.sun_position(70, 25, 0, utc).elevation_deg > 0).all()
    assert (sun.sun_position(-70, 25, 0, utc).apparent_elevation_deg < 0).all()


def test_in_the_south_the_noon_sun_stands_in_the_north() -> None:
    noon_in_hobart = datetime(2026, 11, 20, 2, 0, tzinfo=UTC).timestamp()
    position = sun.sun_position(-42.9, 147.3, 0, noon_in_hobart + np.arange(-3600, 3600, 60.0))
    highest = np.argmax(position.elevation_deg)
    assert abs((position.azimuth_deg[highest] + 180) % 360 - 180) < 0.5
    assert position.azimuth_deg[0] < 180 < position.azimuth_deg[-1]  # east to west by way of north


@given(latitudes, longitudes, heights, times)
def test_a_full_turn_of_longitude_changes_nothing(lat: float, lon: float, height: float, utc: float) -> None:
    here, round_the_world = (sun.sun_position(lat, x, height, utc) for x in (lon, lon + 360))
    assert angle_between_deg(*here[:2], *round_the_world[:2]) < 1e-7


@given(latitudes, longitudes, times, st.floats(0, 0.001))
def test_the_sun_does_not_jump_at_full_hours_or_at_the_antimeridian(
    lat: float, lon: float, utc: float, wait: float
) -> None:
    hour = np.ceil(utc / 3600) * 3600
    before, after = (sun.sun_position(lat, lon, 0, t) for t in (hour - wait, hour + wait))
    assert angle_between_deg(*before[:2], *after[:2]) < 15 / 3600 * 2 * wait + 1e-6
    west, east = (sun.sun_position(lat, x, 0, utc) for x in (180 - wait, -180 + wait))
    assert angle_between_deg(*west[:2], *east[:2]) < 2 * wait + 1e-6


@given(latitudes, longitudes, heights, times)
def test_refraction_lifts_and_never_lowers(lat: float, lon: float, height: float, utc: float) -> None:
    position = sun.sun_position(lat, lon, height, utc)
    lift = position.apparent_elevation_deg - position.elevation_deg
    # Overhead the formula of SPA gives -0.00005 deg at worst.
    assert -1e-4 < lift < 0.75
    assert position.elevation_deg > -0.8334 or lift == 0
    assert 0 <= position.azimuth_deg < 360


@given(latitudes, longitudes, heights, times)
def test_one_point_is_the_same_alone_and_among_a_year_of_others(
    lat: float, lon: float, height: float, utc: float
) -> None:
    alone = sun.sun_position(lat, lon, height, utc)
    others = utc + np.array([-200.5, 0.0, 3.25, 365.0]) * DAY_S
    among = sun.sun_position(lat, lon, height, others)
    assert np.allclose([x[1] for x in among], alone, rtol=0, atol=1e-9)


def test_departures_and_segments_broadcast() -> None:
    latitude, longitude, height = np.linspace(40, 50, 3), np.linspace(-5, 5, 3), np.array([0.0, 500.0, 900.0])
    utc = YEAR_2026_S + np.array([[0.0], [DAY_S * 180.0]]) + np.array([0.0, 30.0, 60.0])
    position = sun.sun_position(latitude, longitude, height, utc)
    assert all(x.shape == (2, 3) for x in position)
    single = sun.sun_position(latitude[2], longitude[2], height[2], utc[1, 2])
    assert np.allclose([x[1, 2] for x in position], single, rtol=0, atol=1e-9)
    assert all(x.shape == (0,) for x in sun.sun_position([], [], [], []))


@pytest.mark.parametrize("missing", range(4))
def test_a_missing_place_or_time_stays_missing_and_spoils_no_other(missing: int) -> None:
    place_and_time = [
        np.array([45.0, 45.0]),
        np.array([9.0, 9.0]),
        np.array([200.0, 200.0]),
        np.full(2, YEAR_2026_S),
    ]
    whole = sun.sun_position(*place_and_time)
    place_and_time[missing][0] = np.nan
    position = sun.sun_position(*place_and_time)
    assert np.isnan(position.apparent_elevation_deg[0])
    assert np.allclose([x[1] for x in position], [x[1] for x in whole], rtol=0, atol=1e-9)


@pytest.mark.parametrize("utc", [1e13, -1e13, np.inf, -np.inf])
def test_a_time_beyond_the_ephemeris_is_refused_with_the_reason(utc: float) -> None:
    with pytest.raises(InputError, match="outside the years -2000 to 6000"):
        sun.sun_position(0, 0, 0, [0.0, utc])


@pytest.mark.parametrize("known", published("sky.csv", "pressure"), ids=str)
def test_air_pressure_is_the_standard_atmospheres(known: Published) -> None:
    assert abs(sun.isa_pressure_pa(known.inputs["elevation_m"]) - known.value) <= known.tolerance


def test_air_pressure_at_sea_level_is_the_standards_own() -> None:
    assert sun.isa_pressure_pa(0.0) == 101_325


def equatorial_deg(known: Published) -> tuple[float, float]:
    """Declination and hour angle from azimuth and elevation, by spherical trigonometry."""
    position = sun.sun_position(**known.inputs)
    lat, az, el = np.radians([known.inputs["latitude_deg"], position.azimuth_deg, position.elevation_deg])
    declination = np.arcsin(np.sin(lat) * np.sin(el) + np.cos(lat) * np.cos(el) * np.cos(az))
    west = -np.sin(az) * np.cos(el)
    meridian = np.sin(el) * np.cos(lat) - np.cos(el) * np.cos(az) * np.sin(lat)
    return np.degrees(declination), np.degrees(np.arctan2(west, meridian))


def crossing_s(known: Published, low_s: float, high_s: float) -> float:
    """When the geocentric sun stands at the elevation where the upper limb sets."""
    place = {name: known.inputs[name] for name in ("latitude_deg", "longitude_deg", "elevation_m")}
    horizon = UPPER_LIMB_SETS_DEG - PARALLAX_AT_HORIZON_DEG
    return bisect(lambda t: sun.sun_position(utc_s=t, **place).elevation_deg - horizon, low_s, high_s)


def bisect(function: Callable[[float], float], low: float, high: float) -> float:
    assert function(low) * function(high) < 0
    while high - low > 0.1:
        middle = (low + high) / 2
        low, high = (middle, high) if function(low) * function(middle) > 0 else (low, middle)
    return low


def textbook(known: Published) -> tuple[sun.Observer, float, float, float]:
    place = known.inputs
    observer = sun.observer(place["latitude_deg"], 0.0)
    return observer, place["hour_angle_deg"], place["declination_deg"], FAR_AWAY_AU


def fao_sun(known: Published) -> tuple[float, float]:
    """FAO-56's declination in degrees (eq. 24) and distance in au (eq. 23)."""
    year = 2 * np.pi * known.inputs["day_of_year"] / 365
    return np.degrees(0.409 * np.sin(year - 1.39)), (1 + 0.033 * np.cos(year)) ** -0.5


def elevations_of_a_day_deg(latitude_deg: float, declination_deg: float) -> np.ndarray:
    hour_angles_deg = np.arange(0, 360, 0.25) + 0.125
    place = sun.observer(latitude_deg, 0.0)
    return np.array([sun.topocentric(place, h, declination_deg, FAR_AWAY_AU)[1] for h in hour_angles_deg])


def angle_between_deg(azimuth1_deg, elevation1_deg, azimuth2_deg, elevation2_deg):  # type: ignore[no-untyped-def]
    """Angle between two directions, exact for small ones (haversine)."""
    az1, el1, az2, el2 = np.radians([azimuth1_deg, elevation1_deg, azimuth2_deg, elevation2_deg])
    half = np.sin((el1 - el2) / 2) ** 2 + np.cos(el1) * np.cos(el2) * np.sin((az1 - az2) / 2) ** 2
    return np.degrees(2 * np.arcsin(np.sqrt(half)))
