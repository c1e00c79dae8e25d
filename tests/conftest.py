"""Shared by all tests: property tests run the same on every machine, and slow ones can be left out."""

from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True, max_examples=60)
settings.load_profile("steady")

TESTS = Path(__file__).parent
SLOW_KINDS = {"browser", "download"}
# What starts programs, throws trees at random by the thousand or runs whole commands, by file or by test.
SLOW = """
    test_readme_commands.py
    cli/test_any_text.py cli/test_battery.py cli/test_bends.py cli/test_compare.py cli/test_decisions.py
    cli/test_demo.py cli/test_faults.py cli/test_process.py cli/test_rasters.py cli/test_seasons.py
    cli/test_trip.py
    cli/test_weather.py
    decisions/test_same_trees.py decisions/test_transit.py
    test_reproducible.py fuzz/test_slice.py
    files/test_demo_routes.py files/test_rasters_large.py files/test_rasters_remote.py
    laws/test_bends.py laws/test_bends_monte_carlo.py laws/test_shade_doubt.py laws/test_typical_year.py
    model/test_panels.py::test_a_box_between_panel_and_sun_costs_more_than_one_behind
    model/test_road_width.py::test_the_doubt_of_a_fit_covers_crowns_of_other_widths
    physics/test_avenue.py physics/test_canopy_monte_carlo.py physics/test_columns_monte_carlo.py
    physics/test_compile_cache.py
    timetable/test_noisy_tracks.py::test_a_noisy_track_is_as_long_as_its_road
    timetable/test_noisy_tracks.py::test_an_hour_parked_is_one_stop_of_an_hour
    trip/test_names.py::test_any_text_becomes_one_printable_line_and_stays_so
    trips/test_both_ways.py trips/test_threads.py
""".split()


def pytest_configure() -> None:
    for entry in SLOW:
        path, _, test = entry.partition("::")
        assert f"def {test}" in (TESTS / path).read_text(encoding="utf-8"), f"{entry} is not there; mend SLOW"


# Before pytest leaves tests out by their marks.
@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        path = item.path.relative_to(TESTS).as_posix()
        test = item.name.partition("[")[0]
        kinds = {mark.name for mark in item.iter_markers()}
        if path in SLOW or f"{path}::{test}" in SLOW or kinds & SLOW_KINDS:
            item.add_marker("slow")
