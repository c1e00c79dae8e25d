"""A battery along time: what is stored, drawn, lost, turned away and missing, segment by segment."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.physics.charging import BatteryLimits, charged_soc_frac
from routesolar.physics.compiled import compiled

FloatArray = NDArray[np.float64]


class Flows(NamedTuple):
    """Steady power within each segment at the battery's terminals, all (d, n)."""

    solar_w: FloatArray
    alternator_w: FloatArray
    load_w: FloatArray
    duration_s: FloatArray
    may_charge: NDArray[np.bool_]


class BatteryRun(NamedTuple):
    """Energy within each segment and the charge at its end, all (d, n).

    solar + alternator + drawn + shortfall = load + stored + charge loss + curtailed, where alternator is
    what the engine really gave and curtailed is sun that found no room.
    """

    soc_frac: FloatArray
    alternator_wh: FloatArray
    stored_wh: FloatArray
    drawn_wh: FloatArray
    charge_loss_wh: FloatArray
    curtailed_wh: FloatArray
    shortfall_wh: FloatArray


@compiled
def run_battery(flows: Flows, battery: BatteryLimits, start_soc_frac: float, solar_yields: bool) -> BatteryRun:
    """Return the battery's way through d drives of n segments, each from `start_soc_frac`.

    Sources serve the load first, the rest charges; what the battery does not take is taken back from the
    alternator and then from the sun, or with `solar_yields` in the other order (on the segment's sums).
    A lack is drawn down to the reserve; below it loads go short.
    """
    d, n = flows.solar_w.shape
    out = np.empty((7, d, n))
    for i in range(d):
        soc = start_soc_frac
        for j in range(n):
            hours = flows.duration_s[i, j] / 3600.0
            solar_wh = flows.solar_w[i, j] * hours
            engine_wh = flows.alternator_w[i, j] * hours
            net_w = flows.solar_w[i, j] + flows.alternator_w[i, j] - flows.load_w[i, j]
            before = soc
            drawn_wh, taken_wh, missing_wh, spare_wh = 0.0, 0.0, 0.0, 0.0
            if net_w < 0.0:
                drawn_wh = min(-net_w * hours, max(0.0, soc - battery.reserve_soc_frac) * battery.capacity_wh)
                missing_wh = -net_w * hours - drawn_wh
                soc -= drawn_wh / battery.capacity_wh
            else:
                if flows.may_charge[i, j]:
                    soc = charged_soc_frac(soc, net_w, flows.duration_s[i, j], battery)
                taken_wh = (soc - before) * battery.capacity_wh / battery.charge_efficiency_frac
                spare_wh = max(0.0, net_w * hours - taken_wh)
            if solar_yields:
                curtailed_wh = min(spare_wh, solar_wh)
                engine_cut_wh = spare_wh - curtailed_wh
            else:
                engine_cut_wh = min(spare_wh, engine_wh)
                curtailed_wh = spare_wh - engine_cut_wh
            stored_wh = taken_wh * battery.charge_efficiency_frac
            out[0, i, j], out[1, i, j] = soc, engine_wh - engine_cut_wh
            out[2, i, j], out[3, i, j], out[4, i, j] = stored_wh, drawn_wh, taken_wh - stored_wh
            out[5, i, j], out[6, i, j] = curtailed_wh, missing_wh
    return BatteryRun(out[0], out[1], out[2], out[3], out[4], out[5], out[6])
