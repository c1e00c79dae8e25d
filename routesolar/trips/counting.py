"""From when to when departures are counted, so that none is better for having more hours of sun."""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np

from routesolar.decisions.criterion import BestBy
from routesolar.decisions.waiting import WAITING, with_stay
from routesolar.model.battery import run_ledger
from routesolar.model.charge import battery_days
from routesolar.model.scene import Scene, run, set_scene
from routesolar.model.sky import sky_states
from routesolar.model.sweeping import Before, departing
from routesolar.timetable.stops import END
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.clock import to_local
from routesolar.trip.route import Stop
from routesolar.trip.segments import Bends, Leg, Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.trips.around import surroundings
from routesolar.trips.trip import Trip

PIECE_S = 600.0  # of a wait before leaving: the sun moves by little more than two degrees


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


def first_utc_s(segments: Segments) -> FloatArray:
    """Return the first departure of each departure's day, UTC seconds, (d,)."""
    day, leaves_utc_s = _days(segments), segments.departure_utc_s
    firsts = np.array([leaves_utc_s[day == number].min() for number in range(day.max() + 1)])
    return firsts[day]


def waits_before(trip: Trip, segments: Segments) -> Before:
    """Return the waits at the start from the first departure of a day to each departure, under the first sky.

    The vehicle stands as it will leave, among what is said of the road there.
    """
    leaves_utc_s, first_s = segments.departure_utc_s, first_utc_s(segments)
    moments = np.unique(leaves_utc_s)
    gaps = [
        np.linspace(one, other, int(np.ceil((other - one) / PIECE_S)) + 1)
        for one, other in pairwise(moments.tolist())
        if np.any((first_s <= one) & (leaves_utc_s >= other))
    ]
    if not gaps:
        nothing = np.zeros((len(leaves_utc_s), 0))
        return Before(nothing, nothing, nothing, nothing)
    start_s, end_s = (np.concatenate([gap[side] for gap in gaps]) for side in (slice(-1), slice(1, None)))
    stay = _standing_at_start(segments, start_s, end_s - start_s)
    around = surroundings(trip, stay)
    scene = set_scene(stay, trip.fitted(), around.canopy.certain(), around.terrain)
    states = sky_states(trip.skies[0], stay, scene.sun.apparent_elevation_deg)
    solar_w, air_c = run(scene, [states]).expected_w[0, 0], np.broadcast_to(states.air_c, (1, len(start_s)))[0]
    waited = (start_s >= first_s[:, None] - 1e-3) & (end_s <= leaves_utc_s[:, None] + 1e-3)
    rows = [np.flatnonzero(row) for row in waited]
    most = max(map(len, rows))
    picked = np.array([np.append(row, np.zeros(most - len(row))) for row in rows]).astype(np.int64)
    real = np.arange(most) < np.array([[len(row)] for row in rows])
    return Before(
        start_utc_s=np.where(real, start_s[picked], leaves_utc_s[:, None]),
        duration_s=np.where(real, (end_s - start_s)[picked], 0.0),
        solar_w=np.where(real, solar_w[picked], 0.0),
        air_c=air_c[picked],
    )


def lasts_prob(
    trip: Trip, segments: Segments, canopy: Canopy, terrain: Terrain, departure: int, before: Before | None
) -> float | None:
    """Return how likely no load goes short with one departure, None without a battery or loads.

    The wait before it counts with the expected watts.
    """
    rig, sky = trip.fitted(), trip.skies[0]
    if rig.battery is None or not rig.loads:
        return None
    only = slice(departure, departure + 1)
    if before is not None and before.start_utc_s.shape[1]:
        start_s, duration_s, solar_w, air_c = (values[only] for values in before)
        stopped = np.ones(start_s.shape[1], dtype=bool)
        waited = run_ledger(start_s, duration_s, stopped, solar_w, air_c, rig, segments.time_zone)
        rig = replace(rig, battery=replace(rig.battery, start_soc_frac=float(waited.soc_frac[0, -1])))
    alone, among = departing(segments, canopy, only)
    return scene_lasts_prob(set_scene(alone, rig, among, terrain), sky)


def scene_lasts_prob(scene: Scene, sky: Sky) -> float | None:
    """Return how likely no load goes short in a scene of one departure, None without a battery or loads."""
    if scene.rig.battery is None or not scene.rig.loads:
        return None
    states = sky_states(sky, scene.segments, scene.sun.apparent_elevation_deg)
    return 1.0 - battery_days(scene, run(scene, [states]), states, sky).chance_of("first_short_utc_s")


def _days(segments: Segments) -> IntArray:
    """Return a number for the local date of each departure, (d,)."""
    dates = [to_local(float(utc_s), segments.time_zone).date() for utc_s in segments.departure_utc_s]
    _, number = np.unique([date.toordinal() for date in dates], return_inverse=True)
    return number.astype(np.int64)


def _standing_at_start(segments: Segments, start_utc_s: FloatArray, duration_s: FloatArray) -> Segments:
    """Return the start of a drive as segments that stand there, one departure."""
    count = len(start_utc_s)
    same: dict[str, Any] = {
        name: np.repeat(getattr(segments, name)[:1], count)
        for name in ("latitude_deg", "longitude_deg", "elevation_m", "heading_deg", "driven_on")
    }
    nothing = np.zeros(count)
    return replace(
        segments.last(1),
        **same,
        bends=Bends.none(),
        middle_latitude_deg=same["latitude_deg"],
        middle_longitude_deg=same["longitude_deg"],
        middle_elevation_m=same["elevation_m"],
        end_latitude_deg=same["latitude_deg"],
        end_longitude_deg=same["longitude_deg"],
        grade_frac=nothing,
        speed_mps=nothing,
        length_m=nothing,
        along_m=nothing,
        leg=np.zeros(count, dtype=np.int64),
        stopped=np.ones(count, dtype=bool),
        roofed=np.zeros(count, dtype=bool),
        start_utc_s=start_utc_s[None],
        duration_s=duration_s[None],
        departure_utc_s=start_utc_s[:1],
        legs=(Leg(name="waiting to leave", kind="stop"),),
    )
