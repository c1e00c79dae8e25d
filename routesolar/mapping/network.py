"""The roads of a map as a network: edges between vertices, which of them lie near places, ways between."""

from collections.abc import Mapping
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from routesolar.physics.geodesy import metres_per_degree
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.map_tags import DRIVABLE
from routesolar.trip.mapped import MapFeatures, Tags

CELL_M = 60.0  # a place's candidates lie in its own cell of the network or in one of the eight around
OFTEN_M = 250.0  # ways this long are asked for again and again


class Way(NamedTuple):
    """One road of the map: its tags, its vertices by number and place, and the metres to each."""

    tags: Tags
    node: IntArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    along_m: FloatArray


class Edges(NamedTuple):
    """All e pieces of road between two vertices: the way, the vertex they start from, and both ends."""

    way: IntArray
    vertex: IntArray
    start_lat: FloatArray
    start_lon: FloatArray
    end_lat: FloatArray
    end_lon: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """Roads and their edges; which vertices lie beside each, where each lies, and the road between two.

    `known` holds the ways found so far, by where they start.
    """

    ways: tuple[Way, ...]
    edges: Edges
    beside: Mapping[int, list[tuple[int, float]]]
    places: Mapping[int, tuple[float, float]]
    between: Mapping[tuple[int, int], int]
    known: dict[int, dict[int, tuple[float, int]]]

    @classmethod
    def of(cls, features: MapFeatures) -> "Network":
        """Return the network of the roads on a map."""
        ways = []
        for feature in features:
            if feature.shape == "line" and feature.tags.get("highway") in DRIVABLE:
                lat, lon, node = feature.rings[0]
                moved = np.append(True, (np.diff(lat) != 0) | (np.diff(lon) != 0))
                if moved.sum() > 1:
                    ways.append(_way(feature.tags, lat[moved], lon[moved], node[moved]))
        beside: dict[int, list[tuple[int, float]]] = {}
        places: dict[int, tuple[float, float]] = {}
        between: dict[tuple[int, int], int] = {}
        for number, way in enumerate(ways):
            apart_m, nodes = np.diff(way.along_m).tolist(), way.node.tolist()
            places.update(
                zip(nodes, zip(way.latitude_deg.tolist(), way.longitude_deg.tolist(), strict=True), strict=True)
            )
            for one, other, metres in zip(nodes, nodes[1:], apart_m, strict=False):
                for pair in ((one, other), (other, one)):
                    beside.setdefault(pair[0], []).append((pair[1], metres))
                    between[pair] = number
        return cls(tuple(ways), _edges(ways), beside, places, between, {})

    def between_ways(self, vertices: list[int]) -> list[int]:
        """Return the road between each of these vertices and the next."""
        return [self.between[pair] for pair in pairwise(vertices)]

    def along_m(self, number: int, vertex: int, near_m: float) -> float:
        """Return how far along a road a vertex of it lies; of several, closest to a place on it."""
        way = self.ways[number]
        places = way.along_m[way.node == vertex]
        return float(places[np.argmin(np.abs(places - near_m))]) if len(places) else near_m

    def reached(self, start: int, within_m: float) -> dict[int, tuple[float, int]]:
        """Return the vertices within a distance of one along roads: how far, and the vertex before.

        Dijkstra (1959), Numerische Mathematik 1:269.
        """
        if within_m <= OFTEN_M and start in self.known:
            return self.known[start]
        most_m = max(within_m, OFTEN_M)
        done: dict[int, tuple[float, int]] = {}
        heap = [(0.0, start, start)]
        while heap:
            metres, vertex, before = heappop(heap)
            if vertex in done:
                continue
            done[vertex] = metres, before
            for other, apart_m in self.beside[vertex]:
                if other not in done and metres + apart_m <= most_m:
                    heappush(heap, (metres + apart_m, other, vertex))
        if most_m == OFTEN_M:
            self.known[start] = done
        return done


def _way(tags: Tags, lat: FloatArray, lon: FloatArray, node: IntArray) -> Way:
    north, east = metres_per_degree((lat[:-1] + lat[1:]) / 2)
    apart_lon = (np.diff(lon) + 180.0) % 360.0 - 180.0
    along_m = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(lat) * north, apart_lon * east))])
    return Way(tags, node, lat, lon, along_m)


