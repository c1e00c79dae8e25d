"""The season of the trees through the whole chain, as `--season` and a trip file set it."""

import numpy as np
import pytest
from drives import straight_drive, utc

from routesolar.model.clear_sky import sun_on
from routesolar.model.simulation import simulate
from routesolar.timetable import stretch_values
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain, Trees
from routesolar.trips.crowns import with_crowns
from routesolar.trips.sources import Sources

# Six months apart, so that the other hemisphere has the same sun mirrored; 16 July and 15 January.
NOON = {"Jul": "2026-07-16T12:06+00:00", "Jan": "2026-01-15T12:09+00:00"}
LOW_IN_JULY = "2026-07-16T17:47+00:00"  # as low as the noon of January
SEASONS = ("auto", "leaf-on", "leaf-off")
# Five minutes: about a degree of the sun's way.
SHORT = {"segments": 10, "step_s": 30.0, "speed_mps": 10.0}


def avenue_loss_frac(
    latitude_deg: float, when: str, season: str, *, aside_deg: float = 60.0, evergreen_frac: float = 0.0
) -> tuple[float, float]:
    """Return what an avenue takes of the energy, and the sun's height, on a road so far aside of the sun."""
    first = straight_drive(latitude_deg, 0.0, [utc(when)], **SHORT)
    heading_deg = float(sun_on(first).azimuth_deg.mean()) + aside_deg
    drive = straight_drive(latitude_deg, 0.0, [utc(when)], heading_deg=heading_deg, **SHORT)
    # Mirrored roads have their lane on the other side.
    trees = Trees(evergreen_frac=evergreen_frac, lane_offset_m=1.75 * np.sign(aside_deg))
    avenue = Canopy.uniform(drive.count, cover_frac=0.5, height_m=15.0, road_width_m=12.0, trees=trees)
    canopy = with_crowns(avenue, drive, Sources(trees=trees, season=season), stretch_values(drive, ())).canopy
    rig = Rig(panels=(Panel(rated_w=200.0),))
    harvest = simulate(drive, rig, canopy, Terrain.flat(drive.count), [Sky(name="clear")])
    loss_frac = harvest.totals.shade_loss_frac
    assert loss_frac is not None
    return loss_frac, float(harvest.sun_elevation_deg.mean())


@pytest.mark.parametrize("aside_deg", [20.0, 60.0, 90.0])
def test_leaves_make_an_avenue_take_more_of_a_july_sun_than_of_a_january_sun_of_the_same_height(aside_deg):
    # At their own noons January loses more all the same: its sun is 42 degrees lower, and meets more crowns
    # than bare ones let through.
    summer, summer_deg = avenue_loss_frac(50.0, LOW_IN_JULY, "auto", aside_deg=aside_deg)
    winter, winter_deg = avenue_loss_frac(50.0, NOON["Jan"], "auto", aside_deg=aside_deg)
    assert summer_deg == pytest.approx(winter_deg, abs=0.5)
    assert summer > winter + 0.1


@pytest.mark.parametrize(("latitude_deg", "winter", "summer"), [(50.0, "Jan", "Jul"), (-50.0, "Jul", "Jan")])
def test_the_season_bares_deciduous_trees_in_the_winter_of_either_hemisphere(latitude_deg, winter, summer):
    in_winter = {season: avenue_loss_frac(latitude_deg, NOON[winter], season)[0] for season in SEASONS}
    in_summer = {season: avenue_loss_frac(latitude_deg, NOON[summer], season)[0] for season in SEASONS}
    assert in_winter["auto"] == pytest.approx(in_winter["leaf-off"], rel=0.01)
    assert in_winter["auto"] < in_winter["leaf-on"] - 0.1
    assert in_summer["auto"] == pytest.approx(in_summer["leaf-on"], rel=0.01)


@pytest.mark.parametrize(("north", "south"), [("Jan", "Jul"), ("Jul", "Jan")])
@pytest.mark.parametrize("aside_deg", [20.0, 60.0])
def test_the_hemispheres_mirror_each_other_half_a_year_apart(north, south, aside_deg):
    # The sun stands within .25 degrees of the same height, and is up to 3 % nearer or farther.
    there = avenue_loss_frac(-50.0, NOON[south], "auto", aside_deg=-aside_deg)[0]
    assert avenue_loss_frac(50.0, NOON[north], "auto", aside_deg=aside_deg)[0] == pytest.approx(there, abs=0.02)


def test_evergreens_do_not_mind_the_season():
    losses = {avenue_loss_frac(50.0, NOON["Jan"], season, evergreen_frac=1.0)[0] for season in SEASONS}
    assert len(losses) == 1
