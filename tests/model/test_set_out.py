"""A loose panel set out at the stops: laws that hold whatever the numbers are."""

import pytest
from drives import straight_drive, utc

from routesolar.model.scene import set_scene
from routesolar.model.simulation import set_out_gain, simulate
from routesolar.model.sky import sky_states
from routesolar.trip.rig import Controller, Panel, Rig
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

RIG = Rig(panels=(Panel(rated_w=200.0),))
CLEAR = Sky(name="clear")
# A winter afternoon, so that a panel turned to the low sun has much to gain over a flat one.
PARKED = straight_drive(47.0, 8.0, [utc("2026-12-15T11:00+01:00")], speed_mps=0.0, segments=60, step_s=240.0)


def gain(rig=RIG, drive=PARKED, rated_w=100.0):
    around = Canopy.open(drive.count), Terrain.flat(drive.count)
    scene = set_scene(drive, rig, *around)
    states = sky_states(CLEAR, drive, scene.sun.apparent_elevation_deg)
    return set_out_gain(scene, states, simulate(drive, rig, *around, [CLEAR]).totals.energy_wh, rated_w)


def test_turned_to_a_low_sun_it_gives_more_a_watt_than_the_flat_panel():
    flat_wh = simulate(PARKED, RIG, Canopy.open(60), Terrain.flat(60), [CLEAR]).totals.energy_wh
    assert gain().added_wh / 100.0 > 1.5 * flat_wh / 200.0


def test_twice_the_watts_add_twice_until_the_controller_is_full():
    assert gain(rated_w=200.0).added_wh == pytest.approx(2 * gain().added_wh, rel=1e-9)
    tight = Rig(panels=RIG.panels, controller=Controller(max_input_w=60.0))
    assert gain(tight).added_wh < gain().added_wh


def test_nothing_is_said_without_a_stop_or_where_a_loose_panel_is_in_the_rig():
    driving = straight_drive(47.0, 8.0, [utc("2026-12-15T11:00+01:00")], segments=10)
    assert gain(drive=driving) is None
    loose = Panel(rated_w=100.0, use="stopped", aim="sun")
    assert gain(Rig(panels=(*RIG.panels, loose))) is None
