"""A battery along time: what is stored, drawn, lost, turned away and missing, segment by segment."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.arrays import FloatArray
from routesolar.physics.charging import BatteryLimits, charged_soc_frac, hours_to_charge
from routesolar.physics.compiled import compiled


class Flows(NamedTuple):
    """Steady power within each segment at the battery's terminals, all (d, n), but `load_w` (k, d, n).

    Loads are in the order in which they are kept, and none has a lower reserve than those before it.
    `idle_w` is what the battery itself draws: its electronics and its self-discharge.
    """

    solar_w: FloatArray
    alternator_w: FloatArray
    load_w: FloatArray
    idle_w: FloatArray
    duration_s: FloatArray
    may_charge: NDArray[np.bool_]


class BatteryRun(NamedTuple):
    """Energy within each segment, the charge at its end and the seconds without power in it, all (d, n).

    solar + alternator + drawn + shortfall = load + idle + stored + charge loss + cold + full, where
    alternator is what the engine really gave; cold and full are sun turned away, by a battery too cold to
    charge and by one that takes no more. `sun_to_load_wh` is what of the loads came from the sun, at once or
    out of the battery, whose charge is one mixed store: what was in it at the start is not sun.
    `short_s` is for how long any load lacked power. `missed_wh` and `off_s` (k, d, n) are load by load.
    """

    soc_frac: FloatArray
    alternator_wh: FloatArray
    idle_wh: FloatArray
    stored_wh: FloatArray
    drawn_wh: FloatArray
    charge_loss_wh: FloatArray
    cold_wh: FloatArray
    full_wh: FloatArray
    shortfall_wh: FloatArray
    sun_to_load_wh: FloatArray
    short_s: FloatArray
    missed_wh: FloatArray
    off_s: FloatArray


class _Step(NamedTuple):
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
def run_battery(
    flows: Flows, battery: BatteryLimits, load_reserve: FloatArray, start_soc_frac: float, solar_yields: bool
) -> BatteryRun:
    """Return the battery's way through d drives of n segments, each from `start_soc_frac`.

    Sources serve the loads first, in their order, then the battery's own draw, and the rest charges; what the
    battery does not take is taken back from the alternator and then from the sun, or with `solar_yields` in the
    other order (on the segment's sums). A lack is drawn down to the reserve; there the loads are cut off, while
    the battery's own draw goes on until nothing is left. A load with a higher reserve of its own, in
    `load_reserve` (k,), is off below that charge whatever comes, and at it lives from what the sources leave.
    """
    d, n = flows.solar_w.shape
    k = len(flows.load_w)
    out, missed_wh, off_s = np.empty((11, d, n)), np.zeros((k, d, n)), np.zeros((k, d, n))
    for i in range(d):
        soc, sun_part = start_soc_frac, 0.0
        for j in range(n):
            hours = flows.duration_s[i, j] / 3600.0
            solar_wh, engine_wh = flows.solar_w[i, j] * hours, flows.alternator_w[i, j] * hours
            load_wh, idle_wh = flows.load_w[:, i, j].sum() * hours, flows.idle_w[i, j] * hours
            step = _through(flows, battery, load_reserve, soc, i, j, missed_wh, off_s)
            away_wh = min(step.spare_wh, solar_wh) if solar_yields else max(0.0, step.spare_wh - engine_wh)
            engine_wh -= step.spare_wh - away_wh
            used_wh = solar_wh - away_wh + engine_wh
            sun_share = (solar_wh - away_wh) / used_wh if used_wh > 0.0 else 0.0
            at_once_wh = load_wh - step.to_load_wh - step.missing_wh
            stored_wh = step.taken_wh * battery.charge_efficiency_frac
            out[9, i, j] = sun_share * at_once_wh + sun_part * step.to_load_wh
            if stored_wh > 0.0:
                sun_part += (sun_share - sun_part) * stored_wh / (soc * battery.capacity_wh + stored_wh)
            soc = step.soc_frac
            out[0, i, j], out[1, i, j], out[2, i, j] = soc, engine_wh, idle_wh - step.idle_off_wh
            out[3, i, j], out[4, i, j] = stored_wh, step.to_load_wh + step.to_idle_wh
            out[5, i, j] = step.taken_wh - stored_wh
            out[6, i, j], out[7, i, j] = (0.0, away_wh) if flows.may_charge[i, j] else (away_wh, 0.0)
            out[8, i, j], out[10, i, j] = step.missing_wh, 3600.0 * step.short_hours
    return BatteryRun(
        out[0],
        out[1],
        out[2],
        out[3],
        out[4],
        out[5],
        out[6],
        out[7],
        out[8],
        out[9],
        out[10],
        missed_wh,
        off_s,
    )


@compiled
def _through(
    flows: Flows,
    battery: BatteryLimits,
    load_reserve: FloatArray,
    soc: float,
    i: int,
    j: int,
    missed_wh: FloatArray,
    off_s: FloatArray,
) -> _Step:
    """Return one segment, cut where the charge crosses a load's own reserve; fills what each load missed."""
    k = len(load_reserve)
    left = flows.duration_s[i, j] / 3600.0
    source_w, idle_w = flows.solar_w[i, j] + flows.alternator_w[i, j], flows.idle_w[i, j]
    whole = _Step(soc, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    # Each reserve is crossed once or held, so there are at most k + 1 pieces; the last takes what is left.
    for piece in range(k + 2):
        on, on_w = 0, 0.0
        while on < k and (load_reserve[on] <= battery.reserve_soc_frac or load_reserve[on] < whole.soc_frac):
            on_w += flows.load_w[on, i, j]
            on += 1
        spare_w = source_w - idle_w - on_w
        block, block_w = on, 0.0
        while block < k and load_reserve[block] == whole.soc_frac:
            block_w += flows.load_w[block, i, j]
            block += 1
        given_w = 0.0  # what loads at their own reserve get of what the sources leave
        if spare_w > 0.0 and block_w > 0.0:
            if spare_w >= block_w:
                on, on_w = block, on_w + block_w
            else:
                given_w = spare_w
        hours = left
        if given_w > 0.0:
            step = _Step(whole.soc_frac, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        else:
            if piece < k + 1:
                hours = min(left, _until_reserve(flows, battery, load_reserve, whole.soc_frac, on, on_w, i, j))
            if source_w < on_w + idle_w:
                step = _drained(whole.soc_frac, source_w, on_w, idle_w, hours, battery)
            else:
                net_w = source_w - on_w - idle_w
                offered_w = net_w if flows.may_charge[i, j] else 0.0
                step = _charged(whole.soc_frac, offered_w, net_w, hours, battery)
        short_hours, missing_wh = step.short_hours, step.missing_wh
        before_w = 0.0
        for load in range(k):
            load_w = flows.load_w[load, i, j]
            if load < on:
                lack_w = min(load_w, max(0.0, before_w + load_w - source_w))
                lacking = step.short_hours if lack_w > 0.0 else 0.0
            else:
                lack_w = load_w - min(load_w, given_w)
                given_w -= load_w - lack_w
                lacking = hours if lack_w > 0.0 else 0.0
                missing_wh += lack_w * hours
                short_hours = max(short_hours, lacking)
            before_w += load_w
            missed_wh[load, i, j] += lack_w * lacking
            off_s[load, i, j] += 3600.0 * lacking
        whole = _Step(
            step.soc_frac if hours == left else _snapped(step.soc_frac, load_reserve),
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
def _until_reserve(
    flows: Flows,
    battery: BatteryLimits,
    load_reserve: FloatArray,
    soc_frac: float,
    on: int,
    on_w: float,
    i: int,
    j: int,
) -> float:
    """Return the hours until the charge meets the next load's own reserve, with `on` loads on; inf if never."""
    net_w = flows.solar_w[i, j] + flows.alternator_w[i, j] - on_w - flows.idle_w[i, j]
    if net_w < 0.0:
        if on == 0 or load_reserve[on - 1] <= battery.reserve_soc_frac or load_reserve[on - 1] >= soc_frac:
            return np.inf
        return (soc_frac - load_reserve[on - 1]) * battery.capacity_wh / -net_w
    if on == len(load_reserve) or load_reserve[on] <= soc_frac or not flows.may_charge[i, j]:
        return np.inf
    return hours_to_charge(soc_frac, load_reserve[on], net_w, battery)


@compiled
def _snapped(soc_frac: float, load_reserve: FloatArray) -> float:
    """Return the reserve that has just been met, free of rounding."""
    return load_reserve[np.argmin(np.abs(load_reserve - soc_frac))]


@compiled
def _drained(
    soc_frac: float, source_w: float, load_w: float, idle_w: float, hours: float, battery: BatteryLimits
) -> _Step:
    """Return a segment in which the sources do not suffice."""
    load_lack_w = max(0.0, load_w - source_w)
    idle_lack_w = load_w + idle_w - source_w - load_lack_w
    above_wh = max(0.0, soc_frac - battery.reserve_soc_frac) * battery.capacity_wh
    on_hours = min(hours, above_wh / (load_lack_w + idle_lack_w))
    off_hours = hours - on_hours
    to_load_wh = load_lack_w * on_hours
    left_wh = max(0.0, soc_frac * battery.capacity_wh - to_load_wh)
    to_idle_wh = min(idle_lack_w * hours, left_wh)
    return _Step(
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
def _charged(soc_frac: float, offered_w: float, net_w: float, hours: float, battery: BatteryLimits) -> _Step:
    """Return a segment whose sources leave `net_w`, of which `offered_w` may charge."""
    after = charged_soc_frac(soc_frac, offered_w, 3600.0 * hours, battery)
    taken_wh = (after - soc_frac) * battery.capacity_wh / battery.charge_efficiency_frac
    return _Step(after, 0.0, 0.0, taken_wh, max(0.0, net_w * hours - taken_wh), 0.0, 0.0, 0.0)
