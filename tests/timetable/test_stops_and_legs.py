from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from routes import START_UTC_S, route_of, straight, waypoint_at

from routesolar.errors import UsageError
from routesolar.timetable import drive
from routesolar.trip.route import LegsBy, LegsEvery, Plan, Route, Stop, Waypoint
from routesolar.trip.segments import Segments

DEPARTURE = np.array([START_UTC_S])
AT_20 = Plan(speed_mps=20.0)


def road(length_m: float = 10_000.0, waypoints: tuple[Waypoint, ...] = ()) -> Route:
    return route_of(*straight(np.arange(0.0, length_m + 50, 100.0)), waypoints=waypoints)


def recorded(
    along_m: list[float], times_s: list[float], piece: list[int] | None = None, **more: object
) -> Route:
    times_utc_s = START_UTC_S + np.array(times_s, dtype=float)
    return route_of(*straight(along_m), time_utc_s=times_utc_s, piece=piece or 0, **more)  # type: ignore[arg-type]


def legs(segments: Segments) -> list[tuple[str, str]]:
    return [(leg.kind, leg.name) for leg in segments.legs]


def leg_km(segments: Segments) -> list[float]:
    return [
        round(float(segments.length_m[segments.leg == leg].sum()) / 1000, 3)
        for leg in range(len(segments.legs))
    ]


def stopped_s(segments: Segments) -> np.ndarray:
    """Return the seconds stopped, one for each departure."""
    return segments.duration_s[:, segments.stopped].sum(axis=1)


def utc(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


# --- recorded pauses --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("parked_s", "drift_m", "is_stop"),
    [(180, 0, True), (179, 0, False), (180, 29.9, True), (180, 30.1, False), (36_000, 10, True)],
)
def test_a_pause_is_three_minutes_within_thirty_metres(parked_s: float, drift_m: float, is_stop: bool) -> None:
    times_s = [0, 100, 100 + parked_s, 250 + parked_s]
    segments = drive(recorded([0, 1000, 1000 + drift_m, 3000], times_s), None, plan=Plan())
    assert bool(segments.stopped.any()) == is_stop
    assert segments.duration_s.sum() == pytest.approx(times_s[-1], abs=1e-6)
    if is_stop:
        assert stopped_s(segments)[0] == pytest.approx(parked_s, abs=1e-6)
        assert legs(segments) == [("drive", "0-1 km"), ("stop", "stop at 1 km"), ("drive", "1-3 km")]
        assert segments.duration_s.max() <= 30.0 + 1e-9


def test_a_receiver_that_wanders_while_parked_drives_nothing() -> None:
    wander_m = [1000 + 20 * (number % 2) for number in range(60)]
    times_s = [0.0, *(100.0 + 10 * number for number in range(60)), 800.0]
    segments = drive(recorded([0, *wander_m, 2000], times_s), None, plan=Plan())
    assert segments.length_m.sum() == pytest.approx(2000, abs=1e-6)
    assert stopped_s(segments)[0] == pytest.approx(590.0)


def test_parked_before_the_start_and_after_the_end_are_stops_too() -> None:
    route = recorded([0, 0, 1000, 1000], [0, 600, 700, 1300])
    assert legs(drive(route, None, plan=Plan())) == [
        ("stop", "stop at 0 km"),
        ("drive", "0-1 km"),
        ("stop", "stop at 1 km"),
    ]


def test_a_stop_is_parked_as_it_arrived_without_speed_or_way() -> None:
    latitude, longitude = straight([0, 1000])
    north_latitude, north_longitude = straight(
        [0, 1000], latitude_deg=latitude[1], longitude_deg=longitude[1], heading_deg=0
    )
    route = route_of(
        [*latitude, *north_latitude],
        [*longitude, *north_longitude],
        time_utc_s=START_UTC_S + np.array([0, 100, 700, 800.0]),
    )
    segments = drive(route, None, plan=Plan())
    parked = segments.stopped
    assert not segments.speed_mps[parked].any()
    assert not segments.length_m[parked].any()
    # Arrived eastward; the last 20 m of line before the corner bend a little towards north.
    np.testing.assert_allclose(segments.heading_deg[parked], 90.0, atol=1.0)
    np.testing.assert_allclose(segments.latitude_deg[parked], latitude[1], atol=1e-12)
    np.testing.assert_allclose(segments.end_longitude_deg[parked], longitude[1], atol=1e-12)


