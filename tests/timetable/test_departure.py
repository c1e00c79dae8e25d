from datetime import UTC, datetime

import pytest

from routesolar.errors import UsageError
from routesolar.timetable import parse_departure, time_zone_at


def utc_s(*parts: int) -> float:
    return datetime(*parts, tzinfo=UTC).timestamp()


def test_a_departure_without_offset_is_on_the_local_clock() -> None:
    departure = parse_departure("2026-11-20 07:30", "Australia/Hobart")
    assert departure == (utc_s(2026, 11, 19, 20, 30), ())  # summer time, UTC+11


@pytest.mark.parametrize("text", ["2026-11-20T07:30+01:00", "2026-11-20 06:30Z", " 2026-11-20 06:30:00Z "])
def test_an_offset_wins_over_the_zone(text: str) -> None:
    assert parse_departure(text, "Australia/Hobart").utc_s == utc_s(2026, 11, 20, 6, 30)


def test_a_time_the_clock_jumps_over_names_valid_ones_on_both_sides() -> None:
    # Tasmania's clocks go forward on the first Sunday of October, from 02:00 to 03:00.
    with pytest.raises(UsageError) as caught:
        parse_departure("2026-10-04 02:30", "Australia/Hobart")
    assert "depart at 01:30 or 03:30" in str(caught.value)
    before, after = (parse_departure(f"2026-10-04 {clock}", "Australia/Hobart") for clock in ("01:59", "03:00"))
    assert after.utc_s - before.utc_s == 60.0


def test_of_a_time_shown_twice_the_first_is_taken_with_a_note() -> None:
    # They go back on the first Sunday of April, from 03:00 to 02:00; first UTC+11, then UTC+10.
    departure = parse_departure("2026-04-05 02:30", "Australia/Hobart")
    assert departure.utc_s == utc_s(2026, 4, 4, 15, 30)
    assert "02:30 twice" in departure.notes[0]
    assert "+11:00" in departure.notes[0]


def test_half_hour_jumps_are_jumps_too() -> None:
    # Lord Howe Island shifts by 30 minutes, from 02:00 to 02:30.
    with pytest.raises(UsageError, match=r"depart at 01:45 or 02:45"):
        parse_departure("2026-10-04 02:15", "Australia/Lord_Howe")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("tomorrow", "is not a date and time"),
        ("", "is not a date and time"),
        ("2026-02-30 07:30", "is not a date and time"),
        ("2026-11-20 25:00", "is not a date and time"),
        ("2026-11-20", "has no time of day"),
        ("20261120", "has no time of day"),
        ("0001-01-01 00:00", "outside the years"),
        ("9999-12-31 23:59", "outside the years"),
    ],
)
def test_what_is_no_departure_is_refused_with_an_example(text: str, said: str) -> None:
    with pytest.raises(UsageError) as caught:
        parse_departure(text, "UTC")
    assert said in str(caught.value)
    assert "2026-11-20 07:30" in str(caught.value)


@pytest.mark.parametrize("name", ["Mars/Olympus", "", "../etc/passwd", "Europe", "\0"])
def test_a_zone_that_does_not_exist_is_refused(name: str) -> None:
    with pytest.raises(UsageError, match="not a time zone"):
        parse_departure("2026-11-20 07:30", name)


# Legal time of the places, from memory.
@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "zone"),
    [
        (-42.88, 147.33, "Australia/Hobart"),
        (59.91, 10.75, "Europe/Oslo"),
        (40.71, -74.01, "America/New_York"),
        (0.0, -160.0, "Etc/GMT+11"),  # open sea: nautical zones, 15 degrees wide, sign reversed
    ],
)
def test_a_place_has_its_zone(latitude_deg: float, longitude_deg: float, zone: str) -> None:
    assert time_zone_at(latitude_deg, longitude_deg) == (zone, ())


def test_where_no_zone_is_known_times_are_utc_and_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tzfpy.get_tz", lambda longitude, latitude: "")
    name, notes = time_zone_at(0.0, 0.0)
    assert name == "UTC"
    assert "times are UTC" in notes[0]
