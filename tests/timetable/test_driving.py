import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod, Transformer
from routes import START_UTC_S, route_of, straight
from samples import sample

from routesolar.errors import InputError, UsageError
from routesolar.files.gpx import read_route
from routesolar.physics.geodesy import earth_centred_m
from routesolar.timetable import drive, kinds_of_trees, stretch_values
from routesolar.trip.route import Pace, Plan, Route, Stretch
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Trees

WGS84 = Geod(ellps="WGS84")  # the oracle for lengths and headings: Karney's geodesics in PROJ
DEPARTURE = np.array([START_UTC_S])
AT_20 = Plan(speed_mps=20.0)


def east(length_m: float = 10_000.0, spacing_m: float = 100.0) -> Route:
    """Return a straight road without times."""
    return route_of(*straight(np.arange(0.0, length_m + spacing_m / 2, spacing_m)))


def driven(along_m: list[float], times_s: list[float], piece: list[int] | None = None) -> Segments:
    """Return the drive of a straight record, from its own times."""
    times_utc_s = START_UTC_S + np.array(times_s, dtype=float)
    return drive(route_of(*straight(along_m), time_utc_s=times_utc_s, piece=piece or 0), None, plan=Plan())


# --- a real drive -----------------------------------------------------------------------------------


@pytest.mark.download
def test_a_recorded_car_drive_keeps_its_length_and_times() -> None:
    # gpxpy 1.6.2 sdist; 2736.00 m is the WGS 84 length of its 104 points by pyproj.
    segments = drive(read_route([sample("gpxpy", "test_files/around-visnjan-with-car.gpx")]), None, plan=Plan())
    assert segments.length_m.sum() == pytest.approx(2736.00, abs=0.005)
    assert segments.departure_utc_s[0] == 1_608_272_150  # 2020-12-18 06:15:50 UTC
    assert segments.arrival_utc_s[0] == pytest.approx(1_608_272_664, abs=1e-6)  # 06:24:24 UTC
    assert segments.time_zone == "Europe/Zagreb"
    assert not segments.stopped.any()
    assert segments.warnings == ()


# --- laws of every drive ----------------------------------------------------------------------------

COORDINATES = st.tuples(st.floats(-89.9, 89.9), st.floats(-180, 180))
STEPS = st.tuples(st.floats(0, 360), st.floats(0.5, 3000.0))


@st.composite
def wanderings(draw: st.DrawFn) -> Route:
    """Return a route that starts anywhere and turns anywhere."""
    latitude, longitude = draw(COORDINATES)
    places = [(latitude, longitude)]
    for heading, metres in draw(st.lists(STEPS, min_size=1, max_size=12)):
        longitude, latitude, _ = WGS84.fwd(longitude, latitude, heading, metres)
        places.append((latitude, longitude))
    return route_of(*np.transpose(places), elevation_m=np.linspace(0, 30, len(places)))


@given(wanderings(), st.floats(1.0, 40.0), st.floats(5.0, 200.0))
def test_segments_are_the_line_cut_into_small_steps(route: Route, speed_mps: float, step_m: float) -> None:
    plan = Plan(speed_mps=speed_mps, step_m=step_m)
    segments = drive(route, DEPARTURE, plan=plan)
    length_m = WGS84.line_length(route.longitude_deg, route.latitude_deg)
    assert segments.length_m.sum() == pytest.approx(length_m, abs=1e-6)
    assert segments.duration_s.sum() == pytest.approx(length_m / speed_mps, rel=1e-9)
    assert segments.length_m.max() <= step_m * (1 + 1e-8)
    assert segments.duration_s.max() <= 30.0 * (1 + 1e-8)
    assert segments.along_m == pytest.approx(np.cumsum(segments.length_m) - segments.length_m, abs=1e-6)
    np.testing.assert_allclose(segments.end_latitude_deg[:-1], segments.latitude_deg[1:], rtol=0, atol=1e-11)
    assert np.all((segments.heading_deg >= 0) & (segments.heading_deg < 360))
    assert np.all(np.abs(segments.longitude_deg) <= 180)


