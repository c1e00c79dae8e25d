"""A short run of the fuzzer; the long one is a command in DEVELOPERS.md, and what it found stays here."""

import json
from pathlib import Path
from typing import Any

import pytest
from fuzz import kills
from fuzz.campaign import complaints, prepared, tried
from fuzz.cases import KINDS, ROAD, case
from fuzz.page_cases import wrong_answer
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from terminal import run

COUNTS = {
    "gpx": 120, "trip": 60, "rig": 40, "study": 60, "table": 30, "epw": 5, "tmy3": 5, "tiff": 15, "grid": 15,
    "pbf": 12, "osm": 8, "geojson": 8, "gpkg": 12, "page": 60,
}  # fmt: skip
FOUND: list[tuple[str, int]] = []  # kind and number, of seed 1


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return prepared(tmp_path_factory.mktemp("fuzz"))


@pytest.mark.filterwarnings("ignore")  # a wrong raster or table may be warned of; nobody is to see it
@pytest.mark.parametrize(
    "kind", [pytest.param(kind, marks=[pytest.mark.download] * (kind == "epw")) for kind in KINDS]
)
def test_wrong_files_are_refused_or_right(folder: Path, kind: str) -> None:
    numbers = [*(number for of, number in FOUND if of == kind), *range(1_000_000, 1_000_000 + COUNTS[kind])]
    wrong = {number: found for number in numbers if (found := tried(case(kind, 1, number), folder))}
    assert not wrong


EDGES = st.sampled_from(
    [
        0,
        -0.0,
        1,
        -1,
        0.5,
        1e-320,
        1e-9,
        5e-324,
        100,
        1e9,
        1e308,
        -1e308,
        True,
        "",
        "0",
        "nan",
        "45min",
        [],
        [1, 2],
        {},
    ]
)
NUMBERS = st.one_of(EDGES, st.floats(0, 100), st.integers(0, 400))
PANEL = {
    "rated_w": st.one_of(st.floats(1, 500), EDGES),
    "length_m": NUMBERS,
    "width_m": NUMBERS,
    "tilt_deg": NUMBERS,
    "facing_deg": NUMBERS,
    "curvature_deg": NUMBERS,
    "temperature_coefficient_pct_per_c": st.one_of(EDGES, st.floats(-1, 0)),
    "bypass_blocks": NUMBERS,
    "use": st.sampled_from(["always", "stopped", "never"]),
    "aim": st.sampled_from(["fixed", "sun"]),
    "mounting": st.sampled_from(["air-gap", "flush"]),
}
SHARE = st.one_of(EDGES, st.floats(0, 1))
BATTERY = {
    "capacity_wh": NUMBERS,
    "start_soc_frac": SHARE,
    "reserve_soc_frac": SHARE,
    "max_charge_w": NUMBERS,
    "round_trip_frac": SHARE,
    "kind": st.sampled_from(["lithium", "lead"]),
    "taper_from_soc_frac": SHARE,
    "parasitic_w": NUMBERS,
}
CONTROLLER = {"efficiency_frac": SHARE, "max_input_w": NUMBERS, "max_input_a": NUMBERS, "start_up_w": NUMBERS}
LOAD = {
    "power_w": NUMBERS,
    "when": st.sampled_from(["always", "driving", "stopped", "18:00-18:40", "23:00-01:00"]),
}


def toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {toml(each)}" for key, each in value.items()) + "}"
    return repr(value) if isinstance(value, float) else json.dumps(value)


def some(keys: dict[str, Any], *required: str) -> Any:
    return st.fixed_dictionaries(
        {key: keys[key] for key in required}, optional={key: keys[key] for key in keys if key not in required}
    )


RIGS = st.fixed_dictionaries(
    {"panel": st.lists(some(PANEL, "rated_w"), min_size=1, max_size=3)},
    optional={
        "battery": some(BATTERY, "capacity_wh"),
        "controller": some(CONTROLLER),
        "load": st.lists(some(LOAD, "power_w"), max_size=3),
        "losses": st.fixed_dictionaries({}, optional={"soiling_frac": SHARE, "wiring_frac": SHARE}),
        "alternator": st.fixed_dictionaries({"charge_w": NUMBERS}),
    },
)


@settings(max_examples=60, suppress_health_check=list(HealthCheck))
@given(rig=RIGS)
def test_any_rig_is_refused_or_gives_numbers_that_can_be(folder: Path, rig: dict[str, Any]) -> None:
    (folder / "any.toml").write_text(
        "".join(f"{key} = {toml_list(value)}\n" for key, value in rig.items()), encoding="utf-8"
    )
    words = [
        "--rig",
        folder / "any.toml",
        "--depart",
        "2026-11-20 12:00",
        "--speed",
        "60km/h",
        "--sky",
        "broken",
    ]
    assert not complaints(run("harvest", folder / ROAD, *words, "--json"))


def toml_list(value: Any) -> str:
    return "[" + ", ".join(map(toml, value)) + "]" if isinstance(value, list) else toml(value)


CELL = st.sampled_from(
    ["", "0", "0.4", "1", "-1", "nan", "1e400", "300", "1367", "9999", "-5", "14.5", "x", " 3 "]
)
WHEN = st.sampled_from(
    [f"2026-11-20T{hour:02d}:{minute}+11:00" for hour in (6, 11, 12, 13, 18) for minute in ("00", "30")]
)
PLACES = st.sampled_from(
    ["-42,147", "-42.1,147", "-42.2,147.1", "-90,0", "90,180", "0,-180", "-42,360", "42,-33"]
)


@settings(max_examples=60, suppress_health_check=list(HealthCheck))
@given(rows=st.lists(st.tuples(WHEN, PLACES, CELL, CELL, CELL), min_size=2, max_size=12))
def test_any_table_of_weather_is_refused_or_gives_numbers_that_can_be(folder: Path, rows: list[Any]) -> None:
    lines = ["time,latitude_deg,longitude_deg,cloud_frac,ghi_wm2,air_c", *map(",".join, rows)]
    (folder / "any.csv").write_text("\n".join(lines), encoding="utf-8")
    words = [
        "--panel",
        "200W",
        "--depart",
        "2026-11-20 12:00",
        "--speed",
        "60km/h",
        "--weather",
        folder / "any.csv",
    ]
    assert not complaints(run("harvest", folder / ROAD, *words, "--json"))


@pytest.mark.parametrize("stated", ["x", "https://else.example", "-1", "9" * 5000])
def test_an_upload_that_lies_about_its_length_is_counted_as_it_comes(stated: str, tmp_path: Path) -> None:
    body = "[[panel]]\nrated_w = 200\n"
    asked = {"method": "PUT", "path": "/files/rig.toml", "headers": {"content-length": stated}, "body": body}
    (tmp_path / "page").mkdir()
    assert not wrong_answer(json.dumps(asked).encode(), tmp_path / "page")
    assert (tmp_path / "page" / "rig.toml").read_text(encoding="utf-8") == body


def test_a_folder_is_old_or_new_after_ten_kills(tmp_path: Path) -> None:
    assert not kills.campaign(10, tmp_path / "there" / "out", seed=2)
