"""The battery along a drive: sun, alternator and loads in, charge out, and what it means for the trip."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from routesolar.physics.battery import Flows, run_battery
from routesolar.physics.charging import BatteryLimits
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray, lock_fields
from routesolar.trip.loads import DAY_S, Load
from routesolar.trip.rig import Alternator, Battery, Rig

FULL_SOC_FRAC = 0.99  # the taper never quite ends; from here people call it full
MONTH_S = 365.25 / 12 * DAY_S
QUARTER_HOUR_S = 900.0  # clocks change on whole quarters of an hour


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """Battery bookkeeping of d departures: energy within n segments, state of charge at their ends, (d, n).

    solar_wh + alternator_wh + drawn_wh + shortfall_wh
    = load_wh + idle_wh + stored_wh + charge_loss_wh + curtailed_wh, to rounding.
    `solar_wh` is what the controller offers, `curtailed_wh` what of it found no room, `alternator_wh` what
    the engine really gave, `idle_wh` the battery's own draw and self-discharge, `shortfall_wh` what loads
    (and idle draw) missed at the reserve. Per departure (d,): times are UTC seconds, at the end of
    the first segment in which it happened, NaN if never; `load_share_frac` is what the sun carried of the
    loads, NaN without loads; `alternator_needed_wh` is what more from an engine would make good the
    shortfall, charging loss included, and `engine_hours` how long the rig's own alternator would have to
    charge for it, NaN without one.
    """

    solar_wh: FloatArray
    alternator_wh: FloatArray
    load_wh: FloatArray
    idle_wh: FloatArray
    stored_wh: FloatArray
    drawn_wh: FloatArray
    charge_loss_wh: FloatArray
    curtailed_wh: FloatArray
    shortfall_wh: FloatArray
    soc_frac: FloatArray
    start_soc_frac: float
    first_full_utc_s: FloatArray
    first_reserve_utc_s: FloatArray
    lowest_soc_frac: FloatArray
    lowest_utc_s: FloatArray
    load_share_frac: FloatArray
    alternator_needed_wh: FloatArray
    engine_hours: FloatArray

    def __post_init__(self) -> None:
        d, n = np.shape(self.solar_wh)
        names = tuple(self.__dataclass_fields__)
        split = names.index("start_soc_frac")
        lock_fields(self, dict.fromkeys(names[:split], (d, n)) | dict.fromkeys(names[split + 1 :], (d,)))


class LegSums(NamedTuple):
    """A ledger per leg, each (d, legs)."""

    solar_wh: FloatArray
    alternator_wh: FloatArray
    load_wh: FloatArray
    curtailed_wh: FloatArray
    shortfall_wh: FloatArray
    soc_start_frac: FloatArray
    soc_end_frac: FloatArray


def run_ledger(
    start_utc_s: FloatArray,
    duration_s: FloatArray,
    stopped: BoolArray,
    solar_w: FloatArray,
    air_c: FloatArray,
    rig: Rig,
    time_zone: str,
) -> Ledger:
    """Return the battery's bookkeeping of d departures over n segments, nights included.

    `solar_w` (d, n) is the expected power at the battery's terminals; `stopped` is (n,), air temperature
    broadcasts to (d, n). The engine runs where the vehicle is not stopped. Time between segments that no
    segment covers is not counted.

    Raises:
        ValueError: the rig has no battery.
    """
    battery = rig.battery
    if battery is None:
        raise ValueError("the rig has no battery; a ledger needs [battery] capacity_wh")
    shape = np.shape(solar_w)
    load_w = loads_w(rig.loads, start_utc_s, duration_s, stopped, time_zone)
    idle_w = battery.parasitic_w + battery.capacity_wh * battery.self_discharge_frac_per_month * 3600 / MONTH_S
    engine_w = 0.0 if rig.alternator is None else rig.alternator.delivered_w
    cell_c = air_c if battery.temperature_c is None else battery.temperature_c
    flows = Flows(
        solar_w=_filled(solar_w, shape),
        alternator_w=_filled(np.where(stopped, 0.0, engine_w), shape),
        load_w=_filled(load_w + idle_w, shape),
        duration_s=_filled(duration_s, shape),
        may_charge=_filled(np.asarray(cell_c) >= battery.cold_limit_c, shape),
    )
    solar_yields = rig.alternator is not None and rig.alternator.yields_first == "solar"
    run = run_battery(flows, _limits(battery), battery.start_soc_frac, solar_yields)
    hours = duration_s / 3600.0
    parts = {
        "solar_wh": solar_w * hours,
        "load_wh": load_w * hours,
        "idle_wh": idle_w * hours,
        **run._asdict(),
    }
    moments_s = np.hstack([start_utc_s[:, :1], start_utc_s + duration_s])
    answers = _answers(parts, moments_s, battery, rig.alternator)
    return Ledger(start_soc_frac=battery.start_soc_frac, **parts, **answers)


def leg_sums(ledger: Ledger, leg: IntArray) -> LegSums:
    """Return the ledger per leg; `leg` (n,) numbers each segment's leg, consecutive."""
    starts = np.flatnonzero(np.diff(leg, prepend=leg[0] - 1))

    def summed(wh: FloatArray) -> FloatArray:
        return np.asarray(np.add.reduceat(wh, starts, axis=1), dtype=np.float64)

    ends = ledger.soc_frac[:, np.append(starts[1:], len(leg)) - 1]
    first = np.full((len(ends), 1), ledger.start_soc_frac)
    return LegSums(
        solar_wh=summed(ledger.solar_wh),
        alternator_wh=summed(ledger.alternator_wh),
        load_wh=summed(ledger.load_wh),
        curtailed_wh=summed(ledger.curtailed_wh),
        shortfall_wh=summed(ledger.shortfall_wh),
        soc_start_frac=np.hstack([first, ends[:, :-1]]),
        soc_end_frac=ends,
    )


