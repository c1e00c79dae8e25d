"""Loads that are kept on or dropped in order, and the chance that they last."""

from dataclasses import replace
from itertools import product
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routesolar.errors import UsageError
from routesolar.model.battery import Ledger, draw_along, ledger_of
from routesolar.model.charge import Days, PoorCourse, charge_of, days_of
from routesolar.physics.on_lit import OnLit
from routesolar.physics.sky_paths import SkyPaths
from routesolar.trip.loads import Load
from routesolar.trip.rig import Battery, Panel, Rig

FREEZER = Load(name="freezer", power_w=45.0)
LAPTOP = Load(name="laptop", power_w=20.0, keep=2, reserve_soc_frac=0.4)


def rig_of(*loads: Load, start: float = 0.6, **battery: float) -> Rig:
    usual = {"round_trip_frac": 1.0, "self_discharge_frac_per_month": 0.0, "reserve_soc_frac": 0.2}
    own = Battery(capacity_wh=2000.0, start_soc_frac=start, temperature_c=15.0, **(usual | battery))
    return Rig(panels=(Panel(rated_w=400.0),), battery=own, loads=loads)


def run(solar_w: object, rig: Rig, step_s: float = 3600.0) -> Ledger:
    sun = np.atleast_2d(np.asarray(solar_w, dtype=float))
    n = sun.shape[1]
    starts, lasts = np.arange(n)[None] * step_s, np.full((1, n), step_s)
    return ledger_of(draw_along(starts, lasts, np.ones(n, bool), np.array(15.0), rig, "UTC"), sun, rig)


def test_in_the_dark_each_load_stops_at_its_own_reserve_to_the_second():
    # 400 Wh above 40 % last 400 / 65 h, the 400 Wh below it 400 / 45 h for the freezer alone.
    ledger = run(np.zeros(24), rig_of(LAPTOP, FREEZER))
    laptop_h, freezer_h = 400 / 65, 400 / 65 + 400 / 45
    assert ledger.off_s.sum(axis=2)[:, 0] / 3600 == pytest.approx([24 - freezer_h, 24 - laptop_h], abs=1e-9)
    assert ledger.missed_wh.sum(axis=2)[:, 0] == pytest.approx([45 * (24 - freezer_h), 20 * (24 - laptop_h)])
    assert ledger.first_short_utc_s[0] == pytest.approx(laptop_h * 3600, abs=1e-6)
    assert ledger.soc_frac[0, -1] == pytest.approx(0.2, abs=1e-12)


def test_at_its_own_reserve_a_load_lives_from_what_the_others_leave_and_below_it_not():
    # 50 W of sun, 45 W for the freezer: at 40 % the laptop gets 5 W; from 30 % on the 5 W charge.
    at = run(np.full(10, 50.0), rig_of(FREEZER, LAPTOP, start=0.4))
    assert at.soc_frac == pytest.approx(0.4)
    assert at.missed_wh.sum(axis=2)[:, 0] == pytest.approx([0.0, 15.0 * 10])
    below = run(np.full(10, 50.0), rig_of(FREEZER, LAPTOP, start=0.3))
    assert below.soc_frac[0, -1] == pytest.approx(0.3 + 5.0 * 10 / 2000)
    assert below.missed_wh.sum(axis=2)[:, 0] == pytest.approx([0.0, 20.0 * 10])


def test_a_load_comes_back_when_the_charge_has_risen_to_its_reserve():
    # From 30 %, 145 W: 100 W above the freezer fill 200 Wh in two hours, then 80 W above both.
    ledger = run([145.0], rig_of(FREEZER, LAPTOP, start=0.3), step_s=5 * 3600.0)
    assert ledger.off_s[:, 0, 0] == pytest.approx([0.0, 2 * 3600.0])
    assert ledger.soc_frac[0, 0] == pytest.approx(0.4 + 80.0 * 3 / 2000)


def test_at_the_batterys_reserve_the_sun_serves_those_kept_longest_first():
    loads = (replace(LAPTOP, reserve_soc_frac=None), FREEZER)
    ledger = run(np.full(4, 50.0), rig_of(*loads, start=0.2))
    assert ledger.missed_wh.sum(axis=2)[:, 0] == pytest.approx([0.0, 15.0 * 4])


ranked = st.lists(
    st.tuples(st.floats(0, 300), st.integers(1, 3), st.sampled_from([0.2, 0.35, 0.5, 0.8])), max_size=4
)


