"""One trip, typed and whole: read, said otherwise, written and read back; doors that take what people have."""

import math
import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from terminal import ROOT, road

import routesolar as rs

DEMO = ROOT / "demo_routes"
KNOWN = {"panel": "200W", "depart": "2026-11-20 12:00", "speed": "60km/h"}


@pytest.fixture(scope="module")
def gpx(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return road(tmp_path_factory.mktemp("road"))


# --- the same words in Python as in a trip file -------------------------------------------------------------


def test_words_in_python_make_the_trip_of_the_same_trip_file(gpx: Path) -> None:
    file = gpx.parent / "trip.toml"
    file.write_text(
        'route = "road.gpx"\npanel = "200W"\ndepart = "2026-11-20 12:00"\nspeed = "60km/h"\nsky = "thin"\n'
        'forecast = "week"\nair_c = 12.5\ncanopy_cover_pct = 60\nroad_width_m = 9\n'
        '[[stop]]\nat = "Camp"\nminutes = 45\n',
        encoding="utf-8",
    )
    said = {**KNOWN, "sky": "thin", "forecast": "week", "air": "12.5C", "canopy_cover": "60", "road_width_m": 9}
    assert rs.Trip.from_gpx(gpx, stop="Camp:45min", **said) == rs.read_trip(file)
    assert rs.read_trip(str(file)) == rs.read_trip(file)


def test_a_departure_is_a_text_a_datetime_or_a_timestamp(gpx: Path) -> None:
    hobart = ZoneInfo("Australia/Hobart")
    departures = [
        "2026-11-20 12:00",
        datetime(2026, 11, 20, 12),
        datetime(2026, 11, 20, 12, tzinfo=hobart),
        datetime(2026, 11, 20, 1, tzinfo=UTC),
        pd.Timestamp("2026-11-20 12:00"),
        pd.Timestamp("2026-11-20 12:00", tz="Australia/Hobart"),
    ]
    trips = [rs.Trip.from_gpx(gpx, **{**KNOWN, "depart": depart}) for depart in departures]
    assert all(trip == trips[0] for trip in trips)


def test_with_says_one_thing_otherwise(gpx: Path) -> None:
    trip = rs.Trip.from_gpx([str(gpx)], air="3C", sky="thin", canopy_cover="60", **KNOWN)
    assert trip.with_() == trip
    clear = trip.with_(sky="clear")
    assert (clear.skies[0].name, clear.skies[0].air_c) == ("clear", 3.0)
    assert replace(clear, skies=trip.skies) == trip
    assert trip.with_(canopy="cover.tif").sources.canopy_cover_frac is None
    assert trip.with_(stop=rs.Stop(at="2km", at_m=2000.0, duration_s=60.0)).plan.stops[0].at == "2km"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"speed": 75}, "speed is 75 (int); give a text, a quantity with its unit"),
        ({"speed": "75"}, "without a unit"),
        ({"depart": 20261120}, "depart is 20261120 (int)"),
        ({"air_c": "warm"}, "air_c is 'warm' (str); give a number"),
        ({"canopy_cover_pct": 300}, "canopy_cover_pct is 300; give from 0 to 100"),
        ({"wheels": 4}, "wheels is not a key of a trip"),
        ({"rig": 200}, "rig is 200 (int); give a path"),
        ({"panel": 200}, "panel is 200 (int)"),
        ({"weather": 3}, "weather is 3 (int)"),
        ({"stop": 3}, "stop is 3 (int)"),
        ({"strict": "yes"}, "strict is 'yes' (str)"),
        ({"sky": "clear", "cloud_okta": 3}, "sky and cloud_okta contradict each other"),
        ({"air": "3C", "air_c": 3}, "air and air_c contradict each other"),
    ],
)
def test_a_word_that_cannot_be_meant_is_refused_with_what_was_expected(
    gpx: Path, words: dict[str, object], said: str
) -> None:
    with pytest.raises(rs.UsageError) as caught:
        rs.Trip.from_gpx(gpx, **{"speed": "60km/h", **words})
    assert said in str(caught.value)


def test_paths_of_the_wrong_kind_are_refused() -> None:
    with pytest.raises(rs.UsageError, match="give a path"):
        rs.Trip.from_gpx(3)
    with pytest.raises(rs.UsageError, match="give a path"):
        rs.read_trip(None)


# --- written and read back ----------------------------------------------------------------------------------