def loads_w(
    loads: tuple[Load, ...],
    start_utc_s: FloatArray,
    duration_s: FloatArray,
    stopped: BoolArray,
    time_zone: str,
) -> FloatArray:
    """Return the loads' mean power in W within each segment, (d, n).

    Clock times are met to the second, in local time; a segment over a change of the clocks keeps the
    offset it began with.
    """
    local_s = start_utc_s + _offset_s(start_utc_s, time_zone)
    total_w = np.zeros(np.shape(start_utc_s))
    moving = {"always": np.ones_like(stopped), "driving": ~stopped, "stopped": stopped}
    for load in loads:
        on = _share_on(load, local_s, duration_s) if load.windows_s else moving[load.when]
        total_w += load.power_w * on
    return total_w


def _share_on(load: Load, local_s: FloatArray, duration_s: FloatArray) -> FloatArray:
    """Return the share of each segment that lies within the load's daily clock times."""

    def seconds_on(until_s: FloatArray) -> FloatArray:
        days, of_day_s = np.divmod(until_s, DAY_S)
        spans = ((end_s - start_s, of_day_s - start_s) for start_s, end_s in load.windows_s)
        return sum((days * span + np.clip(past, 0.0, span) for span, past in spans), np.zeros_like(until_s))

    on_s = seconds_on(local_s + duration_s) - seconds_on(local_s)
    return np.divide(on_s, duration_s, out=np.zeros_like(on_s), where=duration_s > 0)


def _offset_s(utc_s: FloatArray, time_zone: str) -> FloatArray:
    """Return local time less UTC in seconds."""
    zone = ZoneInfo(time_zone)
    quarters, place = np.unique(np.floor(utc_s / QUARTER_HOUR_S), return_inverse=True)
    moments = (datetime.fromtimestamp(quarter * QUARTER_HOUR_S, UTC) for quarter in quarters)
    offsets = [zone.utcoffset(moment.astimezone(zone)) or timedelta() for moment in moments]
    seconds = np.array([offset.total_seconds() for offset in offsets])
    return seconds[place].reshape(np.shape(utc_s))


def _filled(values: Any, shape: tuple[int, ...]) -> Any:
    """Return a plain array of the full shape: compiled loops know only one layout."""
    return np.array(np.broadcast_to(values, shape), order="C")


def _limits(battery: Battery) -> BatteryLimits:
    return BatteryLimits(
        capacity_wh=battery.capacity_wh,
        reserve_soc_frac=battery.reserve_soc_frac,
        max_charge_w=battery.max_charge_w,
        taper_from_soc_frac=battery.taper_from_soc_frac,
        charge_efficiency_frac=battery.round_trip_frac,
    )


def _answers(
    parts: dict[str, FloatArray], moments_s: FloatArray, battery: Battery, alternator: Alternator | None
) -> dict[str, FloatArray]:
    """Return the ledger's figures per departure; the start of the drive counts as a moment too."""
    first = np.full((len(moments_s), 1), battery.start_soc_frac)
    soc = np.hstack([first, parts["soc_frac"]])
    lowest = soc.argmin(axis=1)[:, None]
    sums = {name: values.sum(axis=1) for name, values in parts.items()}
    engine_w = np.nan if alternator is None else min(alternator.delivered_w, battery.max_charge_w)
    needed_wh = sums["shortfall_wh"] / battery.round_trip_frac
    return {
        "first_full_utc_s": _first_time(soc >= FULL_SOC_FRAC, moments_s),
        "first_reserve_utc_s": _first_time(soc <= battery.reserve_soc_frac + 1e-9, moments_s),
        "lowest_soc_frac": np.take_along_axis(soc, lowest, axis=1)[:, 0],
        "lowest_utc_s": np.take_along_axis(moments_s, lowest, axis=1)[:, 0],
        "load_share_frac": _load_share_frac(sums),
        "alternator_needed_wh": needed_wh,
        "engine_hours": needed_wh / engine_w,
    }


def _load_share_frac(sums: dict[str, FloatArray]) -> FloatArray:
    """Return the sun's part of the loads: its used energy, less its part of the charging loss."""
    used_wh = sums["solar_wh"] - sums["curtailed_wh"]
    sources_wh = used_wh + sums["alternator_wh"]
    part = np.divide(used_wh, sources_wh, out=np.zeros_like(used_wh), where=sources_wh > 0)
    load_wh = sums["load_wh"]
    carried_wh = np.minimum(used_wh - part * sums["charge_loss_wh"], load_wh - sums["shortfall_wh"])
    share = np.divide(carried_wh, load_wh, out=np.full_like(load_wh, np.nan), where=load_wh > 0)
    return np.maximum(share, 0.0)


def _first_time(happened: BoolArray, moments_s: FloatArray) -> FloatArray:
    first = happened.argmax(axis=1)
    rows = np.arange(len(happened))
    return np.where(happened[rows, first], moments_s[rows, first], np.nan)