# --- gaps between pieces ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gap_m", "gap_s", "driven_m", "parked_s", "told"),
    [
        (199, 299, 2199, 0, False),
        (201, 299, 2000, 299, True),
        (199, 301, 2000, 301, False),
        (5000, 3600, 2000, 3600, True),
    ],
)
def test_a_small_gap_is_driven_and_a_large_one_is_not(
    gap_m: float, gap_s: float, driven_m: float, parked_s: float, told: bool
) -> None:
    along_m, times_s = [0, 1000, 1000 + gap_m, 2000 + gap_m], [0, 100, 100 + gap_s, 200 + gap_s]
    segments = drive(recorded(along_m, times_s, piece=[0, 0, 1, 1]), None, plan=Plan())
    assert segments.length_m.sum() == pytest.approx(driven_m, abs=1e-6)
    assert stopped_s(segments)[0] == pytest.approx(parked_s, abs=1e-6)
    assert segments.duration_s.sum() == pytest.approx(times_s[-1], abs=1e-6)
    assert any("left out" in warning for warning in segments.warnings) == told
    broken = np.flatnonzero(~segments.driven_on)
    assert len(broken) == (0 if driven_m > 2000 else 1)
    # The line resumes where the record does, and jumps nowhere else.
    gone = np.hypot(
        segments.latitude_deg[1:] - segments.end_latitude_deg[:-1],
        segments.longitude_deg[1:] - segments.end_longitude_deg[:-1],
    )
    np.testing.assert_array_equal(np.flatnonzero(gone > 1e-9), broken)


def test_a_gap_without_times_is_left_out_by_its_width_alone() -> None:
    latitude, longitude = straight([0, 1000, 1500, 2500])
    segments = drive(route_of(latitude, longitude, piece=[0, 0, 1, 1]), DEPARTURE, plan=AT_20)
    assert segments.length_m.sum() == pytest.approx(2000, abs=1e-6)
    assert not segments.stopped.any()
    assert segments.warnings[-1].startswith("a gap between pieces of the track, 0.5 km in all, left out")


def test_a_lone_point_after_a_gap_does_no_harm() -> None:
    segments = drive(recorded([0, 1000, 9000], [0, 100, 4000], piece=[0, 0, 1]), None, plan=Plan())
    assert segments.length_m.sum() == pytest.approx(1000, abs=1e-6)
    assert segments.duration_s.sum() == pytest.approx(4000, abs=1e-6)


def test_a_wait_before_a_gap_and_one_after_it_stand_on_their_own_sides() -> None:
    route = recorded([0, 1000, 9000, 9000], [0, 100, 4000, 4600], piece=[0, 0, 1, 1])
    segments = drive(route, None, plan=Plan())
    kinds = [leg.kind for leg in segments.legs]
    assert kinds == ["drive", "stop", "stop"]
    for leg, at_m, parked_s in ((1, 1000, 3900), (2, 9000, 600)):
        latitude, longitude = straight([at_m])
        np.testing.assert_allclose(segments.latitude_deg[segments.leg == leg], latitude[0], rtol=0, atol=1e-11)
        np.testing.assert_allclose(
            segments.longitude_deg[segments.leg == leg], longitude[0], rtol=0, atol=1e-11
        )
        assert segments.duration_s[0, segments.leg == leg].sum() == pytest.approx(parked_s)


# --- planned stops ----------------------------------------------------------------------------------


def test_a_stop_by_distance_is_a_leg_of_its_own() -> None:
    stop = Stop(at="4.2km", at_m=4200.0, duration_s=2700.0, heading_deg=180.0, roofed=True)
    segments = drive(road(), DEPARTURE, plan=replace(AT_20, stops=(stop,)))
    assert legs(segments) == [("drive", "0-4.2 km"), ("stop", "stop at 4.2 km"), ("drive", "4.2-10 km")]
    assert leg_km(segments) == [4.2, 0.0, 5.8]
    assert stopped_s(segments)[0] == 2700.0
    assert set(segments.heading_deg[segments.stopped]) == {180.0}
    np.testing.assert_array_equal(segments.roofed, segments.stopped)
    np.testing.assert_allclose(segments.heading_deg[~segments.stopped], 90.0, atol=0.2)


def test_a_stop_by_name_finds_its_waypoint_whatever_the_capitals() -> None:
    stop = Stop(at="camp", duration_s=600.0)
    segments = drive(
        road(waypoints=(waypoint_at(3050.0, "Camp"),)), DEPARTURE, plan=replace(AT_20, stops=(stop,))
    )
    assert legs(segments) == [("drive", "to Camp"), ("stop", "Camp"), ("drive", "from Camp")]
    assert leg_km(segments) == [3.05, 0.0, 6.95]


