"""A battery along time: what is stored, drawn, lost, turned away and missing, segment by segment."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from routesolar.arrays import BoolArray, FloatArray, IntArray
from routesolar.physics.battery_segment import (
    Store,
    Watts,
    add_lacks,
    booked,
    hours_all_on,
    steady,
    through_reserves,
)
from routesolar.physics.battery_warmth import CellWarmth, Enclosure, Heater, cells_warmth, warmed
from routesolar.physics.compiled import compiled

TERMS = (  # of BatteryDays.mean, in their order
    "soc_frac alternator_wh idle_wh stored_wh drawn_wh charge_loss_wh cold_wh full_wh shortfall_wh "
    "sun_to_load_wh short_s heater_wh cold_s"
).split()
Seen = Callable[[int, FloatArray], None]
TOGETHER = 256  # segments of all days: two thousand days of them are 4 MB


class Flows(NamedTuple):
    """Steady power within each segment at the battery's terminals, and how long each lasts.

    `solar_w` is (d, n), for `run_days` of lit segments alone; all else is (r, n): r is d, or 1 where it is the
    same on all d drives. `load_w` (r, n, k)
    are loads in the order in which they are kept; none has a lower reserve than those before it. `idle_w` is
    what the battery itself draws without its heater: its electronics and its self-discharge.
    """

    solar_w: FloatArray
    alternator_w: FloatArray
    load_w: FloatArray
    idle_w: FloatArray
    duration_s: FloatArray


class BatteryRun(NamedTuple):
    """Energy within each segment, the charge at its end and the seconds without power in it, all (d, n).

    solar + alternator + drawn + shortfall = load + idle + stored + charge loss + cold + full, where
    alternator is what the engine really gave; cold and full are sun turned away, by a battery too cold to
    charge and by one that takes no more. `sun_to_load_wh` is what of the loads came from the sun, at once or
    out of the battery, whose charge is one mixed store: what was in it at the start is not sun.
    `short_s` is for how long any load lacked power, `cold_s` for how long the cells were too cold to charge;
    `heater_wh` is part of the idle draw. `missed_wh` and `off_s` (k, d, n) are load by load.
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
    heater_wh: FloatArray
    cold_s: FloatArray
    missed_wh: FloatArray
    off_s: FloatArray


class BatteryDays(NamedTuple):
    """Many days of one drive: means over the days by term and segment, and what becomes of each day.

    `mean` is (terms, n) in the order of TERMS. `lowest_soc_frac`, `coldest_c`, `shortfall_wh` and the moments
    are (d,), in seconds, NaN if never; `missed_wh`, `off_s` and `first_off_s` are load by load, (d, k).
    """

    mean: FloatArray
    lowest_soc_frac: FloatArray
    coldest_c: FloatArray
    shortfall_wh: FloatArray
    first_full_s: FloatArray
    first_reserve_s: FloatArray
    first_short_s: FloatArray
    missed_wh: FloatArray
    off_s: FloatArray
    first_off_s: FloatArray


class DaysAsked(NamedTuple):
    """What is asked of d days: their chances, (d,), and from when on something counts.

    `moments_s` (n + 1,) are the drive's start and the segments' ends; from `full_frac` on a battery counts as
    full. A day that is not `followed`, (d,), is left out, and one on which loads have missed more than
    `enough_wh` is not followed further.
    """

    chance: FloatArray
    followed: BoolArray
    moments_s: FloatArray
    full_frac: float
    enough_wh: float


class _Along(NamedTuple):
    """How d days stand at some moment of the drive, (d,): charge, what of it is sun, warmth, and if followed.

    `column` (n,) is as in `run_days`, `cell_c` and `total_w` (n,) are how warm cells without a heater are, and
    what all loads take together.
    """

    soc_frac: FloatArray
    sun_part: FloatArray
    at_c: FloatArray
    followed: BoolArray
    column: IntArray
    cell_c: FloatArray
    total_w: FloatArray


def run_battery(flows: Flows, around: Enclosure, store: Store) -> BatteryRun:
    """Return the battery's way through d drives of n segments; see `steady`, `through_reserves`, `booked`.

    The battery's heater comes after the loads, and at the reserve lives from what the sources leave.
    """
    terms, missed_wh, off_s = _run_battery(flows, around, store)
    return BatteryRun(*(*terms, missed_wh, off_s))


