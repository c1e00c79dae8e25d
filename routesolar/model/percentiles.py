"""How sure the energy is: what clouds and trees leave open over legs and trip."""

from collections.abc import Sequence

import numpy as np

from routesolar.model.mixing import mixed_moments
from routesolar.model.scene import Power, Scene, among_other_trees, run
from routesolar.model.sky import day_states
from routesolar.physics.bands import EnergyMoments, Passage, StateEnergy, energy_moments
from routesolar.physics.day_course import daylight_min
from routesolar.physics.unsure_trees import TreeSpread
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.sky import Sky, SkyStates


def tree_spreads(
    scene: Scene, power: Power, states: Sequence[SkyStates], skies: Sequence[Sky], parts: IntArray
) -> list[TreeSpread]:
    """Return the spread of parts of the drive under each sky, among the trees as stated and the scene's others.

    `power` is that of all the skies among the trees as stated; `parts` is as physics.bands takes them.
    """
    others = ((other, run(other, states)) for other in among_other_trees(scene))
    found = [_moments(*one, states, skies, parts) for one in ((scene, power), *others)]
    return [
        TreeSpread(
            scene.others.nodes, EnergyMoments(*(np.stack(fields) for fields in zip(*moments, strict=True)))
        )
        for moments in zip(*found, strict=True)
    ]


def _moments(
    scene: Scene, power: Power, states: Sequence[SkyStates], skies: Sequence[Sky], parts: IntArray
) -> list[EnergyMoments]:
    pairs = enumerate(zip(states, skies, strict=True))
    return [moments_of(scene, power, index, state, sky, parts) for index, (state, sky) in pairs]


def moments_of(
    scene: Scene, power: Power, index: int, states: SkyStates, sky: Sky, parts: IntArray
) -> EnergyMoments:
    """Return mean, variance and bounds of the energy of any parts of the drive, as physics.bands takes them.

    Where days are a sample of what may come, each is run by itself. A file's step tells the whole of it and
    nothing of a moment; between, the clouds' doubt is taken away in proportion to time (judgement).
    """
    passage = passage_of(scene)
    if not sky.is_sample or sky.weather is None:
        return energy_moments(state_energy(scene, power, index, states), passage, parts, sky.forecast)
    days = day_states(sky, scene.segments, scene.sun.apparent_elevation_deg)
    moments = [
        energy_moments(state_energy(scene, run(scene, [day]), 0, day), passage, parts, "known") for day in days
    ]
    return mixed_moments(moments, np.clip(_duration_s(scene, parts) / sky.weather.step_s, 0.0, 1.0))


def _duration_s(scene: Scene, parts: IntArray) -> FloatArray:
    """Return how long every part lasts, (d, parts)."""
    inside = (parts[..., None] == np.arange(parts.max() + 1)).any(axis=0).astype(np.float64)
    return np.asarray(np.einsum("dn,np->dp", scene.segments.duration_s, inside))


def state_energy(scene: Scene, power: Power, sky: int, states: SkyStates) -> StateEnergy:
    """Return the energy of both states of one sky on segments, and what mixes them."""
    hours, controller = scene.segments.duration_s / 3600, scene.rig.controller
    most_w = scene.rig.input_limit_w * max(efficiency for _, efficiency in controller.curve)
    return StateEnergy(
        unobscured_wh=power.unobscured_w[sky] * hours,
        obscured_wh=power.obscured_w[sky] * hours,
        sun_out_prob=states.sun_out_prob,
        unobscured_index=states.unobscured_index,
        obscured_index=states.obscured_index,
        unobscured_sd=states.unobscured_sd,
        obscured_sd=states.obscured_sd,
        most_wh=most_w * hours if np.isfinite(most_w) else np.inf,
    )


def passage_of(scene: Scene) -> Passage:
    """Return when and how fast the segments are passed."""
    segments = scene.segments
    return Passage(
        segments.start_utc_s,
        segments.duration_s,
        segments.speed_mps,
        segments.middle_longitude_deg,
        daylight_min(segments.middle_latitude_deg, segments.start_utc_s),
    )
