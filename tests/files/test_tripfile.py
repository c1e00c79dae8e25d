from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routesolar.errors import InputError
from routesolar.files.stated import Stated
from routesolar.files.tripfile import read_trip_file
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.route import LegsEvery, Pace, Stop, Stretch
from routesolar.trip.surroundings import Trees

WHOLE = """
route = ["coast.gpx", "/roads/forest.gpx"]
rig = "van.toml"
depart = "2026-11-20 07:30"
sky = "broken"
canopy = ["cover.tif", "https://example.org/cover.tif"]
air_c = 12.5
wind_mps = 3

[[stop]]
at = "42km"
minutes = 45
heading_deg = 180
[[stop]]
at = "Camp"
until = "12:30"
roofed = true

[[pace]]
from = "0km"
to = "40km"
speed = "95km/h"
road_width_m = 16

[trees]
crown_transmittance_frac = 0.2
evergreen_frac = 1

[[surroundings]]
from = "40km"
to = "70km"
canopy_cover_pct = 60
road_width_m = 10
road_width_between = "trunks"
lane_offset_m = 0
crown_base_frac = 0.1
crown_slenderness = 3
height_spread_frac = 0.2
evergreen_frac = 0.3
crown_transmittance_frac = 0.15
"""


def read(folder: Path, text: str) -> Stated:
    path = folder / "trip.toml"
    path.write_text(text, encoding="utf-8")
    return read_trip_file(path)


def refusal(folder: Path, text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read(folder, text)
    return [
        line.strip() for line in str(caught.value).replace(str(folder / "trip.toml"), "trip.toml").split("\n")
    ]


def test_a_trip_file_says_all_the_command_line_can(tmp_path: Path) -> None:
    trip = read(tmp_path, WHOLE)
    assert trip.routes == (tmp_path / "coast.gpx", Path("/roads/forest.gpx"))
    assert trip.rig == tmp_path / "van.toml"
    assert trip.canopy == (str(tmp_path / "cover.tif"), "https://example.org/cover.tif")
    assert (trip.depart, trip.sky, trip.air_c, trip.wind_mps) == (
        datetime(2026, 11, 20, 7, 30),
        "broken",
        12.5,
        3.0,
    )
    file = tmp_path / "trip.toml"
    assert trip.stops == (
        Stop(at="42km", at_m=42_000.0, duration_s=2700.0, heading_deg=180.0, said_in=f"{file}, [[stop]] 1"),
        Stop(at="Camp", until="12:30", roofed=True, said_in=f"{file}, [[stop]] 2"),
    )
    assert trip.paces == (Pace(from_m=0.0, to_m=40_000.0, speed_mps=95 / 3.6, road_width_m=16.0),)
    assert trip.stretches == (
        Stretch(
            from_m=40_000.0,
            to_m=70_000.0,
            canopy_cover_frac=0.6,
            road_width_m=10.0,
            road_width_between="trunks",
            lane_offset_m=0.0,
            crown_base_frac=0.1,
            crown_slenderness=3.0,
            height_spread_frac=0.2,
            evergreen_frac=0.3,
            crown_transmittance_frac=0.15,
        ),
    )
    assert trip.crown_transmittance_frac == 0.2
    assert trip.trees == Trees(evergreen_frac=1.0)


def test_the_sky_may_be_one_word_or_spans_of_the_day(tmp_path: Path) -> None:
    text = 'route = "a.gpx"\n[[sky]]\nfrom = "12:00"\nto = "15:30"\nsky = "overcast"\n'
    (span,) = read(tmp_path, text).sky_spans
    assert (span.from_clock_s, span.to_clock_s, span.name) == (43_200.0, 55_800.0, "overcast")


def test_a_departure_may_stand_without_quotes(tmp_path: Path) -> None:
    for written in ("2026-11-20T07:30:00", "2026-11-20 07:30:00", '"2026-11-20 07:30"'):
        trip = read(tmp_path, f'route = "a.gpx"\ndepart = {written}\n')
        assert trip.depart == datetime(2026, 11, 20, 7, 30)


def test_what_a_trip_file_does_not_say_is_left_open(tmp_path: Path) -> None:
    assert read(tmp_path, 'route = "a.gpx"\n') == Stated(routes=(tmp_path / "a.gpx",))


def test_every_mistake_is_told_at_once_where_it_stands(tmp_path: Path) -> None:
    said = refusal(
        tmp_path,
        """
rout = "a.gpx"
canopy_cover_pct = 300
air_c = nan
speed = "80"
capacity = 3
canopy = [1]
step_m = true
[[stop]]
at = "42km"
[[stop]]
at = "Camp"
minutes = -5
[[pace]]
from = "40km"
to = "3km"
speed = "80km/h"
[[surroundings]]
from = "1km"
to = "2km"
cover_pct = 3
[[sky]]
from = "25:00"
to = "12:00"
sky = "rain"
""",
    )
    assert said[0] == "trip.toml: 12 things are wrong"
    assert {line for line in said[1:] if not line.startswith("capacity")} == {
        "rout: unknown key; did you mean route?",
        "canopy_cover_pct is 300: should be less than or equal to 100 (percent)",
        "air_c is nan: should be a finite number (degrees C)",
        'speed: speed is "80" without a unit; write it as 80km/h',
        "canopy 1 is 1: should be text in quotes",
        "step_m is true: should be a number (metres)",
        'stop 1: a stop needs either minutes or until = "12:30"',
        "[[stop]] 2, minutes is -5: should be greater than 0 (minutes)",
        "pace 1: to (3 km) must be beyond from (40 km)",
        "[[surroundings]] 1, cover_pct: unknown key; did you mean canopy_cover_pct?",
        '[[sky]] 1, from: "25:00" is not a clock time; write it as "12:30"',
    }
    # Nothing is like it, so all keys are named.
    (far_off,) = (line for line in said if line.startswith("capacity"))
    assert far_off.startswith("capacity: unknown key; known here: air, air_c, also, at, canopy,")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("route = 3", "route is 3: should be text in quotes or a list"),
        ('route = "a.gpx"\nminutes = 3', "minutes: unknown key; it belongs in [[stop]]"),
        ('route = "a.gpx"\ncrown_slenderness = 3', "crown_slenderness: unknown key; it belongs in [trees]"),
        ('route = "a.gpx"\n[stop]\nat = "1km"', "stop: there may be several; start each with [[stop]]"),
        ('route = "a.gpx"\ntrees = "tall"', 'trees is "tall": should be a table'),
        ('route = "a.gpx"\nstrict = "yes"', 'strict is "yes": should be true or false'),
    ],
)
def test_a_mistake_comes_with_the_way_out(tmp_path: Path, text: str, said: str) -> None:
    assert refusal(tmp_path, text) == ["trip.toml: 1 thing is wrong", said]


