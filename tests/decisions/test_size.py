"""How many watts of panel."""

import json

import pytest
from drives import straight_drive, utc

from routesolar.decisions.size import size_dict, size_panels, size_rows
from routesolar.errors import UsageError
from routesolar.model.simulation import simulate
from routesolar.trip.rig import Alternator, Battery, Controller, Load, Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

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


def test_the_alternator_must_add_less_with_a_larger_panel_and_is_itself_left_out():
    heavy = rig(battery=Battery(capacity_wh=500.0), loads=(Load(power_w=100.0),))
    sizes = sized(camp(WINTER, 24), heavy, RATED, "broken").sizes
    needed = [size.alternator_needed_wh for size in sizes]
    assert needed == sorted(needed, reverse=True) and needed[0] > needed[-1]
    driven = rig(
        battery=Battery(capacity_wh=500.0), loads=(Load(power_w=100.0),), alternator=Alternator(charge_w=300.0)
    )
    assert sized(camp(WINTER, 24), driven, RATED, "broken").sizes == sizes


def test_rows_have_the_keys_of_the_contract_and_are_json():
    result = sized(camp(SUMMER), rig(), [200.0, 100.0, 200.0])
    assert [list(row) for row in size_rows(result)] == [
        ["rated_w", "energy_wh", "load_share_frac", "alternator_needed_wh"]
    ] * 2
    assert [row["rated_w"] for row in size_rows(result)] == [100.0, 200.0]
    assert size_rows(result)[0]["load_share_frac"] is None
    assert json.loads(json.dumps(size_dict(result), allow_nan=False))["schema"] == "routesolar.size/1"


@pytest.mark.parametrize("wrong", [[], [100.0, 0.0], [-50.0], [float("nan")]])
def test_sizes_that_are_none_are_refused(wrong):
    with pytest.raises(UsageError, match="give watts above zero, such as --rated 100W,200W,400W"):
        sized(camp(SUMMER), rig(), wrong)
