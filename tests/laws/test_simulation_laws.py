"""Laws that any drive obeys, whatever the numbers are."""

import numpy as np
import pytest
from drives import straight_drive, utc
from hypothesis import given, settings
from hypothesis import strategies as st

from routesolar.model.losses import loss_ledger
from routesolar.model.scene import set_scene
from routesolar.model.simulation import simulate
from routesolar.model.sky import sky_states
from routesolar.physics.clouds import SCENARIOS
from routesolar.trip.harvest import Harvest
from routesolar.trip.rig import Controller, Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain, Trees

MORNING = utc("2026-11-20T07:30+11:00")
FIVE = ("broken", "clear", "thin", "overcast", "rain")


def rig(rated_w: float = 200.0, **panel: float) -> Rig:
    return Rig(panels=(Panel(rated_w=rated_w, **panel),))


def harvest(
    segments: Segments,
    *,
    of: Rig | None = None,
    canopy: Canopy | None = None,
    skies: tuple[str, ...] = ("broken",),
) -> Harvest:
    n = segments.count
    named = [Sky(name=name, air_c=15.0) for name in skies]
    return simulate(segments, of or rig(), canopy or Canopy.open(n), Terrain.flat(n), named)


def test_legs_add_up_to_the_route():
    result = harvest(straight_drive(-41.5, 146.5, [MORNING]), canopy=Canopy.uniform(240, cover_frac=0.5))
    assert sum(leg.energy_wh for leg in result.legs) == pytest.approx(result.totals.energy_wh, rel=1e-12)
    assert result.energy_wh.sum() == pytest.approx(result.totals.energy_wh, rel=1e-12)
    assert sum(h.driving_wh + h.stopped_wh for h in result.hours) == pytest.approx(result.totals.energy_wh)


def test_night_gives_exactly_nothing():
    result = harvest(straight_drive(-41.5, 146.5, [utc("2026-11-20T00:00+11:00")]))
    assert np.all(result.sun_elevation_deg < -1)
    for name in ("power_w", "energy_wh", "ghi_wm2", "dni_wm2", "dhi_wm2", "plane_wm2", "clear_sky_w"):
        assert np.all(getattr(result, name) == 0.0), name
    assert np.all(np.isnan(result.incidence_deg)) and np.all(np.isnan(result.beam_transmittance_frac))
    assert result.totals.shade_loss_frac is None


@given(st.floats(10, 900), st.sampled_from(FIVE))
def test_twice_the_panel_gives_twice_the_energy(rated_w, sky):
    drive = straight_drive(51.0, 7.0, [utc("2026-04-10T09:00+02:00")], segments=60)
    once = harvest(drive, of=rig(rated_w), skies=(sky,)).totals.energy_wh
    assert harvest(drive, of=rig(2 * rated_w), skies=(sky,)).totals.energy_wh == pytest.approx(
        2 * once, rel=1e-12
    )


@given(st.floats(0, 359), st.sampled_from(FIVE))
@settings(max_examples=20)
def test_a_level_panel_under_open_sky_does_not_care_about_heading(heading, sky):
    # Parked, so that the place is the same; the airflow is too, since the wind's direction is unknown.
    def parked(heading_deg: float) -> float:
        drive = straight_drive(
            -41.5, 146.5, [MORNING], heading_deg=heading_deg, speed_mps=0.0, segments=60, step_s=300.0
        )
        return harvest(drive, skies=(sky,)).totals.energy_wh

    assert parked(heading) == pytest.approx(parked(0.0), rel=1e-9)


@given(st.floats(0, 0.95), st.floats(0, 0.95), st.sampled_from(FIVE))
@settings(max_examples=25)
def test_more_cover_never_gives_more_energy(a, b, sky):
    low, high = sorted((a, b))
    # Between fixed trunk lines; where the opening seen from above is fixed, denser trees stand farther back.
    drive = straight_drive(-41.5, 146.5, [MORNING], heading_deg=35.0, segments=40, step_s=600.0, speed_mps=2.0)
    trees = Trees(road_width_between="trunks")
    thin, thick = (
        harvest(drive, canopy=Canopy.uniform(40, cover_frac=c, road_width_m=10.0, trees=trees), skies=(sky,))
        for c in (low, high)
    )
    assert thick.totals.energy_wh <= thin.totals.energy_wh * (1 + 1e-9)
    day = ~np.isnan(thin.beam_transmittance_frac)
    assert np.all(thick.beam_transmittance_frac[day] <= thin.beam_transmittance_frac[day] + 1e-9)


def test_a_sun_on_the_horizon_does_not_shine_through_a_wood():
    # An hour around sunrise, crosswise to the road: trees stand in the way however far off their shadows start.
    drive = straight_drive(-41.5, 146.5, [utc("2026-11-20T05:25+11:00")], heading_deg=30.0, step_s=20.0)
    result = harvest(drive, canopy=Canopy.uniform(240, cover_frac=0.6))
    low = (result.sun_elevation_deg > 0) & (result.sun_elevation_deg < 6)
    assert low.sum() > 20
    assert result.beam_transmittance_frac[low].max() < 0.1


