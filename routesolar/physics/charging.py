"""From the panels' wires to the battery: the controller, and what a battery accepts over time."""

from math import exp, inf, log
from typing import NamedTuple

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.kernel_arrays import Chain


@inlined
def wired_w(panels_w: float, chain: Chain) -> float:
    """Return what of the panels' DC power reaches the controller: soiling, mismatch, wiring; a scalar."""
    return panels_w * (1.0 - chain.soiling_frac) * (1.0 - chain.mismatch_frac) * (1.0 - chain.wiring_frac)


@compiled
def fill_efficiency(
    efficiency_frac: FloatArray,
    power_w: FloatArray,
    full_load_w: float,
    curve_load_frac: FloatArray,
    curve_efficiency_frac: FloatArray,
) -> None:
    """Fill in a controller's efficiency at powers: straight lines over shares of full load, flat at both ends.

    `curve_load_frac` rises; one point means the same efficiency everywhere.
    """
    efficiency_frac[:] = curve_efficiency_frac[0]
    loads_per_w = 1.0 / full_load_w
    for k in range(1, len(curve_load_frac)):
        start, rise = curve_load_frac[k - 1], curve_efficiency_frac[k] - curve_efficiency_frac[k - 1]
        per_load = 1.0 / (curve_load_frac[k] - start)
        for j in range(len(power_w)):
            efficiency_frac[j] += rise * min(1.0, max(0.0, (power_w[j] * loads_per_w - start) * per_load))


@compiled
def control(
    power_w: FloatArray,
    efficiency_frac: FloatArray,
    max_input_w: float,
    start_up_w: float,
    full_load_w: float,
    curve_load_frac: FloatArray,
    curve_efficiency_frac: FloatArray,
) -> None:
    """Turn a controller's input in W into its output: nothing below start-up, clipped above the limit.

    `full_load_w` is what the curve's share 1 means; `efficiency_frac`, as long, is filled in on the way.
    """
    for j in range(len(power_w)):
        started = power_w[j] > 0.0 and power_w[j] >= start_up_w
        power_w[j] = min(power_w[j], max_input_w) if started else 0.0
    fill_efficiency(efficiency_frac, power_w, full_load_w, curve_load_frac, curve_efficiency_frac)
    for j in range(len(power_w)):
        power_w[j] *= efficiency_frac[j]


class BatteryLimits(NamedTuple):
    """What decides a battery's charge over time. Power is at its terminals; only charging loses energy."""

    capacity_wh: float
    reserve_soc_frac: float  # no load is served below it
    max_charge_w: float
    taper_from_soc_frac: float  # full charge power is accepted up to here, then less, to 0 when full
    charge_efficiency_frac: float  # stored over taken in: the whole round trip's loss


@compiled
def accepted_w(soc_frac: float, battery: BatteryLimits) -> float:
    """Return the power in W a battery takes at a state of charge: constant, then straight down to 0."""
    taper = (1.0 - soc_frac) / (1.0 - battery.taper_from_soc_frac)
    return battery.max_charge_w * min(1.0, max(0.0, taper))


@compiled
def charged_soc_frac(soc_frac: float, offered_w: float, duration_s: float, battery: BatteryLimits) -> float:
    """Return the state of charge after a steady offer of power at the battery's terminals.

    Constant current, constant voltage as power: the offer is taken whole until the taper meets it; from
    there SOC(t) = 1 - (1 - SOC) exp(-t/tau), tau = (1 - SOC_k) capacity / (efficiency max power). Exact
    for a steady offer, so two halves equal the whole. The energy taken in is the rise times capacity
    over efficiency.
    """
    power_w = min(offered_w, battery.max_charge_w)
    if power_w <= 0.0 or soc_frac >= 1.0:
        return soc_frac
    hours = duration_s / 3600.0
    span = 1.0 - battery.taper_from_soc_frac
    knee = 1.0 - span * power_w / battery.max_charge_w  # where the taper meets the offer
    if soc_frac < knee:
        rate = power_w * battery.charge_efficiency_frac / battery.capacity_wh
        steady_hours = (knee - soc_frac) / rate
        if hours <= steady_hours:
            return soc_frac + rate * hours
        soc_frac = knee
        hours -= steady_hours
    tau_hours = span * battery.capacity_wh / (battery.charge_efficiency_frac * battery.max_charge_w)
    return 1.0 - (1.0 - soc_frac) * exp(-hours / tau_hours)


@compiled
def hours_to_charge(soc_frac: float, target_frac: float, offered_w: float, battery: BatteryLimits) -> float:
    """Return the hours of a steady offer until a charge is reached: `charged_soc_frac` solved for time.

    inf where it never is: without an offer, and at full.
    """
    power_w = min(offered_w, battery.max_charge_w)
    if power_w <= 0.0 or target_frac >= 1.0:
        return inf
    span = 1.0 - battery.taper_from_soc_frac
    knee = 1.0 - span * power_w / battery.max_charge_w
    hours = 0.0
    if soc_frac < knee:
        steady_hours = (min(knee, target_frac) - soc_frac) * battery.capacity_wh
        hours = steady_hours / (power_w * battery.charge_efficiency_frac)
        soc_frac = knee
    if target_frac > soc_frac:
        tau_hours = span * battery.capacity_wh / (battery.charge_efficiency_frac * battery.max_charge_w)
        hours += tau_hours * log((1.0 - soc_frac) / (1.0 - target_frac))
    return hours
