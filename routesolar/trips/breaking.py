"""Where and when to pause on a trip: every place along it is tried, each break as a stop of its own."""

from collections.abc import Sequence
from dataclasses import asdict, replace
from itertools import combinations
from math import comb
from typing import Any, NamedTuple

import numpy as np

from routesolar.decisions.breaks import Break, Breaks, Pausing, ranked_breaks
from routesolar.decisions.criterion import BestBy, Outcome, best_by_named, outcomes_of, worth_wh
from routesolar.decisions.same_sky import best_wins_frac, worth
from routesolar.errors import UsageError
from routesolar.mapping.pauses import pauses_of
from routesolar.model.scene import warnings_of
from routesolar.model.sweeping import departing, sweep
from routesolar.model.variants import Variants, early_scene, expected_w, scene_of, variant_scenes, variants_of
from routesolar.timetable import Place, drive, places_along
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.clock import local_clock_s
from routesolar.trip.drawable import Drawable
from routesolar.trip.route import Stop, Waypoint
from routesolar.trip.segments import Segments
from routesolar.trips.around import surroundings
from routesolar.trips.counting import scene_lasting
from routesolar.trips.trip import Trip
from routesolar.trips.words import clock_time_s, metres

MOST_PLACES = {1: 20, 2: 20, 3: 8}  # between the named ones, by the breaks; farther apart on longer drives
MOST_WAYS = 2000  # to pause
HEADINGS_DEG = np.arange(0.0, 360.0, 30.0)
SAME_M = 1.0
SLACK_S = 3600.0
STEP_S = 300.0  # of a stop: the sun moves by little more than a degree


class _Found(NamedTuple):
    """What d ways to pause bring: Wh on each segment and what they are ranked by; headings are (n,)."""

    energy_wh: FloatArray
    outcomes: list[Outcome]
    heading_deg: FloatArray | None


def breaks(
    trip: Trip,
    minutes: float = 90.0,
    *,
    between: tuple[str | float, str | float] = ("11:00", "15:00"),
    every: str | float = "5km",
    count: int = 1,
    best_by: str | BestBy = BestBy.ENERGY,
    places: Sequence[Waypoint] = (),
) -> Breaks:
    """Return the ways to make one break or several on a drive, the best first.

    Tried are the trip's stops and named places, the lay-bys, parking places, picnic and camp sites of its map
    and further `places` within 200 m of the road, and places `every` so far (20 at most, 8 with three breaks,
    then farther apart), at which each break begins between two clock times (text or seconds after midnight); of
    several breaks every combination of these places. The whole drive behind a break shifts. Each break is
    turned to where tilted panels get the most, to 30 degrees. `best_by` is "energy" that gets into loads and
    battery, "charge" at the end, or "lasting" loads.

    Raises:
        UsageError: no break begins in that time, a word makes no sense, or there are too many ways to pause.
    """
    if not 1 <= minutes <= 1440:
        raise UsageError(f"a break of {minutes:g} min is not from 1 to 1440 min; give for example --minutes 90")
    if count not in MOST_PLACES:
        raise UsageError(f"{count} breaks cannot be tried; give --breaks 1, 2 or 3")
    rig = trip.fitted()
    by = best_by_named(best_by, rig)
    first_s, last_s = (clock_time_s(end) for end in between)
    if not first_s < last_s:
        raise UsageError("--between ends before it begins; write it as 11:00..15:00")
    shown = () if trip.on_map is None else pauses_of(trip.on_map.features)
    trip = replace(trip, route=replace(trip.route, waypoints=(*trip.route.waypoints, *places, *shown)))
    plain = trip.drive()
    tried = _places(trip, plain, metres(every, "every"), (first_s - SLACK_S, last_s + SLACK_S), count)
    ways, stops, segments = _driven(trip, plain, tried, minutes * 60, count, (first_s, last_s))
    around = surroundings(trip, segments)
    variants = variants_of(segments, rig, around.canopy, around.terrain)
    found = _found(trip, variants, stops)
    pausings = [_pausing(segments, found, tried, stops, way, i) for i, way in enumerate(ways)]
    result = ranked_breaks(pausings, segments.time_zone, trip.skies[0].name, by)
    if found.heading_deg is not None:
        segments = replace(segments, heading_deg=found.heading_deg)
    rows = [pausings.index(one) for one in (result.best, result.noon)]
    only = slice(rows[0], rows[0] + 1)
    best, _ = departing(segments, around.canopy, only)
    drawable = Drawable(segments=best, rig=rig, around=around, sky=trip.skies[0])
    return replace(
        result,
        **_doubt(trip, segments, around, rows, [result.best.outcome, result.noon.outcome], by),
        **scene_lasting(scene_of(variants, only, found.heading_deg), trip.skies[0])._asdict(),
        title=trip.route.title,
        warnings=warnings_of(segments, around.canopy, around.terrain, trip.skies[0]),
        drives=(drawable,),
    )


