"""The spots around a stop as a map in SVG: colour is energy, an arrow points where the nose should."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from routesolar.decisions.park import Parking
from routesolar.physics.sun import sun_position
from routesolar.report.clock_words import clock
from routesolar.report.colours import NOTHING, POWER, Classes, classes, round_step
from routesolar.report.label_room import Room, beside
from routesolar.report.map_parts import path
from routesolar.report.park_plane import apart_m, from_stop_m
from routesolar.report.svg_parts import line
from routesolar.report.units import Units
from routesolar.trip.arrays import FloatArray

_SIZE = 640
_MARGIN = 22
NUMBERED = 6  # the best spots carry their rank


@dataclass(frozen=True, slots=True, kw_only=True)
class ParkPlane:
    """Spots and occupied places in the picture, (k, 2) with y down, the side of their squares, the scale."""

    spots: FloatArray
    occupied: FloatArray
    stop: FloatArray
    side: float
    per_m: float


def park_plane(result: Parking) -> ParkPlane:
    """Return where everything lies in the picture, north up and the stop in its middle."""
    spots = from_stop_m(result, *zip(*((s.latitude_deg, s.longitude_deg) for s in result.spots), strict=True))
    taken = from_stop_m(result, result.occupied_latitude_deg, result.occupied_longitude_deg)
    step_m = apart_m(result, spots, taken)
    reach_m = max(float(np.abs(np.concatenate([*spots, *taken])).max()) + step_m / 2, step_m)
    per_m = (_SIZE / 2 - _MARGIN) / reach_m
    return ParkPlane(
        spots=_placed(spots, per_m),
        occupied=_placed(taken, per_m),
        stop=np.array([_SIZE / 2, _SIZE / 2]),
        side=step_m * per_m,
        per_m=per_m,
    )


def _placed(metres: tuple[FloatArray, FloatArray], per_m: float) -> FloatArray:
    east_m, north_m = metres
    return _SIZE / 2 + per_m * np.column_stack([east_m, -north_m])


def spot_classes(result: Parking) -> Classes:
    """Return the classes of watt-hours that the spots are coloured by."""
    return classes(max(spot.energy_wh for spot in result.spots), POWER)


def park_svg(result: Parking, plane: ParkPlane, units: Units) -> str:
    """Return the map as an SVG element; colours other than the classes' are left to CSS."""
    label = "Map of the spots around the stop, north up, coloured by energy over the stay"
    parts = [
        f'<svg class="sheet spots" viewBox="0 0 {_SIZE} {_SIZE}" role="img" aria-label="{label}">',
        f'<rect class="ground" width="{_SIZE}" height="{_SIZE}"/>',
        '<g class="woods">',
        *(_square("taken", place, plane.side) for place in plane.occupied),
        "</g>",
        *_spots(result, plane),
        *_road(result, plane),
        *_sun(result, plane),
        *_stop(plane),
        *_best(result, plane),
        *_furniture(plane, units),
        "</svg>",
    ]
    return "".join(parts)


def _square(kind: str, place: FloatArray, side: float, colour: str = "") -> str:
    x, y = place - side / 2
    fill = f' fill="{colour}"' if colour else ""
    return f'<rect class="{kind}"{fill} x="{x:.1f}" y="{y:.1f}" width="{side:.1f}" height="{side:.1f}"/>'


def _spots(result: Parking, plane: ParkPlane) -> Iterable[str]:
    scale = spot_classes(result)
    group = scale.of(np.array([spot.energy_wh for spot in result.spots]))
    for place, number in zip(plane.spots, group.tolist(), strict=True):
        yield _square("spot", place, plane.side, NOTHING if number < 0 else scale.colours[number])


def _road(result: Parking, plane: ParkPlane) -> Iterable[str]:
    """Yield the road that leads to the stop and on, as far as it is in the picture."""
    if result.road is None:
        return
    road = result.road
    starts = _placed(from_stop_m(result, road.latitude_deg, road.longitude_deg), plane.per_m)
    ends = _placed(from_stop_m(result, road.end_latitude_deg, road.end_longitude_deg), plane.per_m)
    near = np.minimum(np.abs(starts - _SIZE / 2), np.abs(ends - _SIZE / 2)).max(axis=1) < 2 * _SIZE
    near &= ~road.stopped
    pairs = np.stack([starts, ends], axis=1)[near]
    if len(pairs):
        drawn = path(pairs)
        yield f'<path class="way-in bed" d="{drawn}"/><path class="way-in" d="{drawn}"/>'