@given(wanderings(), st.sampled_from([1, 2, 96]), st.integers(-(10**8), 10**8))
def test_another_departure_shifts_every_time_and_nothing_else(route: Route, count: int, shift_s: int) -> None:
    departures = START_UTC_S + np.arange(count) * 900.0
    at_once = drive(route, departures, plan=AT_20)
    later = drive(route, departures + shift_s, plan=AT_20)
    # Float seconds near 2e9 are 2.4e-7 s apart.
    np.testing.assert_allclose(later.start_utc_s - at_once.start_utc_s, shift_s, rtol=0, atol=1e-6)
    np.testing.assert_array_equal(later.duration_s, at_once.duration_s)
    np.testing.assert_array_equal(later.latitude_deg, at_once.latitude_deg)
    alone = drive(route, departures[-1:], plan=AT_20)
    np.testing.assert_array_equal(alone.start_utc_s[0], at_once.start_utc_s[-1])


@given(wanderings())
def test_legs_share_out_all_segments_in_order(route: Route) -> None:
    segments = drive(route, DEPARTURE, plan=AT_20)
    assert segments.leg[0] == 0
    assert segments.leg[-1] == len(segments.legs) - 1
    assert set(np.diff(segments.leg).tolist()) <= {0, 1}


def test_times_follow_each_other_without_a_break() -> None:
    segments = driven([0, 1000, 1001, 2000], [0, 60, 400, 450])
    ends = segments.start_utc_s + segments.duration_s
    np.testing.assert_allclose(ends[:, :-1], segments.start_utc_s[:, 1:], rtol=0, atol=1e-6)


def test_half_the_step_is_the_same_drive() -> None:
    whole, half = (drive(east(), DEPARTURE, plan=Plan(speed_mps=20.0, step_m=step)) for step in (50.0, 25.0))
    assert (whole.count, half.count) == (200, 400)
    np.testing.assert_allclose(half.latitude_deg[::2], whole.latitude_deg, rtol=0, atol=1e-12)
    np.testing.assert_allclose(half.start_utc_s[:, ::2], whole.start_utc_s, rtol=0, atol=1e-6)


def test_places_in_space_are_those_of_proj() -> None:
    # PROJ's EPSG:4978, earth-centred coordinates of WGS 84.
    latitude, longitude = np.array([0.0, -42.0, 90.0, 66.5]), np.array([0.0, 147.0, 10.0, -180.0])
    proj = Transformer.from_crs("EPSG:4979", "EPSG:4978")
    expected = np.stack(proj.transform(latitude, longitude, np.zeros(4)), axis=-1)
    np.testing.assert_allclose(earth_centred_m(latitude, longitude), expected, rtol=0, atol=1e-6)


# --- heading and grade ------------------------------------------------------------------------------


def test_headings_turn_round_when_the_road_is_driven_back() -> None:
    latitude, longitude = straight(np.arange(0, 5000, 70.0), heading_deg=37.0)
    out = drive(route_of(latitude, longitude), DEPARTURE, plan=AT_20)
    back = drive(route_of(latitude[::-1], longitude[::-1]), DEPARTURE, plan=AT_20)
    # The meridians at the two ends of a 20 m chord differ by 1.0e-4 degrees here (20 m tan 42 sin 37 / R).
    np.testing.assert_allclose((back.heading_deg[::-1] - out.heading_deg) % 360, 180.0, rtol=0, atol=1.1e-4)


def test_heading_is_clockwise_from_north() -> None:
    for heading in (0.0, 90.0, 180.0, 270.0):
        latitude, longitude = straight([0, 500], latitude_deg=0.0, heading_deg=heading)
        segments = drive(route_of(latitude, longitude), DEPARTURE, plan=AT_20)
        apart = (segments.heading_deg - heading + 180) % 360 - 180
        np.testing.assert_allclose(apart, 0.0, atol=1e-6)