def _places(
    trip: Trip, plain: Segments, every_m: float, between_s: tuple[float, float], count: int
) -> list[Place]:
    """Return the places to try in the order of travel, passed at about that time."""
    if every_m < 100:
        raise UsageError(f"places every {every_m:g} m are too many; give for example --every 5km")
    length_m = float(plain.along_m[-1] + plain.length_m[-1])
    fine_m = np.arange(every_m, length_m, max(every_m, length_m / 10_000))
    fine_m = fine_m[_passed(plain, fine_m, between_s)]
    apart = -(-len(fine_m) // MOST_PLACES[count])
    named: list[Place] = []
    for place in places_along(trip.route, trip.plan):
        known = any(abs(other.along_m - place.along_m) <= SAME_M for other in named)
        if not known and _passed(plain, np.array([place.along_m]), between_s).any():
            named.append(place)
    nameless = [Place(along_m, "") for along_m in fine_m[:: max(apart, 1)].tolist()]
    nameless = [one for one in nameless if all(abs(one.along_m - other.along_m) > SAME_M for other in named)]
    inside = [one for one in (*named, *nameless) if SAME_M < one.along_m < length_m - SAME_M]
    if comb(len(inside), count) > MOST_WAYS:
        raise UsageError(
            f"{len(inside)} places make too many ways for {count} breaks; try fewer breaks, a shorter "
            "--between, or places farther apart with --every"
        )
    return sorted(inside, key=lambda place: place.along_m)


def _passed(plain: Segments, along_m: FloatArray, between_s: tuple[float, float]) -> BoolArray:
    """Return which places the drive passes between two clock times."""
    moving = ~plain.stopped
    start_s, duration_s = plain.start_utc_s[0, moving], plain.duration_s[0, moving]
    way_m = np.stack([plain.along_m[moving], (plain.along_m + plain.length_m)[moving]], axis=1).ravel()
    time_s = np.stack([start_s, start_s + duration_s], axis=1).ravel()
    clock_s = local_clock_s(np.interp(along_m, way_m, time_s), plain.time_zone)
    passed: BoolArray = (clock_s >= between_s[0]) & (clock_s <= between_s[1])
    return passed


def _driven(
    trip: Trip, plain: Segments, tried: list[Place], lasts_s: float, count: int, between_s: tuple[float, float]
) -> tuple[list[tuple[int, ...]], list[IntArray], Segments]:
    """Return the ways to pause, as numbers of places; the segments of each place's break; and all their drives.

    Raises:
        UsageError: in no way do all breaks begin in that time.
    """
    ways = list(combinations(range(len(tried)), count))
    if not ways:
        ranked_breaks([], plain.time_zone, "")
    chosen = np.zeros((len(ways), len(tried)), dtype=bool)
    for row, way in zip(chosen, ways, strict=True):
        row[list(way)] = True
    stops = [
        Stop(
            at=place.name or f"{place.along_m!r}m",
            at_m=place.along_m,
            duration_s=lasts_s,
            **({} if place.clearing is None else asdict(place.clearing)),
        )
        for place in tried
    ]
    plan = replace(trip.plan, stops=(*trip.plan.stops, *stops), step_s=max(trip.plan.step_s, STEP_S))
    leaves_utc_s = np.repeat(plain.departure_utc_s[:1], len(ways))
    segments = drive(trip.route, leaves_utc_s, plan=plan, chosen=chosen)
    rows = [_rows_of(segments, way, place, chosen[:, way]) for way, place in enumerate(tried)]
    firsts = np.array([row[0] for row in rows])
    clock_s = local_clock_s(segments.start_utc_s[:, firsts], segments.time_zone)
    inside = np.all(((clock_s >= between_s[0]) & (clock_s <= between_s[1])) | ~chosen, axis=1)
    if not inside.any():
        ranked_breaks([], plain.time_zone, "")
    kept = np.flatnonzero(inside)
    times = ("start_utc_s", "duration_s", "departure_utc_s")
    segments = replace(segments, **{name: getattr(segments, name)[kept] for name in times})
    return [ways[i] for i in kept.tolist()], rows, segments


def _rows_of(segments: Segments, number: int, place: Place, chosen: BoolArray) -> IntArray:
    """Return the segments of a place's break: those that stand there just where it is chosen."""
    there = segments.stopped & (np.abs(segments.along_m - place.along_m) <= SAME_M)
    only = np.all((segments.duration_s > 0) == chosen[:, None], axis=0)
    legs = segments.leg[there & only]
    rows: IntArray = np.flatnonzero(segments.leg == legs[-1])
    return rows


def _found(trip: Trip, variants: Variants, stops: list[IntArray]) -> _Found:
    """Return what the ways to pause bring, each break in its best heading."""
    sky, rig = trip.skies[0], variants.rig
    heading_deg = _best_headings(trip, variants, stops)
    energy_wh = np.empty(variants.segments.duration_s.shape)
    outcomes: list[Outcome] = []
    for some, scene in variant_scenes(variants, heading_deg):
        watts, air_c = expected_w(scene, sky)
        energy_wh[some] = watts * scene.segments.duration_s / 3600
        timing = scene.segments.start_utc_s, scene.segments.duration_s
        outcomes += outcomes_of(scene.segments, timing, watts, air_c, rig, scene.segments.stopped)
    return _Found(energy_wh, outcomes, heading_deg)


def _best_headings(trip: Trip, variants: Variants, stops: list[IntArray]) -> FloatArray | None:
    """Return every segment's heading, each break turned to the most sun, (n,); None where panels lie flat."""
    if all(panel.tilt_deg == 0 or panel.aim == "sun" for panel in variants.rig.panels):
        return None
    own_deg = variants.segments.heading_deg
    rows = np.concatenate(stops)
    brought = []
    for heading_deg in HEADINGS_DEG.tolist():
        facing_deg = own_deg.copy()
        facing_deg[rows] = heading_deg
        watts, _ = expected_w(early_scene(variants, facing_deg), trip.skies[0])
        brought.append([float(watts[0, stop].sum()) for stop in stops])
    best_deg = HEADINGS_DEG[np.argmax(brought, axis=0)]
    facing_deg = own_deg.copy()
    for stop, heading_deg in zip(stops, best_deg.tolist(), strict=True):
        facing_deg[stop] = heading_deg
    return facing_deg


def _pausing(
    segments: Segments, found: _Found, tried: list[Place], stops: list[IntArray], way: tuple[int, ...], i: int
) -> Pausing:
    made = []
    for number in way:
        rows, place = stops[number], tried[number]
        first, last = int(rows[0]), int(rows[-1])
        made.append(
            Break(
                name=place.name,
                along_m=place.along_m,
                latitude_deg=float(segments.latitude_deg[first]),
                longitude_deg=float(segments.longitude_deg[first]),
                start_utc_s=float(segments.start_utc_s[i, first]),
                end_utc_s=float(segments.start_utc_s[i, last] + segments.duration_s[i, last]),
                break_wh=float(found.energy_wh[i, rows].sum()),
                heading_deg=None if found.heading_deg is None else float(found.heading_deg[first]),
            )
        )
    return Pausing(breaks=tuple(made), energy_wh=float(found.energy_wh[i].sum()), outcome=found.outcomes[i])


def _doubt(
    trip: Trip, segments: Segments, around: Any, rows: list[int], outcomes: list[Outcome], by: BestBy
) -> dict[str, Any]:
    """Return the best way's percentiles, and how likely it is better than that nearest to noon."""
    some = sorted(set(rows))
    times = ("start_utc_s", "duration_s", "departure_utc_s")
    both = replace(segments, **{name: getattr(segments, name)[some] for name in times})
    _, canopy = departing(segments, around.canopy, slice(0, len(some)))  # all leave at one time, in one season
    swept = sweep(both, trip.fitted(), canopy, around.terrain, trip.skies[:1])
    best = some.index(rows[0])
    worths_wh = np.array([worth_wh(by, outcomes[rows.index(row)]) for row in some])
    (weighed,) = worth([swept], [worths_wh])
    beats = float(best_wins_frac(weighed, best)[1 - best]) if len(some) > 1 else None
    return {
        "energy_low_wh": float(swept.energy_low_wh[best]),
        "energy_high_wh": float(swept.energy_high_wh[best]),
        "beats_noon_prob": beats,
    }
