from math import exp

import numpy as np
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routesolar.physics.cells import (
    CELLS,
    MOUNTINGS,
    U1,
    air_speed_mps,
    cell_temperature_c,
    dc_power_w,
    faiman_c,
    heat_loss,
    lag_fracs,
    lagged_c,
    weak_light_frac,
)
from routesolar.trip.rig import CELL_KINDS

speeds = st.floats(0.0, 45.0)
angles = st.floats(0.0, 360.0)


@pytest.mark.parametrize(
    ("wind_mps", "expected_c"),
    # Faiman 2008 with u0 25, u1 6.84, 1000 W/m2, air 25 C: Ta + G/(u0 + u1 v), rounded to .01 C.
    [(0, 65.00), (1, 56.41), (5, 41.89), (10, 35.71), (20, 31.18), (25, 30.10)],
)
def test_faiman_law_gives_its_table(wind_mps: float, expected_c: float) -> None:
    assert faiman_c(1000.0, 25.0, wind_mps, 25.0, U1) == pytest.approx(expected_c, abs=0.005)


@given(st.floats(0, 1300), st.floats(-30, 50), st.floats(0, 20))
def test_faiman_law_agrees_with_pvlib(plane_wm2: float, air_c: float, wind_mps: float) -> None:
    ours = faiman_c(plane_wm2, air_c, wind_mps, 25.0, U1)
    assert ours == pytest.approx(pvlib.temperature.faiman(plane_wm2, air_c, wind_mps), abs=1e-9)


def test_air_gap_lies_between_the_published_racks_in_light_wind() -> None:
    # Sandia model (King et al. 2004, SAND2004-3535), cell at 1000 W/m2, air 25 C, wind 1 m/s:
    # open rack 57.32, close roof 74.46 C (from memory of the source; coefficients as pvlib carries them).
    sapm = pvlib.temperature.TEMPERATURE_MODEL_PARAMETERS["sapm"]
    open_rack = pvlib.temperature.sapm_cell(1000, 25, 1, **sapm["open_rack_glass_glass"])
    close_roof = pvlib.temperature.sapm_cell(1000, 25, 1, **sapm["close_mount_glass_glass"])
    assert (open_rack, close_roof) == pytest.approx((57.32, 74.46), abs=0.01)
    air_gap = cell_temperature_c(1000.0, 25.0, 1.0, *heat_loss("air-gap"))
    assert open_rack < air_gap < close_roof


@pytest.mark.parametrize(
    ("wind_mps", "published_c", "off_c"),
    # Sandia model, insulated back, 1000 W/m2, air 25 C (from memory of the source). Its wind is measured
    # at 10 m height, ours at the vehicle, so in wind ours is the cooler.
    [(1.0, 82.53, 6.0), (10.0, 63.20, 12.0)],
)
def test_flush_mounting_is_near_the_published_insulated_back(
    wind_mps: float, published_c: float, off_c: float
) -> None:
    ours_c = cell_temperature_c(1000.0, 25.0, wind_mps, *heat_loss("flush"))
    assert ours_c == pytest.approx(published_c, abs=off_c)


@pytest.mark.parametrize("driving_mps", [5.0, 10.0])
def test_a_flush_panel_driving_is_as_warm_as_a_plate_cooled_on_one_face(driving_mps: float) -> None:
    # Turbulent plate over 1.5 m, Nu = .037 Re^.8 Pr^(1/3) (Incropera & DeWitt, from memory), air 30 C, with
    # 5 W/m2K of longwave; the whole air speed, since the plate formula knows no roof.
    reynolds = driving_mps * 1.5 / 1.6e-5
    plate = 0.037 * reynolds**0.8 * 0.71 ** (1 / 3) * 0.0265 / 1.5
    rise = cell_temperature_c(800.0, 20.0, driving_mps, *heat_loss("flush")) - 20.0
    assert rise == pytest.approx(800.0 / (plate + 5.0), abs=4.0)


def test_air_speed_counts_headwind_tailwind_and_crosswind() -> None:
    assert air_speed_mps(20.0, 90.0, 5.0, 90.0) == pytest.approx(25.0, abs=1e-12)
    assert air_speed_mps(20.0, 90.0, 5.0, 270.0) == pytest.approx(15.0, abs=1e-12)
    assert air_speed_mps(12.0, 0.0, 5.0, 90.0) == pytest.approx(13.0, abs=1e-12)
    assert air_speed_mps(10.0, 200.0, 10.0, 20.0) == pytest.approx(0.0, abs=1e-6)


@given(speeds, speeds)
def test_unknown_wind_direction_is_the_mean_square_over_all_directions(vehicle: float, wind: float) -> None:
    known = [air_speed_mps(vehicle, 0.0, wind, direction) for direction in np.arange(0.0, 360.0, 1.0)]
    unknown = air_speed_mps(vehicle, 0.0, wind, np.nan)
    assert unknown == pytest.approx(np.sqrt(np.mean(np.square(known))), abs=1e-9)


@given(speeds, angles, speeds, angles)
def test_air_speed_is_the_length_of_the_velocity_difference(v: float, hd: float, w: float, fr: float) -> None:
    def vector(speed: float, towards_deg: float) -> complex:
        return speed * np.exp(1j * np.radians(towards_deg))

    expected = abs(vector(w, fr + 180.0) - vector(v, hd))
    assert air_speed_mps(v, hd, w, fr) == pytest.approx(expected, abs=1e-6)


