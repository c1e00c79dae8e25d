"""The battery along a drive: sun, alternator and loads in, charge out, and what it means for the trip."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from routesolar.model.warmth import around_cells
from routesolar.physics.battery import (
    BatteryDays,
    BatteryRun,
    DaysAsked,
    Flows,
    Seen,
    run_battery,
    run_days,
    unseen,
)
from routesolar.physics.battery_segment import Store
from routesolar.physics.battery_warmth import Enclosure
from routesolar.physics.charging import BatteryLimits
from routesolar.physics.on_lit import OnLit
from routesolar.trip.arrays import BoolArray, FloatArray, lock_fields, plain
from routesolar.trip.clock import QUARTER_HOUR_S, utc_offset_s
from routesolar.trip.loads import DAY_S, Load, kept_first
from routesolar.trip.noun import Noun
from routesolar.trip.rig import Battery, Rig

FULL_SOC_FRAC = 0.99  # the taper never quite ends; from here people call it full
MONTH_S = 365.25 / 12 * DAY_S


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Ledger(Noun):
    """Battery bookkeeping of d drives: energy within n segments, state of charge at their ends, (d, n).

    solar_wh + alternator_wh + drawn_wh + shortfall_wh
    = load_wh + idle_wh + stored_wh + charge_loss_wh + cold_wh + full_wh, to rounding.
    `solar_wh` is what the controller offers; of it `cold_wh` comes while the battery is too cold to charge and
    `full_wh` is more than it takes. `alternator_wh` is what the engine really gave, `idle_wh` the battery's own
    draw and self-discharge, `shortfall_wh` what loads missed at the reserve, `short_s` for how many
    seconds of the segment, up to its end. `sun_to_load_wh` is what the sun carried of the loads, at once or by
    way of the battery; the charge at the start is not sun. Per drive (d,): times are UTC seconds, NaN if never:
    the cut-off to the second, the others at the end of the first segment in which it happened. `missed_wh` and
    `off_s` (k, d, n) are what each load missed and for how long, in the order of `kept_first`.
    """

    solar_wh: FloatArray
    alternator_wh: FloatArray
    load_wh: FloatArray
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
    soc_frac: FloatArray
    start_soc_frac: float
    first_full_utc_s: FloatArray
    first_reserve_utc_s: FloatArray
    first_short_utc_s: FloatArray
    lowest_soc_frac: FloatArray
    lowest_utc_s: FloatArray
    missed_wh: FloatArray
    off_s: FloatArray

    def __post_init__(self) -> None:
        d, n = np.shape(self.solar_wh)
        names = tuple(self.__dataclass_fields__)
        split = names.index("start_soc_frac")
        shapes: dict[str, tuple[int, ...]] = dict.fromkeys(names[:split], (d, n))
        shapes |= dict.fromkeys(names[split + 1 : -2], (d,))
        lock_fields(self, shapes | dict.fromkeys(names[-2:], (len(self.missed_wh), d, n)))

    @property
    def load_share_frac(self) -> FloatArray:
        """What the sun carried of the loads, (d,); NaN without loads."""
        return share_of(self.sun_to_load_wh.sum(axis=1), self.load_wh.sum(axis=1))


class Draw(NamedTuple):
    """What there is of d drives over n segments before any sun comes, all (d, n) but `stopped` (n,).

    `load_w` (d, n, k) is load by load, as `kept_first` orders them. `idle_w` is without the battery's heater,
    which belongs to what is `around` its cells.
    """

    start_utc_s: FloatArray
    duration_s: FloatArray
    stopped: BoolArray
    load_w: FloatArray
    idle_w: FloatArray
    around: Enclosure


def run_ledger(
    start_utc_s: FloatArray,
    duration_s: FloatArray,
    stopped: BoolArray,
    solar_w: FloatArray,
    air_c: FloatArray,
    rig: Rig,
    time_zone: str,
    before_c: FloatArray | None = None,
) -> Ledger:
    """Return the battery's bookkeeping of d departures over n segments, nights included.

    `solar_w` (d, n) is a steady power at the battery's terminals in each segment, such as the expected one of
    an average day; `stopped` is (n,), air temperature broadcasts to (d, n). The engine runs where the vehicle
    is not stopped. Time between segments that no segment covers is not counted. `before_c` is as in
    `around_cells`.

    Raises:
        ValueError: the rig has no battery.
    """
    draw = draw_along(start_utc_s, duration_s, stopped, air_c, rig, time_zone, before_c)
    return ledger_of(draw, solar_w, rig)


def draw_along(
    start_utc_s: FloatArray,
    duration_s: FloatArray,
    stopped: BoolArray,
    air_c: FloatArray,
    rig: Rig,
    time_zone: str,
    before_c: FloatArray | None = None,
) -> Draw:
    """Return what loads and battery draw along d drives, and what is around the battery.

    `before_c` is the air of the day before, as in `around_cells`.

    Raises:
        ValueError: the rig has no battery.
    """
    battery = _battery_of(rig)
    idle_w = battery.parasitic_w + battery.capacity_wh * battery.self_discharge_frac_per_month * 3600 / MONTH_S
    each_w = each_load_w(kept_first(rig.loads), start_utc_s, duration_s, stopped, time_zone)
    return Draw(
        start_utc_s=start_utc_s,
        duration_s=plain(duration_s),
        stopped=stopped,
        load_w=np.ascontiguousarray(np.moveaxis(each_w, 0, -1)),
        idle_w=np.full(np.shape(duration_s), idle_w),
        around=around_cells(duration_s, air_c, battery, before_c),
    )


def ledger_of(draw: Draw, solar_w: FloatArray, rig: Rig) -> Ledger:
    """Return the bookkeeping under given watts of sun, (d, n); a `draw` of one drive serves many days of it.

    Raises:
        ValueError: the rig has no battery.
    """
    run, battery, shape = run_of(draw, solar_w, rig), _battery_of(rig), np.shape(solar_w)
    hours = draw.duration_s / 3600.0
    parts = {"solar_wh": solar_w * hours, "load_wh": np.broadcast_to(draw.load_w.sum(axis=2) * hours, shape)}
    parts |= run._asdict()
    ends_s = np.broadcast_to(draw.start_utc_s + draw.duration_s, shape)
    moments_s = np.hstack([np.broadcast_to(draw.start_utc_s[:, :1], (shape[0], 1)), ends_s])
    return Ledger(start_soc_frac=battery.start_soc_frac, **parts, **_answers(parts, moments_s, battery))


def run_of(draw: Draw, solar_w: FloatArray, rig: Rig) -> BatteryRun:
    """Return the battery's bare course under given watts of sun, (d, n), without the ledger's answers.

    Raises:
        ValueError: the rig has no battery.
    """
    run: BatteryRun = run_battery(_flows(draw, solar_w, rig), draw.around, _store(rig))
    return run


def run_over_days(
    draw: Draw,
    solar_w: OnLit,
    chance: FloatArray,
    rig: Rig,
    *,
    followed: BoolArray | None = None,
    enough_wh: float = np.inf,
    seen: Seen = unseen,
) -> BatteryDays:
    """Return what becomes of many days of one drive, with their watts of sun and chances (s,).

    Only of the days `followed`, (s,), where that is given; a day on which loads have missed more than
    `enough_wh` is not followed further. `seen` is told the charge as `run_days` has it.

    Raises:
        ValueError: the rig has no battery, or `draw` is of several drives.
    """
    if len(draw.duration_s) != 1:
        raise ValueError("days are of one drive at a time")
    moments_s = np.append(draw.start_utc_s[0, 0], draw.start_utc_s[0] + draw.duration_s[0])
    every = np.ones(len(chance), dtype=np.bool_) if followed is None else np.array(followed)
    asked = DaysAsked(np.array(chance), every, moments_s, FULL_SOC_FRAC, enough_wh)
    flows = _flows(draw, solar_w.values, rig)
    return run_days(flows, solar_w.column, draw.around, _store(rig), asked, seen)


def _flows(draw: Draw, solar_w: FloatArray, rig: Rig) -> Flows:
    engine_w = 0.0 if rig.alternator is None else rig.alternator.delivered_w
    return Flows(
        solar_w=plain(solar_w),
        alternator_w=np.where(draw.stopped, 0.0, np.full(draw.duration_s.shape, engine_w)),
        load_w=draw.load_w,
        idle_w=draw.idle_w,
        duration_s=draw.duration_s,
    )


def _store(rig: Rig) -> Store:
    battery, alternator = _battery_of(rig), rig.alternator
    reserves = np.array([load.reserve_over(battery.reserve_soc_frac) for load in kept_first(rig.loads)])
    solar_yields = alternator is not None and alternator.yields_first == "solar"
    return Store(_limits(battery), reserves, battery.start_soc_frac, solar_yields)


def share_of(part: FloatArray, whole: FloatArray) -> FloatArray:
    """Return part over whole, NaN where there is no whole."""
    share: FloatArray = np.divide(part, whole, out=np.full_like(whole, np.nan), where=whole > 0)
    return share


def loads_w(
    loads: tuple[Load, ...],
    start_utc_s: FloatArray,
    duration_s: FloatArray,
    stopped: BoolArray,
    time_zone: str,
) -> FloatArray:
    """Return the loads' mean power in W within each segment, (d, n), together; see `each_load_w`."""
    total_w: FloatArray = each_load_w(loads, start_utc_s, duration_s, stopped, time_zone).sum(axis=0)
    return total_w


