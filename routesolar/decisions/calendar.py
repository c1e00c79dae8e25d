"""A year of departures: the middle of every month against the hour of leaving."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from routesolar.decisions.criterion import BestBy, Outcome, is_alike, outcome_of, rank_of
from routesolar.decisions.written import defined
from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray, lock_fields
from routesolar.trip.clock import iso_local, to_local
from routesolar.trip.drawable import NOT_SHOWN, Drawable, Shown
from routesolar.trip.noun import Result
from routesolar.trip.sweep import Sweep


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class YearCalendar(Result):
    """Energy under the leading sky for d departures spread over months and clock times.

    All are (d,): `month` is 1-12, `clock_s` seconds after local midnight, and the share that trees and terrain
    take is NaN without sun. `outcomes` is what each is ranked by; with `is_counted` a wait from the first
    departure of its day on counts there, to one end.
    """

    departure_utc_s: FloatArray
    month: FloatArray
    clock_s: FloatArray
    energy_wh: FloatArray
    shade_loss_frac: FloatArray
    outcomes: tuple[Outcome, ...]
    time_zone: str
    sky: str
    best_by: BestBy = BestBy.ENERGY
    is_counted: bool = False
    title: str = ""
    warnings: tuple[str, ...] = ()
    drives: tuple[Drawable, ...] = field(default=(), repr=False)

    def __post_init__(self) -> None:
        names = ("departure_utc_s", "month", "clock_s", "energy_wh", "shade_loss_frac")
        lock_fields(self, dict.fromkeys(names, np.shape(self.departure_utc_s)))

    @property
    def best(self) -> int:
        """The best departure; the first of several."""
        return self.best_of(range(len(self.outcomes)))

    def best_of(self, departures: Iterable[int]) -> int:
        """Return the best of some departures."""
        return min(departures, key=lambda i: rank_of(self.best_by, self.outcomes[i]))

    @property
    def value(self) -> FloatArray:
        """What is shown, (d,): Wh that get in, or the charge at the end or at its lowest, in percent."""
        if self.best_by is BestBy.ENERGY:
            return np.array([outcome.taken_wh for outcome in self.outcomes])
        name = "soc_end_frac" if self.best_by is BestBy.CHARGE else "lowest_soc_frac"
        return np.array([100 * getattr(outcome, name) for outcome in self.outcomes])

    @property
    def value_words(self) -> tuple[str, str]:
        """What `value` is, and its unit."""
        return {
            BestBy.ENERGY: ("Energy", "Wh"),
            BestBy.CHARGE: ("Charge at the end", "%"),
            BestBy.LASTING: ("Lowest charge", "%"),
        }[self.best_by]

    @property
    def best_cell(self) -> tuple[int, int]:
        """Row and column of the best departure in `calendar_grid`."""
        clock_s = np.unique(self.clock_s)
        return int(self.month[self.best]) - 1, int(np.searchsorted(clock_s, self.clock_s[self.best]))

    def alike(self, best: int) -> tuple[int, ...]:
        """Return the departures of a month that its best one, or another, beats by a trifle only."""
        month = np.flatnonzero(self.month == self.month[best]).tolist()
        return tuple(i for i in month if is_alike(self.best_by, self.outcomes[best], self.outcomes[i]))


def year_calendar(
    sweep: Sweep, shown: Shown = NOT_SHOWN, best_by: BestBy = BestBy.ENERGY, is_counted: bool = False
) -> YearCalendar:
    """Return a sweep over a year as a calendar of local clock times.

    Raises:
        UsageError: no departure sees the sun.
    """
    if not np.any(sweep.open_sky_wh > 0):
        raise UsageError("no departure of the year sees the sun; give hours of daylight with --from and --to")
    local = [to_local(float(utc_s), sweep.time_zone) for utc_s in sweep.departure_utc_s]
    return YearCalendar(
        **shown._asdict(),
        departure_utc_s=sweep.departure_utc_s,
        month=np.array([moment.month for moment in local], dtype=np.float64),
        clock_s=np.array([moment.hour * 3600 + moment.minute * 60 + moment.second for moment in local], float),
        energy_wh=sweep.energy_wh[0],
        shade_loss_frac=sweep.shade_loss_frac,
        outcomes=tuple(outcome_of(sweep, i) for i in range(len(local))),
        best_by=best_by,
        is_counted=is_counted,
        time_zone=sweep.time_zone,
        sky=sweep.skies[0],
        warnings=sweep.warnings,
    )


def calendar_rows(result: YearCalendar) -> list[dict[str, Any]]:
    """Return a mapping a departure, keyed and ordered as the file of rows has them."""
    return [
        {
            "month": int(result.month[i]),
            "depart": iso_local(float(utc_s), result.time_zone),
            "energy_wh": float(result.energy_wh[i]),
            "shade_loss_frac": defined(float(result.shade_loss_frac[i])),
            "taken_wh": result.outcomes[i].taken_wh,
            "soc_end_frac": result.outcomes[i].soc_end_frac,
            "lowest_soc_frac": result.outcomes[i].lowest_soc_frac,
            "shortfall_wh": result.outcomes[i].shortfall_wh,
        }
        for i, utc_s in enumerate(result.departure_utc_s)
    ]


def calendar_dict(result: YearCalendar) -> dict[str, Any]:
    """Return the result as result.json has it."""
    return {
        "schema": "routesolar.calendar/1",
        "time_zone": result.time_zone,
        "sky": result.sky,
        "best_by": result.best_by.value,
        "rows": calendar_rows(result),
        "warnings": list(result.warnings),
    }


def calendar_grid(result: YearCalendar, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the clock times (h,) in seconds, and values (d,) laid out as (12, h); NaN without one."""
    clock_s, column = np.unique(result.clock_s, return_inverse=True)
    grid = np.full((12, len(clock_s)), np.nan)
    grid[result.month.astype(int) - 1, column] = values
    return clock_s, grid
