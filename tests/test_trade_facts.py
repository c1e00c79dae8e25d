"""What people who drive with panels report, beside what the tool gives for it.

"On a main road with long tree-lined stretches, a December sun near 36 deg N: trees took 30-40 % of an hour's
energy, while in the open the flat panel gave .43-.50 of its rating" (common practice, no source). Neither the
trees, the width nor the direction of that road are known, so this is no check of the model; nothing is tuned to
it. It is shown with what cover, width and season the tool gives such an hour.
"""

from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc

from routesolar.model.simulation import simulate
from routesolar.physics.seasons import crown_transmittance_frac, day_of_year, leaf_frac
from routesolar.trip.harvest import Harvest
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

NOON = utc("2026-12-15T12:50+01:00")  # half an hour before the sun is highest at 5.5 deg W
RATED_W = 200.0
EAST, NORTH_EAST, NORTH = 90.0, 45.0, 0.0
BARE, IN_LEAF = "bare", "in leaf"

# Percent of the hour's energy that trees of 15 m take, for openings of 14, 18 and 24 m: what the tool gave when
# this was written. A road to the north loses 1 % with any of them: the sun stands along it.
TAKEN_PCT = {
    (EAST, BARE, 0.3): (40, 37, 30),
    (EAST, BARE, 0.45): (57, 53, 44),
    (EAST, BARE, 0.6): (72, 68, 58),
    (EAST, IN_LEAF, 0.15): (41, 37, 30),
    (EAST, IN_LEAF, 0.3): (68, 63, 54),
    (NORTH_EAST, BARE, 0.3): (36, 29, 18),
    (NORTH_EAST, BARE, 0.45): (52, 43, 27),
    (NORTH_EAST, BARE, 0.6): (67, 57, 37),
    (NORTH_EAST, IN_LEAF, 0.3): (62, 53, 35),
}
WIDTHS_M = (14.0, 18.0, 24.0)


def an_hour(heading_deg: float, canopy: Canopy | None = None) -> Harvest:
    drive = straight_drive(36.0, -5.5, [NOON], heading_deg=heading_deg, segments=120, elevation_m=200.0)
    n = drive.count
    rig = Rig(panels=(Panel(rated_w=RATED_W),))
    return simulate(drive, rig, canopy or Canopy.open(n), Terrain.flat(n), [Sky(name="clear")])


def taken_frac(heading_deg: float, leaves: str, cover_frac: float, width_m: float) -> float:
    leaf = {BARE: leaf_frac(day_of_year(NOON), 36.0, -5.5, 200.0), IN_LEAF: 1.0}[leaves]
    canopy = Canopy.uniform(120, cover_frac=cover_frac, height_m=15.0, road_width_m=width_m)
    crowns = np.reshape(crown_transmittance_frac(leaf, 0.0), (1, 1))
    loss = an_hour(heading_deg, replace(canopy, crown_transmittance_frac=crowns)).totals.shade_loss_frac
    assert loss is not None
    return loss


@pytest.mark.parametrize("heading_deg", [EAST, NORTH_EAST, NORTH])
def test_in_the_open_a_flat_panel_gives_nearly_half_its_rating(heading_deg):
    # Reported: .43 to .50; the tool gives .455 to .461. Air, wiring and turbidity of the report are not known.
    hour = an_hour(heading_deg)
    assert hour.sun_elevation_deg.max() == pytest.approx(90 - 36 - 23.3, abs=0.3)  # declination of 15 December
    assert 0.40 < hour.totals.energy_wh / RATED_W < 0.55


@pytest.mark.parametrize(("road", "pct"), TAKEN_PCT.items())
def test_trees_take_this_much_of_the_hour(road, pct):
    taken = [taken_frac(*road, width_m) for width_m in WIDTHS_M]
    np.testing.assert_allclose(taken, np.array(pct) / 100, atol=0.02)


def test_bare_trees_over_a_third_to_over_half_of_the_ground_take_the_reported_share():
    # Reported: 30 to 40 %. Single reports do not tell the direction: two roads and three covers are tried.
    found = [
        (cover_frac, width_m)
        for heading_deg in (EAST, NORTH_EAST)
        for cover_frac in (0.3, 0.45, 0.6)
        for width_m in WIDTHS_M
        if 0.30 <= taken_frac(heading_deg, BARE, cover_frac, width_m) <= 0.40
    ]
    assert {cover_frac for cover_frac, _ in found} >= {0.3, 0.6}
    assert {width_m for _, width_m in found} == set(WIDTHS_M)


def test_a_road_toward_the_noon_sun_loses_next_to_nothing():
    assert taken_frac(NORTH, IN_LEAF, 0.6, 14.0) < 0.05
