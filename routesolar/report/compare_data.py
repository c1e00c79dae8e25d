"""What the page of a comparison needs to know: every route's line, and its watts since it left."""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from routesolar.decisions.compare import ComparedRoute, Comparison
from routesolar.report.clock_words import clock_after
from routesolar.report.colours import POWER, Classes, classes
from routesolar.report.line_data import breaks, legs, line, names
from routesolar.report.map_signs import Brought, brought
from routesolar.report.packing import TENTHS, layer, spans, steps, utc_offsets
from routesolar.report.pieces import Pieces, piece_ends, piece_seconds, piece_watts, pieces_of
from routesolar.report.plane import lines
from routesolar.report.sun_times import dark_at
from routesolar.report.units import Units
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.names import printable
from routesolar.trip.segments import Segments

MOST_PIECES = 5_000  # of all routes together
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_LOOKED_AT = 400  # places a route when looking for where it is alone


class DrawnRoute(NamedTuple):
    """One route in pieces: mean watts (k,), ends in the plane (k, 2, 2), the piece that carries its letter.

    `brings` is what its legs bring.
    """

    letter: str
    route: ComparedRoute
    segments: Segments
    pieces: Pieces
    power_w: FloatArray
    ends: FloatArray
    middle: int
    brings: Brought

    @property
    def turn_deg(self) -> float:
        """What is added to the route's own longitudes, so that it lies beside the first."""
        return 360 * round(float(self.ends[0, 0, 0] - lines(self.segments).ends[0, 0, 0]) / 360)


def drawn_routes(result: Comparison, drives: Sequence[DepartureWatts]) -> list[DrawnRoute]:
    """Return every route with the watts of its drive, all on the same turn of the globe.

    Raises:
        ValueError: the drives are not the routes of the result, one departure each.
    """
    leaves = [drive.segments.departure_utc_s.tolist() for drive in drives]
    if leaves != [[route.depart_utc_s] for route in result.routes]:
        raise ValueError("the watts must be of the compared routes, in their order, at their departures")
    parts = [pieces_of(drive.segments, MOST_PIECES // len(drives)) for drive in drives]
    ends = [piece_ends(drive.segments, pieces) for drive, pieces in zip(drives, parts, strict=True)]
    ends = [_beside(line_ends, ends[0]) for line_ends in ends]
    return [
        DrawnRoute(
            letter=LETTERS[number % len(LETTERS)],
            route=route,
            segments=drive.segments,
            pieces=pieces,
            power_w=piece_watts(drive, pieces)[0].astype(np.float64),
            ends=ends[number],
            middle=_most_alone(number, ends),
            brings=brought(drive.segments, drive.power_w[0].astype(np.float64)),
        )
        for number, (route, drive, pieces) in enumerate(zip(result.routes, drives, parts, strict=True))
    ]


def _beside(ends: FloatArray, first: FloatArray) -> FloatArray:
    """Return lines shifted by whole turns of the globe to where the first route is."""
    turns = 360 * np.round((first[0, 0, 0] - ends[0, 0, 0]) / 360)
    beside: FloatArray = ends + np.array([turns, 0.0])
    return beside


def _most_alone(number: int, ends: Sequence[FloatArray]) -> int:
    """Return the piece of a route that is farthest from all others, the one nearest its middle among equals."""
    own = _some(len(ends[number]))
    here = ends[number][own, 0]
    others = np.concatenate([line[_some(len(line)), 0] for at, line in enumerate(ends) if at != number])
    away = np.hypot(*(here[:, None] - others).transpose(2, 0, 1)).min(axis=1)
    off_middle = np.abs(own - len(ends[number]) / 2) / len(ends[number])
    return int(own[np.argmax(away - 1e-6 * np.ptp(ends[number]) * off_middle)])


def _some(count: int) -> IntArray:
    return np.unique(np.linspace(0, count - 1, min(count, _LOOKED_AT)).astype(np.int64))


def watt_classes(drawn: Sequence[DrawnRoute]) -> Classes:
    """Return the classes of watts that all routes share."""
    return classes(max(float(one.power_w.max(initial=0)) for one in drawn), POWER)


def compared_data(result: Comparison, drawn: Sequence[DrawnRoute], units: Units) -> dict[str, Any]:
    """Return the comparison as plain values; times are seconds since each route's own departure."""
    best, part = result.routes[result.best], result.parting
    longest_s = max(float(np.sum(one.segments.duration_s)) for one in drawn)
    return {
        "departs_utc_s": round(best.depart_utc_s, 3),
        "utc_offsets_min": utc_offsets(best.depart_utc_s, best.depart_utc_s + longest_s, best.time_zone),
        "one_start": len({route.depart_utc_s for route in result.routes}) == 1,
        "dark": _dark(drawn, best.depart_utc_s, longest_s),
        "distance": units.distance,
        "distance_per_km": units.distance_per_km,
        "layers": {"power": layer(watt_classes(drawn), "W")},
        "parting_s": None if part is None else [part.from_s, part.to_s],
        "routes": [_route(one) for one in drawn],
    }


def _dark(drawn: Sequence[DrawnRoute], start_utc_s: float, longest_s: float) -> list[list[int]]:
    """Return when the sun is down; nothing where the routes leave at different times."""
    if len({one.route.depart_utc_s for one in drawn}) > 1:
        return []
    return spans(dark_at(drawn[0].segments, start_utc_s, start_utc_s + longest_s), start_utc_s)


def _route(one: DrawnRoute) -> dict[str, Any]:
    ends_s = np.cumsum(piece_seconds(one.segments, one.pieces)[0])
    route = one.route
    east = {"longitude_deg": steps(one.ends[:, 0, 0], 1e6)}
    return {
        "letter": one.letter,
        "name": printable(route.name) or "unnamed",
        "arrive": clock_after(route.depart_utc_s, route.arrive_utc_s, route.time_zone),
        "arrive_s": route.duration_s,
        "energy_wh": round(route.energy_wh, 2),
        "line": line(one.segments, one.pieces) | east,
        "start_s": steps(np.append(0.0, ends_s), TENTHS),
        "power_w": steps(one.power_w, TENTHS),
        "breaks": breaks(one.segments, one.pieces),
        "legs": legs(one.segments, one.pieces),
        "names": names(one.segments, one.turn_deg),
        "middle": one.middle,
    }