@given(loads=ranked, seed=st.integers(0, 2**32 - 1), cold=st.booleans())
def test_with_any_loads_every_watt_hour_is_accounted_for_and_steps_do_not_matter(loads, seed, cold):
    reserves = sorted(reserve for *_, reserve in loads)
    order = sorted(loads, key=lambda load: load[1])
    rig = rig_of(
        *(Load(power_w=w, keep=k, reserve_soc_frac=r) for (w, k, _), r in zip(order, reserves, strict=True)),
        round_trip_frac=0.9,
        parasitic_w=3.0,
        cold_limit_c=20.0 if cold else 0.0,
    )
    sun = np.random.default_rng(seed).uniform(0, 500, 40) * (np.random.default_rng(seed + 1).random(40) < 0.5)
    whole, fine = run(sun, rig), run(np.repeat(sun, 12), rig, step_s=300.0)
    came = whole.solar_wh + whole.drawn_wh + whole.shortfall_wh
    went = (
        whole.load_wh + whole.idle_wh + whole.stored_wh + whole.charge_loss_wh + whole.cold_wh + whole.full_wh
    )
    assert np.abs(came - went).max() < 1e-9
    assert whole.missed_wh.sum(axis=0) == pytest.approx(whole.shortfall_wh, abs=1e-9)
    # The same watts in twelfths: the same charge, and the same missed load by load.
    assert fine.soc_frac[0, 11::12] == pytest.approx(whole.soc_frac[0], abs=1e-9)
    assert fine.missed_wh.sum(axis=2) == pytest.approx(whole.missed_wh.sum(axis=2), abs=1e-6)
    assert fine.off_s.sum(axis=2) == pytest.approx(whole.off_s.sum(axis=2), abs=1e-2)


def test_dropping_a_load_at_a_reserve_of_its_own_never_takes_from_those_kept_longer():
    sun = np.random.default_rng(3).uniform(0, 80, (1, 96))
    alike = run(sun, rig_of(FREEZER, replace(LAPTOP, reserve_soc_frac=None)))
    own = run(sun, rig_of(FREEZER, LAPTOP))
    alone = run(sun, rig_of(FREEZER))
    missed = [ledger.missed_wh[0].sum() for ledger in (alone, own, alike)]
    assert missed[0] <= missed[1] < missed[2]


def coin_days(hours: int, rig: Rig) -> Days:
    """All 2^h days whose every hour brings 100 W or nothing, equally likely."""
    watts = np.array(list(product([0.0, 100.0], repeat=hours)))
    starts, lasts = np.arange(hours)[None] * 3600.0, np.full((1, hours), 3600.0)
    draw = draw_along(starts, lasts, np.ones(hours, bool), np.array(15.0), rig, "UTC")
    return days_of(draw, SkyPaths(OnLit.everywhere(watts), np.full(len(watts), 1 / len(watts))), rig)


@pytest.mark.parametrize("spare_hours", [0, 1, 3])
@pytest.mark.parametrize("hours", [1, 6, 11])
def test_the_chance_to_last_is_that_of_a_gambler_not_to_be_ruined(hours, spare_hours):
    # A load of 50 W gains or loses 50 Wh an hour. The chance that a fair walk of h steps never falls below
    # -r is 1 - P(S_h <= -(r + 1)) - P(S_h < -(r + 1)): the reflection principle (Feller, vol. 1, III.7).
    start = 0.2 + (50.0 * spare_hours + 1.0) / 2000
    days = coin_days(hours, rig_of(Load(power_w=50.0), start=start))

    def below(least: int) -> float:
        return sum(comb(hours, ups) for ups in range(hours + 1) if 2 * ups - hours <= least) / 2**hours

    ruined = below(-(spare_hours + 1)) + below(-(spare_hours + 2))
    end_s = np.array(hours * 3600.0)
    assert float(days.lasting_to(end_s)) == pytest.approx(1 - ruined, abs=1e-12)
    assert np.all(np.diff(days.lasting_to(np.arange(hours + 1) * 3600.0)) <= 1e-12)


def test_each_load_has_its_own_chance_times_and_hours():
    rig = rig_of(FREEZER, LAPTOP, start=0.42)
    segments = _stay(12)
    days = coin_days(12, rig)
    charge = charge_of(segments, days, PoorCourse(days.mean["soc_frac"], np.zeros(1)), rig)
    freezer, laptop = charge.loads
    assert (freezer.name, laptop.name) == ("freezer", "laptop")
    assert freezer.lasts_prob > laptop.lasts_prob
    assert charge.short_prob == pytest.approx(1 - laptop.lasts_prob)
    assert freezer.shortfall_wh + laptop.shortfall_wh == pytest.approx(days.total("shortfall_wh"))
    assert laptop.off_poor_s > laptop.off_s > freezer.off_s
    assert laptop.shortfall_wh == pytest.approx(20.0 * laptop.off_s / 3600, rel=0.5)


def _stay(hours: int):
    from drives import straight_drive

    return straight_drive(-42.9, 147.3, [0.0], segments=hours, step_s=3600.0, speed_mps=0.0)


@pytest.mark.parametrize(
    "loads, told",
    [
        ((replace(LAPTOP, reserve_soc_frac=0.1),), "below the battery's 0.2"),
        ((replace(FREEZER, reserve_soc_frac=0.5), LAPTOP), "what is kept longer needs the lower reserve"),
    ],
)
def test_reserves_against_the_order_are_refused(loads, told):
    with pytest.raises(UsageError, match=told):
        rig_of(*loads)