shares = st.floats(0, 1)
spans = st.builds(
    lambda first, length, name: rs.SkySpan(
        from_clock_s=first * 60.0, to_clock_s=(first + length) % 1440 * 60.0, name=name
    ),
    st.integers(0, 1439),
    st.integers(1, 1439),
    st.sampled_from(["rain", "clear", "okta 3"]),
)
stops = st.one_of(
    st.builds(
        rs.Stop,
        at=st.just("Camp"),
        duration_s=st.floats(1, 80_000),
        heading_deg=st.none() | st.floats(0, 360),
        roofed=st.booleans(),
        canopy_cover_frac=st.none() | shares,
        canopy_height_m=st.none() | st.floats(1, 60),
        road_width_m=st.none() | st.floats(0, 400),
    ),
    st.builds(rs.Stop, at=st.just("Camp"), until=st.sampled_from(["12:30", "23:59"])),
)
paces = st.builds(
    lambda first, long, speed, width: rs.Pace(
        from_m=first, to_m=first + long, speed_mps=speed, road_width_m=width
    ),
    st.floats(0, 5000),
    st.floats(1, 9000),
    st.floats(1, 40),
    st.none() | st.floats(1, 40),
)
stretches = st.builds(
    lambda first, long, cover, height, between, evergreen: rs.Stretch(
        from_m=first,
        to_m=first + long,
        canopy_cover_frac=cover,
        canopy_height_m=height,
        road_width_between=between,
        evergreen_frac=evergreen,
    ),
    st.floats(0, 5000),
    st.floats(1, 9000),
    shares,
    st.none() | st.floats(1, 60),
    st.none() | st.sampled_from(["trunks", "crowns"]),
    st.none() | shares,
)
rigs = st.builds(
    lambda watts, tilt, capacity, kind, load_w, curve, soiling: rs.Rig(
        name="van",
        panels=(
            rs.Panel(rated_w=watts, tilt_deg=tilt),
            rs.Panel(name="loose", rated_w=50.0, use="stopped", aim="sun", aim_every_s=1234.5),
        ),
        controller=rs.Controller(efficiency_curve=curve, max_input_a=25.0),
        soiling_frac=soiling,
        battery=rs.Battery(capacity_wh=capacity, kind=kind),
        alternator=rs.Alternator(charge_w=120.0),
        loads=(rs.Load(name="freezer", power_w=load_w, when="18:00-18:40"),),
    ),
    st.floats(20, 2000),
    st.floats(0, 90),
    st.floats(200, 9000),
    st.sampled_from(["lithium", "lead"]),
    st.floats(0, 300),
    st.sampled_from([(), ((0.1, 0.8), (1.0, 0.97))]),
    st.floats(0, 0.5),
)


def weather_rows(
    steps: int, places: list[tuple[float, float]], cloud_frac: float, air_c: float
) -> pd.DataFrame:
    """Return a table of weather, its last row without a word about clouds."""
    times = pd.date_range("2026-11-20 00:30", periods=steps, freq="90min", tz="Australia/Hobart")
    rows = {"latitude_deg": [], "longitude_deg": [], "cloud_frac": [], "air_c": []}
    for latitude, longitude in places:
        rows["latitude_deg"] += [latitude] * steps
        rows["longitude_deg"] += [longitude] * steps
        rows["cloud_frac"] += [cloud_frac] * (steps - 1) + [math.nan]
        rows["air_c"] += list(air_c + 0.1 * np.arange(steps))
    return pd.DataFrame(rows, times.append([times] * (len(places) - 1)))


