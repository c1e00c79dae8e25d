"""`routesolar harvest`: what it answers, what it writes, and that a refusal leaves nothing behind."""

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from hostile_names import HOSTILE
from routes import gpx, point, saved, straight, track
from terminal import asked, refused, road, run

FILES = {
    "page.html",
    "map.png",
    "csv-metadata.json",
    "legs.csv",
    "days.csv",
    "segments.csv",
    "route.geojson",
    "result.json",
}


def cover_raster(path: Path, percent: int, *, columns: int = 100) -> Path:
    """Write a raster of one cover around the sample road, 0.002 degrees a cell; fewer columns end it early."""
    transform = rasterio.Affine(0.002, 0.0, 146.95, 0.0, -0.002, -41.95)
    profile = {"driver": "GTiff", "count": 1, "dtype": "uint8", "crs": "EPSG:4326", "transform": transform}
    with rasterio.open(path, "w", height=50, width=columns, **profile) as raster:
        raster.write(np.full((1, 50, columns), percent, dtype="uint8"))
    return path


def written(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


# --- the answer ----------------------------------------------------------------------------------


def test_the_answer_is_on_stdout_and_warnings_are_on_stderr(tmp_path: Path) -> None:
    ran = run("harvest", *asked(road(tmp_path)))
    assert ran.code == 0
    assert ran.out.startswith("On an open road, a 200 W panel should deliver ")
    assert ran.out.endswith("2 warnings were given beside this report.\n")
    told = ran.err.replace("\n  ", " ").splitlines()
    assert told == [
        f"Warning: {text}" for text in run("harvest", *asked(road(tmp_path)), "--json").json["warnings"]
    ]
    assert len(told) == 2
    assert written(tmp_path) == {"road.gpx"}


def test_distance_and_clock_are_those_of_the_road(tmp_path: Path) -> None:
    # 10 km of one geodesic at 60 km/h with 45 minutes at Camp: arithmetic.
    result = run("harvest", *asked(road(tmp_path)), "--stop", "Camp:45min", "--json").json
    assert result["schema"] == "routesolar.harvest/2"
    assert result["route"]["distance_km"] == pytest.approx(10.0, abs=1e-6)
    assert (result["departure"], result["time_zone"]) == ("2026-11-20T12:00:00+11:00", "Australia/Hobart")
    assert result["arrival"] == "2026-11-20T12:55:00+11:00"
    assert [(leg["kind"], leg["start"][11:16]) for leg in result["legs"]] == [
        ("drive", "12:00"),
        ("stop", "12:04"),
        ("drive", "12:49"),
    ]


def test_legs_add_up_and_percentiles_stand_in_order(tmp_path: Path) -> None:
    result = run("harvest", *asked(road(tmp_path)), "--stop", "Camp:45min", "--json").json
    totals = result["totals"]
    assert totals["energy_wh"] == pytest.approx(sum(leg["energy_wh"] for leg in result["legs"]), rel=1e-9)
    assert totals["driving_wh"] + totals["stopped_wh"] == pytest.approx(totals["energy_wh"], rel=1e-9)
    assert 0 < totals["energy_low_wh"] < totals["energy_mid_wh"] < totals["energy_high_wh"]
    assert totals["energy_high_wh"] < 200 * 55 / 60  # no more than the rating, all the time


def test_without_a_sky_five_are_computed_and_a_named_one_stands_alone(tmp_path: Path) -> None:
    result = run("harvest", *asked(road(tmp_path)), "--json").json
    by_name = {sky["sky"]: sky["energy_wh"] for sky in result["skies"]}
    assert set(by_name) == {"broken", "clear", "thin", "overcast", "rain"}
    assert result["sky"] == "broken"
    assert by_name["clear"] > by_name["thin"] > by_name["broken"] > by_name["overcast"] > by_name["rain"] > 0
    alone = run("harvest", *asked(road(tmp_path)), "--sky", "thin", "--json").json
    assert [sky["sky"] for sky in alone["skies"]] == ["thin"]
    assert alone["totals"]["energy_wh"] == pytest.approx(by_name["thin"], rel=1e-12)


def test_at_night_there_is_exactly_nothing_and_that_is_no_error(tmp_path: Path) -> None:
    ran = run("harvest", *asked(road(tmp_path)), "--depart", "2026-11-20 00:30", "--json")
    assert ran.code == 0
    assert ran.json["totals"]["energy_wh"] == 0
    assert ran.json["totals"]["shade_loss_frac"] is None
    assert "The sun is down" in run("harvest", *asked(road(tmp_path)), "--depart", "2026-11-20 00:30").out


def test_units_change_the_words_and_no_result(tmp_path: Path) -> None:
    drive = ["harvest", *asked(road(tmp_path))]
    assert "10 km" in run(*drive).out
    assert "6.2 mi" in run(*drive, "--units", "imperial").out
    assert run(*drive, "--json").out == run(*drive, "--json", "--units", "imperial").out


def test_several_files_are_one_trip_in_the_order_given(tmp_path: Path) -> None:
    first = road(tmp_path, "out.gpx")
    back = [point(*place) for place in zip(*straight([10_000.0, 4000.0, 0.0]), strict=True)]
    second = saved(tmp_path, gpx(track(*back)), "on.gpx")
    result = run("harvest", first, *asked(second), "--json").json
    assert result["route"]["distance_km"] == pytest.approx(20.0, abs=1e-6)
    assert [file["name"] for file in result["route"]["files"]] == ["out.gpx", "on.gpx"]


# No XML file can hold control characters or half a surrogate pair.
IN_XML = [name for name, text in HOSTILE.items() if not re.search("[\x00-\x08\x0b-\x1f\ud800-\udfff]", text)]


@pytest.mark.parametrize("name", IN_XML)
def test_a_hostile_waypoint_name_cannot_steer_the_terminal(tmp_path: Path, name: str) -> None:
    text = HOSTILE[name].replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    path = road(tmp_path)
    path.write_text(path.read_text(encoding="utf-8").replace("Camp", text), encoding="utf-8")
    ran = run("harvest", *asked(path))
    assert ran.code == 0
    assert all(letter.isprintable() or letter == "\n" for letter in ran.out)


# --- files ---------------------------------------------------------------------------------------


def test_o_writes_every_file_and_json_equals_result_json(tmp_path: Path) -> None:
    out = tmp_path / "deep" / "friday"
    ran = run("harvest", *asked(road(tmp_path)), "-o", out, "--json")
    assert ran.code == 0
    assert written(out) == FILES
    assert ran.out == (out / "result.json").read_text(encoding="utf-8")
    assert ran.err.startswith(f"written: {out}\nWarning: ")
    assert written(out.parent) == {"friday"}


def test_also_adds_formats(tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert run("harvest", *asked(road(tmp_path)), "-o", out, "--also", "kml,gpx").code == 0
    assert written(out) == FILES | {"route.kml", "route.gpx"}


def test_an_earlier_result_is_replaced_only_with_force(tmp_path: Path) -> None:
    drive, out = asked(road(tmp_path)), tmp_path / "out"
    run("harvest", *drive, "-o", out, "--sky", "clear")
    before = (out / "result.json").read_bytes()
    assert "--force" in refused(3, "harvest", *drive, "-o", out, "--sky", "rain")
    assert (out / "result.json").read_bytes() == before
    assert run("harvest", *drive, "-o", out, "--sky", "rain", "--force").code == 0
    assert json.loads((out / "result.json").read_text())["sky"] == "rain"


def test_a_folder_with_anything_else_in_it_is_never_replaced(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "letter.txt").write_text("dear all")
    assert "letter.txt" in refused(3, "harvest", *asked(road(tmp_path)), "-o", out, "--force")
    assert written(out) == {"letter.txt"}


# --- refusals: usage, exit 2 ---------------------------------------------------------------------

USAGE = [
    (["--panel", "200"], "without a unit"),
    (["--panel", "0W"], "above zero"),
    (["--panel", "900kW"], "--panel 200W"),
    (["--speed", "60"], "80km/h"),
    (["--speed", "400km/h"], "road vehicle"),
    (["--depart", "noonish"], "2026-11-20 07:30"),
    (["--depart", "2026-11-20"], "no time of day"),
    (["--depart", "1850-01-01 12:00"], "1901"),
    (["--tz", "Atlantis/Port"], "not a time zone"),
    (["--sky", "blue"], "clear, thin"),
    (["--cloud-okta", "9"], "okta 0 to 8"),
    (["--cloud-okta", "nan"], "okta 0 to 8"),
    (["--forecast", "never"], "known, today, tomorrow, week"),
    (["--canopy-cover", "130"], "between 0 and 100"),
    (["--canopy-height", "18"], "18m"),
    (["--road-width", "12"], "12m"),
    (["--drive-side", "middle"], "left, right"),
    (["--season", "summer"], "leaf-on, leaf-off"),
    (["--air", "15"], "15C"),
    (["--wind", "3"], "3m/s"),
    (["--step", "0m"], "between 1m and 1000m"),
    (["--legs", "0km"], "too short"),
    (["--legs", "500m"], "metres or minutes"),
    (["--stop", "4km"], "42km:45min"),
    (["--stop", "40km:45min"], "10 km long"),
    (["--stop", "Kamp:45min"], "Camp"),
    (["--stop", "Camp:1000000h"], "--step"),
    (["--units", "furlongs"], "metric, imperial"),
    (["--also", "kml"], "add -o"),
    (["--also", "pdf", "-o", "{out}"], "kml, gpx"),
    (["--sky", "clear", "--cloud-okta", "2"], "--sky and --cloud-okta contradict"),
    (["--sky", "clear", "--weather", "a.csv"], "--sky and --weather contradict"),
    (["--speed", "0.5km/h"], "give 1 to 359 km/h"),
    (["--road-width", "5km"], "give up to 1000m"),
    (["--canopy", "a.tif", "--canopy-cover", "50"], "--canopy and --canopy-cover contradict"),
    (["--rig", "van.toml"], "--panel and --rig contradict"),
]


@pytest.mark.parametrize(("options", "advice"), USAGE)
def test_a_request_that_makes_no_sense_is_refused_with_the_way_out(
    tmp_path: Path, options: list[str], advice: str
) -> None:
    out = tmp_path / "out"
    words = [str(out) if word == "{out}" else word for word in options]
    message = refused(2, "harvest", *asked(road(tmp_path)), *words)
    assert advice in message
    assert "\n" not in message
    assert not out.exists()


@pytest.mark.parametrize("missing", ["--panel", "--depart", "--speed"])
def test_what_has_to_be_said_is_asked_for_with_an_example(tmp_path: Path, missing: str) -> None:
    words = asked(road(tmp_path))
    at = words.index(missing)
    example = {"--panel": "--panel 200W", "--depart": "2026-11-20 07:30", "--speed": "--speed 80km/h"}
    assert example[missing] in refused(2, "harvest", *words[:at], *words[at + 2 :])


def test_the_parser_refuses_with_exit_2(tmp_path: Path) -> None:
    ran = run("harvest", "--bogus", road(tmp_path))
    assert (ran.code, ran.out) == (2, "")
    assert "Usage:" in ran.err


def test_neither_route_nor_place_is_asked_for_with_both_examples() -> None:
    message = refused(2, "harvest")
    assert "drive.gpx" in message and '--at "' in message


def test_an_option_that_takes_the_route_for_its_value_says_what_it_wants(tmp_path: Path) -> None:
    assert "42km:45min" in refused(2, "harvest", "--stop", road(tmp_path))


# --- refusals: input, exit 3 ---------------------------------------------------------------------

BAD_FILES: dict[str, bytes] = {
    "empty": b"",
    "page": b"<!DOCTYPE html><html><body>Sign in</body></html>",
    "text": b"not a route at all",
    "picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
    "cut off": gpx(track(point(-42, 147), point(-42, 147.1))).encode()[:-40],
    "entities": b'<!DOCTYPE gpx [<!ENTITY a "aa">]>' + gpx(track(point(1, 2), point(1, 3))).encode(),
    "nested": b"<gpx>" + b"<a>" * 100_000,
    "not a number": gpx(track(point("nan", 147), point(-42, 147.1))).encode(),
    "off the globe": gpx(track(point(999, 147), point(-42, 147.1))).encode(),
    "utf-16 by name only": b'<?xml version="1.0" encoding="utf-16"?><gpx version="1.1"></gpx>',
}


@pytest.mark.parametrize("kind", BAD_FILES)
def test_a_bad_route_file_gives_one_message_that_names_it(tmp_path: Path, kind: str) -> None:
    path, out = saved(tmp_path, BAD_FILES[kind], "bad.gpx"), tmp_path / "out"
    message = refused(3, "harvest", *asked(path), "-o", out)
    assert "bad.gpx" in message
    assert "\n" not in message
    assert written(tmp_path) == {"bad.gpx"}


OTHER_FILES = [
    ("{there}/none.gpx", [], "none.gpx"),
    ("{there}", [], "folder"),
    ("{road}", ["--canopy", "{there}/none.tif"], "none.tif"),
    ("{road}", ["--canopy", "{road}"], "road.gpx"),
    ("{road}", ["--canopy-height", "{there}/none.tif"], "none.tif"),
    ("{road}", ["--terrain", "{there}/none.tif"], "none.tif"),
    ("{road}", ["--weather", "{there}/none.csv"], "none.csv"),
    ("https://example.org/a.gpx", [], "download this file first"),
    ("{road}", ["--terrain", ""], "a raster has an empty name"),
    ("{road}", ["--weather", "{road}"], "road.gpx"),
]


@pytest.mark.parametrize(("route", "options", "named"), OTHER_FILES)
def test_whatever_cannot_be_used_is_named_and_nothing_is_written(
    tmp_path: Path, route: str, options: list[str], named: str
) -> None:
    places = {"there": tmp_path, "road": road(tmp_path)}
    words = [word.format(**places) for word in options]
    message = refused(3, "harvest", *asked(Path(route.format(**places))), *words, "-o", tmp_path / "out")
    assert named in message
    assert written(tmp_path) == {"road.gpx"}


def test_a_rig_with_mistakes_is_listed_whole(tmp_path: Path) -> None:
    rig = saved(tmp_path, "[[panel]]\nrated_w = -3\nwatts = 200\n", "van.toml")
    drive = [str(road(tmp_path)), "--depart", "2026-11-20 12:00", "--speed", "60km/h"]
    message = refused(3, "harvest", *drive, "--rig", rig)
    assert "van.toml: 2 things are wrong" in message
    assert message.count("\n") == 2


@pytest.mark.parametrize("place", ["road.gpx", "road.gpx/out"])
def test_a_folder_that_cannot_be_made_is_refused(tmp_path: Path, place: str) -> None:
    path = road(tmp_path)
    before = path.read_bytes()
    assert "-o" in refused(3, "harvest", *asked(path), "-o", tmp_path / place)
    assert path.read_bytes() == before
    assert written(tmp_path) == {"road.gpx"}


def test_of_an_hour_the_clock_shows_twice_the_first_is_meant_and_said(tmp_path: Path) -> None:
    # Hobart leaves summer time on 5 April 2026 at 03:00 (tz database).
    ran = run("route", *asked(road(tmp_path)), "--depart", "2026-04-05 02:30")
    assert ran.code == 0
    assert "the clock shows 02:30 twice" in ran.out
    ran = run("route", *asked(road(tmp_path)), "--depart", "2026-04-05 02:30", "--json")
    assert ran.json["legs"][0]["start"] == "2026-04-05T02:30:00+11:00"


# --- coverage, exit 4 ----------------------------------------------------------------------------


def test_strict_refuses_a_raster_that_ends_before_the_route_does(tmp_path: Path) -> None:
    # The road runs from 147.0 to 147.12 degrees east; this raster ends at 147.05.
    short = cover_raster(tmp_path / "short.tif", 50, columns=50)
    drive, out = asked(road(tmp_path)), tmp_path / "out"
    loose = run("harvest", *drive, "--canopy", short, "--json")
    assert loose.code == 0
    assert 0.3 < loose.json["canopy"]["data_frac"] < 0.5
    assert any("unknown" in warning for warning in loose.json["warnings"])
    assert "--strict" in refused(4, "harvest", *drive, "--canopy", short, "--strict", "-o", out)
    assert not out.exists()
    whole = cover_raster(tmp_path / "whole.tif", 50)
    assert run("harvest", *drive, "--canopy", whole, "--strict").code == 0


def test_a_cover_raster_takes_energy_and_an_empty_one_takes_none(tmp_path: Path) -> None:
    drive = ["harvest", *asked(road(tmp_path)), "--json"]
    energy_wh = {"open": run(*drive).json["totals"]["energy_wh"]}
    for percent in (0, 40, 90):
        raster = cover_raster(tmp_path / f"{percent}.tif", percent)
        energy_wh[str(percent)] = run(*drive, "--canopy", raster).json["totals"]["energy_wh"]
    assert energy_wh["0"] == pytest.approx(energy_wh["open"], rel=1e-9)
    assert energy_wh["open"] > energy_wh["40"] > energy_wh["90"] > 0


# --- our fault, interruption ---------------------------------------------------------------------


def _breaks(error: BaseException) -> Any:
    def simulate(*_: object, **__: object) -> None:
        raise error

    return simulate


def test_a_fault_of_ours_is_owned_up_to_without_a_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("routesolar.trips.harvesting.simulate_scene", _breaks(RuntimeError("lost the sun")))
    message = refused(1, "harvest", *asked(road(tmp_path)), "-o", tmp_path / "out")
    assert "bug in routesolar" in message
    assert "lost the sun" in message
    assert written(tmp_path) == {"road.gpx"}


def test_an_interrupted_run_leaves_with_130_and_nothing_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("routesolar.trips.harvesting.simulate_scene", _breaks(KeyboardInterrupt()))
    ran = run("harvest", *asked(road(tmp_path)), "-o", tmp_path / "out")
    assert (ran.code, ran.out) == (130, "")
    assert ran.err.strip() == "routesolar: interrupted; no file is left half-written"
    assert written(tmp_path) == {"road.gpx"}
