"""One route of a comparison, swept at the departures that count."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from routesolar.cli import deciding
from routesolar.cli.ground import with_hills
from routesolar.cli.options import DayOptions, TripOptions
from routesolar.cli.request import Request, Surroundings, rig_of, skies_of, surroundings_of, timed
from routesolar.cli.running import progress, requested
from routesolar.decisions.compare import Candidate, at_best
from routesolar.decisions.starts import day_starts_utc_s
from routesolar.decisions.waiting import WAITING, lasting_s, shared_ends, with_stay
from routesolar.model.scene import Scene, reshaded_at_end, set_scene, warnings_of
from routesolar.model.sweeping import scene_watts, sweep_scene
from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.ground import Ground, MapPicture
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A route to compare and its drive, one departure."""

    name: str
    request: Request
    rig: Rig
    skies: tuple[Sky, ...]
    drive: Segments


@dataclass(frozen=True, slots=True, kw_only=True)
class Contender:
    """A route as it is compared, counted to the common end, with all that its drawing needs."""

    candidate: Candidate
    entry: Entry
    scene: Scene
    picture: MapPicture | None


def entry_of(path: Path, options: TripOptions, day: DayOptions, *, at_its_best: bool) -> Entry:
    """Return a route at its departure, or at the best of those between the clock times of the day."""
    request = requested([path], options)
    rig = rig_of(request)
    departure_utc_s = None
    if at_its_best:
        times = deciding.clock_range_s(day)
        starts = day_starts_utc_s(deciding.day_of(request, day), *times, time_zone=request.time_zone)
        sweep, _ = deciding.swept(request, rig, deciding.timed_at(request, starts))
        departure_utc_s = starts[[at_best(request.route.name, sweep).departure]]
    drive = timed(request, departure_utc_s)
    return Entry(name=request.route.name, request=request, rig=rig, skies=skies_of(request), drive=drive)


def told_apart(entries: Sequence[Entry]) -> list[Entry]:
    """Return the entries with a number after every name that comes more than once."""
    names = [entry.name for entry in entries]
    return [
        replace(entry, name=f"{name} ({number})") if names.count(name) > 1 else entry
        for number, (name, entry) in enumerate(zip(names, entries, strict=True), 1)
    ]


def contenders_of(entries: Sequence[Entry]) -> list[Contender]:
    """Return the routes, each counted for as long as the slowest takes.

    Who arrives sooner waits at the end of its road. Roads that end at one place wait in the same shade and
    facing the same way: as the first to arrive there.
    """
    drives = [entry.drive for entry in entries]
    until_s = max(map(lasting_s, drives))
    ends = shared_ends(drives)
    counted = [
        with_stay(drive, np.array([until_s - lasting_s(drive)]), WAITING, drives[end])
        for drive, end in zip(drives, ends, strict=True)
    ]
    with progress("reading what stands along the roads"):
        around = [surroundings_of(*each) for each in _asked(entries, counted)]
    with progress("computing the roads"):
        return [
            _contender(entry, segments, own, around[end])
            for entry, segments, own, end in zip(entries, counted, around, ends, strict=True)
        ]


def _asked(entries: Sequence[Entry], counted: Sequence[Segments]) -> list[tuple[Request, Segments, Rig]]:
    return [(entry.request, segments, entry.rig) for entry, segments in zip(entries, counted, strict=True)]


def _contender(entry: Entry, segments: Segments, own: Surroundings, there: Surroundings) -> Contender:
    scene = set_scene(segments, entry.rig, own.canopy, own.terrain)
    waiting = segments.count - entry.drive.count
    if waiting and there is not own:
        rows = np.full(waiting, -1)
        scene = reshaded_at_end(scene, there.canopy.at(rows), there.terrain.at(rows))
    warnings = warnings_of(segments, own.canopy, own.terrain, entry.skies[0])
    swept = sweep_scene(scene, entry.skies, warnings)
    return Contender(candidate=Candidate(entry.name, swept), entry=entry, scene=scene, picture=own.picture)


def watts_of(contender: Contender) -> DepartureWatts:
    """Return the watts along the compared departure, for drawing."""
    return scene_watts(contender.scene, contender.entry.skies[0])


def ground_under(contenders: Sequence[Contender]) -> Ground:
    """Return what lies beneath the routes: the hills under all, and the trees that cover the most ground."""
    pictures = [contender.picture for contender in contenders if contender.picture is not None]
    widest = max(pictures, key=_degrees2, default=None)
    return with_hills(widest, [(one.entry.request, one.scene.segments) for one in contenders])


def _degrees2(picture: MapPicture) -> float:
    return (picture.north_deg - picture.south_deg) * (picture.east_deg - picture.west_deg)
