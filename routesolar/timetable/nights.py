"""Days of driving: so many hours from a clock time on, and a night where that ends."""

from collections.abc import Sequence

import numpy as np

from routesolar.errors import UsageError
from routesolar.timetable.line import Line
from routesolar.timetable.marks import Pass, kilometres
from routesolar.timetable.stops import PlacedStop, names_its_day
from routesolar.trip.route import Plan

SHORT_OF_S = 1800.0  # a named place this much driving before the day's end is preferred to the open road
LONG_STOP_S = 6 * 3600.0  # after such a stop the day's driving begins anew
MOST_NIGHTS = 60
NIGHT = "night at "


def nights_along(
    line: Line, plan: Plan, stops: Sequence[PlacedStop], passes: Sequence[Pass]
) -> tuple[list[PlacedStop], list[str]]:
    """Return the nights that the plan's hours of driving a day call for along a line with its pace, and a note.

    A night is at the last stop or named place within half an hour of driving before the day's hours end, else
    where they end. A planned stop of six hours or more, or until a day of its own, is a night already.

    Raises:
        UsageError: there would be too many nights.
    """
    if plan.hours_a_day is None or plan.drive_from_s is None:
        return [], []
    day_s, whole_s = plan.hours_a_day * 3600.0, float(line.drive_s[-1])
    if whole_s > MOST_NIGHTS * day_s:
        raise UsageError(
            f"{plan.hours_a_day:g} h of driving a day make more than {MOST_NIGHTS} days of this route; "
            "give more with --hours-a-day"
        )

    def driven_s(along_m: float) -> float:
        return float(np.interp(along_m, line.along_m, line.drive_s))

    rests_s = sorted(driven_s(stop.along_m) for stop in stops if _is_night(stop))
    places = [(stop.along_m, stop.name) for stop in stops] + [
        (passed.along_m, passed.name) for passed in passes
    ]
    named = [(driven_s(along_m), along_m, name) for along_m, name in places]
    found: list[PlacedStop] = []
    begun_s = 0.0
    while begun_s + day_s < whole_s - 60.0:
        rested_s = [at_s for at_s in rests_s if begun_s < at_s <= begun_s + day_s]
        if rested_s:
            begun_s = rested_s[0]
            continue
        least_s = max(begun_s + day_s - SHORT_OF_S, begun_s + 1.0)
        near = [place for place in named if least_s <= place[0] <= begun_s + day_s]
        end_s = begun_s + day_s
        along_m = float(np.interp(end_s, line.drive_s, line.along_m))
        name = f"{NIGHT}{kilometres(along_m)} km"
        if near:
            end_s, along_m, name = max(near)
            name = f"{NIGHT}{name}"
        found.append(PlacedStop(along_m=along_m, name=name, duration_s=None, night_until_s=plan.drive_from_s))
        begun_s = end_s
    clock = f"{plan.drive_from_s // 3600:.0f}:{plan.drive_from_s % 3600 // 60:02.0f}"
    where = ", ".join(stop.name for stop in found) or "none is needed"
    return found, [f"at most {plan.hours_a_day:g} h of driving a day, from {clock} on: {where}"]


def _is_night(stop: PlacedStop) -> bool:
    if stop.chosen is not None:
        return False
    if stop.duration_s is not None:
        return stop.duration_s >= LONG_STOP_S
    return stop.until is not None and names_its_day(stop.until)