words = st.fixed_dictionaries(
    {},
    optional={
        "depart": st.datetimes(datetime(1990, 1, 1), datetime(2080, 1, 1)).filter(
            lambda moment: moment.hour > 4
        ),
        "rig": rigs,
        "speed": st.floats(2, 60).map(lambda speed: f"{speed:.12f}m/s"),
        "stop": stops,
        "pace": st.lists(paces, min_size=1, max_size=3),
        "surroundings": st.lists(stretches, min_size=1, max_size=3),
        "legs": st.sampled_from(["track", "waypoint", "2.3km", "61.7min"]),
        "step_m": st.floats(1, 1000),
        "tz": st.sampled_from(["UTC", "Europe/Oslo"]),
        "sky": st.sampled_from(["clear", "rain", "okta 4.5"]),
        "forecast": st.sampled_from(["known", "today", "tomorrow", "week"]),
        "air_c": st.floats(-40, 50),
        "wind_mps": st.floats(0, 30),
        "canopy_cover_pct": st.floats(0, 100),
        "weather": st.builds(
            weather_rows,
            st.integers(2, 5),
            st.sampled_from([[(-42.0, 147.0)], [(-42.1, 147.2), (-42.0, 147.0)]]),
            st.floats(0, 1) | st.just(math.nan),
            st.floats(-40, 50),
        ),
        "canopy_height": st.sampled_from(["18.25m", "heights.tif", "/maps/heights.tif"]),
        "road_width": st.sampled_from(["fit", "9.3m"]),
        "drive_side": st.sampled_from(["left", "right"]),
        "season": st.sampled_from(["auto", "leaf-on", "leaf-off"]),
        "trees": st.builds(rs.Trees, crown_base_frac=st.floats(0, 0.9), evergreen_frac=shares),
        "crown_transmittance_frac": shares,
        "leaf_type": st.just(["leaves.tif", "https://example.org/leaves.tif"]),
        "strict": st.booleans(),
        "units": st.sampled_from(["metric", "imperial"]),
        "also": st.sampled_from(["kml", "kml,gpx"]),
    },
)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(said=words, span=st.lists(spans, max_size=2), cover=st.none() | shares)
def test_a_written_trip_reads_back_to_an_equal_trip(
    gpx: Path, said: dict[str, object], span: list[object], cover: float | None
) -> None:
    if "weather" in said:
        # The air said beside a table overrides its own, and a table of nothing cannot be written.
        said = {name: value for name, value in said.items() if name not in ("sky", "air_c")}
    trip = rs.Trip.from_gpx(gpx, **said)
    trip = replace(trip, sources=replace(trip.sources, canopy_cover_frac=cover))
    trip = replace(trip, skies=tuple(replace(sky, spans=tuple(span)) for sky in trip.skies))
    file = gpx.parent / "again.toml"
    rs.write_trip(trip, file, force=True)
    assert rs.read_trip(file) == trip
    assert trip.with_() == trip
    assert pickle.loads(pickle.dumps(trip)) == trip


def test_the_demo_reads_back_from_another_folder(tmp_path: Path) -> None:
    for name in ("coast", "forest", "transit_day"):
        trip = rs.read_trip(DEMO / f"{name}.toml")
        rs.write_trip(trip, tmp_path / f"{name}.toml")
        assert rs.read_trip(tmp_path / f"{name}.toml") == trip


