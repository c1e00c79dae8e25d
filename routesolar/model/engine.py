"""What the engine must give so that no load falls short: found by running the battery through the drive."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.model.battery import Draw, run_over_days
from routesolar.physics.battery import TERMS
from routesolar.physics.on_lit import OnLit
from routesolar.trip.arrays import BoolArray, FloatArray
from routesolar.trip.rig import Alternator, Rig

HALVINGS = 24
ENOUGH_FRAC = 0.002
LEAST_W = 1.0
_TRIFLE_WH = 1e-6


class EngineNeed(NamedTuple):
    """The least steady power while driving, at the battery's terminals, and what it then gives in all."""

    charge_w: float
    given_wh: float


def engine_need(
    draw: Draw, solar_w: OnLit, chance: FloatArray, rig: Rig, short_frac: float
) -> EngineNeed | None:
    """Return what an engine must give so that loads fall short on no more than a share of the days.

    `solar_w` are s days and `chance` (s,) is theirs; a single day with a share of 0 asks that no load
    falls short on it. The rig's own alternator counts only by who yields first. Found by halving until it is
    known to 0.2 %, always on the safe side. None where no engine suffices: it charges only
    while driving, and a night may be too long for the battery.
    """
    if rig.battery is None:
        return None
    most_w = float((draw.load_w.sum(axis=2) + draw.idle_w).max()) + draw.around.heater.power_w
    highest_w = rig.battery.max_charge_w + most_w
    yields = "alternator" if rig.alternator is None else rig.alternator.yields_first

    def driven(charge_w: float) -> Rig:
        return replace(rig, alternator=Alternator(charge_w=charge_w, yields_first=yields))

    def short(some: Rig, days: BoolArray) -> BoolArray:
        found = run_over_days(draw, solar_w, chance, some, followed=days, enough_wh=_TRIFLE_WH)
        return found.shortfall_wh > _TRIFLE_WH

    open_days = short(replace(rig, alternator=None), np.ones(len(chance), dtype=bool))
    if chance @ open_days <= short_frac:
        return EngineNeed(0.0, 0.0)
    always = short(driven(highest_w), open_days)
    if chance @ always > short_frac:
        return None
    low_w, high_w = 0.0, highest_w
    for _ in range(HALVINGS):
        if high_w <= LEAST_W or high_w - low_w <= ENOUGH_FRAC * high_w:
            break
        middle_w = max((low_w + high_w) / 2, LEAST_W)
        # More engine never hurts: only days short at the low and not at the high power are still open.
        missed = short(driven(middle_w), open_days & ~always)
        if chance @ (always | missed) <= short_frac:
            high_w, always = middle_w, always | missed
        else:
            low_w, open_days = middle_w, always | missed
    given = run_over_days(draw, solar_w, chance, driven(high_w)).mean[TERMS.index("alternator_wh")]
    return EngineNeed(high_w, float(given.sum()))
