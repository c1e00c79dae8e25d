"""Which road: trips side by side under one sky, counted to one common end."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

from routesolar.decisions.compare import (
    Candidate,
    Comparison,
    at_best,
    compare_across_days,
    compare_routes,
)
from routesolar.decisions.same_terms import one_haze_at_deg, one_sky, rig_differences
from routesolar.decisions.waiting import WAITING, lasting_s, shared_ends, with_stay
from routesolar.model.scene import reshaded_at_end, set_scene, under_haze_of, warnings_of
from routesolar.model.sweeping import scene_watts, sweep_scene
from routesolar.trip.drawable import Drawable
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Surroundings
from routesolar.trips.around import surroundings
from routesolar.trips.deciding import departures_of_day, swept
from routesolar.trips.trip import Trip


@dataclass(frozen=True, slots=True)
class _Entry:
    """A trip to compare and its drive, one departure."""

    name: str
    trip: Trip
    drive: Segments


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
) -> Comparison:
    """Return trips side by side, each at its departure; with `best` each at the best of a day's clock times.

    Who arrives sooner waits at the destination. With `any_day` they may start on different days. `seed` is that
    of the drawn days behind the chance of being best.

    Raises:
        UsageError: there are fewer than two, their skies differ, they start on different days, or see no sun.
    """
    entries = _told_apart([_entry(trip, (day, first, last, every) if best else None) for trip in trips])
    one_sky([entry.name for entry in entries], [entry.trip.skies[0] for entry in entries])
    found = _contenders(entries)
    judge = compare_across_days if any_day else compare_routes
    differ = rig_differences([entry.trip.fitted() for entry in entries])
    drives = tuple(drawable for _, drawable in found)
    return judge([candidate for candidate, _ in found], seed, differ, drives)


def _entry(trip: Trip, tried: tuple[Any, ...] | None) -> _Entry:
    """Return a trip at its departure, or at the best of those of a day."""
    trip.fitted()
    starts_utc_s = None
    if tried is not None:
        tried_utc_s = departures_of_day(trip, *tried)
        found, _ = swept(trip, trip.drive(tried_utc_s))
        starts_utc_s = tried_utc_s[[at_best(trip.route.name, found).departure]]
    return _Entry(trip.route.name, trip, trip.drive(starts_utc_s))


def _told_apart(entries: list[_Entry]) -> list[_Entry]:
    """Return the entries with a number after every name that comes more than once."""
    names = [entry.name for entry in entries]
    return [
        replace(entry, name=f"{name} ({number})") if names.count(name) > 1 else entry
        for number, (name, entry) in enumerate(zip(names, entries, strict=True), 1)
    ]


def _contenders(entries: Sequence[_Entry]) -> list[tuple[Candidate, Drawable]]:
    """Return the routes, each counted for as long as the slowest takes, and what drawing them needs.

    Who arrives sooner waits at the end of its road. Roads that end at one place wait in the same shade and
    facing the same way: as the first to arrive there. Routes near each other are given one and the same haze.
    """
    drives = [entry.drive for entry in entries]
    until_s = max(map(lasting_s, drives), default=0.0)
    ends = shared_ends(drives)
    counted = [
        with_stay(drive, np.array([until_s - lasting_s(drive)]), WAITING, drives[end])
        for drive, end in zip(drives, ends, strict=True)
    ]
    around = [surroundings(entry.trip, segments) for entry, segments in zip(entries, counted, strict=True)]
    haze_at_deg = one_haze_at_deg(drives)
    return [
        _contender(entry, segments, own, around[end], haze_at_deg)
        for entry, segments, own, end in zip(entries, counted, around, ends, strict=True)
    ]


def _contender(
    entry: _Entry,
    segments: Segments,
    own: Surroundings,
    there: Surroundings,
    haze_at_deg: tuple[float, float] | None,
) -> tuple[Candidate, Drawable]:
    rig, skies = entry.trip.fitted(), entry.trip.skies
    scene = set_scene(segments, rig, own.canopy, own.terrain)
    if haze_at_deg is not None:
        scene = under_haze_of(scene, *haze_at_deg)
    waiting = segments.count - entry.drive.count
    if waiting and there is not own:
        rows = np.full(waiting, -1)
        scene = reshaded_at_end(scene, there.canopy.at(rows), there.terrain.at(rows))
    found = sweep_scene(scene, skies, warnings_of(segments, own.canopy, own.terrain, skies[0]))
    watts = scene_watts(scene, skies[0])
    return Candidate(entry.name, found), Drawable(
        segments=segments, rig=rig, around=own, sky=skies[0], watts=watts
    )
