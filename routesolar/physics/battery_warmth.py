"""How warm a battery is along time: a heat capacity behind a resistance, with a heater under a thermostat."""

from math import exp, inf, log
from typing import NamedTuple

import numpy as np

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled

# How fast cells follow what is around them. In its case outside: 10-25 kg of cells behind some 0.4 m2 of case
# at 4-6 W/m2 C. Within a vehicle its interior follows the air, and the cells follow that. Judgement, no source.
OUTSIDE_TIME_CONSTANT_S = 3 * 3600.0
VEHICLE_TIME_CONSTANT_S = 6 * 3600.0
# Iron phosphate holds some 100 Wh/kg as a battery, and a kilogram some 1,000 J/C (from memory).
HEAT_CAPACITY_J_PER_C_WH = 10.0


class Heater(NamedTuple):
    """A heater within the battery: its power, and the temperature that it keeps; no heater is 0 W."""

    power_w: float
    keeps_c: float


NO_HEATER = Heater(0.0, -inf)


class Enclosure(NamedTuple):
    """What is around a battery's cells in n segments: `around_c` (d, n), and how warm they start, (d,).

    The cells come to what is around them in `time_constant_s`, losing heat by `conductance_w_per_c`; below
    `cold_limit_c` they are not charged. `duration_s` is (d, n).
    """

    around_c: FloatArray
    duration_s: FloatArray
    start_c: FloatArray
    time_constant_s: float
    conductance_w_per_c: float
    heater: Heater
    cold_limit_c: float


class Warmth(NamedTuple):
    """The cells' mean temperature and the heater's mean power in each segment, (d, n), and their end, (d,)."""

    cell_c: FloatArray
    heater_w: FloatArray
    end_c: FloatArray


class CellWarmth(NamedTuple):
    """One segment's last and mean temperature, and the heater's mean power."""

    end_c: float
    mean_c: float
    heater_w: float


def run_warmth(around: Enclosure) -> Warmth:
    """Return how warm a battery is through d drives of n segments, its heater fed whatever happens.

    First-order lag on what is around it, exact for a steady temperature there, so that two halves equal
    the whole. The heater runs below the temperature that it keeps, at full power until that is reached and then
    with what the battery loses, as far as it can. What charging and loads warm is left out.
    """
    return Warmth(*cells_warmth(around))


@compiled
def cells_warmth(around: Enclosure) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return what Warmth has, in its order; for compiled loops."""
    d, n = around.duration_s.shape
    cell_c, heater_w, end_c = np.empty((d, n)), np.empty((d, n)), np.empty(d)
    for i in range(d):
        at_c = around.start_c[i]
        for j in range(n):
            way = warmed(at_c, around.around_c[i, j], around.duration_s[i, j], around, around.heater)
            at_c, cell_c[i, j], heater_w[i, j] = way
        end_c[i] = at_c
    return cell_c, heater_w, end_c


@compiled
def warmed(at_c: float, around_c: float, duration_s: float, around: Enclosure, heater: Heater) -> CellWarmth:
    """Return one segment's warmth from `at_c` on, with a heater that may be weaker than it could be."""
    left_s, degree_s, heat_j = duration_s, 0.0, 0.0
    conductance_w_per_c, time_constant_s = around.conductance_w_per_c, around.time_constant_s
    for _ in range(3):  # it cools to what the heater keeps, or is heated up to it, and then is held there
        held_w = conductance_w_per_c * (heater.keeps_c - around_c)
        on_w, until_s = 0.0, left_s
        if at_c < heater.keeps_c or (at_c == heater.keeps_c and held_w > 0.0):
            on_w = heater.power_w
        if on_w > 0.0 and at_c == heater.keeps_c and held_w <= on_w:
            heat_j += held_w * left_s
            degree_s += at_c * left_s
            left_s = 0.0
            break
        toward_c = around_c + on_w / conductance_w_per_c
        if (at_c - heater.keeps_c) * (toward_c - heater.keeps_c) < 0.0:
            until_s = time_constant_s * log((toward_c - at_c) / (toward_c - heater.keeps_c))
        span_s = min(left_s, until_s)
        fade = exp(-span_s / time_constant_s)
        degree_s += toward_c * span_s + (at_c - toward_c) * time_constant_s * (1.0 - fade)
        heat_j += on_w * span_s
        at_c = heater.keeps_c if until_s < left_s else toward_c + (at_c - toward_c) * fade
        left_s -= span_s
        if left_s <= 0.0:
            break
    if duration_s <= 0.0:
        return CellWarmth(at_c, at_c, 0.0)
    return CellWarmth(at_c, degree_s / duration_s, heat_j / duration_s)
