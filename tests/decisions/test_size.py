"""How many watts of panel."""

import json
from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc

from routesolar.decisions.size import size_dict, size_panels, size_rows
from routesolar.errors import UsageError
from routesolar.model.battery import run_ledger
from routesolar.model.simulation import simulate
from routesolar.model.sky import sky_states
from routesolar.report.words_sizes import size_words
from routesolar.trip.rig import Alternator, Battery, Controller, Load, Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

# Sizes, engines and drives that are compared look at the same days.
pytestmark = pytest.mark.usefixtures("few_days")

SUMMER = utc("2026-12-20T06:00+11:00")
WINTER = utc("2026-06-20T00:00+10:00")
RATED = [50.0, 100.0, 200.0, 400.0, 800.0]


def camp(start: float, hours: int = 12) -> Segments:
    return straight_drive(-41.5, 146.5, [start], speed_mps=0.0, segments=hours * 6, step_s=600.0)


def sized(segments: Segments, rig: Rig, rated_w: list[float], sky: str = "clear"):
    n = segments.count
    return size_panels(segments, rig, Canopy.open(n), Terrain.flat(n), Sky(name=sky), rated_w)


def rig(controller: Controller | None = None, **more: object) -> Rig:
    return Rig(panels=(Panel(rated_w=150.0),), controller=controller or Controller(), **more)  # type: ignore[arg-type]


def test_twice_the_panel_gives_twice_the_energy_until_a_limit_binds():
    sizes = sized(camp(SUMMER), rig(), RATED).sizes
    for size in sizes:
        assert size.energy_wh == pytest.approx(sizes[0].energy_wh * size.rated_w / 50.0, rel=1e-12)
    limited = sized(camp(SUMMER), rig(Controller(max_input_w=150.0)), RATED).sizes
    assert [a.energy_wh for a in limited[:2]] == [b.energy_wh for b in sizes[:2]]
    assert limited[2].energy_wh < sizes[2].energy_wh
    assert limited[2].energy_wh + limited[2].clipped_wh == pytest.approx(sizes[2].energy_wh, rel=1e-12)


def test_the_rigs_own_size_gives_what_its_drive_gives():
    segments, own = camp(SUMMER), rig()
    n = segments.count
    energy_wh = simulate(segments, own, Canopy.open(n), Terrain.flat(n), [Sky(name="broken")]).totals.energy_wh
    assert sized(segments, own, [150.0], "broken").sizes[0].energy_wh == energy_wh


def test_the_controller_is_named_where_it_stops_more_watts_from_helping():
    knee = sized(camp(SUMMER), rig(Controller(max_input_w=150.0)), RATED).knee
    assert knee is not None and knee.cause == "controller" and knee.rated_w == 200.0


def test_a_full_battery_is_named_where_it_stops_more_watts_from_helping():
    small = rig(battery=Battery(capacity_wh=300.0), loads=(Load(power_w=10.0),))
    knee = sized(camp(SUMMER), small, RATED).knee
    assert knee is not None and knee.cause == "loads" and knee.rated_w < 400.0


def test_without_a_limit_every_watt_helps():
    assert sized(camp(SUMMER), rig(battery=Battery(capacity_wh=50_000.0)), RATED).knee is None


def test_a_small_panel_makes_little_difference_to_a_heavy_camp_in_winter():
    # Common practice, no source: heating, cooking and a fridge of 3 kWh a day against 100-200 W of panel.
    heavy = rig(battery=Battery(capacity_wh=2000.0), loads=(Load(power_w=125.0),))
    result = sized(camp(WINTER, 24), heavy, [100.0, 200.0], "overcast")
    assert result.load_wh == pytest.approx(3000.0)
    assert all(size.load_share_frac is not None and size.load_share_frac < 0.1 for size in result.sizes)


def night_between(start: float = SUMMER) -> Segments:
    """Three hours of driving, the rest of a day and its night standing, three hours of driving."""
    segments = camp(start, 30)
    stopped = (np.arange(segments.count) >= 18) & (np.arange(segments.count) < 162)
    return replace(segments, stopped=stopped)


FREEZER = rig(
    battery=Battery(capacity_wh=500.0), loads=(Load(power_w=30.0),), alternator=Alternator(charge_w=40.0)
)


def with_engine(charge_w: float) -> Rig:
    return replace(FREEZER, alternator=Alternator(charge_w=charge_w))


