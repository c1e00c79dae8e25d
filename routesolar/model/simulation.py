"""One drive computed whole: every array, every leg, every sky."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from routesolar.errors import UsageError
from routesolar.model.charge import (
    Days,
    battery_course,
    battery_losses_wh,
    charge_of,
    cold_warnings,
    leg_terms,
)
from routesolar.model.dates import bands_of, dates_of, day_results, moments_within
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
    with_panel,
)
from routesolar.model.sky import sky_states, states_of
from routesolar.model.sums import Powers, hour_results, leg_results, trip_result
from routesolar.physics.attitude import incidence_cos
from routesolar.physics.bands import trip_parts
from routesolar.physics.unsure_trees import Spread, spread_over
from routesolar.trip.arrays import FloatArray
from routesolar.trip.drawable import Drawable
from routesolar.trip.harvest import Harvest, SetOut, SkyResult
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, SkyStates
from routesolar.trip.surroundings import Canopy, Terrain

LOOSE_W, TURNED_EVERY_S = 100.0, 3600.0  # a loose panel, set out at stops and turned to the sun by hand


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


def simulate_scene(scene: Scene, skies: Sequence[Sky], *, with_losses: bool = True) -> Harvest:
    """Return the harvest of a scene of one departure as `simulate` does, without looking at its trees again.

    Without losses it leaves out what takes runs of its own: their ledger, and a panel set out at stops.
    """
    segments, around = scene.segments, scene.around
    states = states_of(skies, segments, scene.sun.apparent_elevation_deg)
    power = run(scene, states)
    dates, parts = dates_of(segments), trip_parts(segments.leg, segments.stopped)
    first_day = int(parts.max()) + 1
    parts = np.vstack([parts, first_day + dates.part_of()])
    spreads = [spread_over(trees) for trees in tree_spreads(scene, power, states, skies, parts)]
    powers_w = _powers(scene, states[0], power)
    energy_wh = powers_w.power_w * (segments.duration_s[0] / 3600)
    course = None
    if scene.rig.battery is not None:
        course = battery_course(scene, power, states[0], skies[0], moments_within(segments, dates))
    days = None if course is None else course[0]
    *legs, trip = _more(scene, spreads[0], days)
    totals = trip_result(segments, powers_w, trip)
    by_day = bands_of(spreads[0].everything, first_day, dates.days)
    return Harvest(
        segments=segments,
        sky=skies[0].name,
        **_seen(scene, states[0]),
        **powers_w._asdict(),
        plane_wm2=power.plane_wm2[0],
        cell_c=power.cell_c[0],
        air_c=np.broadcast_to(states[0].air_c, segments.duration_s.shape)[0],
        energy_wh=energy_wh,
        state_power_w=np.stack([power.unobscured_w[0, 0], power.obscured_w[0, 0]]),
        sun_out_prob=np.broadcast_to(states[0].sun_out_prob, segments.duration_s.shape)[0],
        legs=leg_results(segments, powers_w, legs),
        totals=totals,
        driving_wh=float(energy_wh[~segments.stopped].sum()),
        stopped_wh=float(energy_wh[segments.stopped].sum()),
        skies=_sky_results(segments, skies, power, spreads),
        days=day_results(segments, dates, scene.sun, energy_wh, by_day, course),
        hours=hour_results(
            segments,
            energy_wh,
            None if days is None else days.mean["load_wh"],
            days.lasting_to if days is not None and scene.rig.loads else None,
        ),
        **(_losses(scene, states[0], days) if with_losses else {}),
        charge=None if course is None else charge_of(segments, *course, scene.rig),
        set_out=set_out_gain(scene, states[0], totals.energy_wh) if with_losses else None,
        drive=Drawable(segments=segments, rig=scene.rig, around=around, sky=skies[0]),
        notes=segments.notes,
        warnings=(
            *warnings_of(segments, around.canopy, around.terrain, skies[0]),
            *(() if days is None else cold_warnings(days, scene.rig)),
        ),
    )


def expected_wh(scene: Scene, sky: Sky) -> FloatArray:
    """Return the Wh expected on each segment of a scene of one departure, (n,), as its harvest has them."""
    states = sky_states(sky, scene.segments, scene.sun.apparent_elevation_deg)
    energy_wh: FloatArray = run(scene, [states]).expected_w[0, 0] * (scene.segments.duration_s[0] / 3600)
    return energy_wh


def set_out_gain(scene: Scene, states: SkyStates, energy_wh: float, rated_w: float = LOOSE_W) -> SetOut | None:
    """Return what a loose panel, set out at the stops and turned once an hour, adds to the energy of a drive.

    None without a stop, with such a panel in the rig, or in a shade of one's own, since it may stand in
    another. It stands in the vehicle's own shade of trees and hills and goes through the same controller.
    """
    panels = scene.rig.panels
    if scene.cast is None or not scene.segments.stopped.any() or any(panel.aim == "sun" for panel in panels):
        return None
    loose = Panel(name="set out", rated_w=rated_w, use="stopped", aim="sun", aim_every_s=TURNED_EVERY_S)
    watts = run(with_panel(scene, loose), [states]).expected_w[0]
    return SetOut(rated_w=rated_w, added_wh=float(np.sum(watts * scene.segments.duration_s / 3600)) - energy_wh)


def _powers(scene: Scene, states: SkyStates, power: Power) -> Powers:
    """Return the watts of the one departure under its leading sky, without shade, and without clouds too."""
    bare = unshaded(scene)
    open_w = run(bare, [states]).expected_w[0, 0]
    return Powers(power.expected_w[0, 0], open_w, run(bare, [clear_states(states)]).expected_w[0, 0])


def _more(scene: Scene, spread: Spread, days: Days | None) -> list[dict[str, float]]:
    """Return percentiles and the battery's terms of each leg and, last, of the trip, as LegResult has them."""
    parts = range(len(scene.segments.legs) + 1)
    terms = [{} for _ in parts] if days is None else leg_terms(scene.segments, days, scene.rig)
    return [_percentiles(spread, part) | terms[part] for part in parts]


def _percentiles(spread: Spread, part: int) -> dict[str, float]:
    """Return a part's percentiles: of everything, of the clouds alone and of the trees alone."""
    bands = {
        "energy_low_wh": spread.everything.p10,
        "energy_mid_wh": spread.everything.p50,
        "energy_high_wh": spread.everything.p90,
        "energy_clouds_low_wh": spread.clouds.p10,
        "energy_clouds_high_wh": spread.clouds.p90,
        "energy_shade_low_wh": spread.trees_low_wh,
        "energy_shade_high_wh": spread.trees_high_wh,
    }
    return {name: float(band[0, part]) for name, band in bands.items() if band is not None}


def _losses(scene: Scene, states: SkyStates, days: Days | None) -> dict[str, Any]:
    """Return the ledger of losses, with what the battery does not take."""
    ledger = loss_ledger(scene, states)
    refused_wh = {} if days is None else battery_losses_wh(days)
    return {
        "rated_clear_wh": ledger.rated_clear_wh,
        "losses_wh": {**ledger.losses_wh, **refused_wh},
        "battery_wh": ledger.battery_wh - sum(refused_wh.values()),
    }


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
    ghi = sky.ghi_wm2 * (prob * states.unobscured_index + (1 - prob) * states.obscured_index)
    dni = sky.dni_wm2 * prob * states.unobscured_beam_index
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