def test_stops_at_both_ends_and_twice_at_one_place() -> None:
    stops = tuple(Stop(at=f"{at_m}m", at_m=at_m, duration_s=60.0) for at_m in (10_000.0, 0.0, 5000.0, 5000.0))
    segments = drive(road(), DEPARTURE, plan=replace(AT_20, stops=stops))
    assert [leg.kind for leg in segments.legs] == ["stop", "drive", "stop", "stop", "drive", "stop"]
    assert segments.stopped[0]
    assert segments.stopped[-1]


def test_a_planned_stop_takes_the_place_of_the_recorded_one() -> None:
    route = recorded([0, 1000, 1000, 2000], [0, 100, 700, 800])
    stop = Stop(at="1.1km", at_m=1100.0, duration_s=60.0)
    segments = drive(route, None, plan=Plan(stops=(stop,)))
    assert stopped_s(segments)[0] == 60.0
    assert any("replaces the recorded one" in note for note in segments.notes)


@pytest.mark.parametrize(
    ("stop", "said"),
    [
        (Stop(at="42km", at_m=42_000.0, duration_s=60.0), "42km is not on the route, which is 10 km long"),
        (
            Stop(at="Campp", duration_s=60.0),
            'no waypoint "Campp" within 200 m of the line; on the route are: Camp',
        ),
    ],
)
def test_a_stop_off_the_route_is_refused(stop: Stop, said: str) -> None:
    route = road(waypoints=(waypoint_at(3000.0, "Camp"),))
    with pytest.raises(UsageError) as caught:
        drive(route, DEPARTURE, plan=replace(AT_20, stops=(stop,)))
    assert said in str(caught.value)


def test_a_stop_needs_one_end() -> None:
    for ends in ({}, {"duration_s": 60.0, "until": "12:30"}, {"duration_s": 0.0}):
        with pytest.raises(UsageError, match="the stop at Camp"):
            Stop(at="Camp", **ends)  # type: ignore[arg-type]


def test_a_stop_until_a_clock_time_lasts_differently_for_each_departure() -> None:
    # Hobart in November is UTC+11: 12:30 there is 01:30 UTC. The stop is reached after 250 s.
    departures = np.array([utc("2026-11-20 00:30"), utc("2026-11-20 01:00"), utc("2026-11-20 01:29")])
    plan = replace(AT_20, stops=(Stop(at="5km", at_m=5000.0, until="12:30"),), time_zone="Australia/Hobart")
    segments = drive(road(), departures, plan=plan)
    np.testing.assert_allclose(stopped_s(segments), [3350.0, 1550.0, 0.0], atol=1e-6)
    assert segments.duration_s.max() <= 30.0 + 1e-9
    np.testing.assert_allclose(segments.arrival_utc_s[:2], utc("2026-11-20 01:30") + 250, atol=1e-5)
    assert "12:30 has passed on arrival for 1 of 3 departures" in segments.warnings[-1]
    alone = drive(road(), departures[:1], plan=plan)
    np.testing.assert_allclose(alone.arrival_utc_s, segments.arrival_utc_s[:1], atol=1e-6)


def test_a_stop_until_the_morning_lasts_the_night() -> None:
    plan = replace(AT_20, stops=(Stop(at="5km", at_m=5000.0, until="08:00"),), time_zone="Australia/Hobart")
    segments = drive(road(), np.array([utc("2026-11-20 08:00")]), plan=plan)  # 19:00 local
    assert stopped_s(segments)[0] == pytest.approx(13 * 3600 - 250, abs=1e-6)
    # The night the clocks go forward (4 October 2026) has an hour less.
    short = drive(road(), np.array([utc("2026-10-03 09:00")]), plan=plan)  # 19:00 local, UTC+10
    assert stopped_s(short)[0] == pytest.approx(12 * 3600 - 250, abs=1e-6)


def test_a_stop_for_which_all_come_too_late_is_left_out() -> None:
    plan = replace(AT_20, stops=(Stop(at="5km", at_m=5000.0, until="12:30"),), time_zone="UTC")
    segments = drive(road(), np.array([utc("2026-11-20 13:00")]), plan=plan)
    assert not segments.stopped.any()
    assert "the stop is skipped" in segments.warnings[-1]


# --- legs -------------------------------------------------------------------------------------------


