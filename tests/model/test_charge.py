"""The battery over many possible days: what coming and going clouds do that their mean does not."""

from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc

from routesolar.model.battery import draw_along, ledger_of
from routesolar.model.charge import days_of
from routesolar.model.day_quantiles import quantile
from routesolar.model.engine import engine_need
from routesolar.model.simulation import simulate
from routesolar.model.warmth import around_cells, day_before_c
from routesolar.physics.air import usual_air_c
from routesolar.physics.bands import Passage, StateEnergy
from routesolar.physics.battery_warmth import run_warmth
from routesolar.physics.on_lit import OnLit
from routesolar.physics.sky_paths import SkyPaths, draw_paths
from routesolar.trip.harvest import Harvest
from routesolar.trip.rig import Alternator, Battery, Load, Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

HOBART = "Australia/Hobart"
OUT_W, HIDDEN_W, SUN_PROB = 100.0, 20.0, 0.5


def at_reserve(load_w: float, **more: float) -> Rig:
    battery = Battery(
        capacity_wh=1000.0,
        start_soc_frac=0.2,
        reserve_soc_frac=0.2,
        self_discharge_frac_per_month=0.0,
        **more,
    )
    return Rig(panels=(Panel(rated_w=200.0),), battery=battery, loads=(Load(power_w=load_w),))


def two_watts(hours: float = 10.0) -> tuple[SkyPaths, np.ndarray, np.ndarray]:
    """Scenarios of a sky whose states have no brightness of their own: 100 W or 20 W, half of the time each."""
    count = int(hours * 120)
    each = np.full((1, count), 1.0)
    energy = StateEnergy(
        unobscured_wh=each * OUT_W / 120,
        obscured_wh=each * HIDDEN_W / 120,
        sun_out_prob=each * SUN_PROB,
        unobscured_index=each,
        obscured_index=each * 0.5,
        unobscured_sd=each * 1e-9,
        obscured_sd=each * 1e-9,
    )
    start = utc("2026-11-20T08:00+11:00") + np.arange(count)[None] * 30.0
    passage = Passage(start, each * 30.0, np.zeros(1), np.full(count, 147.0), np.full(count, 800.0))
    return draw_paths(energy, passage, "known", 400, 1), start, each * 30.0


def test_expected_shortfall_has_a_closed_form_where_the_battery_can_neither_give_nor_take():
    # At the reserve and too cold to charge, loads of 60 W live from the moment's sun: they miss
    # (1 - p) (60 - 20) = 20 W, and (100 - 60) p = 20 W of sun are lost. The mean of 60 W misses nothing.
    paths, start, duration = two_watts()
    rig = at_reserve(60.0, temperature_c=-10.0)
    draw = draw_along(start, duration, np.ones(start.shape[1], bool), np.array(15.0), rig, HOBART)
    days = days_of(draw, paths, rig)
    assert days.total("shortfall_wh") == pytest.approx(20.0 * 10, rel=0.05)
    assert days.total("cold_wh") == pytest.approx(20.0 * 10, rel=0.05)
    assert days.total("short_s") == pytest.approx(5 * 3600, rel=0.05)
    assert days.total("full_wh") == 0.0
    average = ledger_of(draw, np.full(start.shape, 60.0), rig)
    assert average.shortfall_wh.sum() == pytest.approx(0.0, abs=1e-9)


def camp(hours: int = 48, start: str = "2026-12-20T12:00+11:00", speed_mps: float = 0.0) -> Segments:
    return straight_drive(
        -41.5, 146.5, [utc(start)], speed_mps=speed_mps, segments=hours * 12, step_s=300.0, elevation_m=100.0
    )


def two_days(start: str = "2026-12-20T15:00+11:00") -> Segments:
    """Three hours of driving, a night, three hours of driving."""
    segments = camp(24, start)
    stopped = (np.arange(segments.count) >= 36) & (np.arange(segments.count) < 252)
    return replace(segments, stopped=stopped)


def harvested(segments: Segments, rig: Rig, sky: Sky | None = None) -> Harvest:
    n = segments.count
    return simulate(segments, rig, Canopy.open(n), Terrain.flat(n), [sky or Sky(name="broken")])


