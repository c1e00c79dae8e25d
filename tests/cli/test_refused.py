"""Requests that make no sense are refused in words, before work is done for them."""

from pathlib import Path
from unittest import mock

import pytest
from terminal import asked, refused, road, run


@pytest.fixture
def drive(tmp_path: Path) -> list[str]:
    return asked(road(tmp_path))


def test_a_folder_in_the_way_is_told_before_anything_is_computed(drive: list[str], tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("mine")
    with mock.patch("routesolar.cli.running.trip_asked_for", side_effect=AssertionError("work was done")):
        assert "exists already" in refused(3, "harvest", *drive, "-o", tmp_path / "out")


def test_an_empty_folder_is_filled(drive: list[str], tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    assert run("harvest", *drive, "-o", tmp_path / "out").code == 0
    assert (tmp_path / "out" / "result.json").exists()


def test_panels_on_offer_need_a_roof(drive: list[str]) -> None:
    assert "--roof" in refused(2, "size", *drive, "--offer", "200W:1.58x0.70")


def test_no_vehicle_carries_five_megawatts(drive: list[str]) -> None:
    assert "more than any vehicle" in refused(2, "size", *drive, "--rated", "5000000")


def test_a_seed_below_zero_is_a_wrong_request(drive: list[str]) -> None:
    assert run("compare", *drive, "--seed", "-1").code == 2


def test_formats_may_be_given_one_by_one(drive: list[str], tmp_path: Path) -> None:
    assert run("harvest", *drive, "--also", "kml", "--also", "gpx", "-o", tmp_path / "out").code == 0
    assert {"route.kml", "route.gpx"} <= {path.name for path in (tmp_path / "out").iterdir()}
