"""Small maps for tests: built in memory, or written with the reference library for the format."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import osmium
from osmium.osm import mutable

from routesolar.physics.geodesy import metres_per_degree
from routesolar.trip.mapped import MapFeature, MapFeatures

SOUTH, WEST = -41.2, 146.5
NORTH_M, EAST_M = (float(value) for value in metres_per_degree(SOUTH))


def degrees(east_m: object, north_m: object) -> tuple[np.ndarray, np.ndarray]:
    """Latitudes and longitudes of places in metres from a corner of our own."""
    return SOUTH + np.asarray(north_m, float) / NORTH_M, WEST + np.asarray(east_m, float) / EAST_M


def line(east_m: Sequence[float], north_m: Sequence[float], first: int, **tags: str) -> MapFeature:
    """A line whose corners are numbered from one on."""
    lat, lon = degrees(east_m, north_m)
    return MapFeature("line", tags, ((lat, lon, np.arange(first, first + len(lat))),))


def map_of(*features: MapFeature) -> MapFeatures:
    return MapFeatures.of(features)


def box(east_m: float, north_m: float, side_m: float) -> list[tuple[float, float]]:
    """The corners of a square, south-west first."""
    return [
        (east_m, north_m),
        (east_m + side_m, north_m),
        (east_m + side_m, north_m + side_m),
        (east_m, north_m + side_m),
    ]


Ways = Sequence[tuple[int, Sequence[int], Mapping[str, str]]]
Relations = Sequence[tuple[int, Sequence[tuple[str, int, str]], Mapping[str, str]]]


def write_map(
    path: Path,
    places: Mapping[int, tuple[float, float]],
    ways: Ways,
    relations: Relations = (),
    points: Mapping[int, Mapping[str, str]] | None = None,
    place: Callable[[float, float], tuple[Any, Any]] = degrees,
) -> Path:
    """Write a map with the reference library: places in metres by number, lines, relations, tags of points."""
    writer = osmium.SimpleWriter(str(path), overwrite=True)
    for number, (east_m, north_m) in places.items():
        lat, lon = place(east_m, north_m)
        tags = dict((points or {}).get(number, {}))
        writer.add_node(mutable.Node(id=number, location=(float(lon), float(lat)), tags=tags, version=1))
    for number, nodes, tags in ways:
        writer.add_way(mutable.Way(id=number, nodes=list(nodes), tags=dict(tags), version=1))
    for number, members, tags in relations:
        writer.add_relation(mutable.Relation(id=number, members=list(members), tags=dict(tags), version=1))
    writer.close()
    return path
