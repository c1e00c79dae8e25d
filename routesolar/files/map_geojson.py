"""Woods, buildings and roads near a route from GeoJSON (RFC 7946); properties are named as in open map data."""

import json
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from routesolar.errors import InputError
from routesolar.files.map_near import Near
from routesolar.files.reading import read_whole
from routesolar.limits import limit_of
from routesolar.trip.arrays import FloatArray
from routesolar.trip.map_tags import known_tags, shape_of
from routesolar.trip.mapped import MapFeature

# Names that a table's columns may have, where a colon is awkward.
_ALSO = {"building_levels": "building:levels", "roof_levels": "roof:levels"}
_SHAPES = {"Point": "point", "LineString": "line", "Polygon": "area"}
_DEEPEST = 60
Positions = list[FloatArray]


def read_geojson(path: Path, near: Near, tell: Callable[[str], None]) -> tuple[list[MapFeature], Counter[str]]:
    """Return what lies near a route, and what was left out and how often.

    Raises:
        InputError: the file is no collection of features, or too large.
    """
    tell("features")
    try:
        content = json.loads(read_whole(path, limit_of("map as GeoJSON")))
        listed = content["features"] if content["type"] == "FeatureCollection" else None
    except (ValueError, KeyError, TypeError, RecursionError):
        listed = None
    if not isinstance(listed, list):
        raise InputError(
            f"{path}: this is not GeoJSON with a FeatureCollection; export woods and buildings again"
        )
    found: list[MapFeature] = []
    faults: Counter[str] = Counter()
    for one in listed:
        try:
            shapes = list(_shapes(one["geometry"], 0))
            properties = dict(one.get("properties") or {})
        except (ValueError, LookupError, TypeError, AttributeError):
            faults["objects without a shape on the map"] += 1
            continue
        found += features_of(properties, shapes, near, faults)
    return found, faults


def features_of(
    properties: dict[str, Any], shapes: list[tuple[str, Positions]], near: Near, faults: Counter[str]
) -> list[MapFeature]:
    """Return the objects with these properties and shapes (longitudes first) that lie near a route."""
    tags = known_tags(
        {_ALSO.get(name, name): value for name, value in properties.items() if value not in (None, "")}
    )
    found = []
    for shape, parts in shapes:
        wanted = "point" if shape == "point" else shape_of(tags, closed=shape == "area")
        if wanted != shape:
            faults["objects of no known kind"] += 1
            continue
        rings = [_ring(part, shape) for part in parts]
        rings = [ring for ring in rings if len(ring) >= {"point": 1, "line": 2, "area": 3}[shape]]
        if not rings:
            faults["objects without a shape on the map"] += 1
            continue
        every = np.concatenate(rings)
        if near.reaches(every[:, 1], every[:, 0]):
            found.append(MapFeature(shape, tags, tuple(_numbered(ring) for ring in rings)))
    return found


def _ring(part: FloatArray, shape: str) -> FloatArray:
    """Return the positions that can be, without the one that closes an area again."""
    lon, lat = part[:, 0], part[:, 1]
    known = (np.abs(lat) <= 90.0) & (lon >= -180.0) & (lon <= 360.0)
    part = part[known]
    return part[:-1] if shape == "area" and len(part) > 1 and np.array_equal(part[0], part[-1]) else part


def _numbered(ring: FloatArray) -> tuple[FloatArray, FloatArray, Any]:
    """Return latitudes, longitudes, and a number for each place: the same for places within a centimetre."""
    lon, lat = ring[:, 0], ring[:, 1]
    number = np.rint(lat * 1e7).astype(np.int64) * (1 << 33) + np.rint(lon * 1e7).astype(np.int64)
    return lat, lon, number


def _shapes(geometry: Any, depth: int) -> Iterator[tuple[str, Positions]]:
    kind = geometry["type"]
    if kind == "GeometryCollection" and depth < _DEEPEST:
        for one in geometry["geometries"]:
            yield from _shapes(one, depth + 1)
        return
    shape = _SHAPES[kind.removeprefix("Multi")]
    coordinates = geometry["coordinates"]
    several = coordinates if kind.startswith("Multi") else [coordinates]
    for one in several:
        parts = one if shape == "area" else [[one]] if shape == "point" else [one]
        yield shape, [_positions(part) for part in parts]


def _positions(part: Any) -> FloatArray:
    return np.array([[float(position[0]), float(position[1])] for position in part]).reshape(-1, 2)
