"""Where the rated power went: from clear sky to battery terminals, one loss after another."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from routesolar.model.scene import Scene, behind_hills, chain_of, clear_states, run, unshaded
from routesolar.physics.kernel_arrays import Chain
from routesolar.trip.sky import SkyStates


@dataclass(frozen=True, slots=True, kw_only=True)
class LossLedger:
    """Watt-hours from `rated_clear_wh` to `battery_wh`; `losses_wh` are in order and sum to the difference.

    A loss is the difference of two consecutive runs of the chain, so clouds (bright diffuse on a tilted
    panel) and temperature (cold cells) may be negative. Roofs over the vehicle count with the terrain.
    `buildings` are there where any are known.
    """

    rated_clear_wh: float
    losses_wh: dict[str, float]
    battery_wh: float


class _Step(NamedTuple):
    name: str
    scene: Scene
    states: SkyStates
    chain: Chain


def loss_ledger(scene: Scene, states: SkyStates) -> LossLedger:
    """Return the ledger of losses of one departure under one sky, before the battery's own limit."""
    steps = _steps(scene, states)
    hours = scene.segments.duration_s / 3600
    energy_wh = [
        float(np.sum(run(step.scene, [step.states], step.chain).expected_w[0] * hours)) for step in steps
    ]
    losses = {
        step.name: before - after
        for step, before, after in zip(steps[1:], energy_wh[:-1], energy_wh[1:], strict=True)
    }
    return LossLedger(rated_clear_wh=energy_wh[0], losses_wh=losses, battery_wh=energy_wh[-1])


def _steps(scene: Scene, states: SkyStates) -> list[_Step]:
    """Return the runs: each adds one loss to the one before, the last is the whole chain."""
    bare = unshaded(scene)
    own = chain_of(scene.rig)
    chain = own._replace(
        reflection_weight=0.0,
        weak_light_weight=0.0,
        temperature_weight=0.0,
        age_weight=0.0,
        uneven_weight=0.0,
        soiling_frac=0.0,
        mismatch_frac=0.0,
        wiring_frac=0.0,
        max_input_w=np.inf,
        start_up_w=0.0,
        curve_efficiency_frac=np.ones_like(own.curve_efficiency_frac),
    )
    steps = [
        _Step("rated_clear", bare, clear_states(states), chain),
        _Step("clouds", bare, states, chain),
        _Step("terrain", behind_hills(scene, with_buildings=False), states, chain),
    ]
    if scene.around.terrain.buildings is not None:
        steps.append(_Step("buildings", behind_hills(scene), states, chain))
    steps.append(_Step("canopy", scene, states, chain))
    for name, fields in _CHAIN_LOSSES:
        chain = chain._replace(**{field: getattr(own, field) for field in fields})
        steps.append(_Step(name, scene, states, chain))
    return steps


# The chain's losses in the order in which the power meets them, each with the numbers that cause it.
_CHAIN_LOSSES = (
    ("reflection", ("reflection_weight",)),
    ("weak_light", ("weak_light_weight",)),
    ("temperature", ("temperature_weight",)),
    ("age", ("age_weight",)),
    ("soiling", ("soiling_frac",)),
    ("partial_shade", ("uneven_weight",)),
    ("mismatch", ("mismatch_frac",)),
    ("wiring", ("wiring_frac",)),
    ("controller", ("start_up_w", "curve_efficiency_frac")),
    ("clipped", ("max_input_w",)),
)
