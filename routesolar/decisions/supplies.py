"""A rig with other batteries, and with other chargers on its engine."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from routesolar.errors import UsageError
from routesolar.trip.rig import Alternator, Battery, Rig


def supplies_of(rig: Rig, capacity_wh: Sequence[float], charge_w: Sequence[float]) -> list[Rig]:
    """Return the rig with each battery and charger asked for, from small to large; its own where none is.

    Raises:
        UsageError: the rig has no battery to vary, or a size is none.
    """
    if rig.battery is None:
        if capacity_wh or charge_w:
            raise UsageError("the rig has no battery to vary; add [battery] with capacity_wh to the rig file")
        return [rig]
    if not all(0 < capacity < np.inf for capacity in capacity_wh):
        raise UsageError("a battery's capacity is above zero, such as --capacity 1000,2000,4000 (watt-hours)")
    if not all(0 <= watts < np.inf for watts in charge_w):
        raise UsageError("charging by the engine is 0 or more watts, such as --charge 0,150,300")
    batteries = [_with_capacity(rig.battery, capacity) for capacity in sorted(set(capacity_wh))]
    alternators = [_charging(rig, watts) for watts in sorted(set(charge_w))]
    return [
        replace(rig, battery=battery, alternator=alternator)
        for battery in batteries or [rig.battery]
        for alternator in alternators or [rig.alternator]
    ]


def _with_capacity(battery: Battery, capacity_wh: float) -> Battery:
    """Return the battery at another capacity, charging as fast for its size."""
    faster = capacity_wh / battery.capacity_wh
    return replace(battery, capacity_wh=capacity_wh, max_charge_w=battery.max_charge_w * faster)


def _charging(rig: Rig, charge_w: float) -> Alternator | None:
    """Return the rig's alternator with a charger that gives so much at the battery; None for none."""
    if charge_w == 0:
        return None
    yields = "alternator" if rig.alternator is None else rig.alternator.yields_first
    return Alternator(charge_w=charge_w, yields_first=yields)


def stored_in(rig: Rig) -> tuple[float | None, float]:
    """Return a rig's capacity and what its engine charges with."""
    capacity_wh = None if rig.battery is None else rig.battery.capacity_wh
    return capacity_wh, 0.0 if rig.alternator is None else rig.alternator.delivered_w
