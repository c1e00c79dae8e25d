"""The battery along one drive: its course over many possible days of the same sky, and what they add up to."""

from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from routesolar.arrays import weighted_sum
from routesolar.model.battery import Draw, draw_along, run_over_days
from routesolar.model.day_quantiles import quantile
from routesolar.model.engine import engine_need
from routesolar.model.percentiles import passage_of, state_energy, tree_spreads
from routesolar.model.scene import Power, Scene, run
from routesolar.model.sky import day_states
from routesolar.model.sums import leg_sums
from routesolar.model.warmth import day_before_c
from routesolar.physics.battery import TERMS, Seen, unseen
from routesolar.physics.on_lit import OnLit
from routesolar.physics.sky_paths import SkyPaths, among_states, draw_paths, mixed_paths
from routesolar.trip.arrays import BoolArray, FloatArray
from routesolar.trip.harvest import Charge, LoadResult
from routesolar.trip.loads import kept_first
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, SkyStates

DAYS, LEAST_DAYS = 2000, 200  # scenarios of the sky: with 2000 a chance of a half is good to .8 points
POINTS = 20_000_000  # days x segments held at once: trips over four days have fewer days
SEED = 1
_TRIFLE_WH = 0.5
POOR_FRAC = 0.1  # the day that nine in ten are better than
LEG_TERMS = {  # as LegResult names them
    "alternator_wh": "alternator_wh",
    "load_wh": "load_wh",
    "shortfall_wh": "shortfall_wh",
    "idle_wh": "idle_wh",
    "charge_loss_wh": "charge_loss_wh",
    "cold_wh": "battery_cold_wh",
    "full_wh": "battery_full_wh",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """A drive's battery on s possible days of one sky.

    `mean` holds the terms of model.battery.Ledger on average over the days, (n,), but for what comes with the
    sun and the loads; `chance` and the rest are (s,), times in UTC seconds, NaN where it never happens;
    `missed_wh`, `off_s` and `first_off_utc_s` are load by load, (s, k).
    """

    draw: Draw
    start_soc_frac: float
    solar_w: OnLit
    chance: FloatArray
    mean: dict[str, FloatArray]
    shortfall_wh: FloatArray
    lowest_soc_frac: FloatArray
    coldest_c: FloatArray
    moments_utc_s: dict[str, FloatArray]
    missed_wh: FloatArray
    off_s: FloatArray
    first_off_utc_s: FloatArray

    def total(self, term: str) -> float:
        """Return a term's mean over the days, summed along the drive."""
        return float(self.mean[term].sum())

    def lasting_to(self, utc_s: FloatArray) -> FloatArray:
        """Return the chance that up to each moment no load has lacked power, the same shape."""
        short_utc_s = np.nan_to_num(self.moments_utc_s["first_short_utc_s"], nan=np.inf)
        lasting = short_utc_s.reshape(-1, *(1,) * np.ndim(utc_s)) >= np.asarray(utc_s)
        return weighted_sum(self.chance, lasting.astype(np.float64))

    def chance_of(self, moment: str) -> float:
        """Return how likely a moment comes at all."""
        return float(self.chance @ ~np.isnan(self.moments_utc_s[moment]))

    @property
    def load_share_frac(self) -> float | None:
        """What the sun carries of the loads, at once or by way of the battery; None without loads."""
        load_wh = self.total("load_wh")
        return self.total("sun_to_load_wh") / load_wh if load_wh > 0 else None

    @property
    def cold_s(self) -> float:
        """For how long the battery is too cold to charge, in seconds."""
        return self.total("cold_s")


class PoorCourse(NamedTuple):
    """The charge that nine days in ten stay above: at the segments' ends, (n,), and within spans, (k,)."""

    soc_frac: FloatArray
    lowest_soc_frac: FloatArray


def battery_course(
    scene: Scene, power: Power, states: SkyStates, sky: Sky, spans: BoolArray
) -> tuple[Days, PoorCourse]:
    """Return the battery's days as `battery_days` does, and what nine in ten stay above.

    `spans` (k, n + 1) tells which moments each span counts, of the drive's start and the segments' ends. The
    charge of all days is seen some segments at a time, so that it is nowhere kept.

    Raises:
        ValueError: the rig has no battery, or the scene more than one departure.
    """
    rig = scene.rig
    draw, solar_w, chance = _watts_of(scene, power, states, sky)
    soc_frac = np.empty(scene.segments.count)
    at_start = spans[:, 0] | ~spans.any(axis=1)
    lowest = np.where(at_start[:, None], _start_soc_frac(rig), np.full((len(spans), len(chance)), np.inf))

    def seen(first: int, some: FloatArray) -> None:
        ends = slice(first, first + some.shape[1])
        soc_frac[ends] = quantile(some, chance, POOR_FRAC)
        for low, counted in zip(lowest, spans[:, 1:][:, ends], strict=True):
            np.minimum(low, some[:, counted].min(axis=1, initial=np.inf), out=low)

    days = _days_under(draw, solar_w, chance, rig, seen)
    return days, PoorCourse(soc_frac, quantile(lowest.T, chance, POOR_FRAC))


def battery_days(scene: Scene, power: Power, states: SkyStates, sky: Sky) -> Days:
    """Return the battery's course over the days of a sky, the first of `power`.

    Raises:
        ValueError: the rig has no battery, or the scene more than one departure.
    """
    return _days_under(*_watts_of(scene, power, states, sky), scene.rig)


def _watts_of(scene: Scene, power: Power, states: SkyStates, sky: Sky) -> tuple[Draw, OnLit, FloatArray]:
    """Return what is drawn along a drive, and its days: their watts of sun and their chances (s,)."""
    energy_wh, chance = paths_of(scene, power, states, sky)
    draw = draw_of(scene.segments, scene.rig, states)
    # Nobody else needs the energy, so its place, some 50 MB along a day, is taken by the watts.
    return draw, _steady_w(energy_wh, draw, out=energy_wh.values), chance


def draw_of(segments: Segments, rig: Rig, states: SkyStates) -> Draw:
    """Return what a rig's loads and battery draw along a drive, in the air of a sky.

    Raises:
        ValueError: the rig has no battery.
    """
    return draw_along(
        segments.start_utc_s,
        segments.duration_s,
        segments.stopped,
        states.air_c,
        rig,
        segments.time_zone,
        day_before_c(segments, segments.start_utc_s, segments.duration_s, states.air_c),
    )


def paths_of(scene: Scene, power: Power, states: SkyStates, sky: Sky) -> SkyPaths:
    """Return the sky's scenarios; where days are a sample of what may come, each has some of its own.

    Raises:
        ValueError: the scene has more than one departure.
    """
    count, passage = _day_count(scene.segments), passage_of(scene)
    whole = np.zeros((1, scene.segments.count), dtype=np.int64)
    (trees,) = tree_spreads(scene, power, [states], [sky], whole)
    if not sky.is_sample:
        return draw_paths(state_energy(scene, power, 0, states), passage, sky.forecast, count, SEED, trees)
    days = [
        state_energy(scene, run(scene, [day]), 0, day)
        for day in day_states(sky, scene.segments, scene.sun.apparent_elevation_deg)
    ]
    each = max(count // len(days), 1)
    drawn = [draw_paths(day, passage, "known", each, SEED + place) for place, day in enumerate(days)]
    expected_wh = power.expected_w[0, 0] * scene.segments.duration_s[0] / 3600
    return among_states(mixed_paths(drawn, expected_wh), trees, expected_wh, SEED)


def _day_count(segments: Segments) -> int:
    return min(DAYS, max(LEAST_DAYS, POINTS // segments.count))


def days_of(draw: Draw, paths: SkyPaths, rig: Rig) -> Days:
    """Return the battery's course over scenarios of the sky."""
    solar_w = _steady_w(paths.energy_wh, draw, out=np.empty_like(paths.energy_wh.values))
    return _days_under(draw, solar_w, paths.chance, rig)


def _steady_w(energy_wh: OnLit, draw: Draw, *, out: FloatArray) -> OnLit:
    """Return energies as steady watts within each segment, written to `out`; 0 where no time passes."""
    hours = draw.duration_s[0, energy_wh.lit] / 3600
    np.divide(energy_wh.values, hours, out=out, where=hours > 0)
    out[:, hours <= 0] = 0.0
    return energy_wh._replace(values=out)


def _days_under(draw: Draw, solar_w: OnLit, chance: FloatArray, rig: Rig, seen: Seen = unseen) -> Days:
    """Return the battery's course under watts of sun on s days with their chances (s,)."""
    hours = draw.duration_s[0] / 3600
    found = run_over_days(draw, solar_w, chance, rig, seen=seen)
    mean = dict(zip(TERMS, found.mean, strict=True))
    return Days(
        draw=draw,
        start_soc_frac=_start_soc_frac(rig),
        solar_w=solar_w,
        chance=chance,
        mean=mean | {"load_wh": draw.load_w[0].sum(axis=1) * hours},
        shortfall_wh=found.shortfall_wh,
        lowest_soc_frac=found.lowest_soc_frac,
        coldest_c=found.coldest_c,
        moments_utc_s={
            "first_full_utc_s": found.first_full_s,
            "first_reserve_utc_s": found.first_reserve_s,
            "first_short_utc_s": found.first_short_s,
        },
        missed_wh=found.missed_wh,
        off_s=found.off_s,
        first_off_utc_s=found.first_off_s,
    )


def _start_soc_frac(rig: Rig) -> float:
    return 0.0 if rig.battery is None else rig.battery.start_soc_frac


def leg_terms(segments: Segments, days: Days, rig: Rig) -> list[dict[str, float]]:
    """Return the battery's terms of each leg and, last, of the trip, as LegResult names them."""
    mean = days.mean
    start = _start_soc_frac(rig)
    ends = [start, *mean["soc_frac"][np.append(np.flatnonzero(np.diff(segments.leg)), -1)]]
    sums = {term: leg_sums(segments, mean[term]) for term in LEG_TERMS}
    spans = [*pairwise(ends), (start, ends[-1])]
    return [
        {
            **{
                name: float(mean[term].sum() if place == len(ends) - 1 else sums[term][place])
                for term, name in LEG_TERMS.items()
            },
            "soc_start_frac": float(first),
            "soc_end_frac": float(last),
        }
        for place, (first, last) in enumerate(spans)
    ]


def battery_losses_wh(days: Days) -> dict[str, float]:
    """Return what the battery does not take, after the ledger of losses."""
    return {"battery_cold": days.total("cold_wh"), "battery_full": days.total("full_wh")}


def cold_warnings(days: Days, rig: Rig) -> tuple[str, ...]:
    """Return the warning of a battery that is too cold to charge while there is something to charge with."""
    battery, draw, cold_wh = rig.battery, days.draw, days.total("cold_wh")
    engine_s = 0.0 if rig.alternator is None else float(days.mean["cold_s"][~draw.stopped].sum())
    if battery is None or (cold_wh < _TRIFLE_WH and engine_s == 0):
        return ()
    lost = [f"{cold_wh:.0f} Wh of sun are lost"] if cold_wh >= _TRIFLE_WH else []
    lost += [f"{engine_s / 3600:.1f} h of driving do not charge it"] if engine_s else []
    coldest = f"down to {days.coldest_c.min():.0f} C" if battery.temperature_c is None else "by what is stated"
    return (
        f"the battery is not charged below {battery.cold_limit_c:g} C and is colder for "
        f"{days.cold_s / 3600:.1f} h of this trip ({coldest}): {' and '.join(lost)}. Charging lithium cells in "
        "frost ruins them and can make them dangerous; if the battery is kept warm, say so under [battery] "
        "with placed, cabin_c or temperature_c, and heat or charge it only as its maker allows",
    )


def charge_of(segments: Segments, days: Days, poor: PoorCourse, rig: Rig) -> Charge:
    """Return the battery's course and its answers; what never happens or has no meaning is None."""
    battery, mean, chance = rig.battery, days.mean, days.chance
    if battery is None:
        raise ValueError("the rig has no battery")
    hours = segments.duration_s[0] / 3600
    running = np.where(hours > 0, hours, 1.0)
    start_utc_s = float(segments.start_utc_s[0, 0])
    course = np.append(battery.start_soc_frac, mean["soc_frac"])
    ends_utc_s = np.append(start_utc_s, segments.start_utc_s[0] + segments.duration_s[0])
    need = engine_need(days.draw, days.solar_w, chance, rig, POOR_FRAC) if rig.alternator else None

    def moment(name: str, level: float) -> float | None:
        utc_s = float(quantile(days.moments_utc_s[name], chance, level))
        return None if np.isnan(utc_s) else utc_s

    return Charge(
        capacity_wh=battery.capacity_wh,
        reserve_soc_frac=battery.reserve_soc_frac,
        soc_frac=mean["soc_frac"],
        soc_poor_frac=poor.soc_frac,
        alternator_w=mean["alternator_wh"] / running,
        load_w=mean["load_wh"] / running,
        stored_wh=days.total("stored_wh"),
        drawn_wh=days.total("drawn_wh"),
        cold_s=days.cold_s,
        coldest_c=float(days.coldest_c.min()),
        heater_wh=days.total("heater_wh"),
        load_share_frac=days.load_share_frac,
        lowest_soc_frac=float(course.min()),
        lowest_utc_s=float(ends_utc_s[course.argmin()]),
        lowest_soc_poor_frac=float(quantile(days.lowest_soc_frac, chance, POOR_FRAC)),
        full_prob=days.chance_of("first_full_utc_s"),
        first_full_utc_s=moment("first_full_utc_s", 0.5),
        first_reserve_utc_s=moment("first_reserve_utc_s", 0.5),
        short_prob=days.chance_of("first_short_utc_s"),
        short_s=days.total("short_s"),
        shortfall_poor_wh=float(quantile(days.shortfall_wh, chance, 1 - POOR_FRAC)),
        first_short_utc_s=moment("first_short_utc_s", 0.5),
        first_short_poor_utc_s=moment("first_short_utc_s", POOR_FRAC),
        alternator_needed_w=None if need is None else need.charge_w,
        alternator_needed_wh=None if need is None else need.given_wh,
        loads=_load_results(days, rig, battery.reserve_soc_frac),
    )


def _load_results(days: Days, rig: Rig, reserve_soc_frac: float) -> tuple[LoadResult, ...]:
    """Return what becomes of each load, those that are kept longest first."""
    chance, poor = days.chance, 1 - POOR_FRAC
    load_wh = (days.draw.load_w[0] * days.draw.duration_s[0][:, None] / 3600).sum(axis=0)
    first_s = [quantile(days.first_off_utc_s, chance, level) for level in (0.5, POOR_FRAC)]
    missed_wh, off_s = (quantile(values, chance, poor) for values in (days.missed_wh, days.off_s))
    return tuple(
        LoadResult(
            name=load.name,
            keep=load.keep,
            reserve_soc_frac=load.reserve_over(reserve_soc_frac),
            load_wh=float(load_wh[k]),
            shortfall_wh=float(chance @ days.missed_wh[:, k]),
            shortfall_poor_wh=float(missed_wh[k]),
            off_s=float(chance @ days.off_s[:, k]),
            off_poor_s=float(off_s[k]),
            first_off_utc_s=None if np.isnan(first_s[0][k]) else float(first_s[0][k]),
            first_off_poor_utc_s=None if np.isnan(first_s[1][k]) else float(first_s[1][k]),
            lasts_prob=float(chance @ np.isnan(days.first_off_utc_s[:, k])),
        )
        for k, load in enumerate(kept_first(rig.loads))
    )
