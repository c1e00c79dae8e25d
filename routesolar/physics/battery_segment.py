"""A battery through one segment of time with steady watts: what is stored, drawn, turned away and missing."""

from typing import NamedTuple

import numpy as np

from routesolar.arrays import FloatArray
from routesolar.physics.charging import BatteryLimits, charged_soc_frac, hours_to_charge
from routesolar.physics.compiled import compiled


class Store(NamedTuple):
    """A battery at its start: its limits, its loads' own reserves (k,), and who gives way when it is full."""

    limits: BatteryLimits
    load_reserve: FloatArray
    start_soc_frac: float
    solar_yields: bool


class Watts(NamedTuple):
    """What flows through one segment, steadily and at the battery's terminals, and for how long.

    `load_w` is that of all loads, `idle_w` what the battery itself draws, its heater included.
    """

    solar_w: float
    engine_w: float
    load_w: float
    idle_w: float
    hours: float
    may_charge: bool


class Segment(NamedTuple):
    """One segment's energy, all but `soc_frac`, the charge at its end, and for how long any load lacked power.

    `sun_part` is how much of the charge came from the sun.
    """

    soc_frac: float
    alternator_wh: float
    idle_wh: float
    stored_wh: float
    drawn_wh: float
    charge_loss_wh: float
    cold_wh: float
    full_wh: float
    shortfall_wh: float
    sun_to_load_wh: float
    short_s: float
    sun_part: float


class Step(NamedTuple):
    """Some time: the charge after it, what the battery gave and took, and what was too much or too little."""

    soc_frac: float
    to_load_wh: float
    to_idle_wh: float
    taken_wh: float
    spare_wh: float
    missing_wh: float
    idle_off_wh: float
    short_hours: float


@compiled
def hours_all_on(watts: Watts, battery: BatteryLimits, highest: float, soc: float) -> float:
    """Return for how many hours no load is at or below its own reserve; `highest` is the highest of them."""
    if highest <= battery.reserve_soc_frac:
        return np.inf
    if highest >= soc:
        return -1.0
    net_w = watts.solar_w + watts.engine_w - watts.load_w - watts.idle_w
    return (soc - highest) * battery.capacity_wh / -net_w if net_w < 0.0 else np.inf


@compiled
def booked(
    watts: Watts, step: Step, battery: BatteryLimits, solar_yields: bool, soc: float, sun_part: float
) -> Segment:
    """Return a segment's bookkeeping from `soc` on, of which `sun_part` came from the sun.

    What the battery does not take is taken back from the alternator and then from the sun, or with
    `solar_yields` in the other order (on the segment's sums).
    """
    hours = watts.hours
    solar_wh, engine_wh, idle_wh = watts.solar_w * hours, watts.engine_w * hours, watts.idle_w * hours
    away_wh = min(step.spare_wh, solar_wh) if solar_yields else max(0.0, step.spare_wh - engine_wh)
    engine_wh -= step.spare_wh - away_wh
    used_wh = solar_wh - away_wh + engine_wh
    sun_share = (solar_wh - away_wh) / used_wh if used_wh > 0.0 else 0.0
    at_once_wh = watts.load_w * hours - step.to_load_wh - step.missing_wh
    stored_wh = step.taken_wh * battery.charge_efficiency_frac
    carried_wh = sun_share * at_once_wh + sun_part * step.to_load_wh
    if stored_wh > 0.0:
        sun_part += (sun_share - sun_part) * stored_wh / (soc * battery.capacity_wh + stored_wh)
    return Segment(
        step.soc_frac,
        engine_wh,
        idle_wh - step.idle_off_wh,
        stored_wh,
        step.to_load_wh + step.to_idle_wh,
        step.taken_wh - stored_wh,
        0.0 if watts.may_charge else away_wh,
        away_wh if watts.may_charge else 0.0,
        step.missing_wh,
        carried_wh,
        3600.0 * step.short_hours,
        sun_part,
    )


@compiled
def steady(watts: Watts, soc: float, on_w: float, hours: float, battery: BatteryLimits) -> Step:
    """Return some hours with loads of `on_w` on.

    Sources serve the loads first, then the battery's own draw, and the rest charges. A lack is drawn down to
    the reserve; there the loads are cut off, while the battery's own draw goes on until nothing is left.
    """
    source_w = watts.solar_w + watts.engine_w
    if source_w < on_w + watts.idle_w:
        return _drained(soc, source_w, on_w, watts.idle_w, hours, battery)
    net_w = source_w - on_w - watts.idle_w
    return _charged(soc, net_w if watts.may_charge else 0.0, net_w, hours, battery)


@compiled
def add_lacks(
    watts: Watts,
    load_w: FloatArray,
    on: int,
    given_w: float,
    hours: float,
    step: Step,
    missed_wh: FloatArray,
    off_s: FloatArray,
) -> tuple[float, float]:
    """Add what each load misses in some hours; return what all miss in Wh, and for how long one is without."""
    source_w, before_w = watts.solar_w + watts.engine_w, 0.0
    missing_wh, short_hours = step.missing_wh, step.short_hours
    for load in range(len(load_w)):
        if load < on:
            lack_w = min(load_w[load], max(0.0, before_w + load_w[load] - source_w))
            lacking = step.short_hours if lack_w > 0.0 else 0.0
        else:
            lack_w = load_w[load] - min(load_w[load], given_w)
            given_w -= load_w[load] - lack_w
            lacking = hours if lack_w > 0.0 else 0.0
            missing_wh += lack_w * hours
            short_hours = max(short_hours, lacking)
        before_w += load_w[load]
        missed_wh[load] += lack_w * lacking
        off_s[load] += 3600.0 * lacking
    return missing_wh, short_hours