def test_a_receivers_noise_hardly_turns_the_vehicle() -> None:
    # A point every 7 m, 1 m left and right in turn: links point 16 degrees off, 20 m of line at most 6.
    latitude, longitude = straight(np.arange(0, 2000, 7.0), latitude_deg=0.0)
    latitude = latitude + np.where(np.arange(len(latitude)) % 2, 1.0, -1.0) / 110_574.0
    segments = drive(route_of(latitude, longitude), DEPARTURE, plan=AT_20)
    assert np.abs(segments.heading_deg - 90).max() < math.degrees(math.atan(2 / 20)) + 0.5


def test_a_turn_back_on_the_road_never_points_across_it() -> None:
    # 39 segments of 50 m: the middle one turns in its own middle, and the way back is half a metre aside.
    latitude, longitude = straight([0, 974.9, 0], latitude_deg=0.0)
    segments = drive(route_of(latitude + np.array([0, 0, 0.5 / 110_574.0]), longitude), DEPARTURE, plan=AT_20)
    across = np.abs(segments.heading_deg % 180 - 90)
    assert segments.count == 39
    assert across.max() < 0.1


def test_an_even_climb_has_its_grade_everywhere() -> None:
    along_m = np.arange(0, 3001, 30.0)
    latitude, longitude = straight(along_m)
    up = route_of(latitude, longitude, elevation_m=100 + 0.05 * along_m)
    down = route_of(latitude[::-1], longitude[::-1], elevation_m=100 + 0.05 * along_m[::-1])
    for route, grade in ((up, 0.05), (down, -0.05)):
        segments = drive(route, DEPARTURE, plan=AT_20)
        np.testing.assert_allclose(segments.grade_frac, grade, rtol=0, atol=1e-9)
    np.testing.assert_allclose(drive(up, DEPARTURE, plan=AT_20).middle_elevation_m[0], 101.25, atol=1e-6)


def test_a_step_in_height_is_spread_over_100_m() -> None:
    along_m = np.array([0, 999, 1001, 2000.0])
    route = route_of(*straight(along_m), elevation_m=[100, 100, 105, 105])
    segments = drive(route, DEPARTURE, plan=Plan(speed_mps=20.0, step_m=10.0))
    assert segments.grade_frac.max() == pytest.approx(0.05, abs=1e-9)
    climbed_m = float(np.sum(segments.grade_frac * segments.length_m))
    assert climbed_m == pytest.approx(5.0, abs=0.5)  # half a segment at each end of the window


def test_a_cliff_in_the_heights_is_limited_and_told() -> None:
    route = route_of(*straight([0, 500, 501, 1000]), elevation_m=[0, 0, 200, 200])
    segments = drive(route, DEPARTURE, plan=AT_20)
    assert segments.grade_frac.max() == 0.35
    assert any("grades above 35%" in warning for warning in segments.warnings)


# --- what a route may lack --------------------------------------------------------------------------


def test_without_heights_the_road_is_level_on_the_worlds_ground() -> None:
    # Alice Springs lies at 545 m (airport elevation, from memory); the map is good to about 100 m.
    latitude, longitude = straight([0, 500, 1000], latitude_deg=-23.80, longitude_deg=133.88)
    segments = drive(route_of(latitude, longitude), DEPARTURE, plan=AT_20)
    assert not segments.has_elevation
    assert not segments.grade_frac.any()
    np.testing.assert_allclose(segments.elevation_m, 545, atol=100)
    assert any("no elevations" in warning for warning in segments.warnings)


def test_single_missing_heights_are_interpolated_along_the_line() -> None:
    route = route_of(*straight([0, 250, 1000]), elevation_m=[100, np.nan, 140])
    segments = drive(route, DEPARTURE, plan=AT_20)
    np.testing.assert_allclose(segments.elevation_m, 100 + 0.04 * segments.along_m, atol=1e-6)
    assert any("1 of 3 points have no elevation" in warning for warning in segments.warnings)


