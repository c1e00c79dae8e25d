"""A battery with a heater of its own, which lives from what is above the reserve and what sources leave."""

import numpy as np
import pytest

from routesolar.model.battery import Ledger, draw_along, ledger_of, run_over_days
from routesolar.physics.on_lit import OnLit
from routesolar.trip.loads import Load
from routesolar.trip.rig import Battery, Panel, Rig

HEATER_W = 40.0  # 1,000 Wh outside lose 10 J/C Wh x 1,000 Wh / 3 h = .93 W/C: too weak by far at -60 C


def rig_of(start: float, load_w: float = 0.0, **more: float) -> Rig:
    battery = Battery(
        capacity_wh=1000.0,
        start_soc_frac=start,
        reserve_soc_frac=0.2,
        round_trip_frac=1.0,
        self_discharge_frac_per_month=0.0,
        placed="heated",
        heater_w=HEATER_W,
        heated_to_c=5.0,
        **more,
    )
    return Rig(panels=(Panel(rated_w=200.0),), battery=battery, loads=(Load(power_w=load_w),))


def run(solar_w: object, rig: Rig, air_c: float = -60.0, step_s: float = 600.0) -> Ledger:
    sun = np.atleast_2d(np.asarray(solar_w, dtype=float))
    n = sun.shape[1]
    starts, lasts = np.arange(n)[None] * step_s, np.full((1, n), step_s)
    return ledger_of(draw_along(starts, lasts, np.ones(n, bool), np.array(air_c), rig, "UTC"), sun, rig)


def test_at_the_reserve_the_heater_stops_and_the_cold_then_refuses_the_sun():
    # 100 Wh above the reserve feed 40 W for 2.5 h; 12 h later the cells are far below 0 C and 30 W of sun
    # are not enough to warm them: all of it goes into the heater, and nothing is stored.
    ledger = run(np.r_[np.zeros(72), np.full(12, 30.0)], rig_of(0.3))
    assert ledger.heater_wh[0, :72].sum() == pytest.approx(100.0)
    assert ledger.soc_frac[0, 15:] == pytest.approx(0.2, abs=1e-12)
    assert ledger.heater_wh[0, 72:].sum() == pytest.approx(30.0 * 2)
    assert ledger.stored_wh.sum() == 0.0 and ledger.cold_s[0, 60:].min() == 600.0
    more = run(np.r_[np.zeros(72), np.full(12, 100.0)], rig_of(0.3))
    assert more.cold_wh[0, 72] == pytest.approx((100.0 - HEATER_W) / 6)  # more than heats is refused


def test_loads_come_before_the_heater():
    # At the reserve 50 W of sun feed a load of 45 W; the heater gets the 5 W that are left.
    ledger = run(np.full(6, 50.0), rig_of(0.2, load_w=45.0))
    assert ledger.heater_wh.sum() == pytest.approx(5.0)
    assert ledger.shortfall_wh.sum() == 0.0


def test_with_enough_charge_it_is_kept_warm_and_drawn_from_as_if_nothing_else_were():
    # Held at 5 C in -10 C: 15 C x .926 W/C, the closed form of what it loses.
    ledger = run(np.zeros(30), rig_of(0.9), air_c=-10.0)
    assert ledger.heater_wh[0] * 6 == pytest.approx(15 * 10 * 1000 / 10_800)
    assert ledger.cold_s.sum() == 0.0
    assert 1000 * (0.9 - ledger.soc_frac[0, -1]) == pytest.approx(ledger.heater_wh.sum())


def test_many_days_have_each_its_own_warmth():
    # The same two days alone and together.
    rig, sun = rig_of(0.25, load_w=10.0), np.vstack([np.full(48, 60.0), np.zeros(48)])
    starts, lasts = np.arange(48)[None] * 600.0, np.full((1, 48), 600.0)
    draw = draw_along(starts, lasts, np.ones(48, bool), np.array(-30.0), rig, "UTC")
    seen = {}
    days = run_over_days(
        draw,
        OnLit.everywhere(sun),
        np.array([0.25, 0.75]),
        rig,
        seen=lambda first, soc: seen.update({first: soc}),
    )
    alone = [run(one, rig, air_c=-30.0) for one in sun]
    assert seen[0] == pytest.approx(np.vstack([one.soc_frac for one in alone]))
    assert days.mean[12] == pytest.approx(0.25 * alone[0].cold_s[0] + 0.75 * alone[1].cold_s[0])
    assert days.coldest_c[1] < days.coldest_c[0]