def test_a_route_of_arrays_is_written_beside_its_trip(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    latitude, longitude = -42 + 0.01 * np.arange(9) + 1e-4 * rng.random(9), 147 + 1e-3 * rng.random(9)
    time = 1.79e9 + np.cumsum(rng.random(9) * 300)
    route = rs.route_from_arrays(
        latitude, longitude, elevation_m=rng.random(9) * 100, time=time, name="own <&> way"
    )
    trip = rs.Trip.along(route, panel="100W")
    rs.write_trip(trip, tmp_path / "own.toml")
    assert rs.read_trip(tmp_path / "own.toml") == trip


def test_what_a_trip_file_cannot_say_is_refused_and_nothing_is_left(gpx: Path, tmp_path: Path) -> None:
    trip = rs.Trip.from_gpx(gpx, **KNOWN)
    albedo = replace(trip, rig=rs.Rig(panels=(rs.Panel(rated_w=100.0),), albedo_frac=0.5))
    skies = replace(trip, skies=(rs.Sky(name="rain"), rs.Sky(name="clear")))
    index = replace(trip, skies=(rs.Sky.of_index(np.ones(3)),))
    for odd, said in ((albedo, "albedo_frac of 0.5"), (skies, "skies"), (index, "clear-sky index")):
        with pytest.raises(rs.UsageError, match=said):
            rs.write_trip(odd, tmp_path / "odd.toml")
        assert not list(tmp_path.iterdir())
    (tmp_path / "there.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(rs.OutputError, match="there already"):
        rs.write_trip(trip, tmp_path / "there.toml")
    assert (tmp_path / "there.toml").read_text(encoding="utf-8") == "mine"


# --- doors ---------------------------------------------------------------------------------------------------


def test_a_route_comes_from_a_table_as_from_its_arrays() -> None:
    times = pd.date_range("2026-11-20 08:00", periods=4, freq="10min", tz="Australia/Hobart")
    table = pd.DataFrame(
        {"lat": [-42.0, -42.05, -42.1, -42.15], "lon": 147.0, "ele": [1.0, 2, np.nan, 4]}, times
    )
    plain = rs.route_from_arrays(
        table["lat"], table["lon"], elevation_m=table["ele"], time=[stamp.timestamp() for stamp in times]
    )
    assert rs.route_from_frame(table) == plain
    assert rs.route_from_frame(table.reset_index(names="time")) == plain
    utc = times.tz_convert("UTC").tz_localize(None).to_numpy()
    assert rs.route_from_arrays(table["lat"], table["lon"], elevation_m=table["ele"], time=utc) == plain
    with pytest.raises(rs.UsageError, match="time zone"):
        rs.route_from_frame(table.tz_localize(None).reset_index(names="time"))
    with pytest.raises(rs.UsageError, match="no latitude_deg"):
        rs.route_from_frame(table.drop(columns="lat"))


def test_weather_comes_from_a_table_as_from_the_file_of_the_same_rows(gpx: Path, tmp_path: Path) -> None:
    times = pd.date_range("2026-11-20 00:00", periods=30, freq="1h", tz="UTC")
    table = pd.DataFrame({"cloud_frac": np.linspace(0, 1, 30), "air_c": 17.123456789012345}, times)
    frame = table.assign(latitude_deg=-42.0, longitude_deg=147.0)
    path = tmp_path / "weather table.csv"
    written = frame.rename_axis("time").reset_index()
    written["time"] = [stamp.isoformat() for stamp in times]
    written.to_csv(path, index=False)
    weather = rs.weather_from_frame(table, latitude_deg=-42.0, longitude_deg=147.0)
    assert weather == rs.read_weather(path)
    assert rs.Trip.from_gpx(gpx, weather=frame, **KNOWN).skies[0].weather == weather
    with pytest.raises(rs.UsageError, match="time zone"):
        rs.weather_from_frame(frame.tz_localize(None))
    with pytest.raises(rs.UsageError, match="latitude_deg"):
        rs.weather_from_frame(table)
    with pytest.raises(rs.InputError, match="cloud_frac"):
        rs.weather_from_frame(frame.assign(cloud_frac=40.0))


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: rs.Sky(name="brokn"), "brokn"),
        (lambda: rs.Sky(name="okta 9"), "okta 0 to 8"),
        (lambda: rs.Sky(name="clear", forecast="yesterday"), "forecast is 'yesterday'"),
        (lambda: rs.SkySpan(from_clock_s=0.0, to_clock_s=60.0, name="blue"), "blue"),
        (lambda: rs.Sources(season="summer"), "season is 'summer'"),
        (lambda: rs.Sources(drive_side="up"), "drive_side is 'up'"),
    ],
)
def test_a_noun_that_means_nothing_is_refused_at_once(wrong: Callable[[], object], said: str) -> None:
    with pytest.raises(rs.UsageError) as caught:
        wrong()
    assert said in str(caught.value)


def test_a_repr_is_short() -> None:
    trip = rs.read_trip(DEMO / "coast.toml")
    drive = trip.drive()
    around = rs.surroundings(trip, drive)
    assert pickle.loads(pickle.dumps(around)) == around
    for noun in (trip, trip.route, drive, around, around.canopy, around.terrain):
        assert len(repr(noun)) <= 310
        assert type(noun).__name__ in repr(noun)


def test_what_is_drawn_from_one_trip_in_several_threads_is_the_same() -> None:
    trip = rs.read_trip(DEMO / "coast.toml")
    with ThreadPoolExecutor(4) as pool:
        drives = list(pool.map(lambda _: trip.drive(), range(4)))
    assert all(drive == drives[0] for drive in drives)
    assert pickle.loads(pickle.dumps(drives[0])) == drives[0]
    assert not pickle.loads(pickle.dumps(drives[0])).latitude_deg.flags.writeable


def test_using_the_package_changes_nothing_in_the_process() -> None:
    code = (
        "import os; before = dict(os.environ); import routesolar as rs\n"
        "trip = rs.read_trip('demo_routes/coast.toml'); rs.surroundings(trip, trip.drive())\n"
        "assert dict(os.environ) == before, set(os.environ.items()) ^ set(before.items())\n"
    )
    foreign = {**os.environ, "PROJ_LIB": "/nowhere", "PROJ_DATA": "/nowhere", "PROJ_NETWORK": "ON"}
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, env=foreign, check=True, timeout=300)