def test_missing_times_share_the_way_evenly() -> None:
    segments = driven([0, 250, 1000], [0, math.nan, 100])
    np.testing.assert_allclose(segments.speed_mps, 10.0, rtol=1e-6)
    assert any("1 of 3 points have no time" in warning for warning in segments.warnings)


def test_a_short_end_without_times_keeps_the_mean_speed() -> None:
    segments = driven([0, 1000, 1040], [0, 100, math.nan])
    assert segments.duration_s.sum() == pytest.approx(104.0, rel=1e-6)


def test_a_long_end_without_times_needs_a_speed() -> None:
    with pytest.raises(UsageError, match="20% of the route, at its end, has no recorded times; give a speed"):
        driven([0, 1000, 1250], [0, 100, math.nan])


def test_points_at_one_place_are_no_drive() -> None:
    for count in (1, 5):
        with pytest.raises(UsageError, match="say how long the stay is"):
            drive(route_of([1.0] * count, [2.0] * count), DEPARTURE, plan=AT_20)


def test_repeated_points_change_nothing() -> None:
    latitude, longitude = straight([0, 300, 700, 1000])
    plain = drive(route_of(latitude, longitude), DEPARTURE, plan=AT_20)
    doubled = drive(route_of(np.repeat(latitude, 3), np.repeat(longitude, 3)), DEPARTURE, plan=AT_20)
    np.testing.assert_allclose(doubled.latitude_deg, plain.latitude_deg, rtol=0, atol=1e-12)
    np.testing.assert_allclose(doubled.heading_deg, plain.heading_deg, rtol=0, atol=1e-6)


def test_far_points_are_told_with_their_share() -> None:
    route = route_of(*straight([0, 1000, 2000, 5000]))
    (warning,) = (text for text in drive(route, DEPARTURE, plan=AT_20).warnings if "apart" in text)
    assert "up to 3.0 km apart" in warning
    assert "60% of the route" in warning


def test_a_few_times_that_run_backwards_are_left_out() -> None:
    times_s = [10.0 * number for number in range(40)]
    times_s[20] = 5.0
    segments = driven([100.0 * number for number in range(40)], times_s)
    np.testing.assert_allclose(segments.speed_mps, 10.0, rtol=1e-6)
    assert any(
        "1 of 40 recorded times run backwards (the first at part1.gpx, point 21)" in text
        for text in segments.warnings
    )


def test_one_time_far_ahead_does_not_cost_those_after_it() -> None:
    times_s = [10.0 * number for number in range(40)]
    times_s[5] = 1e6
    np.testing.assert_allclose(driven([100.0 * n for n in range(40)], times_s).speed_mps, 10.0, rtol=1e-6)


def test_files_in_the_wrong_order_are_refused() -> None:
    route = route_of(
        *straight([0, 100, 200, 300]),
        time_utc_s=START_UTC_S + np.array([100, 110, 0, 10.0]),
        file_index=[0, 0, 1, 1],
        piece=[0, 0, 1, 1],
    )
    with pytest.raises(InputError, match="give the files in the order they were driven"):
        drive(route, None, plan=Plan())
    assert drive(route, None, plan=AT_20).count > 0


# --- the globe --------------------------------------------------------------------------------------


def test_the_date_line_is_crossed_like_any_other() -> None:
    latitude, longitude = straight(np.arange(0, 10_001, 500.0), latitude_deg=-17.0, longitude_deg=179.95)
    segments = drive(route_of(latitude, longitude), DEPARTURE, plan=AT_20)
    assert segments.length_m.sum() == pytest.approx(10_000, abs=1e-6)
    assert segments.longitude_deg.max() > 179
    assert segments.longitude_deg.min() < -179
    np.testing.assert_allclose(segments.heading_deg, 90.0, atol=0.1)
    assert np.all(np.diff(segments.longitude_deg % 360) > 0)


