"""Shared by all tests: property tests run the same on every machine, and slow ones can be left out."""

import shutil
from importlib.metadata import files
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True, max_examples=60)
settings.load_profile("steady")

TESTS = Path(__file__).parent
SLOW_KINDS = {"browser", "download"}
# What starts programs, throws trees at random by the thousand or runs whole commands, by file or by test.
SLOW = """
    test_readme.py::test_the_python_example_runs_on_public_names_and_answers
    test_readme_commands.py
    test_reproducible.py
    trips/test_map_trip.py::test_the_page_draws_the_map_names_its_owner_and_stays_small
    trips/test_map_trip.py::test_what_is_drawn_of_a_map_is_bounded
    trips/test_map_trip.py::test_who_is_believed_before_the_map
    trips/test_map_trip.py::test_woods_dim_and_a_tunnel_is_dark
    trips/test_map_trip.py::test_hairpins_and_tunnels_of_a_real_country_through_noise_of_8_m
    cli/test_any_text.py
    cli/test_battery.py
    cli/test_bends.py
    cli/test_compare.py
    cli/test_decisions.py
    cli/test_demo.py
    cli/test_faults.py
    cli/test_one_sky.py
    cli/test_process.py
    cli/test_rasters.py
    cli/test_seasons.py
    cli/test_trip.py
    cli/test_weather.py
    decisions/test_same_trees.py
    decisions/test_transit.py
    decisions/test_words.py::test_hostile_names_do_no_harm
    files/test_demo_routes.py
    files/test_rasters_large.py
    files/test_rasters_remote.py
    fuzz/test_slice.py
    laws/test_bends.py
    laws/test_bends_monte_carlo.py
    laws/test_shade_doubt.py
    laws/test_typical_year.py
    model/test_panels.py::test_a_box_between_panel_and_sun_costs_more_than_one_behind
    model/test_road_width.py::test_the_doubt_of_a_fit_covers_crowns_of_other_widths
    model/test_thinned.py::test_a_sample_of_points_gives_the_interval_of_all_of_them
    physics/test_avenue.py
    physics/test_canopy_geometry.py::test_bundles_agree_with_plain_lines_that_walk_cell_by_cell
    physics/test_canopy_monte_carlo.py
    physics/test_columns_monte_carlo.py
    physics/test_compile_cache.py
    physics/test_compiled.py::test_an_edited_formula_changes_the_result_although_its_callers_file_did_not
    physics/test_roof_boxes.py::test_shadows_of_several_boxes_agree_with_tracing_rays
    report/test_decision_pages.py::test_hostile_names_change_no_element
    report/test_decision_pages.py::test_hostile_route_names_change_no_element
    report/test_decision_pages.py::test_pages_stay_small
    report/test_map_png.py::test_hostile_names_are_drawn_as_text
    report/test_page.py::test_the_same_report_gives_the_same_page_in_another_process
    report/test_park_page.py::test_hostile_names_change_no_element
    timetable/test_noisy_tracks.py::test_a_noisy_track_is_as_long_as_its_road
    timetable/test_noisy_tracks.py::test_an_hour_parked_is_one_stop_of_an_hour
    trip/test_names.py::test_any_text_becomes_one_printable_line_and_stays_so
    trips/test_both_ways.py
    trips/test_threads.py
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


_QUIET = (
    "--no-sandbox --disable-gpu --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --disable-quic"
).split()


@pytest.fixture(scope="session")
def browser():
    """Chromium from the system, or the one that playwright brought; without either, tests are skipped."""
    from playwright.sync_api import Error, sync_playwright

    program = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        try:
            opened = playwright.chromium.launch(executable_path=program, args=_QUIET)
        except Error as error:
            pytest.skip(f"no Chromium: {error.message.splitlines()[0]}")
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def axe():
    """The accessibility checker's script."""
    bundled = next(path for path in files("axe-playwright-python") or () if path.name == "axe.min.js")
    return bundled.read_text(encoding="utf-8")
