"""`routesolar route`: what was read, before any sun is computed."""

import json
from pathlib import Path

import pyproj
import pytest
from routes import gpx, point, saved, track
from samples import sample
from terminal import ROOT, asked, refused, road, run

from routesolar.files.gpx import read_route

GEOD = pyproj.Geod(ellps="WGS84")


def test_legs_lengths_and_times_are_shown_without_a_panel(tmp_path: Path) -> None:
    timing = ["--depart", "2026-11-20 12:00", "--speed", "60km/h"]
    ran = run("route", road(tmp_path), *timing)
    assert ran.code == 0
    assert ran.err.startswith("Warning: ") and ran.out.endswith("1 warning was given beside this report.\n")
    assert "10 km" in ran.out
    assert "Australia/Hobart" in ran.out
    result = run("route", road(tmp_path), *timing, "--json").json
    assert result["schema"] == "routesolar.route/1"
    assert [round(leg["distance_km"], 6) for leg in result["legs"]] == [4.0, 6.0]
    assert [leg["duration_s"] for leg in result["legs"]] == pytest.approx([240.0, 360.0])


@pytest.mark.parametrize("name", ["coast", "forest"])
def test_the_length_of_a_road_is_that_of_its_geodesics(name: str) -> None:
    # PROJ (pyproj.Geod), summed over the file's own points.
    result = run("route", ROOT / "demo_routes" / f"{name}.toml", "--json").json
    line = read_route([ROOT / "demo_routes" / f"{name}.gpx"])
    assert result["distance_km"] == pytest.approx(
        GEOD.line_length(line.longitude_deg, line.latitude_deg) / 1000, abs=1e-6
    )


@pytest.mark.download
def test_a_recorded_drive_needs_no_departure_and_no_speed() -> None:
    # gpxpy 1.6.2 sdist: recorded 2020-12-18 06:15:50 to 06:24:24 UTC in Istria, an hour ahead of UTC.
    ran = run("route", sample("gpxpy", "test_files/around-visnjan-with-car.gpx"), "--json")
    assert ran.code == 0
    assert ran.json["distance_km"] == pytest.approx(2.736, abs=1e-3)
    assert ran.json["points"] == 104
    assert ran.json["time_zone"] == "Europe/Zagreb"
    assert ran.json["legs"][0]["start"] == "2020-12-18T07:15:50+01:00"
    assert ran.json["legs"][-1]["end"] == "2020-12-18T07:24:24+01:00"


def test_hours_shown_are_of_the_zone_asked_for(tmp_path: Path) -> None:
    result = run("route", *asked(road(tmp_path)), "--tz", "UTC", "--json").json
    assert (result["time_zone"], result["legs"][0]["start"]) == ("UTC", "2026-11-20T12:00:00+00:00")


def test_a_departure_with_offset_is_that_instant(tmp_path: Path) -> None:
    result = run("route", *asked(road(tmp_path)), "--depart", "2026-11-20T01:00Z", "--json").json
    assert result["legs"][0]["start"] == "2026-11-20T12:00:00+11:00"


def test_what_was_noted_is_shown(tmp_path: Path) -> None:
    inner = "<ele>1</ele><time>2026-11-20T01:00:{:02}Z</time>"
    points = [point(-42, 147 + 0.001 * number, inner.format(number * 5)) for number in range(5)]
    path = saved(tmp_path, gpx(track(*points)))
    said = "the route has recorded times, but a speed was given"
    assert f"Note: {said}" in run("route", path, "--speed", "60km/h").out
    assert run("route", path, "--speed", "60km/h", "--json").json["notes"][0].startswith(said)


@pytest.mark.parametrize(
    ("options", "code", "advice"),
    [
        ([], 2, "2026-11-20 07:30"),
        (["--depart", "2026-11-20 12:00"], 2, "--speed 80km/h"),
        (["--depart", "2026-11-20 12:00", "--speed", "80"], 2, "80km/h"),
        (["--depart", "2026-10-04 02:30", "--speed", "80km/h"], 2, "clocks skip it"),
    ],
)
def test_what_cannot_be_timed_is_refused(tmp_path: Path, options: list[str], code: int, advice: str) -> None:
    assert advice in refused(code, "route", road(tmp_path), *options)


def test_json_is_plain_ascii(tmp_path: Path) -> None:
    path = road(tmp_path)
    path.write_text(path.read_text(encoding="utf-8").replace("Camp", "Žabnica"), encoding="utf-8")
    ran = run("route", *asked(path), "--json")
    assert ran.out.isascii()
    assert json.loads(ran.out)["legs"][1]["name"] == "from Žabnica"