@pytest.mark.parametrize("pole_deg", [90.0, -90.0])
def test_the_poles_are_crossed_too(pole_deg: float) -> None:
    before = math.copysign(89.98, pole_deg)
    route = route_of([before, pole_deg, before], [30.0, 30.0, -150.0], elevation_m=[0, 0, 0])
    segments = drive(route, DEPARTURE, plan=AT_20)
    length_m = WGS84.inv(30.0, before, -150.0, before)[2]
    assert segments.length_m.sum() == pytest.approx(length_m, abs=1e-6)
    toward, away = (0.0, 180.0) if pole_deg > 0 else (180.0, 0.0)
    assert (segments.heading_deg[0] - toward + 180) % 360 == pytest.approx(180, abs=1e-6)
    assert (segments.heading_deg[-1] - away + 180) % 360 == pytest.approx(180, abs=1e-6)
    assert np.isfinite(segments.heading_deg).all()


# --- pace -------------------------------------------------------------------------------------------


def test_a_speed_wins_over_recorded_times_with_a_note() -> None:
    route = route_of(*straight([0, 1000, 2000]), time_utc_s=START_UTC_S + np.array([0, 100, 900.0]))
    segments = drive(route, None, plan=AT_20)
    assert segments.duration_s.sum() == pytest.approx(100.0)
    assert segments.departure_utc_s[0] == START_UTC_S
    assert any("a speed was given" in note for note in segments.notes)


def test_the_later_pace_wins_and_the_speed_fills_the_rest() -> None:
    paces = (
        Pace(from_m=1000, to_m=5000, speed_mps=10.0),
        Pace(from_m=4000, to_m=99_000, speed_mps=5.0),
    )
    segments = drive(east(), DEPARTURE, plan=replace(AT_20, paces=paces))
    expected = np.select([segments.along_m < 999.9, segments.along_m < 3999.9], [20.0, 10.0], 5.0)
    np.testing.assert_allclose(segments.speed_mps, expected, rtol=1e-9)
    assert segments.duration_s.sum() == pytest.approx(50 + 300 + 1200)


def test_a_pace_speaks_for_its_stretch_of_a_recorded_drive() -> None:
    route = route_of(*straight([0, 1000, 2000]), time_utc_s=START_UTC_S + np.array([0, 100, 200.0]))
    plan = Plan(paces=(Pace(from_m=500, to_m=1500, speed_mps=20.0),))
    assert drive(route, None, plan=plan).duration_s.sum() == pytest.approx(50 + 50 + 50)


def test_a_pace_that_leaves_a_gap_says_where() -> None:
    plan = Plan(paces=(Pace(from_m=0, to_m=4000, speed_mps=20.0),))
    with pytest.raises(UsageError, match=r"from km 4 on.*--speed 80km/h"):
        drive(east(), DEPARTURE, plan=plan)


def test_neither_times_nor_speed_is_an_error_with_an_example() -> None:
    with pytest.raises(UsageError, match="--speed 80km/h"):
        drive(east(), DEPARTURE, plan=Plan())
    with pytest.raises(UsageError, match="2026-11-20 07:30"):
        drive(east(), None, plan=AT_20)


def test_waiting_at_a_light_is_driving_without_way() -> None:
    segments = driven([0, 500, 500, 1000], [0, 50, 170, 220])
    assert not segments.stopped.any()
    assert segments.duration_s[0][segments.length_m < 1e-3].sum() == pytest.approx(120, abs=0.1)
    assert segments.length_m.sum() == pytest.approx(1000, abs=1e-6)


def test_recorded_speeds_no_vehicle_has_are_told() -> None:
    assert any("252 km/h" in warning for warning in driven([0, 1000, 9000], [0, 100, 110]).warnings)


def test_a_drive_of_centuries_is_refused() -> None:
    with pytest.raises(UsageError, match="more than 150,000"):
        driven([0, 500, 1000], [0, 50, 1e10])