def _edges(ways: list[Way]) -> Edges:
    counts = [len(way.node) - 1 for way in ways]
    nothing = np.zeros(0)

    def joined(name: str, part: slice) -> FloatArray:
        return np.concatenate([nothing, *(getattr(way, name)[part] for way in ways)])

    return Edges(
        np.repeat(np.arange(len(ways)), counts).astype(np.int64),
        np.concatenate([np.zeros(0, np.int64), *(np.arange(count) for count in counts)]).astype(np.int64),
        joined("latitude_deg", slice(None, -1)),
        joined("longitude_deg", slice(None, -1)),
        joined("latitude_deg", slice(1, None)),
        joined("longitude_deg", slice(1, None)),
    )


class NearEdges(NamedTuple):
    """Pairs of a place and an edge near it: numbers of both, metres apart, and where on the edge that is."""

    place: IntArray
    edge: IntArray
    apart_m: FloatArray
    share: FloatArray
    heading_deg: FloatArray


def edges_near(edges: Edges, lat: FloatArray, lon: FloatArray, within_m: float) -> NearEdges:
    """Return the edges within a distance, of a cell at most, of each place; headings are those of the edges."""
    if not len(edges.way) or not len(lat):
        nobody = np.zeros(0, np.int64)
        return NearEdges(nobody, nobody, np.zeros(0), np.zeros(0), np.zeros(0))
    north, east = (float(scale) for scale in metres_per_degree(float(np.clip(np.median(lat), -85, 85))))
    cell_lat, cell_lon = CELL_M / north, CELL_M / east * 1.5  # a route may run far from its middle latitude
    place, edge = _pairs(edges, lat, lon, cell_lat, cell_lon)
    north_m, east_m = metres_per_degree(lat[place])
    x0, x1 = (
        ((ends[edge] - lon[place] + 180.0) % 360.0 - 180.0) * east_m
        for ends in (edges.start_lon, edges.end_lon)
    )
    y0, y1 = ((ends[edge] - lat[place]) * north_m for ends in (edges.start_lat, edges.end_lat))
    across, up = x1 - x0, y1 - y0
    squared = np.maximum(across * across + up * up, 1e-9)
    share = np.clip(-(x0 * across + y0 * up) / squared, 0.0, 1.0)
    apart_m = np.hypot(x0 + share * across, y0 + share * up)
    close = apart_m <= within_m
    heading = np.degrees(np.arctan2(across, up)) % 360.0
    return NearEdges(place[close], edge[close], apart_m[close], share[close], heading[close])


def _pairs(
    edges: Edges, lat: FloatArray, lon: FloatArray, cell_lat: float, cell_lon: float
) -> tuple[IntArray, IntArray]:
    """Return pairs of places and edges in neighbouring cells, each once."""
    wide = int(360.0 / cell_lon) + 3
    apart_lon = (edges.end_lon - edges.start_lon + 180.0) % 360.0 - 180.0
    parts = np.maximum(
        np.maximum(abs(edges.end_lat - edges.start_lat) / cell_lat, abs(apart_lon) / cell_lon) * 2, 1
    )
    parts = np.ceil(parts).astype(np.int64)
    edge = np.repeat(np.arange(len(parts)), parts + 1)
    step = np.arange(len(edge)) - np.repeat(np.cumsum(parts + 1) - parts - 1, parts + 1)
    share = step / parts[edge]
    row = np.floor((edges.start_lat[edge] + share * (edges.end_lat - edges.start_lat)[edge]) / cell_lat)
    column = np.floor(((edges.start_lon[edge] + share * apart_lon[edge]) % 360.0) / cell_lon)
    key = (row * wide + column).astype(np.int64)
    order = np.argsort(key, kind="stable")
    key, edge = key[order], edge[order]
    own_row, own_column = np.floor(lat / cell_lat), np.floor((lon % 360.0) / cell_lon)
    places, found = [], []
    for down in (-1, 0, 1):
        for across in (-1, 0, 1):
            wanted = ((own_row + down) * wide + own_column + across).astype(np.int64)
            first, after = np.searchsorted(key, wanted), np.searchsorted(key, wanted, side="right")
            count = after - first
            places.append(np.repeat(np.arange(len(lat)), count))
            inside = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
            found.append(edge[np.repeat(first, count) + inside])
    pairs = np.unique(np.concatenate(places) * len(edges.way) + np.concatenate(found))
    return pairs // len(edges.way), pairs % len(edges.way)
