"""From when to when departures are counted, so that none is better for having more hours of sun."""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from routesolar.decisions.criterion import BestBy, LoadLasts
from routesolar.decisions.waiting import WAITING, after_wait, with_stay
from routesolar.model.charge import battery_days
from routesolar.model.scene import Scene, run, set_scene
from routesolar.model.sky import sky_states
from routesolar.model.sweeping import departing
from routesolar.timetable.stops import END
from routesolar.trip.arrays import IntArray
from routesolar.trip.clock import to_local
from routesolar.trip.loads import kept_first
from routesolar.trip.route import Stop
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.trips.trip import Trip

PIECE_S = 600.0  # of a wait before leaving: the sun moves by some two degrees


def stay_at_end(trip: Trip) -> Stop | None:
    """Return the stay at the end until a time, None without one."""
    stays = [stop for stop in trip.plan.stops if stop.at.strip().casefold() == END and stop.until is not None]
    return stays[-1] if stays else None


def is_counted(trip: Trip, segments: Segments, best_by: BestBy) -> bool:
    """Tell whether departures are counted from the first of a day to one end: for an end, charge and loads."""
    return bool(segments.length_m.any()) and (best_by is not BestBy.ENERGY or stay_at_end(trip) is not None)


def to_one_end(segments: Segments) -> Segments:
    """Return departures that wait at their end for the last of their day to arrive."""
    day = _days(segments)
    arrival_utc_s = segments.arrival_utc_s
    last_utc_s = np.array([arrival_utc_s[day == number].max() for number in range(day.max() + 1)])
    return with_stay(segments, last_utc_s[day] - arrival_utc_s, WAITING)


def from_one_start(segments: Segments) -> Segments:
    """Return departures that wait at their start, as they will leave, from the first of their day on."""
    day, leaves_utc_s = _days(segments), segments.departure_utc_s
    firsts = np.array([leaves_utc_s[day == number].min() for number in range(day.max() + 1)])[day]
    moments = np.unique(leaves_utc_s)
    gaps = [
        np.linspace(one, other, int(np.ceil((other - one) / PIECE_S)) + 1)
        for one, other in pairwise(moments.tolist())
        if np.any((firsts <= one) & (leaves_utc_s >= other))
    ]
    if not gaps:
        return segments
    start_s, end_s = (np.concatenate([gap[side] for gap in gaps]) for side in (slice(-1), slice(1, None)))
    waited = (start_s >= firsts[:, None] - 1e-3) & (end_s <= leaves_utc_s[:, None] + 1e-3)
    rows = [np.flatnonzero(row) for row in waited]
    most = max(map(len, rows))
    picked = np.array([np.append(row, np.zeros(most - len(row))) for row in rows]).astype(np.int64)
    real = np.arange(most) < np.array([[len(row)] for row in rows])
    return after_wait(
        segments,
        np.where(real, start_s[picked], leaves_utc_s[:, None]),
        np.where(real, (end_s - start_s)[picked], 0.0),
        "waiting to leave",
    )


class Lasting(NamedTuple):
    """How likely no load goes short, None without a battery or loads, and how likely each does not."""

    lasts_prob: float | None
    loads_last: tuple[LoadLasts, ...]


def lasting_of(trip: Trip, segments: Segments, canopy: Canopy, terrain: Terrain, departure: int) -> Lasting:
    """Return how likely loads last with one departure."""
    rig = trip.fitted()
    if rig.battery is None or not rig.loads:
        return Lasting(None, ())
    alone, among = departing(segments, canopy, slice(departure, departure + 1))
    return scene_lasting(set_scene(alone, rig, among, terrain), trip.skies[0])


def scene_lasting(scene: Scene, sky: Sky) -> Lasting:
    """Return how likely loads last in a scene of one departure."""
    if scene.rig.battery is None or not scene.rig.loads:
        return Lasting(None, ())
    states = sky_states(sky, scene.segments, scene.sun.apparent_elevation_deg)
    days = battery_days(scene, run(scene, [states]), states, sky)
    each = days.chance @ np.isnan(days.first_off_utc_s)
    loads = zip(kept_first(scene.rig.loads), each.tolist(), strict=True)
    return Lasting(
        1.0 - days.chance_of("first_short_utc_s"),
        tuple(LoadLasts(load.name, load.keep, prob) for load, prob in loads),
    )


def _days(segments: Segments) -> IntArray:
    """Return a number for the local date of each departure, (d,)."""
    dates = [to_local(float(utc_s), segments.time_zone).date() for utc_s in segments.departure_utc_s]
    _, number = np.unique([date.toordinal() for date in dates], return_inverse=True)
    return number.astype(np.int64)
