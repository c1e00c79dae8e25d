"""README keeps its word: its example runs, its names exist, its files are there."""

import re
import tomllib
from pathlib import Path

import pytest

import routesolar

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


@pytest.mark.compiled
def test_the_python_example_runs_on_public_names_and_answers(monkeypatch, capsys, tmp_path):
    (tmp_path / "demo_routes").symlink_to(ROOT / "demo_routes")
    monkeypatch.chdir(tmp_path)
    (example,) = blocks("python")
    assert len(example.strip().splitlines()) <= 14
    assert set(re.findall(r"\brs\.(\w+)", example)) <= set(routesolar.__all__)
    known: dict[str, object] = {}
    exec(compile(example, "README.md", "exec"), known)
    shown = capsys.readouterr().out
    assert "energy_wh" in shown and "win_prob" in shown and "river mouth" in shown
    assert repr(known["harvest"]).startswith("<Harvest coast 2026-11-20T08:00:00+11:00: ")
    assert {path.name for path in (tmp_path / "outputs/friday").iterdir()} == {
        "result.json",
        "csv-metadata.json",
        "legs.csv",
        "days.csv",
        "segments.csv",
        "route.geojson",
        "map.png",
        "page.html",
    }


def test_every_public_name_in_the_readme_exists():
    assert set(re.findall(r"\brs\.(\w+)", README)) <= set(routesolar.__all__)


def test_the_trip_file_example_is_accepted(tmp_path):
    from routesolar.files.tripfile import read_trip_file

    example, study = blocks("toml")
    path = tmp_path / "friday.toml"
    path.write_text(example, encoding="utf-8")
    trip = read_trip_file(path)
    assert trip.stops[0].duration_s == 2700
    assert trip.stretches[0].canopy_cover_frac == 0.6
    demo = tomllib.loads((ROOT / "demo_routes/year.toml").read_text(encoding="utf-8"))
    assert tomllib.loads(study) == demo


def test_the_weather_table_example_is_read(tmp_path):
    from routesolar.files.weather import read_weather

    (example,) = blocks("csv")
    path = tmp_path / "week.csv"
    path.write_text(example, encoding="utf-8")
    weather = read_weather(path)
    assert weather.cloud_frac[:, 0].tolist() == [0.4, 0.6]
    assert weather.step_s == 3600


def test_the_public_names_stand_in_one_table_for_people_and_type_checkers():
    source = (ROOT / "routesolar" / "__init__.py").read_text(encoding="utf-8")
    typed = set(re.findall(r"\b\w+\b", " ".join(re.findall(r"^    from \S+ import (.+)$", source, flags=re.M))))
    assert typed == set(routesolar.__all__)


def test_every_relative_link_and_picture_exists():
    for target in re.findall(r"\]\((?!https?://)([^)#]+)\)", README):
        assert (ROOT / target).exists(), target


def test_every_command_in_the_readme_exists():
    from routesolar.cli.commands import COMMANDS

    used = set(re.findall(r"`routesolar (\w+)", README)) | set(
        re.findall(r"^routesolar (\w+)", README, flags=re.M)
    )
    assert used <= {*COMMANDS}