def test_overcast_never_exceeds_clear_for_a_level_panel_under_open_sky():
    for month in range(1, 13):
        drive = straight_drive(47.0, 8.0, [utc(f"2026-{month:02}-15T05:00+00:00")], speed_mps=0.0, step_s=300.0)
        by_sky = {sky.sky: sky.energy_wh for sky in harvest(drive, skies=tuple(SCENARIOS)).skies}
        assert by_sky["rain"] <= by_sky["overcast"] <= by_sky["broken"] <= by_sky["fair"] <= by_sky["clear"]


@pytest.mark.parametrize("cover_frac", [0.0, 0.6])
def test_half_the_step_gives_the_same_energy_within_half_a_percent(cover_frac):
    def energy_wh(segments: int) -> float:
        drive = straight_drive(
            -41.5, 146.5, [MORNING], heading_deg=60.0, segments=segments, step_s=7200 / segments, speed_mps=1.6
        )
        return harvest(drive, canopy=Canopy.uniform(segments, cover_frac=cover_frac)).totals.energy_wh

    assert energy_wh(240) == pytest.approx(energy_wh(480), rel=0.005)


def test_north_and_south_mirror_each_other_in_opposite_seasons():
    # Exact symmetry is broken by the Earth's distance (3.4 % each way) and the local turbidity: 12 %.
    north = straight_drive(40.0, 0.0, [utc("2026-06-21T12:00+00:00")], segments=60, speed_mps=0.0)
    south = straight_drive(-40.0, 0.0, [utc("2026-12-21T12:00+00:00")], segments=60, speed_mps=0.0)
    energies = [harvest(drive, skies=("clear",)).totals.energy_wh for drive in (north, south)]
    assert energies[0] == pytest.approx(energies[1], rel=0.12)


def test_the_antimeridian_is_a_place_like_any_other():
    start = utc("2026-03-20T00:00+00:00")
    across = harvest(straight_drive(-17.0, 179.99, [start], segments=60))
    beside = harvest(straight_drive(-17.0, 179.0, [start], segments=60))
    assert across.totals.energy_wh == pytest.approx(beside.totals.energy_wh, rel=0.03)


def test_at_the_pole_the_sun_circles():
    drive = straight_drive(
        90.0, 0.0, [utc("2026-06-21T00:00+00:00")], segments=288, step_s=300.0, speed_mps=0.0
    )
    power_w = harvest(drive, skies=("clear",)).power_w
    assert power_w.min() > 0.97 * power_w.max() > 0


def test_the_equinox_day_brings_the_same_on_both_sides_of_noon():
    # Solar noon at Greenwich on 2026-03-20 is near 12:07 UTC (equation of time, from memory).
    parked = straight_drive(
        0.0, 0.0, [utc("2026-03-20T06:07:20+00:00")], segments=288, step_s=150.0, speed_mps=0.0
    )
    result = harvest(parked, skies=("clear",))
    assert result.legs[0].energy_wh == pytest.approx(result.legs[1].energy_wh, rel=0.02)


def test_one_departure_is_the_same_alone_as_among_many():
    departures = [MORNING + 900.0 * k for k in range(5)]
    canopy = Canopy.uniform(60, cover_frac=0.6)
    many = straight_drive(-41.5, 146.5, departures, segments=60)
    alone = straight_drive(-41.5, 146.5, departures[3:4], segments=60)
    scenes = [set_scene(drive, rig(), canopy, Terrain.flat(60)) for drive in (many, alone)]
    assert np.array_equal(scenes[0].shade.beam_frac[3], scenes[1].shade.beam_frac[0])
    assert np.array_equal(scenes[0].open_sky.dni_wm2[3], scenes[1].open_sky.dni_wm2[0])


def test_the_ledger_of_losses_closes():
    equipment = Rig(panels=(Panel(rated_w=300.0, tilt_deg=5.0),), controller=Controller(max_input_w=120.0))
    drive = straight_drive(-41.5, 146.5, [MORNING], grade_frac=0.03)
    canopy = Canopy.uniform(240, cover_frac=0.4, trees=Trees(lane_offset_m=-1.75))
    scene = set_scene(drive, equipment, canopy, Terrain.flat(240))
    states = sky_states(Sky(name="broken", air_c=15.0), drive, scene.sun.apparent_elevation_deg)
    ledger = loss_ledger(scene, states)
    assert ledger.rated_clear_wh - sum(ledger.losses_wh.values()) == pytest.approx(ledger.battery_wh, abs=1e-9)
    assert ledger.losses_wh["clipped"] > 0 and ledger.losses_wh["canopy"] > 0
    result = harvest(drive, of=equipment, canopy=canopy)
    assert result.totals.energy_wh == pytest.approx(ledger.battery_wh, rel=1e-12)
