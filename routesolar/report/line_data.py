"""A route in pieces as a page's script draws it: places, ends of lines, legs."""

from typing import Any

import numpy as np

from routesolar.report.packing import PLACE_SCALE, steps
from routesolar.report.pieces import Pieces, piece_ends
from routesolar.report.plane import latitude, leg_middles, lines
from routesolar.trip.names import printable
from routesolar.trip.segments import Segments


def line(segments: Segments, pieces: Pieces) -> dict[str, Any]:
    """Return where every piece starts."""
    ends = piece_ends(segments, pieces)
    return {
        "longitude_deg": steps(ends[:, 0, 0], PLACE_SCALE),
        "latitude_deg": steps(segments.latitude_deg[pieces.first], PLACE_SCALE),
        "along_m": steps(segments.along_m[pieces.first], 1),
    }


def breaks(segments: Segments, pieces: Pieces) -> list[tuple[int, float, float]]:
    """Return where a line ends instead of running into the next piece: piece, latitude, longitude."""
    ends = piece_ends(segments, pieces)
    last = np.append(~segments.driven_on[pieces.after[:-1] - 1], True)
    return [
        (int(piece), round(latitude(float(ends[piece, 1, 1])), 6), round(float(ends[piece, 1, 0]), 6))
        for piece in np.flatnonzero(last)
    ]


def legs(segments: Segments, pieces: Pieces) -> list[dict[str, Any]]:
    """Return each leg with its first piece, the one after its last, and the one its number stands on."""
    leg = segments.leg[pieces.first]
    return [
        {
            "leg": number + 1,
            "name": printable(one.name) or "unnamed",
            "stop": one.kind == "stop",
            "first": int(np.searchsorted(leg, number)),
            "after": int(np.searchsorted(leg, number, side="right")),
            "middle": int(np.searchsorted(pieces.first, middle, side="right")) - 1,
        }
        for number, (one, middle) in enumerate(zip(segments.legs, leg_middles(segments), strict=True))
    ]


def names(segments: Segments, turn_deg: float = 0.0) -> list[dict[str, Any]]:
    """Return the route file's named places that are no stops, on the line's turn of the globe or on another."""
    stops = {leg.name for leg in segments.legs if leg.kind == "stop"}
    named = [one for one in segments.waypoints if one.name and one.name not in stops]
    if not named:
        return []
    places = lines(segments).of([(one.latitude_deg, one.longitude_deg) for one in named])
    return [
        {
            "words": printable(one.name),
            "place": [round(one.latitude_deg, 6), round(float(x) + turn_deg, 6)],
            "kind": "waypoint",
        }
        for one, x in zip(named, places[:, 0], strict=True)
    ]
