"""What a map shows around a route."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Self

import numpy as np

from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray, IntArray, lock_fields
from routesolar.trip.noun import Noun
from routesolar.trip.ranges import check_arrays
from routesolar.trip.route import SourceFile

Tags = Mapping[str, str]
SHAPES = ("point", "line", "area")


class MapFeature(NamedTuple):
    """One object of a map: a point, a line, or an area of one ring or several (what lies in two is outside).

    Each of `rings` is latitudes, longitudes and the numbers of its vertices; lines meet where numbers are
    equal.
    """

    shape: str
    tags: Tags
    rings: tuple[tuple[FloatArray, FloatArray, IntArray], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class MapFeatures(Noun):
    """The f objects of a map around a route: r rings or lines of v vertices.

    Ring k is the vertices from first[k] to first[k + 1] and belongs to the object `feature` (r,). `node` (v,)
    numbers places: lines meet where they share one. `shapes` and `tags` are (f,), the tags those of the map.
    `faults` are what was left out and how often; `attribution` is what has to stand beside all drawn from it.
    """

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    node: IntArray
    first: IntArray
    feature: IntArray
    shapes: tuple[str, ...]
    tags: tuple[Tags, ...]
    files: tuple[SourceFile, ...] = ()
    attribution: str = ""
    faults: tuple[tuple[str, int], ...] = ()

    def __post_init__(self) -> None:
        v, r = np.shape(self.latitude_deg), np.shape(self.feature)
        shapes = {"latitude_deg": v, "longitude_deg": v, "node": v, "first": (r[0] + 1,), "feature": r}
        lock_fields(self, shapes, dict.fromkeys(("node", "first", "feature"), np.int64))
        check_arrays(self, ("latitude_deg", "longitude_deg"))
        counted = self.first[0] == 0 and self.first[-1] == v[0] and np.all(np.diff(self.first) >= 1)
        if not counted or np.any((self.feature < 0) | (self.feature >= len(self.tags))):
            raise UsageError("first must count the vertices of rings, and feature number the objects, from 0")
        if len(self.shapes) != len(self.tags) or not set(self.shapes) <= set(SHAPES):
            raise UsageError(f"shapes must say of each object whether it is one of {', '.join(SHAPES)}")

    @classmethod
    def of(cls, features: Sequence[MapFeature], faults: Mapping[str, int] | None = None) -> Self:
        """Return the objects gathered."""
        rings = [ring for feature in features for ring in feature.rings]
        counts = [len(ring[0]) for ring in rings]
        owners = [number for number, feature in enumerate(features) for _ in feature.rings]
        nothing = np.zeros(0)

        def joined(place: int) -> FloatArray:
            return np.concatenate([nothing, *(ring[place] for ring in rings)])

        return cls(
            latitude_deg=joined(0),
            longitude_deg=joined(1),
            node=np.concatenate([np.zeros(0, np.int64), *(ring[2] for ring in rings)]),
            first=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
            feature=np.array(owners, dtype=np.int64),
            shapes=tuple(feature.shape for feature in features),
            tags=tuple(feature.tags for feature in features),
            faults=tuple(sorted((faults or {}).items())),
        )

    def __iter__(self) -> Iterator[MapFeature]:
        """Yield the objects."""
        bounds = np.searchsorted(self.feature, np.arange(len(self.tags) + 1))
        for number, (shape, tags) in enumerate(zip(self.shapes, self.tags, strict=True)):
            rings = tuple(self._ring(k) for k in range(bounds[number], bounds[number + 1]))
            yield MapFeature(shape, tags, rings)

    def _ring(self, k: int) -> tuple[FloatArray, FloatArray, IntArray]:
        part = slice(int(self.first[k]), int(self.first[k + 1]))
        return self.latitude_deg[part], self.longitude_deg[part], self.node[part]