@given(st.floats(1, 1300), speeds, speeds)
def test_more_air_never_heats_and_more_light_never_cools(plane: float, slow: float, fast: float) -> None:
    slow, fast = sorted((slow, fast))
    for cooling in MOUNTINGS.values():
        warm = cell_temperature_c(plane, 20.0, slow, *cooling)
        assert cell_temperature_c(plane, 20.0, fast, *cooling) <= warm
        assert warm > 20.0


def test_the_airflow_of_driving_is_capped_where_a_turbulent_plate_would_be() -> None:
    # Nu = .037 Re^.8 Pr^(1/3): 67 W/m2K at 25 m/s over 2 m (computed), both faces at most twice that.
    loss = 1000.0 / (cell_temperature_c(1000.0, 25.0, 25.0, 25.0, 6.84) - 25.0)
    assert 67.0 < loss < 2 * 67.0
    capped = [cell_temperature_c(800.0, 20.0, speed, 25.0, 6.84) for speed in (15.0, 40.0)]
    assert capped[0] == capped[1]


def test_no_light_leaves_the_cell_at_the_airs_temperature_and_without_power() -> None:
    assert cell_temperature_c(0.0, -7.0, 25.0, 25.0, 6.84) == -7.0
    assert dc_power_w(200.0, 0.0, -7.0, -0.35) == 0.0


def test_power_at_temperature_gives_the_textbook_figure() -> None:
    # 200 W panel, 800 W/m2, 45 C, -.4 %/C: 200 x .8 x (1 - .08) = 147.2 W, exact.
    assert dc_power_w(200.0, 800.0, 45.0, -0.4) == pytest.approx(147.2, abs=1e-12)


def test_power_is_never_negative_however_hot() -> None:
    assert dc_power_w(200.0, 1000.0, 400.0, -0.4) == 0.0


@given(st.floats(0, 1300), st.floats(-20, 80), st.floats(-0.6, 0.0))
def test_power_is_rated_power_scaled_by_light_and_temperature(
    plane: float, cell_c: float, coefficient: float
) -> None:
    # What the rating means: watts at 1000 W/m2 and 25 C, and a share of them for every degree (IEC 60891).
    expected = 220.0 * plane / 1000 * (1 + coefficient / 100.0 * (cell_c - 25))
    assert dc_power_w(220.0, plane, cell_c, coefficient) == pytest.approx(expected, abs=1e-9)


def test_lag_covers_63_percent_of_a_step_in_one_time_constant() -> None:
    assert lagged_c(20.0, 50.0, lag_fracs(180.0, 180.0)[0]) == pytest.approx(50 - 30 * exp(-1), abs=1e-12)
    assert lag_fracs(0.0, 180.0) == (1.0, 1.0)
    assert lagged_c(20.0, 50.0, lag_fracs(1e5, 180.0)[0]) == pytest.approx(50.0, abs=1e-9)


@given(st.floats(-20, 80), st.floats(-20, 80), st.floats(1e-3, 5e3), st.floats(60, 900))
def test_halving_the_step_changes_neither_end_nor_mean(
    start: float, to: float, span: float, tau: float
) -> None:
    half, whole = lag_fracs(span / 2, tau), lag_fracs(span, tau)
    middle = lagged_c(start, to, half[0])
    assert lagged_c(middle, to, half[0]) == pytest.approx(lagged_c(start, to, whole[0]), abs=1e-9)
    halves = (lagged_c(start, to, half[1]) + lagged_c(middle, to, half[1])) / 2
    assert halves == pytest.approx(lagged_c(start, to, whole[1]), abs=1e-9)


def test_mean_of_the_lag_equals_a_fine_average_of_it() -> None:
    times = (np.arange(100_000) + 0.5) * 300.0 / 100_000
    fine = np.mean(50.0 - 30.0 * np.exp(-times / 180.0))
    assert lagged_c(20.0, 50.0, lag_fracs(300.0, 180.0)[1]) == pytest.approx(fine, abs=1e-6)


def test_unknown_mounting_names_the_known_ones() -> None:
    with pytest.raises(ValueError, match="air-gap, flush"):
        heat_loss("glued")


@pytest.mark.parametrize(("cells", "theirs"), [("silicon", "csi"), ("cis", "cis"), ("cdte", "cdte")])
def test_weak_light_costs_what_the_huld_model_says(cells: str, theirs: str) -> None:
    # pvlib's Huld model, coefficients of Chatzipanagi et al. 2025, at 25 C: efficiency over the rated one.
    light = np.array([20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 1200.0])
    expected = pvlib.pvarray.huld(light, 25.0, 1.0, cell_type=theirs, k_version="pvgis6") / (light / 1000)
    ours = [weak_light_frac(g, *CELLS[cells]) for g in light]
    assert ours == pytest.approx(expected, abs=1e-12)
    assert set(CELLS) == set(CELL_KINDS)


def test_the_darkest_light_gives_nothing_and_never_less() -> None:
    assert [weak_light_frac(g, *CELLS["cdte"]) for g in (0.0, 1e-9, 0.1)] == [0.0, 0.0, 0.0]
    assert weak_light_frac(3.0, *CELLS["ideal"]) == 1.0


def test_modern_silicon_keeps_most_of_its_efficiency_at_a_fifth_of_the_light() -> None:
    # IEC 61215's low-irradiance test is at 200 W/m2; data sheets of silicon panels promise 95 to 98 % of the
    # rated efficiency there (common practice, no source).
    assert 0.95 <= weak_light_frac(200.0, *CELLS["silicon"]) <= 0.98
