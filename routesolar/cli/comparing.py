"""One route of a comparison, swept at the departures that count."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from routesolar.cli import deciding
from routesolar.cli.ground import with_hills
from routesolar.cli.options import DayOptions, TripOptions
from routesolar.cli.request import Request, Surroundings, rig_of, skies_of, timed
from routesolar.cli.running import requested
from routesolar.decisions.compare import Candidate, at_best
from routesolar.decisions.starts import day_starts_utc_s
from routesolar.model.sweeping import departure_watts
from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.ground import Ground, MapPicture
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments


@dataclass(frozen=True, slots=True, kw_only=True)
class Contender:
    """A route to compare, with all that its drawing needs."""

    candidate: Candidate
    request: Request
    rig: Rig
    segments: Segments
    around: Surroundings


def contender_of(path: Path, options: TripOptions, day: DayOptions, *, at_its_best: bool) -> Contender:
    """Return a route at its departure, or at the best of those between the clock times of the day."""
    request = requested([path], options)
    rig = rig_of(request)
    if at_its_best:
        times = deciding.clock_range_s(day)
        starts = day_starts_utc_s(deciding.day_of(request, day), *times, time_zone=request.time_zone)
        segments = deciding.timed_at(request, starts)
    else:
        segments = timed(request)
    sweep, around = deciding.swept(request, rig, segments)
    name = request.route.name
    candidate = at_best(name, sweep) if at_its_best else Candidate(name, sweep)
    return Contender(candidate=candidate, request=request, rig=rig, segments=segments, around=around)


def told_apart(contenders: Sequence[Contender]) -> list[Contender]:
    """Return the contenders with a number after every name that comes more than once."""
    names = [contender.candidate.name for contender in contenders]
    return [
        replace(contender, candidate=contender.candidate._replace(name=f"{name} ({number})"))
        if names.count(name) > 1
        else contender
        for number, (name, contender) in enumerate(zip(names, contenders, strict=True), 1)
    ]


def watts_of(contender: Contender) -> DepartureWatts:
    """Return the watts along the compared departure, for drawing."""
    chosen = contender.candidate.departure
    return departure_watts(
        contender.segments,
        contender.rig,
        contender.around.canopy,
        contender.around.terrain,
        skies_of(contender.request)[0],
        slice(chosen, chosen + 1),
    )


def ground_under(contenders: Sequence[Contender]) -> Ground:
    """Return what lies beneath the routes: the hills under all, and the trees that cover the most ground."""
    pictures = [contender.around.picture for contender in contenders if contender.around.picture is not None]
    widest = max(pictures, key=_degrees2, default=None)
    return with_hills(widest, [(contender.request, contender.segments) for contender in contenders])


def _degrees2(picture: MapPicture) -> float:
    return (picture.north_deg - picture.south_deg) * (picture.east_deg - picture.west_deg)
