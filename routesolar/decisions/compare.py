"""Which road: routes side by side under one sky, and where along the way they part."""

from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from routesolar.decisions.criterion import BestBy, LoadLasts, Outcome, outcome_of, rank_of, worth_wh
from routesolar.decisions.same_sky import best_of_all_frac, worth
from routesolar.decisions.written import defined
from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray, lock_fields
from routesolar.trip.clock import iso_local, to_local
from routesolar.trip.drawable import Drawable
from routesolar.trip.noun import Noun, Result
from routesolar.trip.sweep import Sweep

GRID_S = 300.0
_DUST_WH = 1e-6  # rounding
_EDGE_FRAC = 0.01  # of the gain: what trickles in before and after does not widen the stretch


class Candidate(NamedTuple):
    """A route to compare: one departure of its sweep."""

    name: str
    sweep: Sweep
    departure: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Progress(Noun):
    """What a drive has brought by a time: (k,) seconds since departure, kilometres and watt-hours so far."""

    elapsed_s: FloatArray
    along_km: FloatArray
    energy_wh: FloatArray

    def __post_init__(self) -> None:
        lock_fields(self, dict.fromkeys(self.__dataclass_fields__, np.shape(self.elapsed_s)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class ComparedRoute(Noun):
    """One route: `duration_s` is from departure to arrival, `energy_wh` all that comes in the time counted.

    `waiting_wh` of it comes after the arrival; `energy_per_hour_wh` counts from departure to arrival. None is
    undefined or, for the battery, not asked for. `win_prob` is the chance of being best by energy or charge.
    """

    name: str
    depart_utc_s: float
    arrive_utc_s: float
    time_zone: str
    distance_km: float
    duration_s: float
    energy_wh: float
    energy_low_wh: float
    energy_high_wh: float
    waiting_wh: float
    shade_loss_frac: float | None
    energy_per_hour_wh: float
    soc_end_frac: float | None
    win_prob: float
    progress: Progress
    outcome: Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class Parting:
    """Where the best route gains most on the second: times since departure, places on the best route."""

    from_s: float
    to_s: float
    from_km: float
    to_km: float
    gain_wh: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Comparison(Result):
    """Routes in the order given; `best` is the index of that best by `best_by`, `second` of the next.

    Every route is counted for `counted_s` from its departure. `differ` says what else than the road differs,
    `lasts_prob` how likely no load goes short on the best, None without loads, `loads_last` how likely each
    does not. `drives` is for drawing them.
    """

    routes: tuple[ComparedRoute, ...]
    sky: str
    best: int
    second: int
    parting: Parting | None
    same_day: bool
    counted_s: float = 0.0
    best_by: BestBy = BestBy.ENERGY
    lasts_prob: float | None = None
    loads_last: tuple[LoadLasts, ...] = ()
    differ: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    drives: tuple[Drawable, ...] = field(default=(), repr=False)

    @property
    def title(self) -> str:
        """The roads' names."""
        return " or ".join(route.name for route in self.routes)


def compare_routes(
    candidates: list[Candidate],
    seed: int,
    differ: tuple[str, ...] = (),
    drives: tuple[Drawable, ...] = (),
    best_by: BestBy = BestBy.ENERGY,
) -> Comparison:
    """Return routes of one day side by side, counted for one and the same time from their departures.

    `differ` is what else than the road differs between them, in words.

    Raises:
        UsageError: there are fewer than two, they start on different days, or see no sun.
    """
    days = {_day(candidate): candidate for candidate in candidates}
    if len(days) > 1:
        starts = "; ".join(f"{candidate.name} on {day}" for day, candidate in sorted(days.items()))
        raise UsageError(f"the routes start on different days ({starts}); give them all one day with --depart")
    return compare_across_days(candidates, seed, differ, drives, best_by)


def compare_across_days(
    candidates: list[Candidate],
    seed: int,
    differ: tuple[str, ...] = (),
    drives: tuple[Drawable, ...] = (),
    best_by: BestBy = BestBy.ENERGY,
) -> Comparison:
    """Return routes side by side, each on its own day; other days share little of their clouds.

    Raises:
        UsageError: there are fewer than two, or none sees the sun.
    """
    if len(candidates) < 2:
        raise UsageError(f"{len(candidates)} route to compare; give two or more")
    if len({candidate.sweep.skies[0] for candidate in candidates}) > 1:
        raise ValueError("routes are compared under one sky; these have different ones")
    if not any(np.any(candidate.sweep.open_sky_wh > 0) for candidate in candidates):
        raise UsageError("none of the routes sees the sun; give a departure by day")
    chances = _chances(candidates, seed, best_by)
    routes = tuple(_compared(*pair) for pair in zip(candidates, chances, strict=True))
    order = sorted(range(len(routes)), key=lambda i: rank_of(best_by, routes[i].outcome))
    return Comparison(
        routes=routes,
        sky=candidates[0].sweep.skies[0],
        best=order[0],
        second=order[1],
        parting=_parting(routes[order[0]].progress, routes[order[1]].progress),
        same_day=len({_day(candidate) for candidate in candidates}) == 1,
        counted_s=max(route.progress.elapsed_s[-1] for route in routes),
        best_by=best_by,
        differ=differ,
        drives=drives,
        warnings=tuple(dict.fromkeys(text for candidate in candidates for text in candidate.sweep.warnings)),
    )


def compare_rows(result: Comparison) -> list[dict[str, Any]]:
    """Return a mapping a route, keyed and ordered as the file of rows has them."""
    keys = (
        "distance_km duration_s energy_wh energy_low_wh energy_high_wh waiting_wh shade_loss_frac "
        "energy_per_hour_wh win_prob"
    ).split()
    return [
        {"route": route.name}
        | {
            "depart": iso_local(route.depart_utc_s, route.time_zone),
            "arrive": iso_local(route.arrive_utc_s, route.time_zone),
        }
        | {key: getattr(route, key) for key in keys}
        | {
            "soc_end_frac": route.soc_end_frac,
            "taken_wh": route.outcome.taken_wh,
            "lowest_soc_frac": route.outcome.lowest_soc_frac,
            "shortfall_wh": route.outcome.shortfall_wh,
        }
        for route in result.routes
    ]


def compare_dict(result: Comparison) -> dict[str, Any]:
    """Return the result as result.json has it."""
    parting = result.parting
    keys = ("from_s", "to_s", "from_km", "to_km", "gain_wh")
    return {
        "schema": "routesolar.compare/2",
        "sky": result.sky,
        "best_by": result.best_by.value,
        "counted_s": result.counted_s,
        "lasts_prob": result.lasts_prob,
        "loads_last": [load._asdict() for load in result.loads_last],
        "differ": list(result.differ),
        "rows": compare_rows(result),
        "parting": None if parting is None else {key: getattr(parting, key) for key in keys},
        "warnings": list(result.warnings),
    }


def _day(candidate: Candidate) -> str:
    start_utc_s = float(candidate.sweep.departure_utc_s[candidate.departure])
    return f"{to_local(start_utc_s, candidate.sweep.time_zone):%Y-%m-%d}"


def _chances(candidates: list[Candidate], seed: int, best_by: BestBy) -> FloatArray:
    """Return each route's chance of being the best by energy or charge, (r,)."""
    worths_wh = []
    for sweep, departure in (candidate[1:] for candidate in candidates):
        own_wh = sweep.energy_wh[0].copy()
        own_wh[departure] = worth_wh(best_by, outcome_of(sweep, departure))
        worths_wh.append(own_wh)
    weighed = worth([candidate.sweep for candidate in candidates], worths_wh)
    departures = [candidate.departure for candidate in candidates]
    return best_of_all_frac(list(zip(weighed, departures, strict=True)), seed)


def _compared(candidate: Candidate, win_prob: float) -> ComparedRoute:
    sweep, i = candidate.sweep, candidate.departure
    depart_utc_s, arrive_utc_s = float(sweep.departure_utc_s[i]), float(sweep.arrival_utc_s[i])
    duration_s = arrive_utc_s - depart_utc_s
    drives = [number for number, leg in enumerate(sweep.legs) if leg.kind == "drive"] or [len(sweep.legs) - 1]
    under_way_wh = float(sweep.leg_wh[0, i, : drives[-1] + 1].sum())
    return ComparedRoute(
        name=candidate.name,
        depart_utc_s=depart_utc_s,
        arrive_utc_s=arrive_utc_s,
        time_zone=sweep.time_zone,
        distance_km=sweep.distance_km,
        duration_s=duration_s,
        energy_wh=float(sweep.energy_wh[0, i]),
        energy_low_wh=float(sweep.energy_low_wh[i]),
        energy_high_wh=float(sweep.energy_high_wh[i]),
        waiting_wh=float(sweep.leg_wh[0, i, drives[-1] + 1 :].sum()),
        shade_loss_frac=defined(float(sweep.shade_loss_frac[i])),
        energy_per_hour_wh=under_way_wh * 3600 / duration_s if duration_s > 0 else 0.0,
        soc_end_frac=None if sweep.charge is None else float(sweep.charge.soc_end_frac[i]),
        win_prob=float(win_prob),
        progress=_progress(sweep, i),
        outcome=outcome_of(sweep, i),
    )


def _progress(sweep: Sweep, departure: int) -> Progress:
    stages = sweep.stages
    return Progress(
        elapsed_s=np.append(0.0, stages.end_utc_s[departure] - sweep.departure_utc_s[departure]),
        along_km=np.append(0.0, stages.along_km),
        energy_wh=np.append(0.0, np.cumsum(stages.energy_wh[departure])),
    )


def _parting(best: Progress, second: Progress) -> Parting | None:
    """Return the stretch of time over which the best gains most on the second; None if it never gains."""
    at_s = np.arange(0.0, max(best.elapsed_s[-1], second.elapsed_s[-1]) + GRID_S, GRID_S)
    lead_wh = np.interp(at_s, best.elapsed_s, best.energy_wh) - np.interp(
        at_s, second.elapsed_s, second.energy_wh
    )
    gains_wh = lead_wh - np.minimum.accumulate(lead_wh)
    end = int(np.argmax(gains_wh))
    gain_wh = float(gains_wh[end])
    if not gain_wh > _DUST_WH:
        return None
    bottom_wh, top_wh = lead_wh[end] - gain_wh, lead_wh[end]
    start = int(np.flatnonzero(lead_wh[: end + 1] <= bottom_wh + _EDGE_FRAC * gain_wh)[-1])
    end = start + int(np.flatnonzero(lead_wh[start:] >= top_wh - _EDGE_FRAC * gain_wh)[0])
    from_km, to_km = np.interp(at_s[[start, end]], best.elapsed_s, best.along_km)
    return Parting(
        from_s=float(at_s[start]),
        to_s=float(min(at_s[end], max(best.elapsed_s[-1], second.elapsed_s[-1]))),
        from_km=float(from_km),
        to_km=float(to_km),
        gain_wh=gain_wh,
    )
