"""The decision commands: the answer on stdout, JSON as written, refusals with the right exit code."""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from files.raster_samples import from_origin, write
from terminal import ROOT, Ran, asked, refused, road, run

HOURS = ["--date", "2026-11-20", "--from", "08:00", "--to", "16:00", "--every", "4h"]


def words_of(command: str, folder: Path) -> list[str]:
    """Return the least that has to be said for a command."""
    drive = asked(road(folder))
    if command == "compare":
        return [command, str(road(folder, "far.gpx", length_km=15.0)), *drive]
    if command == "park":
        demo = ROOT / "demo_routes"
        site = ["--at", "sampling site A", "--within", "80m", "--sky", "fair"]
        return [command, str(demo / "forest.toml"), *site, "--canopy-height", str(demo / "height_site_a.tif")]
    if command == "size":
        return [command, *drive, "--rated", "100,200"]
    return [command, *drive, *HOURS]


COMMANDS = ["departures", "calendar", "compare", "size", "park"]


class Answered(NamedTuple):
    """A command's words, what it printed with --json, and the folder that it wrote."""

    words: list[str]
    ran: Ran
    out: Path


@pytest.fixture(scope="module")
def answered(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Answered]:
    """Answers each command once: what several tests look at is not computed for each."""
    known: dict[str, Answered] = {}

    def answer(command: str) -> Answered:
        if command not in known:
            folder = tmp_path_factory.mktemp(command)
            words, out = words_of(command, folder), folder / "out"
            known[command] = Answered(words, run(*words, "--json", "-o", out), out)
        return known[command]

    return answer


@pytest.mark.parametrize("command", COMMANDS)
def test_the_answer_is_on_stdout_and_json_equals_result_json(
    answered: Callable[[str], Answered], command: str
) -> None:
    words, printed, out = answered(command)
    ran = run(*words)
    assert ran.code == 0
    assert ran.out.strip() and "Warning" not in ran.out
    assert printed.code == 0
    told = [f"Warning: {text}" for text in printed.json["warnings"]]
    assert ran.err.replace("\n  ", " ").splitlines() == told
    assert printed.json["schema"] == f"routesolar.{command}/{2 if command in ('departures', 'compare') else 1}"
    assert printed.json["rows"]
    assert printed.out == (out / "result.json").read_text(encoding="utf-8")
    assert {"page.html", "result.json"} < {path.name for path in out.iterdir()}


@pytest.mark.parametrize("command", COMMANDS)
def test_a_result_in_the_way_is_not_replaced_without_force(
    answered: Callable[[str], Answered], tmp_path: Path, command: str
) -> None:
    words, printed, written = answered(command)
    assert printed.code == 0
    out = shutil.copytree(written, tmp_path / "out")
    before = (out / "result.json").read_bytes()
    assert "--force" in refused(3, *words, "-o", out)
    assert (out / "result.json").read_bytes() == before
    (out / "result.json").write_bytes(before + b"\n")  # still ours, and to be seen to be replaced
    assert run(*words, "-o", out, "--force").code == 0
    assert (out / "result.json").read_bytes() == before


@pytest.mark.parametrize("command", COMMANDS)
def test_what_a_drive_refuses_a_decision_refuses_too(tmp_path: Path, command: str) -> None:
    words, out = words_of(command, tmp_path), tmp_path / "out"
    for code, more in (
        (2, ["--panel", "200"]),
        (2, ["--sky", "blue"]),
        (2, ["--panel", "200W", "--rig", "van.toml"]),
        (3, ["--terrain", str(tmp_path / "none.tif")]),
    ):
        refused(code, *words, *more, "-o", out)
    assert not out.exists()


@pytest.mark.parametrize("command", ["departures", "calendar", "compare", "size"])
def test_what_a_raster_does_not_know_is_counted_in_every_decision(tmp_path: Path, command: str) -> None:
    values = np.full((64, 128), 50, "uint8")
    values[:, 50:] = 255
    raster = write(
        tmp_path / "cover.tif", values, crs="EPSG:4326", transform=from_origin(146.99, -41.99, 0.001, 0.001)
    )
    said = run(*words_of(command, tmp_path), "--canopy", raster, "--json").json["warnings"]
    assert any("the canopy is unknown on" in text for text in said)


def test_departures_are_the_drives_of_harvest_best_first(
    answered: Callable[[str], Answered], tmp_path: Path
) -> None:
    rows = answered("departures").ran.json["rows"]
    energies = [row["energy_wh"] for row in rows]
    assert energies == sorted(energies, reverse=True)
    for row in rows:
        drive = [*asked(road(tmp_path)), "--depart", row["depart"], "--sky", "broken", "--json"]
        assert run("harvest", *drive).json["totals"]["energy_wh"] == pytest.approx(row["energy_wh"], rel=1e-6)