# Every option that the command line knows and a trip file may hold, as a text and as a bare number.
OPTIONS = [
    ('panel = "200W"', "rig", Rig(panels=(Panel(rated_w=200.0),))),
    ('speed = "72km/h"', "speed_mps", 20.0),
    ('legs = "50km"', "legs", LegsEvery(distance_m=50_000.0)),
    ('sky = "okta 3"', "sky", "okta 3"),
    ('sky = "typical"', "sky", "typical"),
    ("cloud_okta = 3", "sky", "okta 3"),
    ("cloud_okta = 4.5", "sky", "okta 4.5"),
    ('forecast = "today"', "forecast", "today"),
    ('air = "59F"', "air_c", 15.0),
    ("air_c = -0.00001", "air_c", -0.00001),
    ('wind = "3m/s"', "wind_mps", 3.0),
    ("wind_mps = 0", "wind_mps", 0.0),
    ('canopy_cover = "60%"', "canopy_cover_frac", 0.6),
    ("canopy_cover_pct = 33.333333333333336", "canopy_cover_frac", 33.333333333333336 / 100),
    ('canopy_height = "18m"', "canopy_height", 18.0),
    ("canopy_height_m = 18", "canopy_height", 18.0),
    ('road_width = "12m"', "road_width", 12.0),
    ('road_width = "fit"', "road_width", "fit"),
    ("road_width_m = 0.5", "road_width", 0.5),
    ('drive_side = "left"', "drive_side", "left"),
    ('season = "leaf-off"', "season", "leaf-off"),
    ('step = "50m"', "step_m", 50.0),
    ("step_m = 25.0", "step_m", 25.0),
    ('tz = "Europe/Oslo"', "time_zone", "Europe/Oslo"),
    ('units = "imperial"', "units", "imperial"),
    ('also = "kml,gpx"', "also", ("kml", "gpx")),
    ("strict = true", "strict", True),
]


