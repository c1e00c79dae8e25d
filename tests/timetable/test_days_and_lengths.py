"""Driving in days of so many hours, and roads that are longer than the line through their points."""

from datetime import UTC, datetime

import numpy as np
import pytest
from routes import START_UTC_S, route_of, straight, waypoint_at

from routesolar.errors import UsageError
from routesolar.timetable import drive
from routesolar.trip.route import Plan, Stop

AT_20 = {"speed_mps": 20.0, "time_zone": "UTC"}  # 72 km an hour
NINE = datetime.fromtimestamp(START_UTC_S, UTC).replace(hour=9, minute=0, second=0).timestamp()
FROM_9 = {"drive_from_s": 9 * 3600.0}


def road(length_m=300_000.0, waypoints=()):
    return route_of(*straight(np.arange(0.0, length_m + 1, 1000.0)), waypoints=waypoints)


def stays(segments):
    """Return each stop's name, and from when to when it lasts in hours after nine of the first day."""
    found = []
    for number, leg in enumerate(segments.legs):
        if leg.kind == "stop":
            here = segments.leg == number
            start_s, length_s = segments.start_utc_s[0, here][0], segments.duration_s[0, here].sum()
            ends_h = ((at - NINE) / 3600 for at in (start_s, start_s + length_s))
            found.append((leg.name, *(round(float(hours), 3) for hours in ends_h)))
    return found


def test_four_hours_a_day_from_nine_make_the_days():
    # 300 km at 72 km/h take 4 h 10 min: with 2 h a day, nights at 144 and 288 km, each until nine.
    segments = drive(road(), np.array([NINE]), plan=Plan(**AT_20, **FROM_9, hours_a_day=2.0))
    assert stays(segments) == [("night at 144 km", 2.0, 24.0), ("night at 288 km", 26.0, 48.0)]
    assert segments.duration_s.sum() == pytest.approx(2 * 86_400 + 600, abs=1)
    assert any("at most 2 h of driving a day, from 9:00 on: night at 144 km" in note for note in segments.notes)


def test_a_night_is_at_the_last_named_place_within_half_an_hour_of_the_days_end():
    waypoints = (waypoint_at(120_000.0, "ford"), waypoint_at(140_000.0, "mill"), waypoint_at(250_000.0, "inn"))
    segments = drive(road(waypoints=waypoints), np.array([NINE]), plan=Plan(**AT_20, **FROM_9, hours_a_day=2.0))
    # From the mill at 140 km two hours reach to 284 km, and the inn is 28 minutes short of it.
    assert [name for name, _, _ in stays(segments)] == ["night at mill", "night at inn"]


def test_a_planned_night_begins_the_days_hours_anew_and_a_short_stop_does_not():
    stops = (
        Stop(at="lunch", at_m=72_000.0, duration_s=1800.0),
        Stop(at="camp", at_m=108_000.0, duration_s=12 * 3600.0),
    )
    plan = Plan(**AT_20, **FROM_9, hours_a_day=2.0, stops=stops)
    named = [name for name, _, _ in stays(drive(road(), np.array([NINE]), plan=plan))]
    assert named == ["stop at 72 km", "stop at 108 km", "night at 252 km"]


def test_who_arrives_in_the_small_hours_still_sleeps_and_early_birds_do_not_drive_twice_a_day():
    late, early = NINE + 12.5 * 3600, NINE - 6 * 3600
    plan = Plan(**AT_20, **FROM_9, hours_a_day=4.0)
    segments = drive(road(), np.array([late, early]), plan=plan)
    # 21:30 and four hours: 01:30 until nine. 03:00 and four hours: 07:00 until nine of the next day.
    assert segments.duration_s[:, segments.stopped].sum(axis=1) / 3600 == pytest.approx([7.5, 26.0])


def test_a_drive_within_a_days_hours_has_no_night_and_stays_as_it_is():
    plan = Plan(**AT_20)
    days = Plan(**AT_20, **FROM_9, hours_a_day=5.0)
    one, other = (drive(road(), np.array([NINE]), plan=each) for each in (plan, days))
    assert np.array_equal(one.start_utc_s, other.start_utc_s)
    assert other.notes[-1].endswith("none is needed") or any("none is needed" in note for note in other.notes)


@pytest.mark.parametrize(
    ("said", "match"),
    [
        ({"hours_a_day": 4.0}, "--drive-from 9:00 --hours-a-day 4"),
        ({"drive_from_s": 0.0}, "--drive-from 9:00 --hours-a-day 4"),
        ({"drive_from_s": 0.0, "hours_a_day": 24.0}, "not possible"),
    ],
)
def test_days_that_make_no_sense_are_refused(said, match):
    with pytest.raises(UsageError, match=match):
        Plan(**AT_20, **said)


def test_the_true_length_of_a_sparse_route_stretches_lengths_and_times_and_leaves_the_ground():
    sparse = route_of(*straight([0.0, 100_000.0, 200_000.0]), waypoints=(waypoint_at(100_000.0, "ford"),))
    departs = np.array([NINE])
    plain, told = (
        drive(sparse, departs, plan=Plan(**AT_20, distance_m=metres)) for metres in (None, 300_000.0)
    )
    assert told.length_m.sum() == pytest.approx(300_000.0, rel=1e-9)
    assert told.duration_s.sum() == pytest.approx(1.5 * plain.duration_s.sum(), rel=1e-9)
    assert told.speed_mps == pytest.approx(20.0, rel=1e-9)
    # Halfway by time it is halfway on the ground, wherever the road winds.
    for here in (plain, told):
        half = np.interp(0.5, np.cumsum(here.duration_s[0]) / here.duration_s.sum(), here.end_longitude_deg)
        assert half == pytest.approx(sparse.longitude_deg[1], abs=1e-3)
    assert told.end_latitude_deg[-1] == pytest.approx(sparse.latitude_deg[-1], abs=1e-9)
    assert any("300 km long as told" in note and "200 km apart" in note for note in told.notes)


def test_places_given_by_distance_are_those_of_the_road():
    # Halfway along a road of 300 km is halfway along the 200 km through its points.
    sparse, found = route_of(*straight([0.0, 200_000.0])), []
    for at_m, metres in ((100_000.0, None), (150_000.0, 300_000.0)):
        stop = Stop(at="halfway", at_m=at_m, duration_s=600.0)
        segments = drive(sparse, np.array([NINE]), plan=Plan(**AT_20, distance_m=metres, stops=(stop,)))
        found.append((segments.latitude_deg[segments.stopped][0], segments.longitude_deg[segments.stopped][0]))
    assert found[1] == pytest.approx(found[0], abs=1e-6)


@pytest.mark.parametrize("metres", [150_000.0, 700_000.0])
def test_a_length_that_no_road_along_the_points_has_is_refused(metres):
    with pytest.raises(UsageError, match="200 km apart in all, so the road along them is not"):
        drive(route_of(*straight([0.0, 200_000.0])), np.array([NINE]), plan=Plan(**AT_20, distance_m=metres))
