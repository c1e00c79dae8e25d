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
# What starts programs, throws trees at random by the thousand, runs whole commands or else takes long, by file
# or by test: the rest judges the heart of everything in under a minute on two cores.
SLOW = """
    cli/test_any_text.py
    cli/test_battery.py
    cli/test_bends.py
    cli/test_compare.py
    cli/test_decisions.py
    cli/test_demo.py
    cli/test_edges.py::test_a_stop_of_a_month_is_thirty_days
    cli/test_edges.py::test_a_thousand_kilometres_in_one_line_take_their_time_and_are_said
    cli/test_faults.py
    cli/test_harvest.py::test_a_cover_raster_takes_energy_and_an_empty_one_takes_none
    cli/test_harvest.py::test_a_folder_that_cannot_be_made_is_refused
    cli/test_harvest.py::test_also_adds_formats
    cli/test_harvest.py::test_an_earlier_result_is_replaced_only_with_force
    cli/test_harvest.py::test_o_writes_every_file_and_json_equals_result_json
    cli/test_harvest.py::test_strict_refuses_a_raster_that_ends_before_the_route_does
    cli/test_one_sky.py
    cli/test_process.py
    cli/test_rasters.py
    cli/test_refused.py::test_an_empty_folder_is_filled
    cli/test_refused.py::test_formats_may_be_given_one_by_one
    cli/test_seasons.py
    cli/test_trip.py
    cli/test_weather.py
    decisions/test_compare.py::test_the_order_of_the_routes_does_not_matter
    decisions/test_park.py::test_a_leaning_panel_faces_the_sun_and_a_level_one_does_not_care
    decisions/test_park.py::test_east_of_a_wall_the_shade_comes_in_the_afternoon_and_west_of_it_goes_with_noon
    decisions/test_park.py::test_in_a_town_spots_stand_beside_houses_and_the_best_of_them_out_of_their_shade
    decisions/test_park.py::test_in_the_open_every_spot_is_as_the_drive_itself
    decisions/test_park.py::test_in_winter_the_side_of_a_tree_wall_away_from_the_equator_is_worse
    decisions/test_park.py::test_no_spot_is_under_the_crown_of_a_single_tree
    decisions/test_park.py::test_places_inside_buildings_are_left_out_without_a_warning_about_the_stop
    decisions/test_park.py::test_ranks_rows_and_json_follow_the_contract
    decisions/test_park.py::test_shade_times_are_whole_minutes_and_those_of_a_look_every_minute
    decisions/test_park.py::test_spots_under_trees_are_left_out_and_so_are_those_that_touch_one
    decisions/test_park.py::test_standing_as_it_arrives_is_worse_than_facing_the_sun
    decisions/test_park.py::test_the_words_of_a_town_name_its_buildings
    decisions/test_park.py::test_what_is_needed_is_said_where_no_single_trees_are_known
    decisions/test_park.py::test_where_no_spot_is_better_the_vehicle_stays
    decisions/test_park.py::test_words_leave_law_and_safety_to_the_driver_and_the_picture_is_one
    decisions/test_same_trees.py
    decisions/test_size.py::test_a_larger_panel_asks_less_of_the_engine
    decisions/test_size.py::test_batteries_and_chargers_are_axes_and_the_first_size_that_serves_is_named
    decisions/test_size.py::test_with_what_the_engine_must_give_no_load_goes_short
    decisions/test_size.py::test_no_size_is_said_to_help_little_beyond_while_a_larger_one_lets_the_engine_rest
    decisions/test_transit.py
    decisions/test_words.py::test_charts_are_the_same_bytes_and_show_their_colours
    decisions/test_words.py::test_hostile_names_do_no_harm
    files/test_demo_routes.py
    files/test_gpx.py::test_every_position_on_the_globe_is_read_exactly
    files/test_map_files.py::test_unpacked_blocks_that_lie_are_refused_or_read
    files/test_map_files.py::test_what_the_reference_library_wrote_is_read_with_its_tags_and_places
    files/test_map_pictures.py::test_a_long_corridor_makes_no_larger_picture
    files/test_outlines.py::test_a_lake_is_water_and_the_hills_beside_it_are_not
    files/test_outlines.py::test_a_rugged_coast_stays_small_enough_for_a_page
    files/test_outlines.py::test_sea_is_water_on_both_sides_of_the_antimeridian_and_islands_are_not
    files/test_rasters.py::test_foreign_proj_settings_do_no_harm
    files/test_rasters_large.py
    files/test_rasters_remote.py
    files/test_surface.py::test_the_canopy_is_that_of_a_raster_of_the_same_heights
    files/test_terrain_files.py::test_a_hill_stands_in_its_true_bearing_in_any_crs
    files/test_weather.py::test_a_tmy3_hour_ends_at_its_label
    fuzz/test_slice.py
    laws/test_bends.py
    laws/test_bends_monte_carlo.py
    laws/test_shade_doubt.py
    laws/test_simulation_laws.py::test_a_level_panel_under_open_sky_does_not_care_about_heading
    laws/test_simulation_laws.py::test_half_the_step_gives_the_same_energy_within_half_a_percent
    laws/test_simulation_laws.py::test_more_cover_never_gives_more_energy
    laws/test_simulation_laws.py::test_twice_the_panel_gives_twice_the_energy
    laws/test_typical_year.py
    model/test_charge.py::test_a_battery_in_frost_loses_the_sun_to_the_cold_and_warns_of_it
    model/test_charge.py::test_a_night_too_long_for_the_battery_is_not_said_to_be_mended_by_driving
    model/test_charge.py::test_clouds_that_come_and_go_cost_more_than_their_mean
    model/test_charge.py::test_the_need_on_nine_days_in_ten_holds_when_the_drive_is_run_with_it
    model/test_one_march.py::test_scene_and_harvest_come_back_from_a_pickle_and_from_threads_bit_for_bit
    model/test_panels.py::test_a_box_between_panel_and_sun_costs_more_than_one_behind
    model/test_road_width.py::test_the_doubt_of_a_fit_covers_crowns_of_other_widths
    model/test_shade.py::test_a_uniform_wood_shades_a_straight_road_as_the_closed_form_says
    model/test_shade.py::test_finer_cells_of_cover_are_read_as_their_means_over_four_metres
    model/test_shade.py::test_single_trees_of_a_metre_scale_raster_shade_only_from_their_side
    model/test_shade.py::test_two_halves_among_trees_of_their_own_kind_are_as_each_kind_alone
    model/test_standing.py::test_woods_drawn_with_a_gap_for_the_road_shade_like_one_drawn_across_it
    model/test_thinned.py::test_a_sample_of_points_gives_the_interval_of_all_of_them
    physics/test_avenue.py
    physics/test_bands.py::test_variance_agrees_with_a_simulation_of_the_same_process
    physics/test_canopy_geometry.py::test_bundles_agree_with_plain_lines_that_walk_cell_by_cell
    physics/test_canopy_laws.py::test_gaps_of_a_wood_without_a_road_are_those_of_the_boolean_model
    physics/test_canopy_laws.py::test_lines_sum_to_the_closed_form_beside_a_straight_road
    physics/test_canopy_laws.py::test_more_cover_never_lets_more_through
    physics/test_canopy_monte_carlo.py
    physics/test_canopy_published.py::test_beam_through_a_stand_is_that_of_ray_cast_crowns
    physics/test_columns_monte_carlo.py
    physics/test_compile_cache.py
    physics/test_compiled.py::test_an_edited_formula_changes_the_result_although_its_callers_file_did_not
    physics/test_opening.py::test_a_raster_of_a_planted_wood_shades_as_the_wood_does_once_the_road_is_taken_out
    physics/test_opening.py::test_cells_that_show_single_crowns_make_a_wood_darker_the_finer_they_are
    physics/test_partial_shade.py::test_crowns_over_a_panel_leave_what_throwing_panels_among_them_does
    physics/test_roof_boxes.py::test_shadows_of_several_boxes_agree_with_tracing_rays
    physics/test_roof_boxes.py::test_the_sun_in_the_vehicles_frame_is_seen_at_the_panels_incidence
    physics/test_sky.py::test_at_low_tilts_hay_davies_stays_near_perez
    physics/test_glass.py::test_diffuse_modifiers_are_the_integral_over_the_dome
    physics/test_glass.py::test_glass_passes_the_sky_as_published
    physics/test_sky.py::test_roads_side_by_side_have_the_same_haze
    physics/test_sky.py::test_turbidity_is_six_tenths_of_what_pvlibs_climatology_around_has_beyond_dry_air
    physics/test_sky_paths.py::test_the_days_sums_lie_in_the_percentiles_of_the_exact_sums
    physics/test_standing_crowns.py::test_a_row_of_poplars_is_met_as_by_rays_cast_at_it
    physics/test_standing_crowns.py::test_the_sky_beside_a_row_is_that_of_rays_cast_at_it
    physics/test_sun.py::test_a_full_turn_of_longitude_changes_nothing
    physics/test_sun.py::test_a_year_at_every_latitude_stays_within_1e_5_deg_of_full_spa
    physics/test_sun.py::test_astropy_sees_the_sun_in_the_same_place
    physics/test_sun.py::test_one_point_is_the_same_alone_and_among_a_year_of_others
    physics/test_sun.py::test_refraction_lifts_and_never_lowers
    physics/test_sun.py::test_the_sun_does_not_jump_at_full_hours_or_at_the_antimeridian
    physics/test_sun.py::test_the_sun_sets_when_published
    physics/test_terrain.py::test_level_ground_has_no_horizon
    physics/test_terrain.py::test_rough_ground_of_30_m_cells
    plan/test_server.py::test_each_question_is_answered_as_its_command_answers_it
    plan/test_server.py::test_stretches_and_rasters_are_saved_as_the_command_line_reads_them
    plan/test_server.py::test_clients_that_say_half_of_what_they_want_hold_up_nobody
    plan/test_server.py::test_ten_thousand_requests_are_answered_and_leave_nothing
    plan/test_server.py::test_a_quick_answer_of_another_departure_has_the_energy_of_the_whole_one
    plan/test_server.py::test_it_ends_by_itself_when_nothing_is_heard_and_leaves_no_empty_folder
    report/test_card.py::test_it_is_a_phone_wide_and_has_a_size_on_paper
    report/test_card.py::test_no_name_breaks_it
    report/test_decision_pages.py::test_a_column_that_says_nothing_is_left_out
    report/test_decision_pages.py::test_a_page_without_script_lets_in_none
    report/test_decision_pages.py::test_hostile_names_change_no_element
    report/test_decision_pages.py::test_hostile_route_names_change_no_element
    report/test_decision_pages.py::test_many_long_routes_stay_small
    report/test_decision_pages.py::test_nothing_points_outside_and_only_the_pages_own_texts_are_let_in
    report/test_decision_pages.py::test_pages_stay_small
    report/test_map_png.py::test_a_drive_by_night_and_a_parked_one_still_have_a_map
    report/test_map_png.py::test_a_route_across_the_antimeridian_fills_its_sheet
    report/test_map_png.py::test_every_class_on_the_road_is_painted_on_road_and_key
    report/test_map_png.py::test_hills_lie_beneath_only_where_there_is_a_picture
    report/test_map_png.py::test_hostile_names_are_drawn_as_text
    report/test_map_png.py::test_letters_without_a_font_do_not_warn
    report/test_map_png.py::test_many_legs_do_not_run_off_the_sheet
    report/test_map_png.py::test_the_same_report_gives_the_same_bytes
    report/test_map_png.py::test_trees_lie_beneath_only_where_there_is_a_picture
    report/test_notebook.py::test_importing_within_a_notebook_registers_nothing_and_loads_nothing_heavy
    report/test_open_road.py::test_an_answer_begins_with_the_open_road_only_where_nothing_is_said_of_trees
    report/test_page.py::test_the_page_is_small
    report/test_page.py::test_the_same_report_gives_the_same_page_in_another_process
    report/test_park_page.py::test_hostile_names_change_no_element
    report/test_park_page.py::test_the_page_keeps_to_itself_and_is_the_same_every_time
    report/test_rests_on.py::test_every_page_bears_its_line_and_what_was_assumed
    report/test_rests_on.py::test_files_of_a_decision_and_a_harvest_say_what_they_rest_on
    report/test_rests_on.py::test_pictures_have_a_size_on_paper
    studies/test_study.py
    test_known_attacks.py::test_a_folder_whose_name_is_an_escape_sequence_is_told_without_it
    test_known_attacks.py::test_a_written_route_is_xml_whatever_its_name
    test_limits.py::test_thousands_of_unknown_keys_are_told_in_a_few_lines
    test_readme.py::test_the_python_example_runs_on_public_names_and_answers
    test_reference_chain.py::test_the_chain_agrees_with_pvlib_behind_the_same_shade
    test_reproducible.py
    test_speed.py
    test_trade_facts.py::test_bare_trees_over_a_third_to_over_half_of_the_ground_take_the_reported_share
    test_trade_facts.py::test_trees_take_this_much_of_the_hour
    timetable/test_days_and_lengths.py::test_a_night_is_at_the_last_named_place_within_half_an_hour_of_the_days_end
    timetable/test_driving.py::test_another_departure_shifts_every_time_and_nothing_else
    timetable/test_driving.py::test_legs_share_out_all_segments_in_order
    timetable/test_driving.py::test_segments_are_the_line_cut_into_small_steps
    timetable/test_noisy_tracks.py::test_a_noisy_track_is_as_long_as_its_road
    timetable/test_noisy_tracks.py::test_a_track_without_noise_is_left_as_it_is
    timetable/test_noisy_tracks.py::test_an_hour_parked_is_one_stop_of_an_hour
    timetable/test_noisy_tracks.py::test_hairpins_driven_as_cars_do_keep_their_length
    trip/test_names.py::test_any_text_becomes_one_printable_line_and_stays_so
    trips/test_again.py
    trips/test_best_by.py::test_departures_are_counted_from_the_first_to_one_end
    trips/test_best_by.py::test_no_recommendation_is_silent_about_a_load_that_goes_short
    trips/test_best_by.py::test_roads_that_wait_at_one_place_are_counted_to_one_end
    trips/test_best_by.py::test_sizes_go_by_charge_and_loads_too
    trips/test_best_by.py::test_where_the_battery_fills_anyway_one_stays
    trips/test_both_ways.py
    trips/test_breaks.py::test_each_break_is_the_drive_with_that_stop
    trips/test_camps.py::test_a_place_and_dates_bring_what_two_points_and_a_stop_do_to_the_last_bit
    trips/test_camps.py::test_heights_too_coarse_for_single_trees_leave_parking_to_the_cover_beside_them
    trips/test_camps.py::test_parking_finds_the_destination_by_its_name_and_begins_on_arrival
    trips/test_camps.py::test_parking_goes_by_what_is_said_where_no_heights_are_given
    trips/test_camps.py::test_will_the_fridge_last_to_thursday
    trips/test_map_trip.py::test_hairpins_and_tunnels_of_a_real_country_through_noise_of_8_m
    trips/test_map_trip.py::test_speeds_roofs_and_road_come_from_the_map
    trips/test_map_trip.py::test_the_page_draws_the_map_names_its_owner_and_stays_small
    trips/test_map_trip.py::test_what_is_drawn_of_a_map_is_bounded
    trips/test_map_trip.py::test_who_is_believed_before_the_map
    trips/test_map_trip.py::test_woods_dim_and_a_tunnel_is_dark
    trips/test_own_light.py::test_a_trip_takes_it_and_a_trip_file_refuses_it
    trips/test_own_light.py::test_reports_say_that_the_shade_is_ones_own
    trips/test_threads.py
    trips/test_trip.py::test_a_repr_is_short
    trips/test_trip.py::test_a_written_trip_reads_back_to_an_equal_trip
    trips/test_trip.py::test_using_the_package_changes_nothing_in_the_process
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


# Debian's browser without a window takes a third less time than the whole one.
_BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser")


@pytest.fixture
def few_days(monkeypatch):
    """Batteries run through 200 days of a sky, as on long trips, and not through 2,000: a tenth of the time.

    For what holds for any number of days: sums, equality to the bit, order, shares of the days themselves.
    """
    from routesolar.model import charge

    monkeypatch.setattr(charge, "DAYS", charge.LEAST_DAYS)


@pytest.fixture(scope="session")
def browser():
    """Chromium from the system, or the one that playwright brought; without either, tests are skipped."""
    from playwright.sync_api import Error, sync_playwright

    program = next(filter(None, map(shutil.which, _BROWSERS)), None)
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