@pytest.mark.parametrize(("line", "name", "value"), OPTIONS)
def test_every_option_may_stand_as_text_or_number(tmp_path: Path, line: str, name: str, value: object) -> None:
    stated = read(tmp_path, f'route = "a.gpx"\n{line}\n')
    assert stated == replace(Stated(routes=stated.routes), **{name: value})


def test_files_lie_beside_the_trip_file(tmp_path: Path) -> None:
    text = """
route = "a.gpx"
rig = "van.toml"
weather = "friday.csv"
canopy_height = "height.tif"
terrain = "terrain.tif"
surface = ["surface.tif"]
[trees]
leaf_type = "leaves.tif"
"""
    assert read(tmp_path, text) == Stated(
        routes=(tmp_path / "a.gpx",),
        rig=tmp_path / "van.toml",
        weather=tmp_path / "friday.csv",
        canopy_height=str(tmp_path / "height.tif"),
        terrain=(str(tmp_path / "terrain.tif"),),
        surface=(str(tmp_path / "surface.tif"),),
        trees=Trees(),
        leaf_type=(str(tmp_path / "leaves.tif"),),
    )


# What the command line would refuse, the file refuses where it stands.
IMPOSSIBLE = [
    ('panel = "200"', "panel: panel is"),
    ('panel = "900kW"', "panel is"),
    ('speed = "500km/h"', "speed is"),
    ('depart = "soon"', "depart: the departure"),
    ("depart = 2026-06-20", "depart is"),
    ("depart = 07:30:00", "depart is"),
    ('legs = "0km"', "legs: legs is"),
    ('sky = "blue"', "sky: sky is"),
    ("cloud_okta = 9", "cloud_okta is 9"),
    ('forecast = "never"', "forecast: forecast is"),
    ('air = "warm"', "air: air is"),
    ("air_c = 200", "air_c is 200"),
    ("wind_mps = 300", "wind_mps is 300"),
    ('canopy_cover = "101"', "canopy_cover: canopy-cover is"),
    ('canopy_height = "18"', "canopy_height: canopy-height is"),
    ("canopy_height_m = 0", "canopy_height_m is 0"),
    ('road_width = "12"', "road_width: road-width is"),
    ("road_width_m = -1", "road_width_m is -1"),
    ('drive_side = "up"', "drive_side: drive-side is"),
    ('season = "summer"', "season: season is"),
    ("step_m = 0.5", "step_m is 0.5"),
    ('tz = "Nowhere"', "tz: tz is"),
    ('units = "furlongs"', "units: units is"),
    ('also = "pdf"', "also: also is"),
    ("wheels = 4", "wheels: unknown key"),
    ('[[stop]]\nat = "-5km"\nminutes = 3', "[[stop]] 1, at"),
    ('[[stop]]\nat = " "\nminutes = 3', "[[stop]] 1, at"),
    ('[[stop]]\nat = "5km"\nminutes = 1e300', "[[stop]] 1, minutes"),
    ('[[stop]]\nat = "5km"\nminutes = 3\nuntil = "12:30"', "stop 1"),
    ('[[stop]]\nat = "5km"\nminutes = 3\nheading_deg = 361', "[[stop]] 1, heading_deg"),
    ('[[pace]]\nfrom = "0km"\nto = "2km"\nspeed = "400km/h"', "[[pace]] 1, speed"),
    ('[[pace]]\nfrom = "-1km"\nto = "2km"\nspeed = "40km/h"', "[[pace]] 1, from"),
    ('[[surroundings]]\nfrom = "0km"\nto = "2km"', "surroundings 1: sets nothing"),
    ('[[surroundings]]\nfrom = "0km"\nto = "2km"\nevergreen_frac = 2', "[[surroundings]] 1, evergreen_frac"),
    ('[[surroundings]]\nfrom = "0km"\nto = "2km"\nlane_offset_m = -1', "[[surroundings]] 1, lane_offset_m"),
    (
        '[[surroundings]]\nfrom = "0km"\nto = "2km"\ncrown_base_frac = 1',
        "[[surroundings]] 1, crown_base_frac is 1",
    ),
    (
        '[[surroundings]]\nfrom = "0km"\nto = "2km"\ncrown_slenderness = 0',
        "[[surroundings]] 1, crown_slenderness is 0",
    ),
    (
        '[[surroundings]]\nfrom = "0km"\nto = "2km"\nheight_spread_frac = 20',
        "[[surroundings]] 1, height_spread_frac is 20: should be less than or equal to 0.5 (a share",
    ),
    (
        '[[surroundings]]\nfrom = "0km"\nto = "2km"\nroad_width_between = "kerbs"',
        "[[surroundings]] 1, road_width_between is \"kerbs\": should be 'opening', 'trunks' or 'crowns'",
    ),
    ('[[sky]]\nfrom = "12:00"\nto = "12:00"\nsky = "rain"', "sky 1: from and to are the same time"),
    ('[[sky]]\nfrom = "12:00"\nto = "13:00"\nsky = "blue"', "[[sky]] 1, sky"),
    ("[trees]\ncrown_base_frac = 1", "[trees], crown_base_frac is 1"),
    ('[trees]\nroad_width_between = "kerbs"', "[trees], road_width_between is"),
]