@pytest.mark.parametrize("speed_mps", [0.0, -1.0, 100.0, math.nan])
def test_a_speed_no_vehicle_has_is_refused(speed_mps: float) -> None:
    with pytest.raises(UsageError, match="not possible for a road vehicle"):
        Plan(speed_mps=speed_mps)


# --- surroundings -----------------------------------------------------------------------------------


def test_stretches_are_cut_at_their_ends_and_the_later_wins() -> None:
    stretches = (
        Stretch(from_m=1234, to_m=6000, canopy_cover_frac=0.6, road_width_m=9.0),
        Stretch(from_m=5000, to_m=7000, canopy_cover_frac=0.2, canopy_height_m=18.0, roofed=True),
    )
    segments = drive(east(), DEPARTURE, plan=replace(AT_20, stretches=stretches))
    values = stretch_values(segments, stretches)
    covered_m = {share: segments.length_m[values.canopy_cover_frac == share].sum() for share in (0.6, 0.2)}
    assert covered_m == {0.6: pytest.approx(3766, abs=1e-6), 0.2: pytest.approx(2000, abs=1e-6)}
    assert segments.length_m[values.road_width_m == 9.0].sum() == pytest.approx(4766, abs=1e-6)
    assert segments.length_m[values.canopy_height_m == 18.0].sum() == pytest.approx(2000, abs=1e-6)
    assert segments.length_m[segments.roofed].sum() == pytest.approx(2000, abs=1e-6)
    assert np.isnan(values.canopy_cover_frac[segments.along_m > 7000]).all()


def test_what_stretches_say_of_the_trees_adds_up_and_the_later_wins() -> None:
    stretches = (
        Stretch(from_m=1000, to_m=6000, crown_slenderness=3.0, road_width_between="trunks"),
        Stretch(from_m=2000, to_m=3000, road_width_m=9.0),
        Stretch(from_m=5000, to_m=7000, crown_slenderness=1.0, crown_base_frac=0.1),
        Stretch(from_m=7500, to_m=8000, crown_slenderness=3.0, road_width_between="trunks"),
    )
    segments = drive(east(), DEPARTURE, plan=replace(AT_20, stretches=stretches))
    usual = Trees(height_spread_frac=0.2)
    kinds, kind = kinds_of_trees(segments, stretches, usual)
    slender = replace(usual, crown_slenderness=3.0, road_width_between="trunks")
    low = {"crown_slenderness": 1.0, "crown_base_frac": 0.1}
    expected_m = {slender: 4500, replace(slender, **low): 1000, replace(usual, **low): 1000}
    assert set(kinds) == {usual, *expected_m}
    for trees, length_m in expected_m.items():
        assert segments.length_m[kind == kinds.index(trees)].sum() == pytest.approx(length_m, abs=1e-6)


def test_the_width_said_with_a_pace_gives_way_to_that_said_of_a_stretch() -> None:
    paces = (Pace(from_m=0, to_m=5000, speed_mps=20, road_width_m=16.0),)
    plan = replace(AT_20, paces=paces, stretches=(Stretch(from_m=4000, to_m=6000, road_width_m=9.0),))
    segments = drive(east(), DEPARTURE, plan=plan)
    values = stretch_values(segments, plan.surroundings)
    assert segments.length_m[values.road_width_m == 16.0].sum() == pytest.approx(4000, abs=1e-6)
    assert segments.length_m[values.road_width_m == 9.0].sum() == pytest.approx(2000, abs=1e-6)
    assert np.isnan(values.canopy_cover_frac).all()


def test_spans_that_run_backwards_are_refused() -> None:
    with pytest.raises(UsageError, match="end after its start"):
        Stretch(from_m=2000, to_m=1000)
    with pytest.raises(UsageError, match="end after its start"):
        Pace(from_m=2000, to_m=2000, speed_mps=20)
