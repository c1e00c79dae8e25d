from collections.abc import Callable
from dataclasses import fields
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routesolar.cli.options import TripOptions
from routesolar.errors import InputError, RoutesolarError, UsageError
from routesolar.files import wording
from routesolar.trip.route import LegsBy, LegsEvery, Stop


@pytest.mark.parametrize(
    ("text", "legs"),
    [
        ("auto", LegsBy.AUTO),
        ("track", LegsBy.TRACK),
        ("waypoint", LegsBy.WAYPOINT),
        ("50km", LegsEvery(distance_m=50_000.0)),
        ("30 mi", LegsEvery(distance_m=30 * 1609.344)),
        ("60min", LegsEvery(driving_s=3600.0)),
        ("1h30", LegsEvery(driving_s=5400.0)),
    ],
)
def test_legs_are_a_word_a_length_or_a_time(text: str, legs: object) -> None:
    assert wording.legs_by(text) == legs


@pytest.mark.parametrize("text", ["500m", "500M", "60 m"])
def test_legs_in_m_are_refused_as_it_may_be_metres_or_minutes(text: str) -> None:
    with pytest.raises(UsageError, match="metres or minutes"):
        wording.legs_by(text)


@pytest.mark.parametrize("text", ["0km", "0.05km", "0min", "1s", "-5km", "AUTO", "", "km", "50"])
def test_legs_without_length_are_refused(text: str) -> None:
    with pytest.raises(UsageError, match=r"^legs is"):
        wording.legs_by(text)


@pytest.mark.parametrize(
    ("text", "stop"),
    [
        ("42km:45min", Stop(at="42km", at_m=42_000.0, duration_s=2700.0)),
        ("Camp:1h30", Stop(at="Camp", duration_s=5400.0)),
        ("ferry: north side:20min", Stop(at="ferry: north side", duration_s=1200.0)),
        ("0km:5min", Stop(at="0km", at_m=0.0, duration_s=300.0)),
    ],
)
def test_a_stop_is_a_place_and_a_time(text: str, stop: Stop) -> None:
    assert wording.stop_of(text) == stop


@pytest.mark.parametrize("text", ["42km", "42km:", ":45min", "42km:45", "-1km:45min", "42km:0min", "", ":"])
def test_half_a_stop_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="stop"):
        wording.stop_of(text)


def test_a_tree_height_is_metres_or_a_raster() -> None:
    assert wording.tree_height_m("18m") == 18.0
    assert wording.tree_height_m("60ft") == pytest.approx(18.288)
    assert wording.tree_height_m("height.tif") is None
    assert wording.tree_height_m("2020/height.tif") is None


@pytest.mark.parametrize(("text", "said"), [("18", "without a unit"), ("0m", "trees"), ("1km", "trees")])
def test_a_tree_height_that_is_none_is_refused(text: str, said: str) -> None:
    with pytest.raises(UsageError, match=said):
        wording.tree_height_m(text)


def test_formats_are_a_list_of_known_ones() -> None:
    assert wording.formats_of("kml, gpx") == ("kml", "gpx")
    for text in ("pdf", "kml,pdf", "", ","):
        with pytest.raises(UsageError, match="kml, gpx"):
            wording.formats_of(text)


def test_a_length_is_refused_with_an_example_of_its_own() -> None:
    for read, example in ((wording.step_m, "50m"), (wording.road_width_m, "12m")):
        with pytest.raises(UsageError, match=f"write it as {example}$"):
            read("7")


def test_a_clock_time_is_seconds_after_midnight() -> None:
    assert [wording.clock_s(text) for text in ("00:00", "7:05", "23:59")] == [0.0, 25_500.0, 86_340.0]
    for text in ("24:00", "12:60", "12", "noon", "12:3", "-1:00"):
        with pytest.raises(UsageError, match="not a clock time"):
            wording.clock_s(text)


def test_a_day_is_of_the_calendar_and_of_known_years() -> None:
    assert wording.day_of(" 2028-02-29 ") == date(2028, 2, 29)
    for text in ("2026-02-29", "20.6.2026", "20261120", "2026-W47-5", "1800-01-01", "9999-12-31", "today", ""):
        with pytest.raises(UsageError, match="2026-11-20"):
            wording.day_of(text)


@pytest.mark.parametrize("text", ["0m", "0.5m", "2km"])
def test_a_step_is_between_a_metre_and_a_kilometre(text: str) -> None:
    with pytest.raises(UsageError, match="between 1m and 1000m"):
        wording.step_m(text)


@pytest.mark.parametrize("text", ["500km/h", "80", "0km/h"])
def test_a_speed_is_one_of_a_road_vehicle(text: str) -> None:
    with pytest.raises(UsageError):
        wording.speed_mps(text)


# Options whose texts name files or places may hold anything.
FREE = {"canopy_height", "rig", "weather", "map", "canopy", "terrain", "surface", "stop", "strict"}


@pytest.mark.parametrize("option", sorted({field.name for field in fields(TripOptions)} - FREE))
def test_every_option_is_checked_before_anything_is_read(option: str) -> None:
    with pytest.raises(RoutesolarError):
        wording.read_text(option, "7 furlongs")


READERS: list[Callable[[str], object]] = [
    wording.legs_by,
    wording.stop_of,
    wording.step_m,
    wording.tree_height_m,
    wording.formats_of,
]


@given(st.text(max_size=20))
def test_no_text_gives_anything_but_an_answer_or_one_line(text: str) -> None:
    checks = [lambda t, o=option: wording.read_text(o, t) for option in ("depart", "tz", "sky", "cloud_okta")]
    for read in (*READERS, *checks):
        try:
            read(text)
        except (UsageError, InputError) as error:
            assert "\n" not in str(error)
