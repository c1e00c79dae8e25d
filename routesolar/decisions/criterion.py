"""What candidates are ranked by: energy that gets in, charge at the end, or loads that last."""

from collections.abc import Sequence
from enum import Enum
from typing import NamedTuple

import numpy as np

from routesolar.errors import UsageError
from routesolar.model.battery import run_ledger
from routesolar.model.warmth import day_before_c
from routesolar.trip.arrays import BoolArray, FloatArray
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sweep import Sweep

TRIFLE_FRAC = 0.02  # of the best's energy, or of a full battery: less than any rig or road is known to
SHORT_WH = 0.5  # loads that miss less lack nothing


class BestBy(Enum):
    """What counts as best."""

    ENERGY = "energy"
    CHARGE = "charge"
    LASTING = "lasting"


class LoadLasts(NamedTuple):
    """How likely one load never lacks power, under the sky's many days."""

    name: str
    keep: int
    lasts_prob: float


class Outcome(NamedTuple):
    """What one candidate comes to with the expected watts throughout; the battery's are None without one.

    `taken_wh` is the energy that gets in: all that is offered, but for what a full or cold battery turns away.
    `end_utc_s` is until when it is counted.
    """

    taken_wh: float
    offered_wh: float
    end_utc_s: float
    soc_end_frac: float | None = None
    lowest_soc_frac: float | None = None
    shortfall_wh: float | None = None
    capacity_wh: float | None = None

    @property
    def is_short(self) -> bool:
        """Whether a load goes short."""
        return self.shortfall_wh is not None and self.shortfall_wh >= SHORT_WH


def best_by_named(name: str | BestBy, rig: Rig) -> BestBy:
    """Return what to rank by.

    Raises:
        UsageError: the name is not known, or the rig has no battery that could be ranked by.
    """
    try:
        best_by = BestBy(name)
    except ValueError:
        known = ", ".join(each.value for each in BestBy)
        raise UsageError(f'--best-by "{name}" is not known; give one of {known}') from None
    if best_by is not BestBy.ENERGY and rig.battery is None:
        raise UsageError(
            f"--best-by {best_by.value} needs a battery; describe it in the rig file, with capacity_wh "
            "under [battery]"
        )
    return best_by


def outcome_of(sweep: Sweep, departure: int) -> Outcome:
    """Return what one departure of a sweep comes to."""
    charge, offered_wh = sweep.charge, float(sweep.energy_wh[0, departure])
    end_utc_s = float(sweep.stages.end_utc_s[departure, -1])
    if charge is None:
        return Outcome(offered_wh, offered_wh, end_utc_s)
    return Outcome(
        taken_wh=offered_wh - float(charge.curtailed_wh[departure]),
        offered_wh=offered_wh,
        end_utc_s=end_utc_s,
        soc_end_frac=float(charge.soc_end_frac[departure]),
        lowest_soc_frac=float(charge.lowest_soc_frac[departure]),
        shortfall_wh=float(charge.shortfall_wh[departure]),
        capacity_wh=float(charge.capacity_wh[departure]),
    )


def outcomes_of(
    segments: Segments,
    timing: tuple[FloatArray, FloatArray],
    watts: FloatArray,
    air_c: FloatArray,
    rig: Rig,
    stopped: BoolArray,
) -> list[Outcome]:
    """Return what each of d courses comes to under given watts, (d, n), to which timing and air spread.

    `timing` is starts in UTC seconds and durations. The courses begin where `segments` do.
    """
    spread = (*timing, air_c)
    start_s, lasts_s, air_c = (np.broadcast_to(values, watts.shape) for values in spread)
    offered_wh = (watts * lasts_s).sum(axis=1) / 3600
    ends_utc_s = start_s[:, -1] + lasts_s[:, -1]
    if rig.battery is None:
        return [Outcome(wh, wh, end) for wh, end in zip(offered_wh.tolist(), ends_utc_s.tolist(), strict=True)]
    day_c = day_before_c(segments, start_s, lasts_s, air_c)
    ledger = run_ledger(start_s, lasts_s, stopped, watts, air_c, rig, segments.time_zone, day_c)
    refused_wh = (ledger.cold_wh + ledger.full_wh).sum(axis=1)
    return [
        Outcome(
            taken_wh=float(offered_wh[i] - refused_wh[i]),
            offered_wh=float(offered_wh[i]),
            end_utc_s=float(ends_utc_s[i]),
            soc_end_frac=float(ledger.soc_frac[i, -1]),
            lowest_soc_frac=float(ledger.lowest_soc_frac[i]),
            shortfall_wh=float(ledger.shortfall_wh[i].sum()),
            capacity_wh=rig.battery.capacity_wh,
        )
        for i in range(len(offered_wh))
    ]


def rank_of(best_by: BestBy, outcome: Outcome) -> tuple[float, ...]:
    """Return what candidates are sorted by, the best first.

    Loads go by what they miss, then by the lowest charge; equal charges by what loads miss, then by energy.
    """
    missed_wh = round(outcome.shortfall_wh or 0.0, 9) if outcome.is_short else 0.0
    if best_by is BestBy.ENERGY:
        return (-round(outcome.taken_wh, 9),)
    if best_by is BestBy.CHARGE:
        return (-round(outcome.soc_end_frac or 0.0, 9), missed_wh, -round(outcome.taken_wh, 9))
    return (missed_wh, -round(outcome.lowest_soc_frac or 0.0, 12))


def is_alike(best_by: BestBy, best: Outcome, other: Outcome) -> bool:
    """Tell whether the best is better by a trifle only."""
    if best_by is BestBy.ENERGY:
        return other.taken_wh >= (1 - TRIFLE_FRAC) * best.taken_wh
    if best_by is BestBy.CHARGE:
        return (other.soc_end_frac or 0.0) >= (best.soc_end_frac or 0.0) - TRIFLE_FRAC
    trifle_wh = max(SHORT_WH, TRIFLE_FRAC * (best.shortfall_wh or 0.0))
    as_fed = (other.shortfall_wh or 0.0) - (best.shortfall_wh or 0.0) < trifle_wh
    return as_fed and (other.lowest_soc_frac or 0.0) >= (best.lowest_soc_frac or 0.0) - TRIFLE_FRAC


def first_as_good(best_by: BestBy, outcomes: Sequence[Outcome]) -> int:
    """Return the first candidate that the best beats by a trifle only."""
    best = min(outcomes, key=lambda one: rank_of(best_by, one))
    return next(i for i, one in enumerate(outcomes) if is_alike(best_by, best, one))


def worth_wh(best_by: BestBy, outcome: Outcome) -> float:
    """Return in Wh what a candidate is worth, so that clouds' doubt about energy can be weighed against it."""
    if best_by is BestBy.CHARGE and outcome.soc_end_frac is not None and outcome.capacity_wh is not None:
        return outcome.soc_end_frac * outcome.capacity_wh
    return outcome.taken_wh
