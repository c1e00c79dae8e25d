"""When to leave: the departures of a sweep, best first, and which of them the clouds do not tell apart."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from routesolar.decisions.criterion import BestBy, LoadLasts, Outcome, is_alike, outcome_of, rank_of, worth_wh
from routesolar.decisions.same_sky import best_wins_frac, worth
from routesolar.decisions.written import defined
from routesolar.errors import UsageError
from routesolar.physics.daylight import sunrise_utc_s, sunset_utc_s
from routesolar.trip.clock import iso_local, to_local
from routesolar.trip.drawable import NOT_SHOWN, Drawable, Shown
from routesolar.trip.noun import Result
from routesolar.trip.sweep import Sweep

SURE_FRAC = 0.75  # the best is told apart from what it beats on three days in four under the same sky


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """One departure under the leading sky; None is undefined.

    `best_wins_frac` is the chance that the best departure is better than this one under the same sky, where
    energy or charge is ranked by. `outcome` is what departures are ranked by.
    """

    depart_utc_s: float
    arrive_utc_s: float
    energy_wh: float
    energy_low_wh: float
    energy_high_wh: float
    driving_wh: float
    stopped_wh: float
    shade_loss_frac: float | None
    soc_end_frac: float | None
    best_wins_frac: float
    outcome: Outcome


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Departures(Result):
    """The departures of one route, the best by `best_by` first; equal ones as they leave.

    `best_by_sky` is the best departure (UTC seconds) and its energy under each sky. With `from_utc_s` a wait
    from then on, before leaving, counts for what is ranked by. `lasts_prob` is how likely no load goes
    short with the best, None without loads, `loads_last` how likely each does not. `drives` is for drawing.
    """

    ranked: tuple[Departure, ...]
    time_zone: str
    sky: str
    best_by_sky: tuple[tuple[str, float, float], ...]
    best_by: BestBy = BestBy.ENERGY
    from_utc_s: float | None = None
    lasts_prob: float | None = None
    loads_last: tuple[LoadLasts, ...] = ()
    notes: tuple[str, ...] = ()
    title: str = ""
    warnings: tuple[str, ...] = ()
    drives: tuple[Drawable, ...] = field(default=(), repr=False)

    @property
    def best(self) -> Departure:
        """The best departure."""
        return self.ranked[0]

    @property
    def alike(self) -> tuple[Departure, ...]:
        """The departures, the best among them, that are as good as it, as they leave.

        The clouds decide which of the two wins, or it wins by a trifle.
        """
        best = self.best.outcome
        alike = (
            row
            for row in self.ranked
            if (self.best_by is not BestBy.LASTING and row.best_wins_frac < SURE_FRAC)
            or is_alike(self.best_by, best, row.outcome)
        )
        return tuple(sorted(alike, key=lambda row: row.depart_utc_s))


def ranked(
    sweep: Sweep,
    shown: Shown = NOT_SHOWN,
    best_by: BestBy = BestBy.ENERGY,
    from_utc_s: float | None = None,
) -> Departures:
    """Return the departures of a sweep, best first.

    Raises:
        UsageError: the sun is down in all of them; the message names the day's light.
    """
    energy_wh = sweep.energy_wh[0]
    if not np.any(sweep.open_sky_wh > 0):
        raise UsageError(_no_daylight(sweep))
    outcomes = [outcome_of(sweep, i) for i in range(len(energy_wh))]
    order = sorted(
        range(len(outcomes)), key=lambda i: (*rank_of(best_by, outcomes[i]), sweep.departure_utc_s[i])
    )
    worths_wh = np.array([worth_wh(best_by, outcome) for outcome in outcomes])
    (weighed,) = worth([sweep], [worths_wh])
    beaten = best_wins_frac(weighed, order[0])
    shade, charge = sweep.shade_loss_frac, sweep.charge
    ranked = tuple(
        Departure(
            depart_utc_s=float(sweep.departure_utc_s[i]),
            arrive_utc_s=float(sweep.arrival_utc_s[i]),
            energy_wh=float(energy_wh[i]),
            energy_low_wh=float(sweep.energy_low_wh[i]),
            energy_high_wh=float(sweep.energy_high_wh[i]),
            driving_wh=float(sweep.driving_wh[0, i]),
            stopped_wh=float(sweep.stopped_wh[0, i]),
            shade_loss_frac=defined(shade[i]),
            soc_end_frac=None if charge is None else float(charge.soc_end_frac[i]),
            best_wins_frac=float(beaten[i]),
            outcome=outcomes[i],
        )
        for i in order
    )
    return Departures(
        **shown._asdict(),
        ranked=ranked,
        time_zone=sweep.time_zone,
        sky=sweep.skies[0],
        best_by=best_by,
        from_utc_s=from_utc_s,
        best_by_sky=_best_by_sky(sweep) if best_by is BestBy.ENERGY else (),
        notes=sweep.notes,
        warnings=sweep.warnings,
    )


def departure_rows(result: Departures) -> list[dict[str, Any]]:
    """Return a mapping a departure, keyed and ordered as the file of rows has them."""
    zone = result.time_zone
    return [
        {
            "depart": iso_local(row.depart_utc_s, zone),
            "arrive": iso_local(row.arrive_utc_s, zone),
            "energy_wh": row.energy_wh,
            "energy_low_wh": row.energy_low_wh,
            "energy_high_wh": row.energy_high_wh,
            "driving_wh": row.driving_wh,
            "stopped_wh": row.stopped_wh,
            "shade_loss_frac": row.shade_loss_frac,
            "soc_end_frac": row.soc_end_frac,
            "taken_wh": row.outcome.taken_wh,
            "lowest_soc_frac": row.outcome.lowest_soc_frac,
            "shortfall_wh": row.outcome.shortfall_wh,
        }
        for row in result.ranked
    ]


def departures_dict(result: Departures) -> dict[str, Any]:
    """Return the result as result.json has it."""
    zone = result.time_zone
    return {
        "schema": "routesolar.departures/2",
        "time_zone": zone,
        "sky": result.sky,
        "best_by": result.best_by.value,
        "counted_from": None if result.from_utc_s is None else iso_local(result.from_utc_s, zone),
        "lasts_prob": result.lasts_prob,
        "loads_last": [load._asdict() for load in result.loads_last],
        "rows": departure_rows(result),
        "alike": [iso_local(row.depart_utc_s, zone) for row in result.alike],
        "skies": [
            {"sky": sky, "depart": iso_local(depart_utc_s, zone), "energy_wh": energy_wh}
            for sky, depart_utc_s, energy_wh in result.best_by_sky
        ],
        "notes": list(result.notes),
        "warnings": list(result.warnings),
    }


def _best_by_sky(sweep: Sweep) -> tuple[tuple[str, float, float], ...]:
    best = sweep.energy_wh.argmax(axis=1)
    return tuple(
        (sky, float(sweep.departure_utc_s[i]), float(sweep.energy_wh[s, i]))
        for s, (sky, i) in enumerate(zip(sweep.skies, best, strict=True))
    )


def _no_daylight(sweep: Sweep) -> str:
    """Return what to say where no departure sees the sun."""
    zone, first_utc_s = sweep.time_zone, float(sweep.departure_utc_s[0])
    place = float(sweep.stages.latitude_deg[0]), float(sweep.stages.longitude_deg[0]), 0.0
    rises, sets = (times(*place, [first_utc_s])[0] for times in (sunrise_utc_s, sunset_utc_s))
    first, last = (to_local(float(utc_s), zone) for utc_s in sweep.departure_utc_s[[0, -1]])
    asked = f"departures from {first:%H:%M} to {last:%H:%M} on {first:%Y-%m-%d} see no sun"
    if np.isnan(rises):
        return f"{asked}, and it does not rise there that day; give another --date"
    up, down = (to_local(float(utc_s), zone) for utc_s in (rises, sets))
    return f"{asked}; it is up from {up:%H:%M} to {down:%H:%M}: give --from {up:%H:%M} --to {down:%H:%M}"
