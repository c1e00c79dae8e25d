"""How long the driving takes: from speeds where they are given, else from the recorded times."""

from dataclasses import replace

import numpy as np

from routesolar.errors import UsageError
from routesolar.timetable.line import Line
from routesolar.timetable.mapped_line import MappedLine
from routesolar.timetable.marks import kilometres
from routesolar.timetable.recorded import SPEED_EXAMPLE
from routesolar.trip.route import Plan


def paced(line: Line, plan: Plan, mapped: MappedLine) -> Line:
    """Return the line with its driving times settled; it must have knots where paces begin and end.

    A pace wins over `speed_mps` or the map's speed, a later pace over an earlier one. UsageError where nothing
    tells the speed.
    """
    link_m = np.diff(line.along_m)
    middle_m = line.along_m[:-1] + link_m / 2
    speed_mps = np.full(len(link_m), np.nan if plan.speed_mps is None else plan.speed_mps)
    if plan.speed_by_map:
        speed_mps = mapped.speed_mps_at(middle_m)
    for pace in plan.paces:
        speed_mps[(middle_m >= pace.from_m) & (middle_m <= pace.to_m)] = pace.speed_mps
    recorded_s = np.diff(line.drive_s)
    link_s = np.where(np.isnan(speed_mps), recorded_s, link_m / speed_mps)
    link_s = np.where(line.driven & ~(np.isnan(link_s) & (link_m == 0)), link_s, 0.0)  # no way, no time
    unknown = np.flatnonzero(np.isnan(link_s))
    if unknown.size:
        if plan.speed_by_map:
            raise UsageError(
                "the map tells no speed: the route follows none of its roads; give the map of the region, "
                "or a speed such as --speed 80km/h"
            )
        place = f"from km {kilometres(line.along_m[unknown[0]])} on" if plan.paces else "on this route"
        raise UsageError(f"nothing sets the pace {place}: no recorded times; {SPEED_EXAMPLE}")
    return replace(line, drive_s=np.concatenate([[0.0], np.cumsum(link_s)]))
