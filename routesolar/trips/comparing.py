"""Which road: trips side by side under one sky, counted to one common end."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

from routesolar.decisions.compare import (
    Candidate,
    Comparison,
    compare_across_days,
    compare_routes,
)
from routesolar.decisions.criterion import BestBy, best_by_named
from routesolar.decisions.same_terms import one_haze_at_deg, one_sky, rig_differences
from routesolar.decisions.waiting import WAITING, lasting_s, shared_ends, with_stay
from routesolar.model.scene import Scene, reshaded_at_end, set_scene, under_haze_of, warnings_of
from routesolar.model.sweeping import scene_watts, sweep_scene
from routesolar.timetable.stops import Arrivals, wait_until_s
from routesolar.trip.drawable import Drawable
from routesolar.trip.route import Stop
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Surroundings
from routesolar.trips.around import surroundings
from routesolar.trips.counting import scene_lasting, stay_at_end
from routesolar.trips.deciding import departures_of_day, departures_ranked
from routesolar.trips.trip import Trip
from routesolar.wanted import in_steps


@dataclass(frozen=True, slots=True)
class _Entry:
    """A trip to compare and its drive, one departure; its stay at the end if that was taken off."""

    name: str
    trip: Trip
    drive: Segments
    stay: Stop | None = None


def compare(
    trips: Sequence[Trip],
    *,
    best: bool = False,
    day: str | date | None = None,
    first: str | float = "05:00",
    last: str | float = "20:00",
    every: str | float = "15min",
    any_day: bool = False,
    seed: int = 1,
    best_by: str | BestBy = BestBy.ENERGY,
) -> Comparison:
    """Return trips side by side, each at its departure; with `best` each at the best of a day's clock times.

    Who arrives sooner waits at the destination; where all stay there until one time, up to that. With `any_day`
    they may start on different days. `seed` is that of the drawn days behind the chance of being best.
    `best_by` is "energy" that gets into loads and battery, "charge" at the end, or "lasting" loads.

    Raises:
        UsageError: there are fewer than two, their skies differ, they start on different days, or see no sun;
            or one has no battery to rank by.
    """
    by = [best_by_named(best_by, trip.fitted()) for trip in trips][:1] or [BestBy.ENERGY]
    entries = _told_apart([_entry(trip, by[0], (day, first, last, every) if best else None) for trip in trips])
    one_sky([entry.name for entry in entries], [entry.trip.skies[0] for entry in entries])
    until = _one_until(trips) if all(entry.drive.length_m.any() for entry in entries) else None
    found = _contenders([_leaving_at_arrival(entry) for entry in entries] if until else entries, until)
    judge = compare_across_days if any_day else compare_routes
    differ = (*rig_differences([entry.trip.fitted() for entry in entries]), *_apart(trips, until))
    drives = tuple(drawable for _, drawable, _ in found)
    result = judge([candidate for candidate, _, _ in found], seed, differ, drives, by[0])
    return replace(result, **scene_lasting(found[result.best][2], trips[result.best].skies[0])._asdict())


def _one_until(trips: Sequence[Trip]) -> str | None:
    """Return the time until which all stay at their end, None where they do not say the same."""
    stays = {None if stay is None else stay.until for stay in map(stay_at_end, trips)}
    return stays.pop() if len(stays) == 1 else None


def _apart(trips: Sequence[Trip], until: str | None) -> tuple[str, ...]:
    """Return in words where trips stay at their ends until different times, or in different air."""
    stays = () if until or not any(map(stay_at_end, trips)) else ("how long they stay at the end",)
    air = len({(trip.skies[0].air_c, trip.skies[0].wind_mps) for trip in trips}) > 1
    return (*stays, *(("air or wind",) if air else ()))


def _leaving_at_arrival(entry: _Entry) -> _Entry:
    """Return an entry without its stay at the end: all are to wait there in one and the same shade."""
    stay, plan = stay_at_end(entry.trip), entry.trip.plan
    trip = replace(entry.trip, plan=replace(plan, stops=tuple(stop for stop in plan.stops if stop is not stay)))
    return replace(entry, trip=trip, drive=trip.drive(entry.drive.departure_utc_s), stay=stay)


def _entry(trip: Trip, best_by: BestBy, tried: tuple[Any, ...] | None) -> _Entry:
    """Return a trip at its departure, or at the best of those of a day."""
    trip.fitted()
    starts_utc_s = None
    if tried is not None:
        found, *_ = departures_ranked(trip, departures_of_day(trip, *tried), best_by)
        starts_utc_s = np.array([found.best.depart_utc_s])
    return _Entry(trip.route.name, trip, trip.drive(starts_utc_s))


def _told_apart(entries: list[_Entry]) -> list[_Entry]:
    """Return the entries with a number after every name that comes more than once."""
    names = [entry.name for entry in entries]
    return [
        replace(entry, name=f"{name} ({number})") if names.count(name) > 1 else entry
        for number, (name, entry) in enumerate(zip(names, entries, strict=True), 1)
    ]


def _contenders(entries: Sequence[_Entry], until: str | None) -> list[tuple[Candidate, Drawable, Scene]]:
    """Return the routes, each counted for as long as the slowest takes, what drawing them needs, their scenes.

    All stay until a time where one is given. Each waits in a clearing at its end, as wide as the road is there
    or as is said of the stay; where several end at one place, as the first to arrive there has it and faces.
    Routes near each other are given one and the same haze.
    """
    drives = [entry.drive for entry in entries]
    until_s = max((lasting_s(drive) + _stay_s(drive, until) for drive in drives), default=0.0)
    ends = shared_ends(drives)
    counted = [
        with_stay(drive, np.array([until_s - lasting_s(drive)]), WAITING, drives[end], entries[end].stay)
        for drive, end in zip(drives, ends, strict=True)
    ]
    around = [surroundings(entry.trip, segments) for entry, segments in zip(entries, counted, strict=True)]
    haze_at_deg = one_haze_at_deg(drives)
    every = list(zip(entries, counted, around, ends, strict=True))
    return [
        _contender(entry, segments, own, around[end], haze_at_deg)
        for entry, segments, own, end in in_steps(every)
    ]


def _stay_s(drive: Segments, until: str | None) -> float:
    if until is None:
        return 0.0
    arrivals = Arrivals(
        drive.arrival_utc_s,
        drive.departure_utc_s,
        latitude_deg=float(drive.end_latitude_deg[-1]),
        longitude_deg=float(drive.end_longitude_deg[-1]),
        elevation_m=float(np.nan_to_num(drive.middle_elevation_m[-1])),
    )
    return float(wait_until_s(arrivals, until, drive.time_zone)[0])


def _contender(
    entry: _Entry,
    segments: Segments,
    own: Surroundings,
    there: Surroundings,
    haze_at_deg: tuple[float, float] | None,
) -> tuple[Candidate, Drawable, Scene]:
    rig, skies = entry.trip.fitted(), entry.trip.skies
    scene = set_scene(segments, rig, own.canopy, own.terrain)
    if haze_at_deg is not None:
        scene = under_haze_of(scene, *haze_at_deg)
    waiting = segments.count - entry.drive.count
    if waiting:
        rows = np.full(waiting, -1)
        scene = reshaded_at_end(scene, there.canopy.at(rows), there.terrain.at(rows))
    found = sweep_scene(scene, skies, warnings_of(segments, own.canopy, own.terrain, skies[0]))
    watts = scene_watts(scene, skies[0])
    drawable = Drawable(segments=segments, rig=rig, around=own, sky=skies[0], watts=watts)
    return Candidate(entry.name, found), drawable, scene
