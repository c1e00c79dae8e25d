"""Where and when to pause on a trip: every place along it is tried as a stop of its own."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.decisions.breaks import Break, Breaks, ranked_breaks
from routesolar.errors import UsageError
from routesolar.model.scene import set_scene, warnings_of
from routesolar.model.simulation import expected_wh
from routesolar.timetable import places_along
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.clock import local_clock_s
from routesolar.trip.drawable import Drawable
from routesolar.trip.route import Stop
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Surroundings
from routesolar.trips.around import surroundings
from routesolar.trips.trip import Trip
from routesolar.trips.words import clock_time_s, metres

MOST_PLACES = 20  # between the named ones; farther apart on longer drives
HEADINGS_DEG = np.arange(0.0, 360.0, 30.0)
SAME_M = 1.0
SLACK_S = 3600.0


class _Tried(NamedTuple):
    """One break, and the drive with it."""

    found: Break
    stop: Stop
    drive: Segments
    around: Surroundings


def breaks(
    trip: Trip,
    minutes: float = 90.0,
    *,
    between: tuple[str | float, str | float] = ("11:00", "15:00"),
    every: str | float = "5km",
) -> Breaks:
    """Return the breaks that a drive may make, most energy first; each is the drive with one stop more.

    Tried are the trip's stops and named places, and places `every` so far (20 at most, then farther apart), at
    which the break begins between two clock times (text or seconds after midnight). All drives last equally
    long. The best is turned to where tilted panels get the most, to 30 degrees.

    Raises:
        UsageError: no break begins in that time, or a time makes no sense.
    """
    if not 1 <= minutes <= 1440:
        raise UsageError(f"a break of {minutes:g} min is not from 1 to 1440 min; give for example --minutes 90")
    trip.fitted()
    first_s, last_s = (clock_time_s(end) for end in between)
    if not first_s < last_s:
        raise UsageError("--between ends before it begins; write it as 11:00..15:00")
    drive = trip.drive()
    places = _places(trip, drive, metres(every, "every"), (first_s - SLACK_S, last_s + SLACK_S))
    tried = []
    for along_m, name in places.items():
        stop = Stop(at=name or f"{along_m!r}m", at_m=along_m, duration_s=minutes * 60)
        with_break, rows = _with_stop(trip, stop)
        start_s = float(local_clock_s(with_break.start_utc_s[0, rows[:1]], with_break.time_zone)[0])
        if first_s <= start_s <= last_s:
            tried.append(_tried(trip, stop, with_break, rows, name))
    result = ranked_breaks([one.found for one in tried], drive.time_zone, trip.skies[0].name)
    best = _turned(trip, next(one for one in tried if one.found is result.best))
    seen = best.drive, best.around.canopy, best.around.terrain, trip.skies[0]
    drawable = Drawable(segments=best.drive, rig=trip.fitted(), around=best.around, sky=trip.skies[0])
    return replace(
        result,
        ranked=(best.found, *result.ranked[1:]),
        noon=best.found if result.noon is result.best else result.noon,
        title=trip.route.title,
        warnings=warnings_of(*seen),
        drives=(drawable,),
    )


def _places(trip: Trip, drive: Segments, every_m: float, between_s: tuple[float, float]) -> dict[float, str]:
    """Return the places to try, metres along the drive in order with their names, passed at about that time."""
    if every_m < 100:
        raise UsageError(f"places every {every_m:g} m are too many; give for example --every 5km")
    length_m = float(drive.along_m[-1] + drive.length_m[-1])
    fine_m = np.arange(every_m, length_m, max(every_m, length_m / 10_000))
    fine_m = fine_m[_passed(drive, fine_m, between_s)]
    apart = -(-len(fine_m) // MOST_PLACES)
    places = dict.fromkeys(fine_m[:: max(apart, 1)].tolist(), "")
    for along_m, name in places_along(trip.route, trip.plan):
        known = [other for other in places if abs(other - along_m) <= SAME_M and places[other]]
        if not known and _passed(drive, np.array([along_m]), between_s).any():
            places[along_m] = name
    inside = (item for item in places.items() if SAME_M < item[0] < length_m - SAME_M)
    return dict(sorted(inside))


def _passed(drive: Segments, along_m: FloatArray, between_s: tuple[float, float]) -> BoolArray:
    """Return which places the drive passes between two clock times."""
    moving = ~drive.stopped
    start_s, duration_s = drive.start_utc_s[0, moving], drive.duration_s[0, moving]
    way_m = np.stack([drive.along_m[moving], (drive.along_m + drive.length_m)[moving]], axis=1).ravel()
    time_s = np.stack([start_s, start_s + duration_s], axis=1).ravel()
    clock_s = local_clock_s(np.interp(along_m, way_m, time_s), drive.time_zone)
    passed: BoolArray = (clock_s >= between_s[0]) & (clock_s <= between_s[1])
    return passed


def _with_stop(trip: Trip, stop: Stop) -> tuple[Segments, IntArray]:
    """Return the drive with one stop more, and the segments of that stop: the last one made there."""
    drive = replace(trip, plan=replace(trip.plan, stops=(*trip.plan.stops, stop))).drive()
    there = np.flatnonzero(drive.stopped & (np.abs(drive.along_m - (stop.at_m or 0.0)) <= SAME_M))
    rows: IntArray = there[drive.leg[there] == drive.leg[there[-1]]]
    return drive, rows


def _tried(trip: Trip, stop: Stop, drive: Segments, rows: IntArray, name: str) -> _Tried:
    around = surroundings(trip, drive)
    energy_wh = expected_wh(
        set_scene(drive, trip.fitted(), around.canopy.certain(), around.terrain), trip.skies[0]
    )
    first, last = int(rows[0]), int(rows[-1])
    found = Break(
        name=name,
        along_m=stop.at_m or 0.0,
        latitude_deg=float(drive.latitude_deg[first]),
        longitude_deg=float(drive.longitude_deg[first]),
        start_utc_s=float(drive.start_utc_s[0, first]),
        end_utc_s=float(drive.start_utc_s[0, last] + drive.duration_s[0, last]),
        break_wh=float(np.sum(energy_wh[rows])),
        energy_wh=float(np.sum(energy_wh)),
        heading_deg=stop.heading_deg,
    )
    return _Tried(found, stop, drive, around)


def _turned(trip: Trip, best: _Tried) -> _Tried:
    """Return the best break with the facing that brings most; as the vehicle arrives where panels lie flat."""
    if all(panel.tilt_deg == 0 or panel.aim == "sun" for panel in trip.fitted().panels):
        return best
    turned = [best]
    for heading_deg in HEADINGS_DEG.tolist():
        stop = replace(best.stop, heading_deg=heading_deg)
        turned.append(_tried(trip, stop, *_with_stop(trip, stop), best.found.name))
    return max(turned, key=lambda one: one.found.energy_wh)