@compiled
def _run_battery(flows: Flows, around: Enclosure, store: Store) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the terms of BatteryRun in their order, (13, d, n), and what loads missed, as it has it."""
    d, n = flows.solar_w.shape
    k, rows = len(store.load_reserve), len(flows.duration_s)
    out, missed_wh, off_s = np.empty((13, d, n)), np.zeros((k, d, n)), np.zeros((k, d, n))
    missed, off = np.zeros(k), np.zeros(k)
    all_cell_c, total_w, battery = cells_warmth(around)[0], _total_w(flows), store.limits
    limit_c, heated, highest = around.cold_limit_c, around.heater.power_w > 0.0, _highest(store)
    for i in range(d):
        row = i if rows == d else 0
        solar_w, engine_w, all_w = flows.solar_w[i], flows.alternator_w[row], total_w[row]
        idle_w, lasts_s, cell_c = flows.idle_w[row], flows.duration_s[row], all_cell_c[row]
        soc, sun_part, at_c = store.start_soc_frac, 0.0, around.start_c[row]
        for j in range(n):
            warm = CellWarmth(at_c, cell_c[j], 0.0)
            if heated:
                warm = _heated(flows, around, store, soc, at_c, solar_w[j], row, j)
            idle, hours, cold = idle_w[j] + warm.heater_w, lasts_s[j] / 3600.0, warm.mean_c < limit_c
            watts = Watts(solar_w[j], engine_w[j], all_w[j], idle, hours, not cold)
            if hours_all_on(watts, battery, highest, soc) < hours:
                step = through_reserves(watts, flows.load_w[row, j], store, soc, missed, off)
            else:
                step = steady(watts, soc, watts.load_w, hours, battery)
                if step.short_hours > 0.0:
                    add_lacks(watts, flows.load_w[row, j], k, 0.0, hours, step, missed, off)
            now = booked(watts, step, battery, store.solar_yields, soc, sun_part)
            soc, sun_part, at_c = now.soc_frac, now.sun_part, warm.end_c
            out[0, i, j], out[1, i, j], out[2, i, j] = soc, now.alternator_wh, now.idle_wh
            out[3, i, j], out[4, i, j], out[5, i, j] = now.stored_wh, now.drawn_wh, now.charge_loss_wh
            out[6, i, j], out[7, i, j], out[8, i, j] = now.cold_wh, now.full_wh, now.shortfall_wh
            out[9, i, j], out[10, i, j] = now.sun_to_load_wh, now.short_s
            out[11, i, j], out[12, i, j] = warm.heater_w * hours, lasts_s[j] if cold else 0.0
            if now.short_s > 0.0:
                for load in range(k):
                    missed_wh[load, i, j], off_s[load, i, j] = missed[load], off[load]
                    missed[load], off[load] = 0.0, 0.0
    return out, missed_wh, off_s


def unseen(first: int, soc_frac: FloatArray) -> None:
    """Leave the days' charge alone."""


def run_days(
    flows: Flows,
    column: IntArray,
    around: Enclosure,
    store: Store,
    asked: DaysAsked,
    seen: Seen = unseen,
) -> BatteryDays:
    """Return `run_battery` over d days of one drive, without keeping every segment of every day.

    `column` (n,) tells which column of the flows' `solar_w` is a segment's, -1 in the dark.
    All days go along some segments at a time, after which `seen` is told the first of these segments and the
    charge at their ends, (d, some), NaN where a day is not followed.
    """
    d, n = len(flows.solar_w), len(column)
    k, start, start_s = len(store.load_reserve), store.start_soc_frac, asked.moments_s[0]
    along = _Along(
        soc_frac=np.full(d, start),
        sun_part=np.zeros(d),
        at_c=np.full(d, around.start_c[0]),
        followed=asked.followed.copy(),
        column=column,
        cell_c=cells_warmth(around)[0][0],
        total_w=_total_w(flows)[0],
    )
    days = BatteryDays(
        mean=np.zeros((n, len(TERMS))),
        lowest_soc_frac=np.full(d, start),
        coldest_c=np.full(d, np.inf),
        shortfall_wh=np.zeros(d),
        first_full_s=np.full(d, start_s if start >= asked.full_frac else np.nan),
        first_reserve_s=np.full(d, start_s if start <= _at_reserve(store) else np.nan),
        first_short_s=np.full(d, np.nan),
        missed_wh=np.zeros((d, k)),
        off_s=np.zeros((d, k)),
        first_off_s=np.full((d, k), np.nan),
    )
    for first in range(0, n, TOGETHER):
        some = np.full((d, min(n - first, TOGETHER)), np.nan)
        _run_days(flows, around, store, asked, first, along, days, some)
        seen(first, some)
    return days._replace(mean=days.mean.T)