@compiled
def through_reserves(
    watts: Watts,
    load_w: FloatArray,
    store: Store,
    soc: float,
    missed_wh: FloatArray,
    off_s: FloatArray,
) -> Step:
    """Return one segment in which some loads are off, or will be; adds what each misses, (k,).

    Loads (k,) are in the order in which they are kept. One with a higher reserve of its own is off below that
    charge whatever comes, and at it lives from what the sources leave.
    """
    k, reserves = len(load_w), store.load_reserve
    left = watts.hours
    whole = Step(soc, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    # Each reserve is crossed once or held, so there are at most k + 1 pieces; the last takes what is left.
    for piece in range(k + 2):
        on, on_w = 0, 0.0
        while on < k and (reserves[on] <= store.limits.reserve_soc_frac or reserves[on] < whole.soc_frac):
            on_w += load_w[on]
            on += 1
        spare_w = watts.solar_w + watts.engine_w - watts.idle_w - on_w
        block, block_w = on, 0.0
        while block < k and reserves[block] == whole.soc_frac:
            block_w += load_w[block]
            block += 1
        given_w = 0.0  # what loads at their own reserve get of what the sources leave
        if spare_w > 0.0 and block_w > 0.0:
            if spare_w >= block_w:
                on, on_w = block, on_w + block_w
            else:
                given_w = spare_w
        hours = left
        if given_w > 0.0:
            step = Step(whole.soc_frac, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        else:
            if piece < k + 1:
                hours = min(left, _until_reserve(watts, store, whole.soc_frac, on, on_w))
            step = steady(watts, whole.soc_frac, on_w, hours, store.limits)
        missing_wh, short_hours = add_lacks(watts, load_w, on, given_w, hours, step, missed_wh, off_s)
        whole = Step(
            step.soc_frac if hours == left else _snapped(step.soc_frac, reserves),
            whole.to_load_wh + step.to_load_wh,
            whole.to_idle_wh + step.to_idle_wh,
            whole.taken_wh + step.taken_wh,
            whole.spare_wh + step.spare_wh,
            whole.missing_wh + missing_wh,
            whole.idle_off_wh + step.idle_off_wh,
            whole.short_hours + short_hours,
        )
        left -= hours
        if left <= 0.0:
            break
    return whole


@compiled
def _until_reserve(watts: Watts, store: Store, soc_frac: float, on: int, on_w: float) -> float:
    """Return the hours until the charge meets the next load's own reserve, with `on` loads on; inf if never."""
    battery, reserves = store.limits, store.load_reserve
    net_w = watts.solar_w + watts.engine_w - on_w - watts.idle_w
    if net_w < 0.0:
        if on == 0 or reserves[on - 1] <= battery.reserve_soc_frac or reserves[on - 1] >= soc_frac:
            return np.inf
        return (soc_frac - reserves[on - 1]) * battery.capacity_wh / -net_w
    if on == len(reserves) or reserves[on] <= soc_frac or not watts.may_charge:
        return np.inf
    return hours_to_charge(soc_frac, reserves[on], net_w, battery)


@compiled
def _snapped(soc_frac: float, load_reserve: FloatArray) -> float:
    """Return the reserve that has just been met, free of rounding."""
    return load_reserve[np.argmin(np.abs(load_reserve - soc_frac))]


@compiled
def _drained(
    soc_frac: float, source_w: float, load_w: float, idle_w: float, hours: float, battery: BatteryLimits
) -> Step:
    """Return a segment in which the sources do not suffice."""
    load_lack_w = max(0.0, load_w - source_w)
    idle_lack_w = load_w + idle_w - source_w - load_lack_w
    above_wh = max(0.0, soc_frac - battery.reserve_soc_frac) * battery.capacity_wh
    on_hours = min(hours, above_wh / (load_lack_w + idle_lack_w))
    off_hours = hours - on_hours
    to_load_wh = load_lack_w * on_hours
    left_wh = max(0.0, soc_frac * battery.capacity_wh - to_load_wh)
    to_idle_wh = min(idle_lack_w * hours, left_wh)
    return Step(
        (left_wh - to_idle_wh) / battery.capacity_wh,
        to_load_wh,
        to_idle_wh,
        0.0,
        0.0,
        load_lack_w * off_hours,
        idle_lack_w * hours - to_idle_wh,
        off_hours if load_lack_w > 0.0 else 0.0,
    )


@compiled
def _charged(soc_frac: float, offered_w: float, net_w: float, hours: float, battery: BatteryLimits) -> Step:
    """Return a segment whose sources leave `net_w`, of which `offered_w` may charge."""
    after = charged_soc_frac(soc_frac, offered_w, 3600.0 * hours, battery)
    taken_wh = (after - soc_frac) * battery.capacity_wh / battery.charge_efficiency_frac
    return Step(after, 0.0, 0.0, taken_wh, max(0.0, net_w * hours - taken_wh), 0.0, 0.0, 0.0)
