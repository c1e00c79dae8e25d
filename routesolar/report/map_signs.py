"""What stands beside the road on a still map: stops, what they bring, both ends, arrows, kilometres."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from routesolar.report.colours import Classes, round_step
from routesolar.report.label_room import Place, Room, beside, rings, room_beside
from routesolar.report.outlines_drawn import in_plane
from routesolar.report.plane import leg_middles, lines
from routesolar.report.units import Units, energy
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import Town
from routesolar.trip.names import printable
from routesolar.trip.segments import Segments

_ARROW_EVERY, _TICK_EVERY = 95.0, 100.0  # units of the picture along the road
_LETTER = 7.0  # mean width of a letter
_MOST_LETTERS = 26
_MOST_TOWNS = 12


class Badge(NamedTuple):
    """A leg's number and where it stands; a stop has its class of watts, -1 for none."""

    label: str
    at: Place
    is_stop: bool
    group: int


class Written(NamedTuple):
    """Words with their middle; `kind` is "name", "kilometre" or "town"."""

    words: str
    at: Place
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """Everything beside the road, in the picture's units; turns are radians, clockwise from the right."""

    badges: tuple[Badge, ...]
    ends: tuple[tuple[str, Place], ...]
    written: tuple[Written, ...]
    arrows: tuple[tuple[Place, float], ...]
    ticks: tuple[tuple[Place, float], ...]
    dots: tuple[Place, ...] = ()


class Surface(NamedTuple):
    """A picture to draw on: its size, from the plane to it (y down), places taken by scale and compass."""

    width: float
    height: float
    place: Callable[[FloatArray], FloatArray]
    taken: Sequence[tuple[float, float, float, float]] = ()


class Brought(NamedTuple):
    """What each leg of one departure brings, (l,): mean watts and watt-hours."""

    mean_w: FloatArray
    energy_wh: FloatArray


def brought(segments: Segments, power_w: FloatArray, departure: int = 0) -> Brought:
    """Return what the legs bring from the watts of each segment of one departure (n,)."""
    hours = segments.duration_s[departure] / 3600
    energy_wh = _per_leg(segments, power_w * hours)
    lasting_h = _per_leg(segments, hours)
    mean_w = np.divide(energy_wh, lasting_h, out=np.zeros_like(energy_wh), where=lasting_h > 0)
    return Brought(mean_w, energy_wh)


def _per_leg(segments: Segments, values: FloatArray) -> FloatArray:
    sums: FloatArray = np.bincount(segments.leg, values, len(segments.legs)).astype(np.float64)
    return sums


def signs_of(
    segments: Segments,
    brings: Brought,
    scale: Classes,
    surface: Surface,
    units: Units,
    towns: Sequence[Town] = (),
) -> Signs:
    """Return where everything stands; towns have what room is left."""
    ends = surface.place(lines(segments).ends)
    room = room_beside(ends[~segments.stopped], surface.width, surface.height)
    room.taken += surface.taken
    signs = signs_in(room, segments, brings, scale, surface, units)
    dots, named = towns_in(towns, room, surface)
    return replace(signs, written=(*signs.written, *named), dots=tuple(dots))


def signs_in(
    room: Room, segments: Segments, brings: Brought, scale: Classes, surface: Surface, units: Units
) -> Signs:
    """Return where everything but towns stands, in the room that is left."""
    moving = ~segments.stopped
    ends = surface.place(lines(segments).ends)
    middles = surface.place(lines(segments).middles[leg_middles(segments)])
    stops = _stops(segments, scale.of(brings.mean_w).tolist(), middles, room)
    first, last = _place(ends[0, 0]), _place(ends[-1, 1])
    loop = math.dist(first, last) < 8
    round_ends = (("start", first),) if loop else (("start", first), ("finish", last))
    for _, (x, y) in round_ends:
        room.taken.append((x - 6, y - 6, x + 6, y + 6))
    numbers = _numbers(segments, middles, room)
    names: list[tuple[Place, str, tuple[float, ...]]]
    names = [(stop.at, _stop_words(segments, brings, int(stop.label) - 1), (18.0, 30.0)) for stop in stops]
    words = {"start": "Start and finish" if loop else "Start", "finish": "Finish"}
    names += [(place, words[kind], (10.0, 20.0, 32.0)) for kind, place in round_ends]
    names += _waypoints(segments, surface)
    written = [_put(room, *name, "name") for name in names]
    steps, along = _walk(ends[moving])
    ticks, kilometres = _ticks(segments, ends[moving], along, room, units)
    return Signs(
        badges=(*stops, *numbers),
        ends=round_ends,
        written=tuple(one for one in (*written, *kilometres) if one is not None),
        arrows=_arrows(ends[moving], steps, along),
        ticks=ticks,
    )


def _place(point: FloatArray) -> Place:
    return float(point[0]), float(point[1])


def _stops(segments: Segments, groups: Sequence[int], middles: FloatArray, room: Room) -> list[Badge]:
    """Return the stops on their places, or near them in rows and columns where several share one."""
    side = sorted(
        ((27.0 * x, 25.0 * y) for x in range(-5, 6) for y in range(-5, 6)), key=lambda one: math.hypot(*one)
    )
    found = []
    for number, leg in enumerate(segments.legs):
        if leg.kind != "stop":
            continue
        at = _place(middles[number])
        place = room.put(at, (22, 20), side, shy=False) or at
        found.append(Badge(str(number + 1), place, True, groups[number]))
    return found


