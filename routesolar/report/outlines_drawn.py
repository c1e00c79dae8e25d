"""Water and borders beneath a route: as SVG on a still map, and as small JSON for the live one."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np

from routesolar.report.packing import steps
from routesolar.report.plane import mercator
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import Ground, Outlines
from routesolar.trip.names import printable

_SCALE = 1e3  # about 100 m, finer than the lines are


def in_plane(places: FloatArray) -> FloatArray:
    """Return latitudes and longitudes (k, 2) in the plane of `report.plane`."""
    return np.column_stack([places[:, 1], mercator(places[:, 0])])


def line_paths(placed: Iterable[FloatArray], end: str = "") -> str:
    """Return lines of places in a picture, each (k, 2), as one path to a tenth of a unit, each ended so."""
    written = []
    for line in placed:
        tenths = np.round(line * 10).astype(int)
        moved = np.append(True, np.any(np.diff(tenths, axis=0) != 0, axis=1))
        if moved.sum() > 1:
            first, *others = tenths[moved].tolist()
            walked = np.diff([first, *others], axis=0).tolist()
            written.append(f"M{_pair(first)}l" + " ".join(map(_pair, walked)) + end)
    return "".join(written)


def _pair(tenths: Sequence[int]) -> str:
    return f"{tenths[0] / 10:g} {tenths[1] / 10:g}"


def outline_data(outlines: Outlines) -> dict[str, Any]:
    """Return outlines as a script reads them."""
    return {
        "water": [_packed(ring) for ring in outlines.water],
        "borders": [_packed(line) for line in outlines.borders],
        "ponds": [_packed(ring) for ring in outlines.ponds],
        "coasts": [_packed(line) for line in outlines.coasts],
        "roads": [_packed(line) for line in outlines.roads],
        "towns": [
            [printable(town.name), round(town.latitude_deg, 4), round(town.longitude_deg, 4)]
            for town in outlines.towns
        ],
    }


def _packed(line: FloatArray) -> list[dict[str, Any]]:
    return [steps(line[:, 0], _SCALE), steps(line[:, 1], _SCALE)]


def credits_of(ground: Ground) -> str:
    """Return where outlines come from, as their licences ask; nothing where there are none."""
    return " ".join(_credits(ground.outlines))


def _credits(outlines: Outlines) -> Iterator[str]:
    if outlines.water or outlines.borders:
        yield "Coasts, lakes and borders: Natural Earth 1:10 million, public domain, good to about a kilometre."
    if outlines.attribution:
        yield f"Map: {printable(outlines.attribution)}."
    elif outlines.towns:
        yield "Towns: GeoNames, licence CC BY 4.0."
