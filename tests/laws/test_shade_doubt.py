"""The interval over clouds and trees together: against draws from the same priors, and its laws."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from drives import straight_drive, utc
from scipy.special import betaincinv
from scipy.stats import norm, qmc

from routesolar.model.charge import battery_days
from routesolar.model.day_quantiles import quantile
from routesolar.model.other_trees import canopy_at
from routesolar.model.percentiles import moments_of
from routesolar.model.scene import Scene, run, set_scene
from routesolar.model.simulation import simulate
from routesolar.model.sky import sky_states
from routesolar.model.sweeping import sweep
from routesolar.physics.bands import trip_parts
from routesolar.trip.canopy_doubt import CanopyDoubt
from routesolar.trip.harvest import LegResult
from routesolar.trip.rig import Battery, Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

RIG = Rig(panels=(Panel(rated_w=200.0),))
WIDTH_M, COVER, TAU = 12.0, 0.5, 0.10
WIDTH_SD, COVER_SD, TAU_SD, UNEVEN_SD = 0.25, 0.08, 0.04, 0.4
DRAWS, CLOUDS = 256, 64


def day_drive(segments: int = 36) -> Segments:
    """Slowly along one road from morning to afternoon: every sun beside it and one along it."""
    return straight_drive(
        46.0,
        8.0,
        [utc("2026-04-15T05:30:00+00:00")],
        heading_deg=30.0,
        segments=segments,
        step_s=9 * 3600 / segments,
        speed_mps=1.0,
    )


def woods(drive: Segments, width_m: float = WIDTH_M, cover: float = COVER, tau: float = TAU) -> Canopy:
    canopy = Canopy.uniform(drive.count, cover_frac=float(np.clip(cover, 0, 1)), road_width_m=width_m)
    return replace(canopy, crown_transmittance_frac=np.full((1, 1), np.clip(tau, 0, 1)))


def in_doubt(drive: Segments) -> Canopy:
    doubt = CanopyDoubt(
        road_width_sd_frac=np.full(1, WIDTH_SD),
        cover_sd_frac=np.full(1, COVER_SD),
        crown_transmittance_sd_frac=np.full((1, 1), TAU_SD),
        uneven_sd_frac=UNEVEN_SD,
    )
    return replace(woods(drive), doubt=doubt)


@cache
def drawn_woods() -> list[Scene]:
    """Trees drawn from the priors (a scrambled Sobol sequence), each taken as certain."""
    drive, scenes = day_drive(), []
    for width, cover, tau, uneven in norm.ppf(qmc.Sobol(4, seed=3).random(DRAWS)):
        trees = woods(drive, WIDTH_M * np.exp(WIDTH_SD * width), COVER + COVER_SD * cover, TAU + TAU_SD * tau)
        scene = set_scene(drive, RIG, trees.certain(), Terrain.flat(drive.count))
        # What uneven light costs is 1 - T^x with a derived x (physics.partial_shade), which is in doubt.
        lit_frac = scene.shade.lit_frac ** max(0.0, 1 + UNEVEN_SD * uneven)
        scenes.append(replace(scene, shade=scene.shade._replace(lit_frac=lit_frac)))
    return scenes


def drawn_wh(drive: Segments, sky: Sky) -> tuple[np.ndarray, np.ndarray]:
    """Energies drawn from the priors, the trees and then their clouds: all, and the means over the clouds."""
    moments, trip = [], trip_parts(drive.leg, drive.stopped)
    for scene in drawn_woods():
        states = sky_states(sky, drive, scene.sun.apparent_elevation_deg)
        found = moments_of(scene, run(scene, [states]), 0, states, sky, trip)
        moments.append([field[0, -1] for field in found])
    mean, variance, low, high = np.array(moments).T
    # A Beta distribution of this mean and variance on [low, high] (method of moments, any textbook).
    centre, spread = (mean - low) / (high - low), variance / (high - low) ** 2
    size = centre * (1 - centre) / spread - 1
    level = ((np.arange(CLOUDS) + 0.5) / CLOUDS)[:, None]
    return (low + (high - low) * betaincinv(centre * size, (1 - centre) * size, level)).ravel(), mean


@pytest.mark.parametrize("sky", ["clear", "broken", "overcast"])
def test_percentiles_are_those_of_draws_from_the_same_priors(sky):
    # 256 x 64 draws: standard error below 0.3 % of the energy. Under "clear" the trees are most of the doubt.
    drive = day_drive()
    said = Sky(name=sky, forecast="tomorrow")
    totals = simulate(drive, RIG, in_doubt(drive), Terrain.flat(drive.count), [said]).totals
    energies, means = drawn_wh(drive, said)
    within = 0.01 * totals.energy_wh
    found = totals.energy_low_wh, totals.energy_mid_wh, totals.energy_high_wh
    assert found == pytest.approx(np.quantile(energies, (0.1, 0.5, 0.9)), abs=within)
    alone = totals.energy_shade_low_wh, totals.energy_shade_high_wh
    # The 90th of so few means is itself good to some 1.5 %.
    assert alone == pytest.approx(np.quantile(means, (0.1, 0.9)), abs=2 * within)


def test_all_that_is_unknown_is_wider_than_clouds_or_trees_alone():
    drive = day_drive()
    result = simulate(drive, RIG, in_doubt(drive), Terrain.flat(drive.count), [Sky(name="broken")])
    for leg in (*result.legs, result.totals):
        clouds = leg.energy_clouds_high_wh - leg.energy_clouds_low_wh
        trees = leg.energy_shade_high_wh - leg.energy_shade_low_wh
        both = leg.energy_high_wh - leg.energy_low_wh
        assert max(clouds, trees) < both < 1.05 * (clouds + trees)
        assert trees > 0.1 * leg.energy_wh


def test_a_road_without_trees_has_the_clouds_percentiles_to_the_last_digit():
    drive = day_drive()
    for canopy in (Canopy.open(drive.count), woods(drive).certain()):
        totals = simulate(drive, RIG, canopy, Terrain.flat(drive.count), [Sky(name="broken")]).totals
        assert (totals.energy_low_wh, totals.energy_high_wh) == (
            totals.energy_clouds_low_wh,
            totals.energy_clouds_high_wh,
        )
        assert totals.energy_shade_low_wh is None
        assert totals.energy_shade_high_wh is None


def test_expected_energies_and_arrays_are_those_of_the_trees_as_stated():
    drive = day_drive()
    sky, flat = [Sky(name="fair")], Terrain.flat(drive.count)
    unsure = simulate(drive, RIG, in_doubt(drive), flat, sky)
    stated = simulate(drive, RIG, in_doubt(drive).certain(), flat, sky)
    assert unsure.totals.energy_wh == stated.totals.energy_wh
    np.testing.assert_array_equal(unsure.power_w, stated.power_w)


def test_a_drive_has_the_same_interval_alone_as_among_many():
    drive = day_drive()
    twice = replace(
        drive,
        start_utc_s=np.concatenate([drive.start_utc_s + 3600, drive.start_utc_s]),
        duration_s=np.repeat(drive.duration_s, 2, axis=0),
        departure_utc_s=np.array([drive.departure_utc_s[0] + 3600, drive.departure_utc_s[0]]),
    )
    flat, sky = Terrain.flat(drive.count), [Sky(name="broken")]
    alone = simulate(drive, RIG, in_doubt(drive), flat, sky).totals
    among = sweep(twice, RIG, in_doubt(drive), flat, sky)
    assert (among.energy_low_wh[1], among.energy_high_wh[1]) == (alone.energy_low_wh, alone.energy_high_wh)


def test_less_doubt_is_a_narrower_interval():
    drive = day_drive()
    flat, sky = Terrain.flat(drive.count), [Sky(name="clear")]
    unsure = in_doubt(drive)
    surer = replace(unsure, doubt=replace(unsure.doubt, road_width_sd_frac=np.full(1, 0.10)))

    def width(totals: LegResult) -> float:
        return totals.energy_high_wh - totals.energy_low_wh

    wide, narrow = (width(simulate(drive, RIG, canopy, flat, sky).totals) for canopy in (unsure, surer))
    assert narrow < 0.85 * wide


def test_other_trees_stay_possible_and_nothing_grows_where_nothing_stands():
    drive = day_drive(4)
    canopy = Canopy.uniform(drive.count, cover_frac=0.05)
    canopy = replace(canopy, uniform_cover_frac=np.array([0.0, 0.05, 0.97, np.nan]))
    for side in (-3.0, 3.0):
        far = canopy_at(canopy, np.full(4, side))
        assert far.uniform_cover_frac[0] == 0.0
        assert np.isnan(far.uniform_cover_frac[3])
        assert np.all((far.uniform_cover_frac[1:3] >= 0) & (far.uniform_cover_frac[1:3] <= 1))
        assert np.all(far.width_factor > 0)
        assert np.all((far.crown_transmittance_frac >= 0) & (far.crown_transmittance_frac <= 1))


def test_what_uneven_shade_costs_is_in_doubt_by_itself():
    # Everything else certain. Under trees the energy is the darker the more uneven shade costs, which is off by
    # 40 % of its exponent: from 1.28 sd more to 1.28 sd less.
    drive, flat, sky = day_drive(), Terrain.flat(36), [Sky(name="clear", forecast="known")]
    canopy = replace(woods(drive), doubt=replace(CanopyDoubt.none(), uneven_sd_frac=UNEVEN_SD))
    totals = simulate(drive, RIG, canopy, flat, sky).totals
    scene = set_scene(drive, RIG, woods(drive).certain(), flat)
    states = sky_states(sky[0], drive, scene.sun.apparent_elevation_deg)
    for z, found in ((1.2816, totals.energy_shade_low_wh), (-1.2816, totals.energy_shade_high_wh)):
        lit_frac = scene.shade.lit_frac ** (1 + UNEVEN_SD * z)
        watts = run(replace(scene, shade=scene.shade._replace(lit_frac=lit_frac)), [states]).expected_w[0, 0]
        assert found == pytest.approx(float(watts @ drive.duration_s[0]) / 3600, rel=0.005)
    assert totals.energy_shade_low_wh < 0.98 * totals.energy_wh
    assert totals.energy_shade_high_wh > 1.02 * totals.energy_wh


@pytest.mark.parametrize("sky", ["clear", "broken"])
def test_the_batterys_days_lie_in_the_percentiles_over_clouds_and_trees(sky):
    # Second way to the same figures: drawn days, summed. 400 of them: good to 3 % of the energy.
    drive, said = day_drive(), Sky(name=sky, forecast="tomorrow")
    rig = replace(RIG, battery=Battery(capacity_wh=1000.0))
    flat, canopy = Terrain.flat(drive.count), in_doubt(drive)
    scene = set_scene(drive, rig, canopy, flat)
    states = sky_states(said, drive, scene.sun.apparent_elevation_deg)
    days = battery_days(scene, run(scene, [states]), states, said)
    drawn_wh = days.solar_w.whole() @ (drive.duration_s[0] / 3600)
    totals = simulate(drive, rig, canopy, flat, [said]).totals
    assert days.chance @ drawn_wh == pytest.approx(totals.energy_wh, rel=1e-9)
    found = [quantile(drawn_wh, days.chance, level) for level in (0.1, 0.5, 0.9)]
    said_wh = [totals.energy_low_wh, totals.energy_mid_wh, totals.energy_high_wh]
    assert found == pytest.approx(said_wh, abs=0.03 * totals.energy_wh)
