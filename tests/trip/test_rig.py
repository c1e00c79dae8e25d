from dataclasses import fields

import pytest

from routesolar.trip.loads import Load, clock_windows_s
from routesolar.trip.ranges import RANGES
from routesolar.trip.rig import BATTERY_KINDS, Alternator, Battery, Controller, Panel, Rig, RoofBox


def test_thirty_amps_at_a_twelve_volt_battery_are_408_watts() -> None:
    # Common practice, no source: a controller's amps count at the battery's charging voltage, 13.6 V.
    rig = Rig(panels=(Panel(rated_w=500.0),), controller=Controller(max_input_a=30.0))
    assert rig.input_limit_w == pytest.approx(408.0, abs=1e-9)
    twice = Rig(
        panels=rig.panels, controller=rig.controller, battery=Battery(capacity_wh=2000.0, voltage_v=27.2)
    )
    assert twice.input_limit_w == pytest.approx(816.0, abs=1e-9)


def test_the_tighter_of_two_limits_counts_and_none_means_the_panels_rating() -> None:
    panels = (Panel(rated_w=200.0), Panel(rated_w=150.0))
    assert Rig(panels=panels, controller=Controller(max_input_w=300.0, max_input_a=30.0)).input_limit_w == 300.0
    assert Rig(panels=panels).input_limit_w == float("inf")
    assert Rig(panels=panels).full_load_w == 350.0


def test_a_battery_is_as_usual_for_its_kind_unless_told_otherwise() -> None:
    lithium = Battery(capacity_wh=2000.0)
    assert lithium.max_charge_w == 1000.0
    assert (lithium.cold_limit_c, lithium.reserve_soc_frac) == (0.0, 0.2)
    lead = Battery(capacity_wh=2000.0, kind="lead", reserve_soc_frac=0.4)
    assert lead.max_charge_w == 400.0
    assert (lead.cold_limit_c, lead.reserve_soc_frac) == (float("-inf"), 0.4)


@pytest.mark.parametrize(
    ("kind", "low", "high"),
    # Energy round trip: lithium iron phosphate .92-.96, absorbent glass mat .80-.85 (published ranges).
    [("lithium", 0.92, 0.96), ("lead", 0.80, 0.85)],
)
def test_round_trips_lie_in_the_published_ranges(kind: str, low: float, high: float) -> None:
    assert low <= BATTERY_KINDS[kind].round_trip_frac <= high


def test_the_alternator_gives_its_charge_or_what_the_vehicle_can_spare() -> None:
    assert Alternator(charge_w=420.0).delivered_w == 420.0
    assert Alternator(charge_w=420.0, max_input_w=300.0, efficiency_frac=0.9).delivered_w == pytest.approx(
        270.0
    )


@pytest.mark.parametrize(
    ("when", "windows"),
    [
        ("always", ()),
        ("18:00-18:40", ((64800.0, 67200.0),)),
        ("22:00-06:00", ((0.0, 21600.0), (79200.0, 86400.0))),
        ("22:00-24:00", ((79200.0, 86400.0),)),
        ("18:00-19:00, 7:30 - 8:00", ((27000.0, 28800.0), (64800.0, 68400.0))),
    ],
)
def test_clock_times_are_read(when: str, windows: tuple[tuple[float, float], ...]) -> None:
    assert clock_windows_s(when) == windows


@pytest.mark.parametrize(
    ("when", "said"),
    [
        ("sometimes", "always, driving, stopped"),
        ("18-19", "18:00-18:40"),
        ("25:00-26:00", "not a time of the day"),
        ("18:70-19:00", "not a time of the day"),
        ("18:00-18:00", "whole day write always"),
        ("18:00-19:00, 18:30-20:00", "overlap"),
        ("22:00-06:00, 05:00-07:00", "overlap"),
        ("", "always, driving, stopped"),
    ],
)
def test_unusable_clock_times_say_what_to_write(when: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        Load(power_w=10.0, when=when)


def test_a_noun_outside_its_range_lists_every_fault_with_advice() -> None:
    with pytest.raises(ValueError, match=r"tilt_deg is 95.*; temperature|temperature.*; tilt_deg is 95"):
        Panel(rated_w=200.0, tilt_deg=95.0, temperature_coefficient_pct_per_c=0.35)
    with pytest.raises(ValueError, match=r"write 97 % as 0\.97"):
        Controller(efficiency_frac=97.0)
    with pytest.raises(ValueError, match="use one of: lithium, lead"):
        Battery(capacity_wh=100.0, kind="nickel")
    with pytest.raises(ValueError, match='use = "stopped"'):
        Panel(rated_w=200.0, aim="sun")
    with pytest.raises(ValueError, match="at least one panel"):
        Rig(panels=())
    with pytest.raises(ValueError, match="rise"):
        Controller(efficiency_curve=((0.5, 0.9), (0.2, 0.95)))


def test_not_a_number_is_no_value() -> None:
    with pytest.raises(ValueError, match="rated_w is nan"):
        Panel(rated_w=float("nan"))


def test_every_number_of_the_equipment_has_its_range() -> None:
    for noun in (Panel, RoofBox, Controller, Battery, Alternator, Load):
        numbers = {item.name for item in fields(noun) if item.type in (float, int, float | None)}
        assert numbers - set(RANGES) == set(), noun.__name__
