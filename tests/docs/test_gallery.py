"""The examples of docs/gallery run on public names alone, and what they show is true."""

import ast
import runpy
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import routesolar

GALLERY = Path(__file__).parents[2] / "docs" / "gallery"
EXAMPLES = sorted(GALLERY.glob("*.py"))


def ran(name: str) -> dict[str, Any]:
    return runpy.run_path(str(GALLERY / f"{name}.py"))


def test_examples_are_short_and_use_public_names_alone():
    assert len(EXAMPLES) == 7
    for path in EXAMPLES:
        text = path.read_text(encoding="utf-8")
        assert len(text.splitlines()) <= 40, path.name
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Import):
                assert {alias.name for alias in node.names} <= {"routesolar", "numpy", "pandas"}, path.name
            if isinstance(node, ast.ImportFrom):
                assert node.module == "dataclasses", path.name
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "rs":
                assert node.attr in routesolar.__all__, (path.name, node.attr)


def test_every_example_is_tested():
    here = Path(__file__).read_text(encoding="utf-8")
    assert all(f'ran("{path.stem}")' in here for path in EXAMPLES)


def test_a_flat_panel_under_a_clear_sky_does_not_care_which_way_the_loop_turns():
    shown = ran("own_route_arrays")
    legs = shown["legs"]
    assert np.isclose(legs.distance_km.sum(), 2 * np.pi * 0.02855 * 111.2, rtol=0.005)  # a degree is 111.2 km
    # Around solar noon at midsummer the sun's height hardly changes within 20 minutes.
    wh_per_km = legs.energy_wh / legs.distance_km
    assert wh_per_km.max() / wh_per_km.min() < 1.02


@pytest.mark.slow
def test_wider_roads_bring_more():
    energy_wh = ran("road_width")["answers"].energy_wh
    assert (np.diff(energy_wh) > 0).all()
    assert energy_wh.iloc[-1] > 1.5 * energy_wh.iloc[0]


@pytest.mark.slow
def test_the_morning_under_cloud_brings_less_and_lies_within_its_bounds():
    ranked = ran("weather_frame")["ranked"]
    assert (ranked.energy_low_wh < ranked.energy_wh).all() and (ranked.energy_wh < ranked.energy_high_wh).all()
    by_hour = ranked.set_index(ranked.depart.dt.hour).energy_wh
    assert by_hour[12] > 2 * by_hour[10]
    assert str(ranked.depart.dt.tz) == "Europe/Zurich"


@pytest.mark.slow
def test_a_tilt_brings_one_way_what_it_does_not_bring_back():
    wh = ran("two_panels")["answers"]
    assert np.isclose(wh["east", "both flat"], wh["west", "both flat"], rtol=0.01)
    assert wh["east", "one tilted"] < wh["east", "both flat"] < wh["west", "one tilted"]


@pytest.mark.slow
def test_the_best_departure_has_noon_within_its_hour():
    shown = ran("many_departures")
    best = shown["table"].iloc[0]
    # Solar noon at 8 deg east in June is 13:30 of summer time, give or take the equation of time's 2 minutes.
    start_h = best.depart.hour + best.depart.minute / 60
    assert start_h < 13.5 < start_h + 1


@pytest.mark.slow
def test_woods_counted_by_oneself_hide_sky_where_they_stand():
    shown = ran("own_shade")
    fields, woods = shown["views"]
    assert fields > 0.99
    assert woods < 0.6


@pytest.mark.slow
def test_houses_and_trees_of_ones_own_take_light_one_after_the_other():
    wh = ran("own_houses")["answers"]
    assert wh["houses and trees"] < wh["houses"] < 0.9 * wh["open"]