@pytest.mark.parametrize("start", [SUMMER, WINTER])
def test_with_what_the_engine_must_give_no_load_goes_short(start):
    segments = night_between(start)
    n = segments.count
    for size in sized(segments, FREEZER, [50.0, 150.0], "broken").sizes:
        for need, most_short in ((size.average_need, 1.0), (size.poor_need, 0.1)):
            if need is None or need.charge_w == 0.0:
                continue
            panel = replace(FREEZER.panels[0], rated_w=size.rated_w)
            given = replace(with_engine(need.charge_w), panels=(panel,))
            drive = simulate(segments, given, Canopy.open(n), Terrain.flat(n), [Sky(name="broken")])
            assert drive.charge is not None and drive.charge.short_prob <= most_short
            times = segments.start_utc_s, segments.duration_s, segments.stopped
            air_c = sky_states(Sky(name="broken"), segments, np.zeros((1, n))).air_c
            average = run_ledger(*times, drive.power_w[None], air_c, given, segments.time_zone)
            assert average.shortfall_wh.sum() == 0.0
            # Two percent less is too little for whom it was computed.
            little = replace(given, alternator=Alternator(charge_w=0.98 * need.charge_w))
            if need is size.average_need:
                less = run_ledger(*times, drive.power_w[None], air_c, little, segments.time_zone)
                assert less.shortfall_wh.sum() > 0.0
            else:
                poor = simulate(segments, little, Canopy.open(n), Terrain.flat(n), [Sky(name="broken")])
                assert poor.charge is not None and poor.charge.short_prob > 0.1


def test_a_larger_panel_asks_less_of_the_engine():
    sizes = sized(night_between(), FREEZER, RATED, "overcast").sizes
    for name in ("average_need", "poor_need"):
        needs = [getattr(size, name) for size in sizes]
        watts = [np.inf if need is None else need.charge_w for need in needs]
        assert watts == sorted(watts, reverse=True) and watts[0] > watts[-1]
    assert all(size.poor_need is None or size.average_need is not None for size in sizes)


def test_batteries_and_chargers_are_axes_and_the_first_size_that_serves_is_named():
    segments, n = night_between(WINTER), night_between(WINTER).count
    around = Canopy.open(n), Terrain.flat(n), Sky(name="broken")
    ratings, axes = [50.0, 400.0], {"capacity_wh": [500.0, 1500.0], "charge_w": [0.0, 60.0]}
    result = size_panels(segments, FREEZER, *around, ratings, **axes)
    keys = [(size.capacity_wh, size.charge_w, size.rated_w) for size in result.sizes]
    assert keys == [(wh, w, rated) for wh in (500.0, 1500.0) for w in (0.0, 60.0) for rated in ratings]
    # Each is the drive with such a rig, whose battery charges as fast for its size.
    for size in result.sizes:
        assert size.capacity_wh is not None
        battery = Battery(capacity_wh=size.capacity_wh)
        alternator = Alternator(charge_w=size.charge_w) if size.charge_w else None
        panel = replace(FREEZER.panels[0], rated_w=size.rated_w)
        own = replace(FREEZER, battery=battery, alternator=alternator, panels=(panel,))
        drive = simulate(segments, own, *around[:2], [around[2]])
        assert drive.charge is not None and size.short_prob == drive.charge.short_prob
        assert size.shortfall_wh == pytest.approx(drive.totals.shortfall_wh, rel=1e-12)
        assert size.shortfall_poor_wh == pytest.approx(drive.charge.shortfall_poor_wh, rel=1e-12)
    said = size_dict(result)
    for key, off in (("engine_off", True), ("serving", False)):
        for first in said[key]:
            smaller = [
                size
                for size in result.sizes
                if size.capacity_wh == first["capacity_wh"]
                and (off or size.charge_w == first["charge_w"])
                and size.rated_w < first["rated_w"]
            ]
            assert not any(size.engine_rests if off else size.serves for size in smaller)
    assert said["serving"] and said["knee"] is None
    words = size_words(result)
    assert f"from {said['serving'][0]['rated_w']:g} W with" in words.answer
    assert any("engine may stay off" in remark for remark in words.remarks)


def test_axes_of_a_rig_without_battery_are_refused():
    n = camp(SUMMER).count
    around = Canopy.open(n), Terrain.flat(n), Sky(name="clear")
    with pytest.raises(UsageError, match="no battery to vary"):
        size_panels(camp(SUMMER), rig(), *around, [100.0], capacity_wh=[1000.0])
    with pytest.raises(UsageError, match="--capacity 1000,2000,4000"):
        size_panels(camp(SUMMER), FREEZER, *around, [100.0], capacity_wh=[0.0])


