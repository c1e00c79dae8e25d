"""A battery along time: what is stored, drawn, lost, turned away and missing, segment by segment."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.arrays import FloatArray
from routesolar.physics.charging import BatteryLimits, charged_soc_frac
from routesolar.physics.compiled import compiled


class Flows(NamedTuple):
    """Steady power within each segment at the battery's terminals, all (d, n).

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


class _Step(NamedTuple):
    """One segment: the charge after it, what the battery gave and took, and what was too much or too little."""

    soc_frac: float
    to_load_wh: float
    to_idle_wh: float
    taken_wh: float
    spare_wh: float
    missing_wh: float
    idle_off_wh: float
    short_hours: float


@compiled
def run_battery(flows: Flows, battery: BatteryLimits, start_soc_frac: float, solar_yields: bool) -> BatteryRun:
    """Return the battery's way through d drives of n segments, each from `start_soc_frac`.

    Sources serve the loads first, then the battery's own draw, and the rest charges; what the battery does
    not take is taken back from the alternator and then from the sun, or with `solar_yields` in the other order
    (on the segment's sums). A lack is drawn down to the reserve; there the loads are cut off, while the
    battery's own draw goes on until nothing is left.
    """
    d, n = flows.solar_w.shape
    out = np.empty((11, d, n))
    for i in range(d):
        soc, sun_part = start_soc_frac, 0.0
        for j in range(n):
            hours = flows.duration_s[i, j] / 3600.0
            solar_wh, engine_wh = flows.solar_w[i, j] * hours, flows.alternator_w[i, j] * hours
            load_wh, idle_wh = flows.load_w[i, j] * hours, flows.idle_w[i, j] * hours
            source_w = flows.solar_w[i, j] + flows.alternator_w[i, j]
            if source_w < flows.load_w[i, j] + flows.idle_w[i, j]:
                step = _drained(soc, source_w, flows.load_w[i, j], flows.idle_w[i, j], hours, battery)
            else:
                net_w = source_w - flows.load_w[i, j] - flows.idle_w[i, j]
                step = _charged(soc, net_w if flows.may_charge[i, j] else 0.0, net_w, hours, battery)
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
    return BatteryRun(out[0], out[1], out[2], out[3], out[4], out[5], out[6], out[7], out[8], out[9], out[10])


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