def test_a_calendar_has_twelve_months_of_each_hour(answered: Callable[[str], Answered]) -> None:
    rows = answered("calendar").ran.json["rows"]
    assert len(rows) == 12 * 3
    by_month = {row["month"]: row["energy_wh"] for row in rows if "T12:00" in row["depart"]}
    ordered = [by_month[month] for month in sorted(by_month)]
    assert ordered.index(min(ordered)) in (5, 6)  # the south: least at noon in June or July


def test_twice_the_panel_is_twice_the_energy_without_a_limit(answered: Callable[[str], Answered]) -> None:
    small, large = answered("size").ran.json["rows"]
    assert (small["rated_w"], large["rated_w"]) == (100, 200)
    assert large["energy_wh"] == pytest.approx(2 * small["energy_wh"], rel=1e-9)


def test_a_longer_road_under_the_same_sky_gives_more(answered: Callable[[str], Answered]) -> None:
    rows = {row["route"]: row for row in answered("compare").ran.json["rows"]}
    assert rows["far"]["distance_km"] == pytest.approx(15.0, abs=1e-6)
    assert rows["far"]["energy_wh"] > rows["road"]["energy_wh"]
    assert rows["far"]["win_prob"] + rows["road"]["win_prob"] == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize(
    ("command", "options", "advice"),
    [
        ("departures", ["--date", "20.11.2026"], "2026-11-20"),
        ("departures", ["--date", "1800-01-01"], "1901"),
        ("departures", ["--from", "25:00"], "12:30"),
        ("departures", ["--from", "16:00", "--to", "08:00"], "before the first"),
        ("departures", ["--every", "60"], "45min"),
        ("departures", ["--every", "1s"], "1min"),
        ("departures", ["--from", "01:00", "--to", "02:00"], "no sun"),
        ("calendar", ["--date", "next year"], "2026-11-20"),
        ("park", ["--at", "sampling site"], "did you mean"),
        ("park", ["--at", "5km"], "--for 3h"),
        ("park", ["--for", "3"], "45min"),
        ("park", ["--within", "80"], "without a unit"),
        ("size", ["--rated", "much"], "200W"),
        ("size", ["--rated", "0"], "above zero"),
        ("size", ["--rated", ""], "--rated"),
        ("size", ["--roof", "wide"], "2.6x1.4"),
        ("size", ["--roof", "2.6x1.4"], "--offer"),
        ("size", ["--roof", "2.6x1.4", "--offer", "200W"], "200W:1.58x0.70"),
    ],
)
def test_a_question_without_sense_is_refused(
    tmp_path: Path, command: str, options: list[str], advice: str
) -> None:
    assert advice in refused(2, *words_of(command, tmp_path), *options)


def test_a_stay_takes_the_trees_that_are_said_of_its_kilometre(tmp_path: Path) -> None:
    demo = ROOT / "demo_routes"
    said = (demo / "forest.toml").read_text(encoding="utf-8")
    for name in ("forest.gpx", "van.toml", "cover.tif", "height.tif", "terrain.tif"):
        said = said.replace(f'"{name}"', f'"{(demo / name).as_posix()}"')

    def best_wh(from_km: int, to_km: int) -> float:
        trip = tmp_path / "trip.toml"
        stretch = f'[[surroundings]]\nfrom = "{from_km}km"\nto = "{to_km}km"\ncrown_transmittance_frac = 0.9'
        trip.write_text(f"{said}\n{stretch}\n", encoding="utf-8")
        words = ["--at", "sampling site A", "--within", "20m", "--canopy-height", demo / "height_site_a.tif"]
        return max(row["energy_wh"] for row in run("park", trip, *words, "--json").json["rows"])

    # The site is at kilometre 19.
    assert best_wh(15, 25) > 1.02 * best_wh(30, 40)


def test_shade_times_of_parking_are_told_to_the_minute(tmp_path: Path) -> None:
    rows = run(*words_of("park", tmp_path), "--for", "5h", "--json").json["rows"]
    times = [row[key] for row in rows for key in ("first_shade", "last_shade") if row[key]]
    assert times and all(":00+11:00" in time and "." not in time for time in times)
    assert len({time[14:16] for time in times}) > 10  # not every ten minutes


def test_roads_of_one_name_are_told_apart(tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    longer = road(tmp_path / "other", length_km=15.0)
    rows = run("compare", *asked(road(tmp_path)), longer, "--json").json["rows"]
    assert {row["route"]: round(row["distance_km"]) for row in rows} == {"road (1)": 10, "road (2)": 15}


def test_one_road_cannot_be_compared(tmp_path: Path) -> None:
    assert "two or more" in refused(2, "compare", *asked(road(tmp_path)))


def test_a_day_is_asked_for_where_none_is_given(tmp_path: Path) -> None:
    drive = [str(road(tmp_path)), "--panel", "200W", "--speed", "60km/h"]
    assert "--date 2026-11-20" in refused(2, "departures", *drive)