def test_where_nothing_is_driven_no_engine_can_help():
    heavy = rig(battery=Battery(capacity_wh=500.0), loads=(Load(power_w=100.0),))
    size = sized(camp(WINTER, 24), heavy, [100.0], "broken").sizes[0]
    assert size.average_need is None and size.poor_need is None and size.shortfall_wh is not None
    assert size.shortfall_wh > 0


def test_the_share_of_the_loads_is_that_of_the_drive_with_the_same_rig():
    segments = night_between()
    n = segments.count
    drive = simulate(segments, FREEZER, Canopy.open(n), Terrain.flat(n), [Sky(name="broken")])
    own = sized(segments, FREEZER, [150.0], "broken").sizes[0]
    assert drive.charge is not None
    assert own.load_share_frac == drive.charge.load_share_frac
    assert own.shortfall_wh == pytest.approx(drive.totals.shortfall_wh, rel=1e-12)
    assert own.full_wh == pytest.approx(drive.totals.battery_full_wh, rel=1e-12)


def test_a_cold_battery_is_named_and_not_called_full():
    cold = rig(battery=Battery(capacity_wh=300.0, temperature_c=-8.0), loads=(Load(power_w=10.0),))
    result = sized(camp(SUMMER), cold, RATED)
    assert result.knee is not None and result.knee.cause == "cold"
    assert all(size.full_wh == 0 and size.cold_wh > 0 for size in result.sizes)
    assert "too cold to charge" in size_words(result).answer
    assert any("not charged below 0 C" in warning for warning in result.warnings)


def test_a_battery_that_never_fills_is_not_called_full():
    slow = rig(
        battery=Battery(capacity_wh=5000.0, max_charge_w=20.0, start_soc_frac=0.3), loads=(Load(power_w=5.0),)
    )
    result = sized(camp(SUMMER), slow, RATED)
    assert result.knee is not None and result.knee.cause == "charging"
    assert "cannot charge any faster" in size_words(result).answer


def test_no_size_is_said_to_help_little_beyond_while_a_larger_one_lets_the_engine_rest():
    # Too cold to charge, a panel of any size serves only the moment's loads: its energy stalls at once.
    cold = replace(FREEZER, battery=replace(FREEZER.battery, temperature_c=-8.0), loads=(Load(power_w=9.0),))
    result = sized(night_between(WINTER), cold, [50.0, 100.0, 200.0, 800.0], "broken")
    knee = result.knee
    assert knee is not None and knee.cause == "cold" and knee.decides_to_w is not None
    free = [
        size.rated_w for size in result.sizes if size.poor_need is not None and size.poor_need.charge_w == 0
    ]
    assert knee.rated_w < knee.decides_to_w == free[0]
    assert "helps little" not in size_words(result).answer
    assert f"up to {knee.decides_to_w:g} W a larger panel still decides" in size_words(result).answer
    idle = sized(night_between(WINTER), replace(cold, loads=()), [50.0, 100.0, 200.0, 800.0], "broken")
    assert (
        size_words(idle).answer
        == "None of the energy can be used at any size, since the battery is too cold to charge."
    )


def test_rows_have_the_keys_of_the_contract_and_are_json():
    result = sized(camp(SUMMER), rig(), [200.0, 100.0, 200.0])
    assert [list(row) for row in size_rows(result)] == [
        [
            *("rated_w", "capacity_wh", "charge_w", "energy_wh", "energy_low_wh", "load_share_frac"),
            *("alternator_needed_wh", "alternator_needed_w"),
            *("alternator_needed_poor_wh", "alternator_needed_poor_w"),
            *("shortfall_wh", "shortfall_poor_wh", "short_prob", "battery_cold_wh", "battery_full_wh"),
            "soc_end_frac",
        ]
    ] * 2
    assert [row["rated_w"] for row in size_rows(result)] == [100.0, 200.0]
    assert size_rows(result)[0]["load_share_frac"] is None
    assert json.loads(json.dumps(size_dict(result), allow_nan=False))["schema"] == "routesolar.size/1"


@pytest.mark.parametrize("wrong", [[], [100.0, 0.0], [-50.0], [float("nan")]])
def test_sizes_that_are_none_are_refused(wrong):
    with pytest.raises(UsageError, match="give watts above zero, such as --rated 100W,200W,400W"):
        sized(camp(SUMMER), rig(), wrong)
