"""One drive computed whole: every array, every leg, every sky."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from routesolar.errors import UsageError
from routesolar.model.charge import battery_days, with_charge
from routesolar.model.losses import loss_ledger
from routesolar.model.percentiles import tree_spreads
from routesolar.model.scene import (
    Power,
    Scene,
    clear_states,
    run,
    set_scene,
    unshaded,
    warnings_of,
)
from routesolar.model.sky import sky_states
from routesolar.model.sums import hour_results, leg_results, trip_result
from routesolar.physics.attitude import incidence_cos
from routesolar.physics.bands import trip_parts
from routesolar.physics.unsure_trees import Spread, spread_over
from routesolar.trip.harvest import Harvest, LegResult, SkyResult
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, SkyStates
from routesolar.trip.surroundings import Canopy, Terrain


def simulate(segments: Segments, rig: Rig, canopy: Canopy, terrain: Terrain, skies: Sequence[Sky]) -> Harvest:
    """Return the harvest of one drive (a single departure); the first sky leads, all are summed.

    Every array and every expected energy is that of the trees as stated; percentiles are over clouds and trees.

    Raises:
        UsageError: `segments` holds more than one departure, or no sky is given.
        UsageError: a sky or forecast is not known.
    """
    if len(segments.departure_utc_s) != 1 or not skies:
        raise UsageError("simulate takes one departure and at least one sky; use sweep for many departures")
    return simulate_scene(set_scene(segments, rig, canopy, terrain), skies)


def simulate_scene(scene: Scene, skies: Sequence[Sky]) -> Harvest:
    """Return the harvest of a scene of one departure as `simulate` does, without looking at its trees again."""
    segments, rig = scene.segments, scene.rig
    canopy, terrain = scene.around.canopy, scene.around.terrain
    states = [sky_states(sky, segments, scene.sun.apparent_elevation_deg) for sky in skies]
    power = run(scene, states)
    parts = trip_parts(segments.leg, segments.stopped)
    spreads = [spread_over(trees) for trees in tree_spreads(scene, power, states, skies, parts)]
    result = _drive(scene, skies[0], states[0], power)
    result = replace(
        result,
        legs=tuple(_spread(leg, spreads[0], index) for index, leg in enumerate(result.legs)),
        totals=_spread(result.totals, spreads[0], len(segments.legs)),
        skies=_sky_results(segments, skies, power, spreads),
        warnings=warnings_of(segments, canopy, terrain, skies[0]),
    )
    ledger = loss_ledger(scene, states[0], terrain)
    result = replace(
        result,
        rated_clear_wh=ledger.rated_clear_wh,
        losses_wh=ledger.losses_wh,
        battery_wh=ledger.battery_wh,
    )
    if rig.battery is None:
        return result
    return with_charge(result, battery_days(scene, power, states[0], skies[0]), rig)


def _drive(scene: Scene, sky: Sky, states: SkyStates, power: Power) -> Harvest:
    """Return one sky's drive with its sums, without spread, skies and losses."""
    segments, hours = scene.segments, scene.segments.duration_s[0] / 3600
    bare = unshaded(scene)
    power_w = power.expected_w[0, 0]
    open_w = run(bare, [states]).expected_w[0, 0]
    clear_w = run(bare, [clear_states(states)]).expected_w[0, 0]
    energy_wh = power_w * hours
    return Harvest(
        segments=segments,
        sky=sky.name,
        **_seen(scene, states),
        plane_wm2=power.plane_wm2[0],
        cell_c=power.cell_c[0],
        air_c=np.broadcast_to(states.air_c, segments.duration_s.shape)[0],
        power_w=power_w,
        energy_wh=energy_wh,
        open_sky_w=open_w,
        clear_sky_w=clear_w,
        state_power_w=np.stack([power.out_w[0, 0], power.hidden_w[0, 0]]),
        sun_out_prob=np.broadcast_to(states.sun_out_prob, segments.duration_s.shape)[0],
        legs=leg_results(segments, power_w, open_w, clear_w),
        totals=trip_result(segments, power_w, open_w, clear_w),
        driving_wh=float(energy_wh[~segments.stopped].sum()),
        stopped_wh=float(energy_wh[segments.stopped].sum()),
        hours=hour_results(segments, energy_wh),
        notes=segments.notes,
    )


def _spread(leg: LegResult, spread: Spread, part: int) -> LegResult:
    """Return a leg with its percentiles: of everything, of the clouds alone and of the trees alone."""
    p10, p50, p90 = (float(band[0, part]) for band in spread.everything)
    leg = replace(
        leg,
        energy_low_wh=p10,
        energy_mid_wh=p50,
        energy_high_wh=p90,
        energy_clouds_low_wh=float(spread.clouds.p10[0, part]),
        energy_clouds_high_wh=float(spread.clouds.p90[0, part]),
    )
    if spread.trees_low_wh is None or spread.trees_high_wh is None:
        return leg
    low_wh, high_wh = float(spread.trees_low_wh[0, part]), float(spread.trees_high_wh[0, part])
    return replace(leg, energy_shade_low_wh=low_wh, energy_shade_high_wh=high_wh)


def _sky_results(
    segments: Segments, skies: Sequence[Sky], power: Power, spreads: Sequence[Spread]
) -> tuple[SkyResult, ...]:
    """Return the whole trip under each sky."""
    hours, trip = segments.duration_s[0] / 3600, len(segments.legs)
    return tuple(
        SkyResult(
            sky=sky.name,
            energy_wh=float(np.sum(watts[0] * hours)),
            energy_low_wh=float(spread.everything.p10[0, trip]),
            energy_high_wh=float(spread.everything.p90[0, trip]),
        )
        for sky, watts, spread in zip(skies, power.expected_w, spreads, strict=True)
    )


def _seen(scene: Scene, states: SkyStates) -> dict[str, Any]:
    """Return sun, expected open-sky irradiance and shade of the one departure, (n,); NaN at night."""
    sun, sky = scene.sun, scene.open_sky
    elevation = sun.apparent_elevation_deg
    night = sky.ghi_wm2 <= 0
    prob = states.sun_out_prob
    ghi = sky.ghi_wm2 * (prob * states.out_share + (1 - prob) * states.hidden_share)
    dni = sky.dni_wm2 * prob * states.out_beam_share
    cos_incidence = incidence_cos(scene.faces.normal[0], sun.azimuth_deg, elevation)
    return {
        "sun_azimuth_deg": sun.azimuth_deg[0],
        "sun_elevation_deg": elevation[0],
        "incidence_deg": np.where(night, np.nan, np.degrees(np.arccos(np.clip(cos_incidence, -1, 1))))[0],
        "ghi_wm2": ghi[0],
        "dni_wm2": dni[0],
        "dhi_wm2": np.maximum(ghi - dni * np.sin(np.radians(elevation)), 0.0)[0],
        "beam_transmittance_frac": np.where(night, np.nan, scene.shade.beam_frac)[0],
        "sky_view_frac": scene.shade.sky_view_frac[0, 0],
    }