def test_named_waypoints_by_the_line_bound_legs() -> None:
    latitude, longitude = straight([7000.0])
    beside = Waypoint(
        name="Hill", latitude_deg=float(latitude[0]) + 150 / 111_100, longitude_deg=float(longitude[0])
    )
    beyond = Waypoint(
        name="Lake", latitude_deg=float(latitude[0]) + 250 / 111_100, longitude_deg=float(longitude[0])
    )
    route = road(waypoints=(waypoint_at(0.0, "Town"), waypoint_at(3000.0, "Bridge"), beside, beyond))
    segments = drive(route, DEPARTURE, plan=AT_20)
    assert legs(segments) == [("drive", "Town to Bridge"), ("drive", "Bridge to Hill"), ("drive", "from Hill")]
    assert leg_km(segments) == [3.0, 4.0, 3.0]


def test_a_waypoint_passed_twice_bounds_twice() -> None:
    latitude, longitude = straight([*np.arange(0, 5001, 100), *np.arange(4900, -1, -100)])
    route = route_of(latitude, longitude, waypoints=[waypoint_at(2000.0, "Bridge")])
    segments = drive(route, DEPARTURE, plan=AT_20)
    assert leg_km(segments) == [2.0, 6.0, 2.0]
    assert [leg.name for leg in segments.legs] == ["to Bridge", "Bridge to Bridge", "from Bridge"]


def test_a_waypoint_at_the_turning_point_bounds_once() -> None:
    latitude, longitude = straight([*np.arange(0, 5001, 100), *np.arange(4900, -1, -100)])
    route = route_of(latitude, longitude, waypoints=[waypoint_at(5000.0, "Turn")])
    assert leg_km(drive(route, DEPARTURE, plan=AT_20)) == [5.0, 5.0]


def test_an_unmarked_road_has_a_leg_every_50_km() -> None:
    segments = drive(road(120_000.0), DEPARTURE, plan=AT_20)
    assert [leg.name for leg in segments.legs] == ["0-50 km", "50-100 km", "100-120 km"]
    assert leg_km(segments) == [50.0, 50.0, 20.0]


def test_files_bound_legs_even_where_the_gap_is_driven() -> None:
    route = route_of(*straight([0, 1000, 1100, 2000]), file_index=[0, 0, 1, 1], piece=[0, 0, 1, 1])
    segments = drive(route, DEPARTURE, plan=AT_20)
    assert [leg.kind for leg in segments.legs] == ["drive", "drive"]
    assert segments.length_m.sum() == pytest.approx(2000, abs=1e-6)


def test_legs_by_length_by_time_by_track_and_by_waypoint() -> None:
    route = route_of(
        *straight([0, 4000, 4100, 10_000]), piece=[0, 0, 1, 1], waypoints=[waypoint_at(7000.0, "Bridge")]
    )
    expected: list[tuple[LegsBy | LegsEvery, list[float]]] = [
        (LegsEvery(distance_m=4000.0), [4.0, 4.0, 2.0]),
        (LegsEvery(driving_s=300.0), [6.0, 4.0]),
        (LegsBy.TRACK, [4.1, 5.9]),
        (LegsBy.WAYPOINT, [7.0, 3.0]),
        (LegsBy.AUTO, [7.0, 3.0]),
    ]
    for rule, lengths_km in expected:
        assert leg_km(drive(route, DEPARTURE, plan=replace(AT_20, legs=rule))) == lengths_km


@pytest.mark.parametrize("every", [{}, {"distance_m": 50.0}, {"driving_s": 1.0}, {"distance_m": np.nan}])
def test_legs_too_short_to_tell_anything_are_refused(every: dict[str, float]) -> None:
    with pytest.raises(UsageError, match="legs"):
        LegsEvery(**every)


def test_legs_of_driving_time_do_not_count_stops() -> None:
    plan = replace(
        AT_20, legs=LegsEvery(driving_s=300.0), stops=(Stop(at="2km", at_m=2000.0, duration_s=7200.0),)
    )
    assert leg_km(drive(road(), DEPARTURE, plan=plan)) == [2.0, 0.0, 4.0, 4.0]


def test_a_waypoint_across_the_date_line_is_found() -> None:
    latitude, longitude = straight(np.arange(0, 10_001, 500.0), latitude_deg=-17.0, longitude_deg=179.95)
    waypoint = waypoint_at(8000.0, "Beach", latitude_deg=-17.0, longitude_deg=179.95)
    assert waypoint.longitude_deg < 0
    segments = drive(route_of(latitude, longitude, waypoints=[waypoint]), DEPARTURE, plan=AT_20)
    assert leg_km(segments) == [8.0, 2.0]