def _numbers(segments: Segments, middles: FloatArray, room: Room) -> list[Badge]:
    """Return the numbers of driven legs beside the road, those left out that have no room."""
    found = []
    for number, leg in enumerate(segments.legs):
        if leg.kind == "stop":
            continue
        place = room.put(_place(middles[number]), (20, 20), rings((21, 27, 36, 48, 64)))
        if place is not None:
            found.append(Badge(str(number + 1), place, False, -1))
    return found


def _stop_words(segments: Segments, brings: Brought, leg: int) -> str:
    name = shortened(printable(segments.legs[leg].name))
    return f"{name} {energy(float(brings.energy_wh[leg]))}"


def shortened(words: str, most: int = _MOST_LETTERS) -> str:
    """Return words of at most so many letters."""
    return words if len(words) <= most else f"{words[: most - 1].rstrip()}…"


def _waypoints(segments: Segments, surface: Surface) -> list[tuple[Place, str, tuple[float, ...]]]:
    stops = {leg.name for leg in segments.legs if leg.kind == "stop"}
    named = [one for one in segments.waypoints if one.name and one.name not in stops]
    if not named:
        return []
    places = surface.place(lines(segments).of([(one.latitude_deg, one.longitude_deg) for one in named]))
    return [
        (_place(place), shortened(printable(one.name)), (9.0, 18.0))
        for place, one in zip(places, named, strict=True)
    ]


def towns_in(towns: Sequence[Town], room: Room, surface: Surface) -> tuple[list[Place], list[Written]]:
    """Return where towns lie and are named: the larger first, none where its name has no room off the road."""
    if not towns:
        return [], []
    placed = surface.place(in_plane(np.array([(one.latitude_deg, one.longitude_deg) for one in towns])))
    dots, written = [], []
    for town, place in zip(towns, placed, strict=True):
        at = _place(place)
        words = _put(room, at, shortened(printable(town.name), 20), (6.0,), "town", spare=True)
        if words is not None:
            dots.append(at)
            written.append(words)
        if len(dots) == _MOST_TOWNS:
            break
    return dots, written


def _put(
    room: Room, at: Place, words: str, gaps: tuple[float, ...], kind: str, *, spare: bool = False
) -> Written | None:
    width = _LETTER * len(words) + 4
    if not (0 <= at[0] <= room.width and 0 <= at[1] <= room.height):
        return None
    place = room.put(at, (width, 15), beside(width, gaps), most_road=2 if spare else math.inf)
    return None if place is None else Written(words, place, kind)


def _walk(ends: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the lines' lengths in the picture, and how much road lies before each."""
    steps: FloatArray = np.hypot(*(ends[:, 1] - ends[:, 0]).T) if len(ends) else np.zeros(0)
    return steps, np.cumsum(steps) - steps


def _arrows(ends: FloatArray, steps: FloatArray, along: FloatArray) -> tuple[tuple[Place, float], ...]:
    if not len(ends):
        return ()
    found = []
    for mark in np.arange(_ARROW_EVERY / 2, along[-1] + steps[-1], _ARROW_EVERY):
        row = int(np.searchsorted(along, mark, side="right")) - 1
        share = (mark - along[row]) / max(steps[row], 1e-9)
        found.append(_on(ends[row], min(float(share), 1.0)))
    return tuple(found)


def _on(line: FloatArray, share: float) -> tuple[Place, float]:
    (x0, y0), (x1, y1) = line.tolist()
    return (x0 + share * (x1 - x0), y0 + share * (y1 - y0)), math.atan2(y1 - y0, x1 - x0)


def _ticks(
    segments: Segments, ends: FloatArray, along: FloatArray, room: Room, units: Units
) -> tuple[tuple[tuple[Place, float], ...], list[Written]]:
    """Return round distances from the start, as marks across the road and their words."""
    moving = ~segments.stopped
    from_start = segments.along_m[moving] / 1000 * units.distance_per_km
    lengths = segments.length_m[moving] / 1000 * units.distance_per_km
    if not len(ends) or along[-1] <= 0 or lengths.sum() <= 0:
        return (), []
    whole = float(from_start[-1] + lengths[-1])
    step = round_step(whole / along[-1] * _TICK_EVERY)
    ticks, written = [], []
    for mark in np.arange(step, whole - step / 4, step).tolist():
        row = int(np.searchsorted(from_start, mark, side="right")) - 1
        at, turn = _on(ends[row], min((mark - from_start[row]) / max(float(lengths[row]), 1e-9), 1.0))
        words = f"{mark:g} {units.distance}"
        reach = 10 + _LETTER * len(words) / 2
        east, south = math.cos(turn), math.sin(turn)
        sides = [(-south * reach, east * reach), (south * reach, -east * reach)]
        place = room.put(at, (_LETTER * len(words) + 4, 14), sides)
        if place is not None:
            ticks.append((at, turn))
            written.append(Written(words, place, "kilometre"))
    return tuple(ticks), written
