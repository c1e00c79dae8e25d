"""What kinds of panels do through the whole chain."""

import math

import pytest
from drives import straight_drive, utc

from routesolar.model.simulation import simulate
from routesolar.trip.rig import Panel, Rig, RoofBox
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

NOON = utc("2026-06-21T11:00+00:00")
PARKED = straight_drive(50.0, 0.0, [NOON], heading_deg=90.0, speed_mps=0.0, segments=30, step_s=240.0)
DRIVEN = straight_drive(50.0, 0.0, [NOON], heading_deg=90.0, segments=30)


def energy_wh(*panels, drive=PARKED, boxes=(), sky="clear", **more):
    rig = Rig(panels=panels, roof_boxes=boxes, **more)
    n = drive.count
    return simulate(drive, rig, Canopy.open(n), Terrain.flat(n), [Sky(name=sky)]).totals.energy_wh


def flat(**more):
    return Panel(rated_w=200.0, length_m=1.5, width_m=0.7, **more)


def test_two_panels_give_what_both_give_alone_where_nothing_limits():
    tilted = flat(tilt_deg=20.0, facing_deg=90.0, mounting="flush")
    together = energy_wh(flat()) + energy_wh(tilted)
    assert energy_wh(flat(), tilted, mismatch_frac=0.0) == pytest.approx(together, rel=1e-12)
    # Unless they share a controller and are unlike: Dobos 2014, NREL/TP-6A20-62641, takes 2 %.
    assert energy_wh(flat(), tilted) == pytest.approx(0.98 * together, rel=1e-12)


def test_an_old_panel_gives_less_by_its_years():
    # Half a percent a year: the median of Jordan & Kurtz 2013.
    assert energy_wh(flat(age_years=20.0)) == pytest.approx(0.9 * energy_wh(flat()), rel=1e-12)


def test_weak_light_costs_more_under_an_overcast_sky_and_nothing_with_ideal_cells():
    kept = {
        sky: energy_wh(flat(), sky=sky) / energy_wh(flat(cells="ideal"), sky=sky) for sky in ("clear", "rain")
    }
    # Silicon is best at some 800 W/m2 by the curve.
    assert 0.98 < kept["clear"] < 1.002
    assert 0.85 < kept["rain"] < kept["clear"] - 0.02


def test_a_panel_that_leans_to_the_sun_gives_more_and_away_from_it_less():
    # Heading east with the sun in the south: to the right is towards the sun (northern summer noon).
    towards, away = (energy_wh(flat(tilt_deg=20.0, facing_deg=side)) for side in (90.0, 270.0))
    assert away < energy_wh(flat()) < towards


def test_a_box_between_panel_and_sun_costs_more_than_one_behind():
    # South is to the right: a tall box there throws its shadow on the panel, one on the left takes sky only.
    def beside(right_m):
        return energy_wh(flat(), boxes=(RoofBox(length_m=2.0, width_m=0.3, height_m=0.6, right_m=right_m),))

    assert beside(0.55) < beside(-0.55) < energy_wh(flat())


def test_a_panel_in_use_only_when_stopped_gives_nothing_while_driving():
    folded = flat(use="stopped")
    assert energy_wh(folded, drive=DRIVEN) == 0.0
    assert energy_wh(folded) == pytest.approx(energy_wh(flat()), rel=1e-12)


def test_a_panel_turned_to_the_sun_beats_a_flat_one_by_the_cosine_it_regains():
    # Clear beam near noon: about 1 / sin(sun's height); the diffuse dome it turns from takes some of that back.
    height = math.radians(90 - 50.0 + 23.44)
    gained = energy_wh(flat(use="stopped", aim="sun")) / energy_wh(flat())
    assert 1.0 < gained < 1 / math.sin(height) + 0.02


def test_a_bent_panel_loses_a_little_under_a_high_sun():
    lost = 1 - energy_wh(flat(curvature_deg=30.0)) / energy_wh(flat())
    assert 0.0 < lost < 0.03


def test_a_flush_panel_is_warmer_and_gives_less():
    assert energy_wh(flat(mounting="flush")) < energy_wh(flat())