NEAR_BALANCE = Rig(
    panels=(Panel(rated_w=150.0),),
    battery=Battery(capacity_wh=800.0, start_soc_frac=0.5, parasitic_w=3.0),
    alternator=Alternator(charge_w=60.0),
    loads=(Load(power_w=36.0),),
)


@pytest.mark.parametrize("sky", ["broken", "overcast"])
def test_every_term_of_the_ledger_is_in_the_sums_and_the_charge_follows_from_them(sky):
    result = harvested(two_days(), NEAR_BALANCE, Sky(name=sky))
    charge = result.charge
    assert charge is not None
    for part in (*result.legs, result.totals):
        came_wh = part.energy_wh + part.alternator_wh + part.shortfall_wh
        went_wh = (
            part.load_wh + part.idle_wh + part.charge_loss_wh + part.battery_cold_wh + part.battery_full_wh
        )
        risen_wh = (part.soc_end_frac - part.soc_start_frac) * charge.capacity_wh
        assert risen_wh == pytest.approx(came_wh - went_wh, abs=1e-6)
    assert charge.stored_wh - charge.drawn_wh == pytest.approx(risen_wh, abs=1e-6)
    turned_away = {name: wh for name, wh in result.losses_wh.items() if name.startswith("battery_")}
    assert list(result.losses_wh)[-3:] == ["clipped", "battery_cold", "battery_full"]
    assert result.battery_wh == pytest.approx(result.totals.energy_wh - sum(turned_away.values()), abs=1e-6)


def test_clouds_that_come_and_go_cost_more_than_their_mean():
    segments = two_days()
    result = harvested(segments, NEAR_BALANCE)
    times = segments.start_utc_s, segments.duration_s, segments.stopped
    draw = draw_along(*times, np.array(15.0), NEAR_BALANCE, segments.time_zone)
    average = ledger_of(draw, result.power_w[None], NEAR_BALANCE)
    assert result.totals.shortfall_wh > average.shortfall_wh.sum() + 1.0
    assert 0 < result.charge.short_prob < 1
    assert result.charge.first_short_poor_utc_s is not None
    assert result.charge.shortfall_poor_wh > result.totals.shortfall_wh


def test_a_battery_in_frost_loses_the_sun_to_the_cold_and_warns_of_it():
    frost = Sky(name="broken", air_c=-5.0)
    result = harvested(camp(24), NEAR_BALANCE, frost)
    assert result.totals.battery_cold_wh > 50 and result.totals.battery_full_wh == 0
    assert result.losses_wh["battery_cold"] == result.totals.battery_cold_wh
    assert result.charge.cold_s == pytest.approx(24 * 3600)
    (warning,) = result.warnings
    assert (
        "not charged below 0 C and is colder for 24.0 h of this trip (down to -5 C)" in warning
        and "temperature_c" in warning
    )
    (driven,) = harvested(two_days(), NEAR_BALANCE, frost).warnings
    assert "6.0 h of driving do not charge it" in driven
    roomy = replace(NEAR_BALANCE.battery, capacity_wh=4000.0, start_soc_frac=0.9)  # to feed a heater for a day
    for said in ({"temperature_c": 15.0}, {"cabin_c": 12.0}, {"placed": "heated"}):
        indoors = replace(NEAR_BALANCE, battery=replace(roomy, **said))
        warm = harvested(camp(24), indoors, frost)
        assert warm.totals.battery_cold_wh == 0 and warm.warnings == ()
    # Held at 5 C in -5 C: its conductance over 10 C for 24 h (closed form), on top of its own draw.
    conductance = 10 * roomy.capacity_wh / (3 * 3600)
    assert warm.charge.heater_wh == pytest.approx(10 * conductance * 24)
    cold = harvested(camp(24), replace(NEAR_BALANCE, battery=roomy), frost)
    assert warm.totals.idle_wh - cold.totals.idle_wh == pytest.approx(warm.charge.heater_wh, rel=1e-6)


