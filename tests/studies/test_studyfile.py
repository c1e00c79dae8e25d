"""A study file is read strictly: short spellings mean what they say, and mistakes are told all at once."""

from datetime import date
from pathlib import Path

import pytest
from terminal import ROOT, refused, road, run

import routesolar as rs

TRIP = 'route = ["road.gpx"]\nspeed = "60km/h"\npanel = "200W"\n'
GOOD = 'routes = "trip.toml"\ndates = 2026-06-21\ndepartures = "12:00"\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    road(tmp_path, length_km=2.0, camp_km=1.0)
    (tmp_path / "trip.toml").write_text(TRIP, encoding="utf-8")
    return tmp_path


def study_of(folder: Path, text: str) -> rs.Study:
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return rs.read_study(folder / "study.toml")


def test_one_of_each_needs_no_lists(folder: Path) -> None:
    study = study_of(folder, GOOD)
    assert (study.count, list(study.routes), study.dates) == (1, ["trip"], (date(2026, 6, 21),))
    assert study.departures_s == (43_200.0,)


def test_ranges_go_from_first_to_last_in_steps(folder: Path) -> None:
    study = study_of(
        folder,
        'routes = ["trip.toml"]\nrigs = ["100W", "0.2kW"]\nskies = ["fair", "okta 3"]\n'
        'seasons = ["leaf-on", "leaf-off"]\n'
        'dates = {from = 2026-02-27, to = "2026-03-03", every = "2d"}\n'
        'departures = {from = "06:00", to = "07:10", every = "30min"}\n',
    )
    assert study.dates == (date(2026, 2, 27), date(2026, 3, 1), date(2026, 3, 3))
    assert study.departures_s == (21_600.0, 23_400.0, 25_200.0)
    assert study.count == 1 * 2 * 3 * 3 * 2 * 2
    assert list(study.rigs) == ["100W", "0.2kW"]
    assert study.rigs["0.2kW"].panels[0].rated_w == 200


def test_a_recorded_track_is_a_route_of_its_own(folder: Path) -> None:
    study = study_of(folder, GOOD.replace("trip.toml", "road.gpx") + 'rigs = "200W"\n')
    assert list(study.routes) == ["road"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (GOOD.partition("\n")[2], "routes: this key is required and is missing"),
        (GOOD.replace("routes", "route"), "did you mean routes?"),
        (GOOD + "skies = 3\n", "skies is 3: should be text in quotes or a list"),
        (GOOD + 'skies = ["fair", "pink"]\n', "pink"),
        (GOOD + "skies = []\n", "skies is an empty list"),
        (GOOD + 'seasons = ["leaf-on", "leaf-on"]\n', "names leaf-on twice"),
        (GOOD + 'seasons = "summer"\n', "give one of auto, leaf-on, leaf-off"),
        (GOOD.replace("2026-06-21", '"2026-02-30"'), "2026-02-30"),
        (GOOD.replace("2026-06-21", "{from = 2026-06-21, to = 2026-06-01}"), "lies before from"),
        (GOOD.replace("2026-06-21", '{from = 2026-06-21, to = 2026-07-01, every = "90min"}'), "whole days"),
        (GOOD.replace("2026-06-21", "{from = 1971-01-01, to = 2099-12-31}"), "more than 20,000"),
        (GOOD.replace('"12:00"', '{from = "12:00", to = "13:00", every = "30s"}'), "whole minutes"),
        (GOOD.replace('"12:00"', '"noon"'), "not a clock time"),
        (GOOD.replace("trip.toml", "none.toml"), "there is no such file"),
        (GOOD + 'rigs = ["none.toml"]\n', "there is no such file"),
        (GOOD + 'rigs = ["200W", "a/200W"]\n', "there is no such file"),
    ],
)
def test_what_is_wrong_is_said_with_file_key_and_remedy(folder: Path, text: str, said: str) -> None:
    (folder / "study.toml").write_text(text, encoding="utf-8")
    message = refused(2 if "more than" in said else 3, "study", folder / "study.toml")
    assert said in message and "\n\n" not in message


def test_a_route_without_any_rig_is_refused(folder: Path) -> None:
    (folder / "trip.toml").write_text(TRIP.replace('panel = "200W"\n', ""), encoding="utf-8")
    (folder / "study.toml").write_text(GOOD, encoding="utf-8")
    assert 'rigs = ["van.toml", "200W"]' in refused(2, "study", folder / "study.toml")


def test_a_study_too_large_is_refused_before_any_work(folder: Path) -> None:
    many = 'dates = 2026-01-01\ndepartures = {from = "00:00", to = "23:59", every = "1min"}\n'
    rigs = f"rigs = {[f'{watts}W' for watts in range(100, 130)]}\n".replace("'", '"')
    (folder / "study.toml").write_text('routes = "trip.toml"\n' + many + rigs, encoding="utf-8")
    assert "drives of a part: 43,200, more than 20,000" in refused(2, "study", folder / "study.toml")


def test_without_a_folder_drives_are_only_counted() -> None:
    ran = run("study", ROOT / "demo_routes/year.toml", "--json")
    assert ran.code == 0
    assert ran.json == {
        "routes": 2,
        "rigs": 3,
        "dates": 6,
        "departures": 2,
        "skies": 2,
        "seasons": 1,
        "drives": 144,
    }
