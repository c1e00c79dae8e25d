"""Where and when to pause: what a drive comes to with breaks, by the places of the breaks."""

from dataclasses import dataclass, field
from typing import Any

from routesolar.decisions.criterion import BestBy, LoadLasts, Outcome, is_alike, rank_of
from routesolar.errors import UsageError
from routesolar.trip.clock import iso_local, to_local
from routesolar.trip.drawable import Drawable
from routesolar.trip.noun import Result

NOON_S = 12 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A break at one place: its time, what it brings itself, and the facing in which tilted panels get most.

    `heading_deg` is None where it does not matter: that of arrival is as good.
    """

    name: str
    along_m: float
    latitude_deg: float
    longitude_deg: float
    start_utc_s: float
    end_utc_s: float
    break_wh: float
    heading_deg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pausing:
    """One way to pause: its breaks in the order of travel, and what the whole drive comes to with them."""

    breaks: tuple[Break, ...]
    energy_wh: float
    outcome: Outcome

    @property
    def break_wh(self) -> float:
        """What all its breaks bring."""
        return sum(one.break_wh for one in self.breaks)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Breaks(Result):
    """The ways to pause on one drive, the best by `best_by` first; equal ones in the order of travel.

    `noon` is the one with a break that begins nearest to noon by the clock. Of the best, `energy_low_wh` and
    `energy_high_wh` are the 10th and 90th percentile of the whole drive, `beats_noon_prob` is the chance that
    it is better than `noon` under the same sky, None where they are one, `lasts_prob` that no load goes short,
    None without loads, `loads_last` that each does not.
    """

    ranked: tuple[Pausing, ...]
    noon: Pausing
    time_zone: str
    sky: str
    best_by: BestBy = BestBy.ENERGY
    energy_low_wh: float | None = None
    energy_high_wh: float | None = None
    beats_noon_prob: float | None = None
    lasts_prob: float | None = None
    loads_last: tuple[LoadLasts, ...] = ()
    title: str = ""
    warnings: tuple[str, ...] = ()
    drives: tuple[Drawable, ...] = field(default=(), repr=False)

    @property
    def best(self) -> Pausing:
        """The best way to pause."""
        return self.ranked[0]

    @property
    def alike(self) -> tuple[Pausing, ...]:
        """The ways, the best among them, that the best beats by a trifle only, in the order of travel."""
        alike = (one for one in self.ranked if is_alike(self.best_by, self.best.outcome, one.outcome))
        return tuple(sorted(alike, key=_on_the_way))

    @property
    def at_places(self) -> tuple[tuple[Break, Pausing], ...]:
        """Each place's break in the best way to pause there, in the order of travel."""
        best: dict[float, tuple[Break, Pausing]] = {}
        for pausing in self.ranked:
            for one in pausing.breaks:
                best.setdefault(one.along_m, (one, pausing))
        return tuple(best[along_m] for along_m in sorted(best))


def ranked_breaks(tried: list[Pausing], time_zone: str, sky: str, best_by: BestBy = BestBy.ENERGY) -> Breaks:
    """Return the ways to pause on one drive ranked.

    Raises:
        UsageError: there is none, or the sun is down in all.
    """
    if not tried:
        raise UsageError(
            "no place for a break is passed in that time; give another --between, such as 10:00..16:00, or "
            "another --depart"
        )
    ranked = sorted(sorted(tried, key=_on_the_way), key=lambda one: rank_of(best_by, one.outcome))
    if max(one.energy_wh for one in ranked) <= 0:
        raise UsageError(
            "the sun is down for the whole drive, so no break brings anything; give another --depart"
        )
    noon = min(ranked, key=lambda one: _from_noon_s(one, time_zone))
    return Breaks(ranked=tuple(ranked), noon=noon, time_zone=time_zone, sky=sky, best_by=best_by)


def breaks_dict(result: Breaks) -> dict[str, Any]:
    """Return the result as result.json has it."""
    return {
        "schema": "routesolar.breaks/1",
        "sky": result.sky,
        "best_by": result.best_by.value,
        "best_wh": result.best.energy_wh,
        "best_low_wh": result.energy_low_wh,
        "best_high_wh": result.energy_high_wh,
        "noon_wh": result.noon.energy_wh,
        "worst_wh": result.ranked[-1].energy_wh,
        "beats_noon_prob": result.beats_noon_prob,
        "lasts_prob": result.lasts_prob,
        "loads_last": [load._asdict() for load in result.loads_last],
        "rows": breaks_rows(result),
        "warnings": list(result.warnings),
    }


def breaks_rows(result: Breaks) -> list[dict[str, Any]]:
    """Return a mapping a break, keyed and ordered as the file of rows has them; one rank a way to pause."""
    return [
        {
            "rank": rank,
            "place": one.name,
            "along_km": one.along_m / 1000,
            "latitude_deg": one.latitude_deg,
            "longitude_deg": one.longitude_deg,
            "start": iso_local(one.start_utc_s, result.time_zone),
            "end": iso_local(one.end_utc_s, result.time_zone),
            "break_wh": one.break_wh,
            "energy_wh": pausing.energy_wh,
            "heading_deg": one.heading_deg,
            "taken_wh": pausing.outcome.taken_wh,
            "soc_end_frac": pausing.outcome.soc_end_frac,
            "lowest_soc_frac": pausing.outcome.lowest_soc_frac,
            "shortfall_wh": pausing.outcome.shortfall_wh,
        }
        for rank, pausing in enumerate(result.ranked, 1)
        for one in pausing.breaks
    ]


def _on_the_way(one: Pausing) -> tuple[float, ...]:
    return tuple(each.along_m for each in one.breaks)


def _from_noon_s(one: Pausing, time_zone: str) -> float:
    clocks = (to_local(each.start_utc_s, time_zone) for each in one.breaks)
    return min(abs(at.hour * 3600.0 + at.minute * 60.0 + at.second - NOON_S) for at in clocks)