def _sun(result: Parking, plane: ParkPlane) -> Iterable[str]:
    """Yield the sun's way over the stop: the horizon is the rim, straight above is the middle."""
    stay = result.stay
    whole = np.arange(math.ceil(stay.start_utc_s / 300), stay.end_utc_s / 300) * 300.0
    moments = np.unique([stay.start_utc_s, *whole, stay.end_utc_s])
    sun = sun_position(stay.latitude_deg, stay.longitude_deg, stay.elevation_m, moments)
    up = sun.elevation_deg > 0
    if not up.any():
        return
    radius = (_SIZE / 2 - 34) * (90 - sun.elevation_deg[up]) / 90
    turn = np.radians(sun.azimuth_deg[up])
    points = _SIZE / 2 + np.column_stack([radius * np.sin(turn), -radius * np.cos(turn)])
    places = [(float(x), float(y)) for x, y in points]
    yield line("sun-way bed", *places) + line("sun-way", *places)
    room = Room(width=_SIZE, height=_SIZE, road=set())
    room.taken = [(x - 14, y - 14, x + 14, y + 14) for x, y in plane.spots[:NUMBERED].tolist()]
    room.taken += [(0, _SIZE - 60, 200, _SIZE), (_SIZE - 50, 0, _SIZE, 80)]
    for utc_s, (x, y) in zip(moments[up], places, strict=True):
        if utc_s % 3600 > 1 and utc_s not in (moments[up][0], moments[up][-1]):
            continue
        yield f'<circle class="sun-at" cx="{x:.1f}" cy="{y:.1f}" r="5"/>'
        label = clock(float(utc_s), stay.time_zone)
        place = room.put((x, y), (66, 24), beside(66, (10, 20)), shy=False)
        if place is not None:
            yield f'<text class="sun-label" x="{place[0]:.1f}" y="{place[1] + 5:.1f}">{label}</text>'


def _stop(plane: ParkPlane) -> Iterable[str]:
    """Yield a cross whose middle is left to the number of the spot there."""
    x, y = plane.stop
    near, far = 8, 15
    cross = (
        f"M{x - far:.1f} {y:.1f}H{x - near:.1f}M{x + near:.1f} {y:.1f}H{x + far:.1f}"
        f"M{x:.1f} {y - far:.1f}V{y - near:.1f}M{x:.1f} {y + near:.1f}V{y + far:.1f}"
    )
    yield f'<path class="cross bed" d="{cross}"/><path class="cross" d="{cross}"/>'


def _best(result: Parking, plane: ParkPlane) -> Iterable[str]:
    """Yield the ranks of the best spots, and the way to face on the very best."""
    for spot, (x, y) in zip(result.spots[:NUMBERED], plane.spots, strict=False):
        yield f'<text class="rank" x="{x:.1f}" y="{y + 4:.1f}">{spot.rank}</text>'
    best, (x, y) = result.spots[0], plane.spots[0]
    if best.heading_deg is not None:
        turn = f"translate({x:.1f} {y:.1f}) rotate({best.heading_deg:.0f})"
        foot = max(plane.side / 2, 10)
        shape = f"M0 {-foot:.1f}V{-foot - 18:.1f}M-5 {-foot - 11:.1f}L0 {-foot - 19:.1f}L5 {-foot - 11:.1f}"
        yield (
            f'<g class="way" transform="{turn}"><path class="nose bed" d="{shape}"/>'
            f'<path class="nose" d="{shape}"/></g>'
        )


def _furniture(plane: ParkPlane, units: Units) -> Iterable[str]:
    shown = round_step(_SIZE / 5 / plane.per_m * units.height_per_m)
    width = shown / units.height_per_m * plane.per_m
    bottom, right = _SIZE - 18, _SIZE - 24
    yield (
        f'<g class="scale"><path d="M20 {bottom - 6}V{bottom}H{20 + width:.1f}V{bottom - 6}"/>'
        f'<text x="{20 + width / 2:.1f}" y="{bottom - 5}">{shown:g} {units.height}</text></g>'
        f'<g class="north"><path d="M{right} 52V22m-5 8l5-10l5 10"/><text x="{right}" y="66">N</text></g>'
    )