def test_the_raster_of_leaf_types_is_refused_by_stretch_and_its_place_is_named(tmp_path: Path) -> None:
    line = '[[surroundings]]\nfrom = "0km"\nto = "2km"\nroofed = true\nleaf_type = "leaf_type.tif"'
    _, told = refusal(tmp_path, f'route = "a.gpx"\n{line}\n')
    assert told == "[[surroundings]] 1, leaf_type: unknown key; it belongs in [trees]"


@pytest.mark.parametrize(("line", "said"), IMPOSSIBLE)
def test_an_impossible_value_is_an_error_of_the_file(tmp_path: Path, line: str, said: str) -> None:
    count, told = refusal(tmp_path, f'route = "a.gpx"\n{line}\n')
    assert count == "trip.toml: 1 thing is wrong"
    assert told.startswith(said)


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ('panel = "200W"\nrig = "van.toml"', "panel and rig"),
        ('sky = "clear"\ncloud_okta = 3', "cloud_okta and sky"),
        ('weather = "a.csv"\ncloud_okta = 3', "cloud_okta and weather"),
        ('canopy = "a.tif"\ncanopy_cover_pct = 60', "canopy and canopy_cover_pct"),
        ("canopy_cover_frac = 0.6\ncanopy_cover_pct = 60", "canopy_cover_frac and canopy_cover_pct"),
        ('canopy_height = "18m"\ncanopy_height_m = 18', "canopy_height and canopy_height_m"),
        ('air = "15C"\nair_c = 15', "air and air_c"),
    ],
)
def test_what_contradicts_itself_is_refused(tmp_path: Path, lines: str, said: str) -> None:
    assert refusal(tmp_path, f'route = "a.gpx"\n{lines}\n')[1:] == [
        f"the file: {said} contradict each other; keep one of them"
    ]


def test_a_sky_for_some_hours_goes_with_another_for_the_rest(tmp_path: Path) -> None:
    hours = '[[sky]]\nfrom = "12:00"\nto = "15:00"\nsky = "rain"\n'
    trip = read(tmp_path, f'route = "a.gpx"\ncloud_okta = 3\n{hours}')
    assert trip.sky == "okta 3"
    assert len(trip.sky_spans) == 1


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the file is empty"),
        (b"route = [", "not valid TOML"),
        (b"route = coast.gpx", "not valid TOML"),
        (b'route = "a"\nroute = "b"', "not valid TOML"),
        ('route = "k\xfcste.gpx"'.encode("latin-1"), "line 1: not UTF-8"),
        (b"a = " + b"[" * 50_000, "nested too deeply"),
        (b"a = " + b"9" * 10_000, "not valid TOML"),
        (b"route = []", "route names no file"),
        (b"#" * 1_000_001, "larger than 0.5 MB"),
    ],
)
def test_a_file_that_is_no_toml_is_refused(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "trip.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_trip_file(path)
    assert said in str(caught.value)


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "trip.toml"
    path.write_bytes(b'\xef\xbb\xbfroute = "a.gpx"\r\n')
    assert read_trip_file(path).routes == (tmp_path / "a.gpx",)


def test_hostile_keys_are_shown_on_one_line(tmp_path: Path) -> None:
    said = refusal(tmp_path, 'route = "a.gpx"\n"\\u001b[2J\\nx" = 1\n')
    assert len(said) == 2
    assert "\x1b" not in said[1]


@given(st.text(max_size=60))
def test_no_text_gives_a_traceback(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.mktemp("trip") / "trip.toml"
    path.write_text('route = "a.gpx"\n' + text, encoding="utf-8", errors="replace")
    try:
        assert read_trip_file(path).routes == (path.parent / "a.gpx",)
    except InputError as error:
        assert "trip.toml" in str(error)
