"""How sure the energy is: the clouds' percentiles over legs and trip."""

import numpy as np

from routesolar.model.scene import Power, Scene
from routesolar.physics.bands import EnergyBands, Passage, StateEnergy, energy_bands_wh, trip_parts
from routesolar.trip.arrays import IntArray
from routesolar.trip.sky import SkyStates


def trip_bands_wh(scene: Scene, power: Power, sky: int, states: SkyStates, forecast: str) -> EnergyBands:
    """Return the percentiles of every leg, then of the trip, its driving and its stopped time: (d, legs + 3).

    `sky` is the index of the sky in `power`. They cover the clouds only, and a part may have no time in it.
    """
    return bands_of(scene, power, sky, states, forecast, trip_parts(scene.segments.leg, scene.segments.stopped))


def bands_of(
    scene: Scene, power: Power, sky: int, states: SkyStates, forecast: str, parts: IntArray
) -> EnergyBands:
    """Return the percentiles of any parts of the drive; `parts` as physics.bands takes them."""
    return energy_bands_wh(state_energy(scene, power, sky, states), passage_of(scene), parts, forecast)


def state_energy(scene: Scene, power: Power, sky: int, states: SkyStates) -> StateEnergy:
    """Return the energy of both states of one sky on segments, and what mixes them."""
    hours, controller = scene.segments.duration_s / 3600, scene.rig.controller
    most_w = scene.rig.input_limit_w * max(efficiency for _, efficiency in controller.curve)
    return StateEnergy(
        out_wh=power.out_w[sky] * hours,
        hidden_wh=power.hidden_w[sky] * hours,
        sun_out_prob=states.sun_out_prob,
        out_share=states.out_share,
        hidden_share=states.hidden_share,
        out_sd=states.out_sd,
        hidden_sd=states.hidden_sd,
        most_wh=most_w * hours if np.isfinite(most_w) else np.inf,
    )


def passage_of(scene: Scene) -> Passage:
    """Return when and how fast the segments are passed."""
    segments = scene.segments
    return Passage(segments.start_utc_s, segments.duration_s, segments.speed_mps, segments.middle_longitude_deg)