@compiled
def _run_days(
    flows: Flows,
    around: Enclosure,
    store: Store,
    asked: DaysAsked,
    first: int,
    along: _Along,
    days: BatteryDays,
    soc_frac: FloatArray,
) -> None:
    """Bring all days past the segments from `first` on that `soc_frac` is for, (d, some).

    What becomes of them is added to `days`, whose means are (n, terms) here.
    """
    d, some = soc_frac.shape
    chance, moments_s, full_frac, enough_wh = asked.chance, asked.moments_s, asked.full_frac, asked.enough_wh
    column, cell_c, total_w = along.column, along.cell_c, along.total_w
    k, at_reserve, mean = len(store.load_reserve), _at_reserve(store), days.mean
    missed, off = np.zeros(k), np.zeros(k)
    battery, limit_c, heated = store.limits, around.cold_limit_c, around.heater.power_w > 0.0
    engine_w, idle_w, lasts_s = flows.alternator_w[0], flows.idle_w[0], flows.duration_s[0]
    highest = _highest(store)
    for i in range(d):
        if not along.followed[i]:
            continue
        lit_w, soc_i, likely = flows.solar_w[i], soc_frac[i], chance[i]
        soc, sun_part, at_c = along.soc_frac[i], along.sun_part[i], along.at_c[i]
        low, cold_c, missing_wh = days.lowest_soc_frac[i], days.coldest_c[i], days.shortfall_wh[i]
        full, reserve = not np.isnan(days.first_full_s[i]), not np.isnan(days.first_reserve_s[i])
        for j in range(first, first + some):
            solar_w = lit_w[column[j]] if column[j] >= 0 else 0.0
            warm = CellWarmth(at_c, cell_c[j], 0.0)
            if heated:
                warm = _heated(flows, around, store, soc, at_c, solar_w, 0, j)
            idle, hours, cold = idle_w[j] + warm.heater_w, lasts_s[j] / 3600.0, warm.mean_c < limit_c
            watts = Watts(solar_w, engine_w[j], total_w[j], idle, hours, not cold)
            if hours_all_on(watts, battery, highest, soc) < hours:
                step = through_reserves(watts, flows.load_w[0, j], store, soc, missed, off)
            else:
                step = steady(watts, soc, watts.load_w, hours, battery)
                if step.short_hours > 0.0:
                    add_lacks(watts, flows.load_w[0, j], k, 0.0, hours, step, missed, off)
            now = booked(watts, step, battery, store.solar_yields, soc, sun_part)
            soc, sun_part, at_c = now.soc_frac, now.sun_part, warm.end_c
            soc_i[j - first] = soc
            mean[j, 0] += likely * soc
            mean[j, 1] += likely * now.alternator_wh
            mean[j, 2] += likely * now.idle_wh
            mean[j, 3] += likely * now.stored_wh
            mean[j, 4] += likely * now.drawn_wh
            mean[j, 5] += likely * now.charge_loss_wh
            mean[j, 6] += likely * now.cold_wh
            mean[j, 7] += likely * now.full_wh
            mean[j, 8] += likely * now.shortfall_wh
            mean[j, 9] += likely * now.sun_to_load_wh
            mean[j, 10] += likely * now.short_s
            mean[j, 11] += likely * warm.heater_w * hours
            mean[j, 12] += likely * lasts_s[j] if cold else 0.0
            low, cold_c = min(low, soc), min(cold_c, warm.mean_c)
            if soc >= full_frac and not full:
                full, days.first_full_s[i] = True, moments_s[j + 1]
            if soc <= at_reserve and not reserve:
                reserve, days.first_reserve_s[i] = True, moments_s[j + 1]
            if now.short_s > 0.0:
                if np.isnan(days.first_short_s[i]):
                    days.first_short_s[i] = moments_s[j + 1] - now.short_s
                for load in range(k):
                    if off[load] > 0.0 and days.off_s[i, load] == 0.0:
                        days.first_off_s[i, load] = moments_s[j + 1] - off[load]
                    days.missed_wh[i, load] += missed[load]
                    days.off_s[i, load] += off[load]
                    missed[load], off[load] = 0.0, 0.0
                missing_wh += now.shortfall_wh
                if missing_wh > enough_wh:
                    along.followed[i] = False
                    break
        along.soc_frac[i], along.sun_part[i], along.at_c[i] = soc, sun_part, at_c
        days.lowest_soc_frac[i], days.coldest_c[i], days.shortfall_wh[i] = low, cold_c, missing_wh


@compiled
def _at_reserve(store: Store) -> float:
    """Return the charge from which on down the battery counts as being at its reserve."""
    return store.limits.reserve_soc_frac + 1e-9


@compiled
def _highest(store: Store) -> float:
    """Return the highest reserve of a load, 0 without loads."""
    return store.load_reserve[-1] if len(store.load_reserve) else 0.0


@compiled
def _total_w(flows: Flows) -> FloatArray:
    """Return the power of all loads together, (r, n), added in their order."""
    total_w = np.zeros(flows.duration_s.shape)
    for load in range(flows.load_w.shape[2]):
        total_w += flows.load_w[:, :, load]
    return total_w


@compiled
def _heated(
    flows: Flows, around: Enclosure, store: Store, soc: float, at_c: float, solar_w: float, row: int, j: int
) -> CellWarmth:
    """Return the cells' warmth in one segment, heated with what is above the reserve and what is left."""
    hours = flows.duration_s[row, j] / 3600.0
    if hours <= 0.0:
        return CellWarmth(at_c, at_c, 0.0)
    left_w = solar_w + flows.alternator_w[row, j] - flows.idle_w[row, j]
    for load, reserve in enumerate(store.load_reserve):
        if reserve <= store.limits.reserve_soc_frac or reserve < soc:
            left_w -= flows.load_w[row, j, load]
    above_wh = max(0.0, soc - store.limits.reserve_soc_frac) * store.limits.capacity_wh
    most_w = min(around.heater.power_w, max(0.0, left_w + above_wh / hours))
    heater = Heater(most_w, around.heater.keeps_c)
    return warmed(at_c, around.around_c[row, j], flows.duration_s[row, j], around, heater)
