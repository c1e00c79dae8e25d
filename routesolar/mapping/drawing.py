"""What a map shows beneath a route on a page: water, coasts, large roads and towns, coarse and little of it."""

import numpy as np

from routesolar.physics.geodesy import metres_per_degree
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import Outlines, Town
from routesolar.trip.map_tags import COASTS, WATER, is_one_of
from routesolar.trip.mapped import MapFeature, MapFeatures

GOOD_TO_M = 12.0  # corners that change a line by less are left out
LEAST_WATER_M2 = 10_000.0
MOST_CORNERS = 12_000  # of lines and rings together: some 60 kB on a page
MOST_TOWNS = 40
_ROADS = ("motorway", "trunk", "primary", "secondary")
_TOWNS = ("city", "town", "village")


def outlines_of(features: MapFeatures) -> Outlines:
    """Return water, coasts, large roads and towns; of too many corners, the smallest of each are left out."""
    waters: list[tuple[float, FloatArray]] = []
    roads: list[tuple[float, FloatArray]] = []
    coasts: list[tuple[float, FloatArray]] = []
    towns: list[tuple[tuple[int, float], Town]] = []
    for feature in features:
        if feature.shape == "area" and is_one_of(feature.tags, WATER):
            rings = [_corners(feature, k) for k in range(len(feature.rings))]
            waters += [(_area_m2(ring), ring) for ring in rings if _area_m2(ring) >= LEAST_WATER_M2]
        elif feature.shape == "line" and is_one_of(feature.tags, COASTS):
            coast = _corners(feature, 0)
            coasts.append((float(np.ptp(coast, axis=0).max()), coast))
        elif feature.shape == "line" and feature.tags.get("highway") in _ROADS:
            road = _corners(feature, 0)
            roads.append((-float(_ROADS.index(feature.tags["highway"])), road))
        elif feature.tags.get("place") in _TOWNS and feature.tags.get("name", "").strip():
            lat, lon, _ = feature.rings[0]
            name = feature.tags["name"].strip()
            rank = _TOWNS.index(feature.tags["place"]), -_people(feature.tags.get("population", ""))
            towns.append((rank, Town(name=name, latitude_deg=float(lat[0]), longitude_deg=float(lon[0]))))
    towns.sort(key=lambda pair: pair[0])
    return Outlines(
        ponds=_largest(waters, MOST_CORNERS // 3),
        coasts=_largest(coasts, MOST_CORNERS // 3),
        roads=_largest(roads, MOST_CORNERS // 3),
        towns=tuple(town for _, town in towns[:MOST_TOWNS]),
        attribution=features.attribution,
    )


def _people(text: str) -> float:
    return float(text) if text.isdecimal() and len(text) < 10 else 0.0


def _largest(found: list[tuple[float, FloatArray]], corners: int) -> tuple[FloatArray, ...]:
    """Return the lines of the highest rank that together have no more corners than this."""
    kept = []
    for _, line in sorted(found, key=lambda pair: -pair[0]):
        corners -= len(line)
        if corners < 0:
            break
        kept.append(line)
    return tuple(kept)


def _corners(feature: MapFeature, k: int) -> FloatArray:
    """Return a line or ring without corners that hardly change it, (k, 2)."""
    lat, lon, _ = feature.rings[k]
    lon = np.unwrap(lon, period=360.0)
    if feature.shape == "area":
        lat, lon = np.append(lat, lat[0]), np.append(lon, lon[0])
    north, east = metres_per_degree(float(np.clip(lat.mean(), -89.0, 89.0)))
    kept = _simplified(np.stack([lon * east, lat * north], axis=1))
    return np.stack([lat[kept], lon[kept]], axis=1)


def _simplified(places: FloatArray) -> FloatArray:
    """Return which corners tell a line to within 12 m (Douglas & Peucker 1973, Cartographica 10:112)."""
    kept = np.zeros(len(places), dtype=bool)
    kept[[0, -1]] = True
    open_parts = [(0, len(places) - 1)]
    while open_parts:
        first, last = open_parts.pop()
        if last - first < 2:
            continue
        along = places[last] - places[first]
        apart = places[first + 1 : last] - places[first]
        length = float(np.hypot(*along))
        if length > 0:
            off = np.abs(along[0] * apart[:, 1] - along[1] * apart[:, 0]) / length
        else:
            off = np.hypot(apart[:, 0], apart[:, 1])
        worst = int(np.argmax(off))
        if off[worst] > GOOD_TO_M:
            kept[first + 1 + worst] = True
            open_parts += [(first, first + 1 + worst), (first + 1 + worst, last)]
    return kept


def _area_m2(ring: FloatArray) -> float:
    if len(ring) < 4:
        return 0.0
    north, east = metres_per_degree(float(np.clip(ring[:, 0].mean(), -89.0, 89.0)))
    y, x = (ring[:, 0] - ring[0, 0]) * north, (ring[:, 1] - ring[0, 1]) * east
    return float(abs(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))) / 2
