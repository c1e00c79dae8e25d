"""The road and the trees of a drive, stretch by stretch, and where each of it came from."""

from typing import Any, NamedTuple

import numpy as np

from routesolar.trip.arrays import IntArray
from routesolar.trip.mapped_road import MappedRoad
from routesolar.trip.segments import Segments
from routesolar.trip.trees_used import TreesUsed, Used

_UNSAID = ""


class UsedStretch(NamedTuple):
    """A stretch on which all of this is the same; NaN or empty where it is not known or not a number.

    `road` is the kind of road in a map's words, `carriageway_m` its width, `speed_kmh` what the map tells.
    """

    from_km: float
    to_km: float
    road: str
    carriageway_m: float
    speed_kmh: float
    roofed: bool
    bridge: bool
    opening_m: float
    opening_from: str
    cover_frac: float
    cover_from: str
    height_m: float
    height_from: str

    def row(self) -> dict[str, Any]:
        """Return the stretch by key; None where a number is not known, or told cell by cell by a raster."""
        return {key: None if value != value else value for key, value in self._asdict().items()}


def used_along(segments: Segments, road: MappedRoad | None, used: TreesUsed | None) -> list[UsedStretch]:
    """Return the stretches of a drive, stops left out, in the order of travel."""
    driven = np.flatnonzero(~segments.stopped & (segments.length_m > 0))
    if not len(driven):
        return []
    columns = (*_of_road(segments, road), *_of_trees(segments.count, used))
    keys: list[tuple[Any, ...]] = list(zip(*(_listed(column, driven) for column in columns), strict=True))
    along_m, end_m = segments.along_m[driven], (segments.along_m + segments.length_m)[driven]
    first = [0, *(k for k in range(1, len(keys)) if keys[k] != keys[k - 1])]
    ends = [*first[1:], len(keys)]
    return [
        UsedStretch(float(along_m[a]) / 1000, float(end_m[b - 1]) / 1000, *_numbers(keys[a]))
        for a, b in zip(first, ends, strict=True)
    ]


def _of_road(segments: Segments, road: MappedRoad | None) -> tuple[Any, ...]:
    count = segments.count
    unknown = np.full(count, np.nan)
    if road is None or segments.stretch is None:
        return [_UNSAID] * count, unknown, unknown, segments.roofed, np.zeros(count, dtype=bool)
    number = segments.stretch
    kinds = [road.road[k] for k in number.tolist()]
    return kinds, road.carriageway_m[number], road.speed_mps[number] * 3.6, segments.roofed, road.bridge[number]


def _of_trees(count: int, used: TreesUsed | None) -> tuple[Any, ...]:
    unknown = Used(value=np.full(count, np.nan), origin=(_UNSAID,) * count)
    opening, cover, tall = (unknown,) * 3 if used is None else (used.opening_m, used.cover, used.height_m)
    return tuple(part for one in (opening, cover, tall) for part in (one.value, one.origin))


def _listed(column: Any, rows: IntArray) -> list[Any]:
    """Return a column's values on some rows; unknown numbers as None, so that they are equal."""
    if isinstance(column, np.ndarray):
        values = column[rows].tolist()
        return [None if value != value else value for value in values]
    return [column[row] for row in rows.tolist()]


def _numbers(key: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple(np.nan if value is None else value for value in key)
