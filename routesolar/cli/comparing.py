"""One route of a comparison, swept at the departures that count."""

from pathlib import Path

import numpy as np

from routesolar.cli import deciding
from routesolar.cli.options import DayOptions, TripOptions
from routesolar.cli.request import rig_of, timed, understand
from routesolar.decisions.compare import Candidate, at_best
from routesolar.decisions.starts import day_starts_utc_s


def candidate_of(path: Path, options: TripOptions, day: DayOptions, *, at_its_best: bool) -> Candidate:
    """Return a route at its departure, or at the best of those between the clock times of the day."""
    request = understand([path], options)
    rig = rig_of(request)
    if at_its_best:
        starts = day_starts_utc_s(
            deciding.day_of(request, day), *deciding.clock_range_s(day), time_zone=request.time_zone
        )
        sweep, _ = deciding.swept(request, rig, deciding.timed_at(request, np.asarray(starts)))
        return at_best(request.route.name, sweep)
    sweep, _ = deciding.swept(request, rig, timed(request))
    return Candidate(request.route.name, sweep)
