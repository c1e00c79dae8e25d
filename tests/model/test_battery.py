from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routesolar.model.battery import Ledger, loads_w, run_ledger
from routesolar.trip.loads import Load
from routesolar.trip.rig import Alternator, Battery, Panel, Rig

PANELS = (Panel(rated_w=400.0),)
HOBART = "Australia/Hobart"
MIDNIGHT = datetime(2026, 11, 20, tzinfo=ZoneInfo(HOBART)).timestamp()
QUARTER = 900.0


def quiet_battery(**given: float) -> Battery:
    """A battery without losses of its own, so that sums can be done by hand."""
    usual = {"round_trip_frac": 1.0, "self_discharge_frac_per_month": 0.0, "reserve_soc_frac": 0.2}
    return Battery(capacity_wh=2000.0, **(usual | given))


def days(count: int, departures: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Quarter hours from local midnight: starts (departures, n), an hour apart, and durations."""
    starts = MIDNIGHT + np.arange(count * 96) * QUARTER
    starts = starts + np.arange(departures)[:, None] * 3600.0
    return starts, np.full(starts.shape, QUARTER)


def run(
    solar_w: float | np.ndarray, rig: Rig, driving_hours: float = 0.0, air_c: float = 15.0, count: int = 1
) -> Ledger:
    starts, durations = days(count)
    stopped = np.arange(count * 96) % 96 >= driving_hours * 4
    solar = np.broadcast_to(solar_w, starts.shape)
    return run_ledger(starts, durations, stopped, solar, np.array(air_c), rig, HOBART)


def balance(ledger: Ledger) -> np.ndarray:
    came = ledger.solar_wh + ledger.alternator_wh + ledger.drawn_wh + ledger.shortfall_wh
    went = ledger.load_wh + ledger.idle_wh + ledger.stored_wh + ledger.charge_loss_wh
    went = went + ledger.cold_wh + ledger.full_wh
    return came - went


rigs = st.builds(
    Rig,
    panels=st.just(PANELS),
    battery=st.builds(
        Battery,
        capacity_wh=st.floats(100, 10_000),
        kind=st.sampled_from(["lithium", "lead"]),
        start_soc_frac=st.floats(0, 1),
        round_trip_frac=st.floats(0.6, 1),
        parasitic_w=st.floats(0, 20),
    ),
    alternator=st.none()
    | st.builds(
        Alternator, charge_w=st.floats(50, 1500), yields_first=st.sampled_from(["alternator", "solar"])
    ),
    loads=st.lists(
        st.builds(
            Load,
            power_w=st.floats(0, 500),
            when=st.sampled_from(["always", "driving", "stopped", "18:00-18:40", "22:00-05:30, 12:07-12:11"]),
        ),
        max_size=4,
    ).map(tuple),
)


@given(rig=rigs, seed=st.integers(0, 2**32 - 1))
def test_every_watt_hour_is_accounted_for_over_random_rigs_and_days(rig: Rig, seed: int) -> None:
    random = np.random.default_rng(seed)
    d, n = 3, 120
    durations = random.uniform(0.0, 3600.0, (d, n))
    starts = MIDNIGHT + np.cumsum(durations, axis=1) - durations
    solar = random.uniform(0.0, 600.0, (d, n)) * (random.random((d, n)) < 0.6)
    air = random.uniform(-15.0, 35.0, (d, n))
    ledger = run_ledger(starts, durations, random.random(n) < 0.5, solar, air, rig, HOBART)

    assert np.abs(balance(ledger)).max() < 1e-9
    charge_wh = ledger.soc_frac * rig.battery.capacity_wh
    change = np.diff(charge_wh, axis=1, prepend=rig.battery.start_soc_frac * rig.battery.capacity_wh)
    assert np.abs(change - ledger.stored_wh + ledger.drawn_wh).max() < 1e-9
    named = (
        "alternator_wh idle_wh stored_wh drawn_wh charge_loss_wh cold_wh full_wh shortfall_wh sun_to_load_wh"
    )
    for name in named.split():
        assert getattr(ledger, name).min() >= -1e-9, name
    assert ledger.soc_frac.min() >= 0.0
    assert ledger.soc_frac.max() <= 1.0
    # Below the reserve only the battery's own draw goes on.
    low_wh = min(rig.battery.start_soc_frac, rig.battery.reserve_soc_frac) * rig.battery.capacity_wh
    assert np.all(charge_wh >= low_wh - np.cumsum(ledger.idle_wh, axis=1) - 1e-9)
    assert not np.any((ledger.cold_wh + ledger.full_wh > 1e-9) & (ledger.shortfall_wh > 1e-9))
    assert np.all(ledger.sun_to_load_wh <= ledger.load_wh - ledger.shortfall_wh + 1e-9)
    assert np.all((ledger.short_s > 0) >= (ledger.shortfall_wh > 1e-9))


def test_departures_in_parallel_equal_each_alone() -> None:
    rig = Rig(
        panels=PANELS,
        battery=quiet_battery(),
        loads=(Load(power_w=60.0), Load(power_w=90.0, when="18:00-20:00")),
    )
    starts, durations = days(2, departures=4)
    solar = 300.0 * np.maximum(0.0, np.sin((starts - MIDNIGHT) / 86400 * 2 * np.pi - np.pi / 2))
    stopped = np.arange(192) % 96 > 30
    together = run_ledger(starts, durations, stopped, solar, np.array(15.0), rig, HOBART)
    for i in range(4):
        alone = run_ledger(starts[[i]], durations[[i]], stopped, solar[[i]], np.array(15.0), rig, HOBART)
        assert np.array_equal(alone.soc_frac[0], together.soc_frac[i])
        assert alone.load_share_frac[0] == together.load_share_frac[i]


def test_half_the_step_gives_the_same_charge() -> None:
    rig = Rig(panels=PANELS, battery=quiet_battery(start_soc_frac=0.85), loads=(Load(power_w=50.0),))
    starts, durations = days(1)
    fine_starts = np.stack([starts, starts + QUARTER / 2], axis=2).reshape(1, -1)
    solar = np.linspace(0.0, 600.0, 96)[None]
    coarse = run_ledger(starts, durations, np.ones(96, bool), solar, np.array(15.0), rig, HOBART)
    halves = (fine_starts, np.full((1, 192), QUARTER / 2), np.ones(192, bool), np.repeat(solar, 2, axis=1))
    fine = run_ledger(*halves, np.array(15.0), rig, HOBART)
    assert fine.soc_frac[0, 1::2] == pytest.approx(coarse.soc_frac[0], abs=1e-12)
    assert fine.full_wh.sum() == pytest.approx(coarse.full_wh.sum(), abs=1e-9)


def test_sun_and_a_steady_alternator_add_up_to_the_batterys_limit() -> None:
    # Common practice, no source: 420 W from the engine and a good sun made near 700 W together.
    rig = Rig(
        panels=PANELS,
        battery=quiet_battery(start_soc_frac=0.2, max_charge_w=900.0),
        alternator=Alternator(charge_w=420.0),
    )
    both = run(280.0, rig, driving_hours=1.0)
    assert both.stored_wh[0, :4].sum() == pytest.approx(700.0, abs=1e-9)
    tight = quiet_battery(start_soc_frac=0.2, max_charge_w=500.0)
    limited = run(
        280.0, Rig(panels=PANELS, battery=tight, alternator=Alternator(charge_w=420.0)), driving_hours=1.0
    )
    assert limited.stored_wh[0, :4].sum() == pytest.approx(500.0, abs=1e-9)


@pytest.mark.parametrize(
    ("yields_first", "alternator_wh", "full_wh"), [("alternator", 220.0, 0.0), ("solar", 420.0, 200.0)]
)
def test_who_yields_first_when_the_battery_cannot_take_both(
    yields_first: str, alternator_wh: float, full_wh: float
) -> None:
    alternator = Alternator(charge_w=420.0, yields_first=yields_first)
    rig = Rig(
        panels=PANELS, battery=quiet_battery(start_soc_frac=0.2, max_charge_w=500.0), alternator=alternator
    )
    first_hour = run(280.0, rig, driving_hours=1.0)
    assert first_hour.alternator_wh[0, :4].sum() == pytest.approx(alternator_wh, abs=1e-9)
    assert first_hour.full_wh[0, :4].sum() == pytest.approx(full_wh, abs=1e-9)


def test_a_parked_panel_goes_on_charging_and_a_parked_engine_does_not() -> None:
    rig = Rig(panels=PANELS, battery=quiet_battery(start_soc_frac=0.2), alternator=Alternator(charge_w=420.0))
    ledger = run(100.0, rig, driving_hours=1.0)
    assert ledger.alternator_wh[0, 4:].sum() == 0.0
    assert ledger.stored_wh[0, 4:8].sum() == pytest.approx(100.0, abs=1e-9)


def test_on_a_poor_day_the_alternator_carries_nearly_all() -> None:
    # Common practice, no source. Five hours of driving, a panel that makes 15 W for ten hours.
    hours = np.arange(96) / 4
    dull = np.where((hours > 7) & (hours < 17), 15.0, 0.0)
    rig = Rig(
        panels=PANELS,
        battery=quiet_battery(),
        alternator=Alternator(charge_w=360.0),
        loads=(Load(power_w=70.0),),
    )
    ledger = run(dull, rig, driving_hours=5.0)
    assert ledger.alternator_wh.sum() > 0.85 * (ledger.alternator_wh.sum() + ledger.solar_wh.sum())
    assert ledger.load_share_frac[0] < 0.1


def test_the_battery_is_carried_over_nights_with_loads_through_them() -> None:
    hours = np.arange(3 * 96) / 4 % 24
    sun = np.where((hours >= 8) & (hours < 16), 150.0, 0.0)
    ledger = run(
        sun, Rig(panels=PANELS, battery=quiet_battery(start_soc_frac=0.8), loads=(Load(power_w=60.0),)), count=3
    )
    per_day = ledger.soc_frac[0, 95::96]
    # 8 h x 150 W less 24 h x 60 W: 240 Wh of 2000 are missing each day.
    assert per_day == pytest.approx([0.8 - 0.12, 0.8 - 0.24, 0.8 - 0.36], abs=1e-9)
    assert ledger.lowest_soc_frac[0] == pytest.approx(0.8 - 0.24 - 0.24, abs=1e-9)
    assert ledger.lowest_utc_s[0] == pytest.approx(MIDNIGHT + 2 * 86400 + 8 * 3600)


def test_a_taper_fills_the_battery_on_the_published_clock() -> None:
    # 1280 Wh at 640 W from .2, taper from .9: .99 at 1.861 h (closed form, see physics tests).
    battery = Battery(
        capacity_wh=1280.0, start_soc_frac=0.2, round_trip_frac=1.0, self_discharge_frac_per_month=0.0
    )
    starts = MIDNIGHT + np.arange(7200)[None] * 1.0
    stopped = np.ones(7200, bool)
    rig = Rig(panels=PANELS, battery=battery)
    ledger = run_ledger(
        starts, np.ones((1, 7200)), stopped, np.full((1, 7200), 640.0), np.array(15.0), rig, HOBART
    )
    assert ledger.first_full_utc_s[0] - MIDNIGHT == pytest.approx((1.4 + 0.2 * np.log(10)) * 3600, abs=1.0)


def test_lithium_is_not_charged_below_freezing_but_sun_still_serves_the_loads() -> None:
    rig = Rig(panels=PANELS, battery=quiet_battery(), loads=(Load(power_w=40.0),))
    frozen = run(100.0, rig, air_c=-5.0)
    assert frozen.stored_wh.sum() == 0.0
    assert frozen.drawn_wh.sum() == 0.0
    assert frozen.cold_wh.sum() == pytest.approx(60.0 * 24)
    assert frozen.full_wh.sum() == 0.0
    indoors = Rig(panels=PANELS, battery=quiet_battery(temperature_c=15.0), loads=rig.loads)
    assert run(100.0, indoors, air_c=-5.0).stored_wh.sum() > 0.0
    assert run(100.0, Rig(panels=PANELS, battery=quiet_battery(kind="lead")), air_c=-5.0).stored_wh.sum() > 0.0


def test_loads_are_cut_off_at_the_reserve_to_the_second() -> None:
    battery = quiet_battery(start_soc_frac=0.5, round_trip_frac=0.9)
    rig = Rig(
        panels=PANELS, battery=battery, alternator=Alternator(charge_w=400.0), loads=(Load(power_w=51.0),)
    )
    ledger = run(0.0, rig)
    # 600 Wh above the reserve serve 600 / 51 of 24 hours, to a moment within a segment.
    on_hours = 600.0 / 51.0
    assert ledger.shortfall_wh.sum() == pytest.approx(51.0 * 24 - 600.0, abs=1e-9)
    assert ledger.first_short_utc_s[0] == pytest.approx(MIDNIGHT + on_hours * 3600, abs=1e-3)
    assert ledger.short_s.sum() == pytest.approx((24 - on_hours) * 3600, abs=1e-3)
    assert run(0.0, rig, driving_hours=1.9).shortfall_wh.sum() == 0.0
    assert run(0.0, rig, driving_hours=1.25).shortfall_wh.sum() > 0.0
    assert np.isnan(ledger.first_full_utc_s[0])
    assert ledger.load_share_frac[0] == 0.0


def test_the_batterys_own_draw_is_never_a_load_that_goes_short() -> None:
    # 5 W day and night from a battery at its reserve: 240 Wh of two days are drawn, nothing is missed.
    battery = quiet_battery(start_soc_frac=0.2, parasitic_w=5.0)
    ledger = run(0.0, Rig(panels=PANELS, battery=battery), count=2)
    assert ledger.shortfall_wh.sum() == 0.0
    assert ledger.soc_frac[0, -1] == pytest.approx(0.2 - 240.0 / 2000.0, abs=1e-12)
    with_load = run(0.0, Rig(panels=PANELS, battery=battery, loads=(Load(power_w=40.0),)), count=2)
    assert with_load.shortfall_wh.sum() == pytest.approx(40.0 * 48, abs=1e-9)
    empty = run(0.0, Rig(panels=PANELS, battery=quiet_battery(start_soc_frac=0.03, parasitic_w=5.0)), count=2)
    assert (empty.soc_frac[0, -1], empty.idle_wh.sum()) == (0.0, pytest.approx(60.0, abs=1e-9))


def test_the_start_s_charge_and_the_engine_s_are_not_counted_as_sun() -> None:
    # 12 h of 100 W load from a battery with 400 Wh, then 12 h of 200 W of sun: half of the load is the sun's,
    # though the sun brings as much as the whole day's loads take.
    sun = np.where(np.arange(96) < 48, 0.0, 200.0)
    battery = quiet_battery(start_soc_frac=0.9)
    ledger = run(sun, Rig(panels=PANELS, battery=battery, loads=(Load(power_w=100.0),)))
    assert ledger.shortfall_wh.sum() == 0.0
    assert ledger.load_share_frac[0] == pytest.approx(0.5, abs=1e-12)
    # The store is mixed: 600 Wh of sun come to 1200 Wh of other charge, then the night takes a third of sun.
    mixed = np.where(np.arange(96) < 24, 100.0, 0.0)
    night = Rig(
        panels=PANELS,
        battery=quiet_battery(start_soc_frac=0.6),
        loads=(Load(power_w=60.0, when="12:00-24:00"),),
    )
    ledger = run(mixed, night)
    assert ledger.load_share_frac[0] == pytest.approx(1.0 / 3.0, abs=1e-12)
    # Sun and engine side by side carry the loads as they come, one to three.
    engine = Rig(
        panels=PANELS,
        battery=quiet_battery(start_soc_frac=0.2),
        alternator=Alternator(charge_w=300.0),
        loads=(Load(power_w=80.0),),
    )
    assert run(100.0, engine, driving_hours=2.0).sun_to_load_wh[0, :8].sum() == pytest.approx(40.0)


def test_the_suns_share_of_the_loads() -> None:
    rig = Rig(panels=PANELS, battery=quiet_battery(), loads=(Load(power_w=100.0),))
    assert run(30.0, rig).load_share_frac[0] == pytest.approx(0.3)
    assert run(300.0, rig).load_share_frac[0] == 1.0
    assert np.isnan(run(300.0, Rig(panels=PANELS, battery=quiet_battery())).load_share_frac[0])


def test_a_battery_left_alone_loses_its_monthly_share_and_its_electronics_draw() -> None:
    battery = Battery(
        capacity_wh=2000.0, start_soc_frac=0.8, self_discharge_frac_per_month=0.03, parasitic_w=5.0
    )
    ledger = run(0.0, Rig(panels=PANELS, battery=battery), count=2)
    expected = 48 * 5.0 + 0.03 * 2000.0 * 2 / (365.25 / 12)
    assert ledger.idle_wh.sum() == pytest.approx(expected, abs=1e-6)
    assert (0.8 - ledger.soc_frac[0, -1]) * 2000.0 == pytest.approx(expected, abs=1e-6)


def test_the_lowest_charge_may_be_the_start() -> None:
    ledger = run(100.0, Rig(panels=PANELS, battery=quiet_battery(start_soc_frac=0.3)))
    assert (ledger.lowest_soc_frac[0], ledger.lowest_utc_s[0]) == (0.3, MIDNIGHT)


def test_clock_loads_are_met_to_the_second_whatever_the_segments() -> None:
    load = (Load(power_w=60.0, when="18:00-18:40, 23:30-00:30"),)
    for step in (10.0, 97.0, 900.0, 7200.0, 86400.0):
        count = int(np.ceil(86400.0 / step))
        starts = MIDNIGHT + np.arange(count)[None] * step
        durations = np.minimum(step, MIDNIGHT + 86400.0 - starts)
        energy = loads_w(load, starts, durations, np.ones(count, bool), HOBART) * durations / 3600
        assert energy.sum() == pytest.approx(40.0 + 60.0, abs=1e-6)


def test_clock_loads_follow_local_time_through_a_change_of_the_clocks() -> None:
    # Tasmania set its clocks forward on 4 October 2026 at 02:00 (first Sunday of October).
    load = (Load(power_w=60.0, when="18:00-19:00"),)
    start = datetime(2026, 10, 3, tzinfo=ZoneInfo(HOBART)).timestamp()
    starts = start + np.arange(3 * 96)[None] * QUARTER
    on = loads_w(load, starts, np.full(starts.shape, QUARTER), np.ones(288, bool), HOBART)[0] > 0
    local = [datetime.fromtimestamp(moment, ZoneInfo(HOBART)) for moment in starts[0][on]]
    assert {moment.hour for moment in local} == {18}
    assert len(local) == 12


def test_a_load_of_half_a_minute_is_met_twice_where_the_clocks_are_set_back() -> None:
    # Tasmania set its clocks back on 5 April 2026 at 03:00 to 02:00 (first Sunday of April): 02:30 comes twice,
    # and what is on until 03:00 is on until the clocks change and until an hour after.
    zone = ZoneInfo(HOBART)
    change = datetime(2026, 4, 4, 16, tzinfo=ZoneInfo("UTC")).timestamp()
    assert datetime.fromtimestamp(change, zone).hour == 2
    for when, seconds in (("02:00-02:01", 60), ("02:30-02:31", 120), ("02:59-03:00", 120), ("03:00-03:01", 60)):
        whole = {"02:00-02:01": 120}.get(when, seconds)  # begins at 02:00 twice
        load = (Load(power_w=3600.0, when=when),)
        for step in (30.0, 70.0, 3600.0, 86400.0):
            first = change - 12 * 3600.0 - 15.0
            starts = first + np.arange(int(86400 / step))[None] * step
            durations = np.full(starts.shape, step)
            on_s = (loads_w(load, starts, durations, np.ones(starts.shape[1], bool), HOBART) * durations).sum()
            assert on_s / 3600.0 == pytest.approx(whole, abs=1e-4), (when, step)


def test_a_rig_without_battery_has_no_ledger() -> None:
    with pytest.raises(ValueError, match="no battery"):
        run(100.0, Rig(panels=PANELS))
