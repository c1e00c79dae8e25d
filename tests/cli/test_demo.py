"""`routesolar demo`: the shipped scenario is the same as its trip file."""

import pytest
from terminal import ROOT, refused, run


@pytest.mark.parametrize("name", ["coast", "forest"])
def test_the_demo_is_the_harvest_of_its_trip_file(name: str) -> None:
    shown = run("demo", name)
    trip = ROOT / "demo_routes" / f"{name}.toml"
    assert shown.code == 0
    assert shown.err == f"demo: routesolar harvest {trip}\n"
    assert shown.out == run("harvest", trip).out


@pytest.mark.parametrize("name", ["van", "../coast", "nowhere", ""])
def test_only_its_own_trips_are_the_demo(name: str) -> None:
    assert "coast, forest, transit_day" in refused(2, "demo", name)
