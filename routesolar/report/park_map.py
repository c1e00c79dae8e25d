"""The spots around a stop as a map in SVG: colour is energy, an arrow points where the nose should."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from routesolar.decisions.park import Parking
from routesolar.report.colours import NOTHING, POWER, Classes, classes, round_step
from routesolar.report.park_plane import apart_m, from_stop_m
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