def each_load_w(
    loads: tuple[Load, ...],
    start_utc_s: FloatArray,
    duration_s: FloatArray,
    stopped: BoolArray,
    time_zone: str,
) -> FloatArray:
    """Return the mean power in W of each load within each segment, (k, d, n).

    Clock times are met to the second, in local time, through every change of the clocks.
    """
    each_w = np.zeros((len(loads), *np.shape(start_utc_s)))
    moving = {"always": np.ones_like(stopped), "driving": ~stopped, "stopped": stopped}
    for place, load in enumerate(loads):
        on = _share_on(load, start_utc_s, duration_s, time_zone) if load.windows_s else moving[load.when]
        each_w[place] = load.power_w * on
    return each_w


def _share_on(load: Load, start_utc_s: FloatArray, duration_s: FloatArray, time_zone: str) -> FloatArray:
    """Return the share of each segment that lies within the load's daily clock times."""
    end_utc_s = start_utc_s + duration_s
    first_s, last_s = utc_offset_s(start_utc_s, time_zone), utc_offset_s(end_utc_s, time_zone)
    on_s = _seconds_on(load, end_utc_s + first_s) - _seconds_on(load, start_utc_s + first_s)
    for at in zip(*np.nonzero(first_s != last_s), strict=True):
        quarters_s = np.arange(start_utc_s[at] // QUARTER_HOUR_S + 1, end_utc_s[at] // QUARTER_HOUR_S + 1)
        quarters_s *= QUARTER_HOUR_S
        changed = quarters_s[utc_offset_s(quarters_s, time_zone) != first_s[at]]
        edges_s = np.array([start_utc_s[at], changed[0], changed[0], end_utc_s[at]])
        until_s = _seconds_on(load, edges_s + np.repeat([first_s[at], last_s[at]], 2))
        on_s[at] = until_s[1] - until_s[0] + until_s[3] - until_s[2]
    return np.divide(on_s, duration_s, out=np.zeros_like(on_s), where=duration_s > 0)


def _seconds_on(load: Load, local_s: FloatArray) -> FloatArray:
    """Return for how many seconds a load with clock times was on until a local time, since 1970."""
    days, of_day_s = np.divmod(local_s, DAY_S)
    spans = ((end_s - start_s, of_day_s - start_s) for start_s, end_s in load.windows_s)
    return sum((days * span + np.clip(past, 0.0, span) for span, past in spans), np.zeros_like(local_s))


def _battery_of(rig: Rig) -> Battery:
    if rig.battery is None:
        raise ValueError("the rig has no battery; a ledger needs [battery] capacity_wh")
    return rig.battery


def _limits(battery: Battery) -> BatteryLimits:
    return BatteryLimits(
        capacity_wh=battery.capacity_wh,
        reserve_soc_frac=battery.reserve_soc_frac,
        max_charge_w=battery.max_charge_w,
        taper_from_soc_frac=battery.taper_from_soc_frac,
        charge_efficiency_frac=battery.round_trip_frac,
    )


def _answers(parts: dict[str, FloatArray], moments_s: FloatArray, battery: Battery) -> dict[str, FloatArray]:
    """Return the ledger's figures per drive; the start of the drive counts as a moment too."""
    first = np.full((len(moments_s), 1), battery.start_soc_frac)
    soc = np.hstack([first, parts["soc_frac"]])
    lowest = soc.argmin(axis=1)[:, None]
    cut_off_s = moments_s[:, 1:] - parts["short_s"]
    return {
        "first_full_utc_s": first_time(soc >= FULL_SOC_FRAC, moments_s),
        "first_reserve_utc_s": first_time(soc <= battery.reserve_soc_frac + 1e-9, moments_s),
        "first_short_utc_s": first_time(parts["short_s"] > 0, cut_off_s),
        "lowest_soc_frac": np.take_along_axis(soc, lowest, axis=1)[:, 0],
        "lowest_utc_s": np.take_along_axis(moments_s, lowest, axis=1)[:, 0],
    }


def first_time(happened: BoolArray, moments_s: FloatArray) -> FloatArray:
    """Return the moment of each row's first event, (d,), NaN without one."""
    moments_s = np.broadcast_to(moments_s, happened.shape)
    first = happened.argmax(axis=1)
    rows = np.arange(len(happened))
    return np.where(happened[rows, first], moments_s[rows, first], np.nan)
