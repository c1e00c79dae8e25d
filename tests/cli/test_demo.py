"""`routesolar demo`: the shipped scenario is the same as its trip file."""

from pathlib import Path

import pytest
from terminal import ROOT, refused, run


@pytest.mark.parametrize("name", ["coast", "forest"])
def test_the_demo_is_the_harvest_of_its_trip_file(name: str) -> None:
    shown = run("demo", name)
    trip = ROOT / "demo_routes" / f"{name}.toml"
    assert shown.code == 0
    assert shown.err == (
        f"demo: routesolar harvest {trip}\n"
        f"Warning: {name}.gpx says that it is invented: there is no such road\n"
    )
    assert shown.out == run("harvest", trip).out


def test_hills_are_drawn_where_terrain_is_given(tmp_path: Path) -> None:
    coast, forest = (ROOT / "demo_routes" / f"{name}.toml" for name in ("coast", "forest"))
    bare = [str(ROOT / "demo_routes/coast.gpx"), "--panel", "200W", "--speed", "70km/h"]
    bare += ["--depart", "2026-11-20 08:00"]
    pages = {
        "harvest": ["harvest", coast],
        "departures": ["departures", coast, "--every", "4h"],
        "compare": ["compare", coast, forest],
        "no terrain": ["harvest", *bare],
    }
    for name, words in pages.items():
        assert run(*words, "--step", "500m", "-o", tmp_path / name).code == 0
        page = (tmp_path / name / "page.html").read_text(encoding="utf-8")
        assert ('<image class="relief"' in page) is (name != "no terrain")
        assert ('class="hills"' in page) is (name != "no terrain")


@pytest.mark.parametrize("name", ["van", "../coast", "nowhere", ""])
def test_only_its_own_trips_are_the_demo(name: str) -> None:
    assert "camp, coast, forest, frost, transit_day" in refused(2, "demo", name)
