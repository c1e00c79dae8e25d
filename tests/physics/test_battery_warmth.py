from math import exp, log

import numpy as np
import pytest

from routesolar.physics.battery_warmth import NO_HEATER, Enclosure, Heater, run_warmth

LAG_S, PER_C = 10_800.0, 2.0


def warmth(around_c, hours, start_c, heater=NO_HEATER):
    around = np.array([around_c], dtype=float)
    duration = np.broadcast_to(3600.0 * np.array([hours], dtype=float), around.shape).copy()
    return run_warmth(Enclosure(around, duration, np.array([start_c]), LAG_S, PER_C, heater, 0.0))


def test_a_battery_without_heater_follows_newtons_law_of_cooling():
    # T = Ta + (T0 - Ta) exp(-t / tau); its mean over the time in closed form.
    found = warmth([-10.0, -10.0], [2.0, 4.0], 15.0)
    assert found.end_c[0] == pytest.approx(-10 + 25 * exp(-6 / 3), abs=1e-12)
    assert found.cell_c[0, 0] == pytest.approx(-10 + 25 * (1 - exp(-2 / 3)) / (2 / 3), abs=1e-12)
    assert not found.heater_w.any()


def test_a_days_swing_reaches_the_cells_weaker_and_later():
    # A first-order lag leaves 1/sqrt(1 + (w tau)^2) of a sine and delays it by atan(w tau)/w.
    hours = np.arange(0.0, 240.0, 0.1)
    swing = 2 * np.pi / 24
    cell = warmth(5 + 8 * np.sin(swing * (hours + 0.05)), 0.1, 5.0).cell_c[0]
    last = cell[-240:]
    assert (last.max() - last.min()) / 2 == pytest.approx(8 / np.hypot(1, swing * 3), rel=1e-3)
    late_h = hours[-240:][last.argmax()] % 24 - 6
    assert late_h == pytest.approx(np.arctan(swing * 3) / swing, abs=0.1)


def test_a_heater_gives_what_the_battery_loses_and_no_more():
    # Held at 5 C in -10 C: 15 C over 2 W/C are 30 W. From 20 C it first cools for tau ln(30/15) without heat.
    found = warmth([-10.0], [10.0], 20.0, Heater(80.0, 5.0))
    off_h = 3 * log(30 / 15)
    assert found.end_c[0] == 5.0
    assert found.heater_w[0, 0] * 10 == pytest.approx(30 * (10 - off_h), rel=1e-12)


def test_a_heater_that_is_too_weak_leaves_the_battery_colder():
    found = warmth([-30.0], [100.0], 5.0, Heater(40.0, 5.0))
    assert found.heater_w[0, 0] == pytest.approx(40.0)
    assert found.end_c[0] == pytest.approx(-10.0, abs=1e-3)


def test_energy_is_kept_while_it_heats_up_and_halves_equal_the_whole():
    # Heater = losses + what warms the cells: capacity = tau x conductance.
    heater = Heater(60.0, 5.0)
    whole, halves = warmth([-10.0], [6.0], -8.0, heater), warmth([-10.0] * 2, [3.0] * 2, -8.0, heater)
    lost_wh = PER_C * (whole.cell_c[0, 0] + 10) * 6
    warmed_wh = PER_C * LAG_S / 3600 * (whole.end_c[0] + 8)
    assert whole.heater_w[0, 0] * 6 == pytest.approx(lost_wh + warmed_wh, rel=1e-9)
    assert halves.heater_w.sum() * 3 == pytest.approx(whole.heater_w[0, 0] * 6, rel=1e-9)
    assert halves.end_c[0] == whole.end_c[0] == 5.0