def test_a_battery_within_the_vehicle_swings_less_than_one_outside_and_both_know_the_night_before():
    # A first-order lag leaves 1/sqrt(1 + (w tau)^2) of the day's first wave, and less of its higher ones.
    segments = camp(24)
    places = segments.middle_latitude_deg, segments.middle_longitude_deg, segments.middle_elevation_m
    air_c = usual_air_c(*places, segments.middle_utc_s)
    for placed, hours in (("outside", 3), ("vehicle", 6)):
        battery = replace(NEAR_BALANCE.battery, placed=placed)
        before_c = day_before_c(segments, segments.start_utc_s, segments.duration_s, air_c)
        cell_c = run_warmth(around_cells(segments.duration_s, air_c, battery, before_c)).cell_c[0]
        assert np.ptp(cell_c) == pytest.approx(np.ptp(air_c) / np.hypot(1, hours * np.pi / 12), rel=0.1)
        # The day before was such a day too: a day later it is as warm as at departure.
        assert cell_c[-1] == pytest.approx(cell_c[0], abs=0.3)


def need_of(segments: Segments, rig: Rig, result: Harvest):
    times = segments.start_utc_s, segments.duration_s, segments.stopped
    draw = draw_along(*times, np.array(15.0), rig, segments.time_zone)
    return draw, engine_need(draw, OnLit.everywhere(result.power_w[None]), np.ones(1), rig, 0.0)


def test_with_the_engine_s_need_given_no_load_goes_short_and_with_less_one_does():
    segments = two_days()
    heavy = replace(NEAR_BALANCE, loads=(Load(power_w=42.0),))
    result = harvested(segments, heavy)
    draw, need = need_of(segments, heavy, result)
    assert need is not None and need.charge_w > 1

    def ledger(charge_w: float):
        return ledger_of(draw, result.power_w[None], replace(heavy, alternator=Alternator(charge_w=charge_w)))

    enough = ledger(need.charge_w)
    assert enough.shortfall_wh.sum() == 0.0
    assert enough.alternator_wh.sum() == pytest.approx(need.given_wh)
    assert ledger(0.98 * need.charge_w).shortfall_wh.sum() > 0.0


def test_the_need_on_nine_days_in_ten_holds_when_the_drive_is_run_with_it():
    segments = two_days()
    short = harvested(segments, replace(NEAR_BALANCE, loads=(Load(power_w=42.0),)))
    watts = short.charge.alternator_needed_w
    assert short.charge.short_prob > 0.1 and watts is not None
    engine = Alternator(charge_w=watts)
    held = harvested(segments, replace(NEAR_BALANCE, loads=(Load(power_w=42.0),), alternator=engine))
    assert held.charge.short_prob <= 0.1
    assert held.totals.alternator_wh == pytest.approx(short.charge.alternator_needed_wh, rel=1e-9)


def test_a_night_too_long_for_the_battery_is_not_said_to_be_mended_by_driving():
    segments = two_days()
    huge = replace(NEAR_BALANCE, loads=(Load(power_w=300.0, when="stopped"),))
    _, need = need_of(segments, huge, harvested(segments, huge))
    assert need is None
    assert harvested(segments, huge).charge.alternator_needed_w is None
    idle = replace(NEAR_BALANCE, loads=())
    assert need_of(segments, idle, harvested(segments, idle))[1].charge_w == 0.0


def test_quantiles_count_by_chance_and_never_is_later_than_any_time():
    values = np.array([[3.0, np.nan], [1.0, np.nan], [2.0, 5.0]])
    chance = np.array([0.5, 0.1, 0.4])
    assert quantile(values, chance, 0.1)[0] == 1.0
    assert quantile(values, chance, 0.5)[0] == 2.0
    assert quantile(values, chance, 0.51)[0] == 3.0
    assert quantile(values, chance, 0.3)[1] == 5.0
    assert np.isnan(quantile(values, chance, 0.5)[1])


@pytest.mark.parametrize("least_alone", [1e-6, 1.0, 50.0])
def test_a_quantile_is_found_however_likely_the_least_days_are(least_alone):
    rng = np.random.default_rng(1)
    values = np.where(rng.random((200, 30)) < 0.05, np.nan, rng.random((200, 30)).round(2))
    chance = rng.random(200)
    chance[np.argsort(values[:, 0])[:80]] *= least_alone
    chance /= chance.sum()
    for level in (0.1, 0.3, 0.5, 0.9):
        for found, column in zip(quantile(values, chance, level), values.T, strict=True):
            told = sorted((value, share) for value, share in zip(column, chance, strict=True) if value == value)
            reached = np.cumsum([share for _, share in told]) >= level - 1e-12
            expected = told[int(reached.argmax())][0] if reached.any() else np.nan
            assert np.array_equal(found, expected, equal_nan=True)
