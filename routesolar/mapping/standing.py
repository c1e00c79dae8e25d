"""What a map shows beside roads, as nouns: woods, single trees, rows of trees, and buildings.

Where tags are silent, usual values hold. Woods: 22 m and 80 % of the ground under crowns at temperate
latitudes, 15 m and 60 % beyond 60 degrees, 25 m and 85 % within the tropics, after world maps of canopy
height and cover (Potapov et al. 2021, Remote Sensing of Environment 253:112165; Hansen et al. 2013, Science
342:850; rounded, from memory). Orchards: 4 m and 40 %. Single trees: 10 m, in rows 12 m, crowns .6 as wide
(street trees of McPherson et al. 2016, Urban Tree Database, from memory). Buildings: 3 m a storey, and
storeys by kind (common practice, no source).
"""

from collections import Counter
from collections.abc import Sequence
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from routesolar.mapping.tag_values import count_of, length_m
from routesolar.physics.geodesy import distance_m, wrap_longitude_deg
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.map_tags import WOODS, is_one_of
from routesolar.trip.mapped import MapFeature, MapFeatures, Tags
from routesolar.trip.standing import Buildings, StandingCrowns, Woods

STOREY_M, ROOF_M = 3.0, 2.0
LOWEST_M = 2.0  # what stands lower than a roof with its panel shades nothing
TREE_M, ROW_TREE_M, CROWN_FRAC = 10.0, 12.0, 0.6
TALLEST_TREE_M, WIDEST_CROWN_M, TALLEST_HOUSE_M, MOST_STOREYS = 100.0, 40.0, 900.0, 200.0
MOST_IN_ROW = 5000
_STOREYS = MappingProxyType(
    {
        **dict.fromkeys(("garage", "garages", "shed", "hut", "kiosk", "greenhouse", "toilets", "service"), 1.0),
        **dict.fromkeys(("bungalow", "farm_auxiliary", "static_caravan", "cabin"), 1.5),
        **dict.fromkeys(("apartments", "hotel", "office", "hospital", "dormitory"), 4.0),
        **dict.fromkeys(("commercial", "industrial", "warehouse", "school", "public", "civic", "retail"), 3.0),
        **dict.fromkeys(("church", "cathedral", "chapel", "mosque", "temple", "castle", "tower"), 5.0),
    }
)
_USUAL_STOREYS = 2.0
_NOT_STANDING = ("no", "roof", "carport", "canopy", "ruins", "construction", "proposed", "demolished")


class MapStands(NamedTuple):
    """What stands beside a route as a map shows it, and what of its tags made no sense and how often."""

    woods: Woods
    crowns: StandingCrowns
    buildings: Buildings
    faults: tuple[tuple[str, int], ...]


class _Usual(NamedTuple):
    """A wood's cover and height."""

    cover_frac: float
    height_m: float


def stands_of(features: MapFeatures) -> MapStands:
    """Return the woods, single trees and buildings of a map."""
    faults: Counter[str] = Counter()
    woods: list[tuple[MapFeature, tuple[float, float, float]]] = []
    houses: list[tuple[MapFeature, float]] = []
    crowns: list[FloatArray] = []
    for feature in features:
        if feature.shape == "area" and feature.tags.get("building", "no") not in _NOT_STANDING:
            height_m = _house_m(feature.tags, faults)
            if height_m >= LOWEST_M:
                houses.append((feature, height_m))
        elif feature.shape == "area" and is_one_of(feature.tags, WOODS):
            wood = _wood(feature, faults)
            if wood[1] >= LOWEST_M:
                woods.append((feature, wood))
        elif feature.tags.get("natural") in ("tree", "tree_row") or feature.tags.get("barrier") == "hedge":
            crowns.append(_crowns(feature, faults))
    return MapStands(_woods(woods), _standing(crowns), _buildings(houses), tuple(sorted(faults.items())))


def _wood(feature: MapFeature, faults: Counter[str]) -> tuple[float, float, float]:
    """Return a wood's cover, height and share of evergreen trees."""
    usual = _usual_wood(feature.tags, float(abs(feature.rings[0][0][0])))
    tall_m = length_m(feature.tags, "height", 0.5, TALLEST_TREE_M, faults)
    cover_pct = count_of(feature.tags, "canopy_cover_pct", 0.0, 100.0, faults)
    return (
        usual.cover_frac if cover_pct is None else cover_pct / 100.0,
        usual.height_m if tall_m is None else tall_m,
        _evergreen_frac(feature.tags),
    )


def _usual_wood(tags: Tags, latitude_deg: float) -> _Usual:
    kind = tags.get("landuse")
    if kind == "orchard":
        return _Usual(0.40, 4.0)
    if kind == "vineyard":
        return _Usual(0.30, 1.8)
    if latitude_deg > 60.0:
        return _Usual(0.60, 15.0)
    return _Usual(0.85, 25.0) if latitude_deg < 23.5 else _Usual(0.80, 22.0)


def _evergreen_frac(tags: Tags) -> float:
    """Return the share of trees that keep their leaves; NaN where the map says nothing of that."""
    by_cycle = {"evergreen": 1.0, "deciduous": 0.0, "semi_evergreen": 1.0, "semi_deciduous": 0.0, "mixed": 0.5}
    by_type = {"needleleaved": 1.0, "broadleaved": 0.0, "mixed": 0.5}
    return by_cycle.get(tags.get("leaf_cycle", ""), by_type.get(tags.get("leaf_type", ""), np.nan))


def _house_m(tags: Tags, faults: Counter[str]) -> float:
    """Return a building's height; 0 for what is not above ground, or only above a passage."""
    if tags.get("location") == "underground":
        return 0.0
    if (length_m(tags, "min_height", -100.0, TALLEST_HOUSE_M, faults) or 0.0) > LOWEST_M:
        return 0.0
    height_m = length_m(tags, "height", 0.5, TALLEST_HOUSE_M, faults)
    if height_m is not None:
        return height_m
    storeys = count_of(tags, "building:levels", 0.0, MOST_STOREYS, faults)
    if storeys is None:
        return STOREY_M * _STOREYS.get(tags["building"], _USUAL_STOREYS)
    roof = count_of(tags, "roof:levels", 0.0, 10.0, faults) or 0.0
    return STOREY_M * storeys + ROOF_M * min(roof, 2.0)


def _crowns(feature: MapFeature, faults: Counter[str]) -> FloatArray:
    """Return trees of a point or row: latitude, longitude, height, crown's width, evergreen share, (c, 5)."""
    tags, (lat, lon, _) = feature.tags, feature.rings[0]
    hedge = tags.get("barrier") == "hedge"
    tall_m = length_m(tags, "height", 0.5, TALLEST_TREE_M, faults)
    wide_m = length_m(tags, "diameter_crown", 0.5, WIDEST_CROWN_M, faults)
    if hedge and (tall_m or 0.0) < LOWEST_M:
        return np.zeros((0, 5))
    usual_m = ROW_TREE_M if feature.shape == "line" else TREE_M
    if tall_m is None:
        tall_m = usual_m if wide_m is None else min(wide_m / CROWN_FRAC, TALLEST_TREE_M)
    if wide_m is None:
        wide_m = 2.0 if hedge else min(max(CROWN_FRAC * tall_m, 1.0), WIDEST_CROWN_M)
    if tall_m < LOWEST_M:
        return np.zeros((0, 5))
    if feature.shape == "line":
        lat, lon = _spaced(lat, lon, wide_m)
    same = np.full((len(lat), 3), [tall_m, wide_m, _evergreen_frac(tags)])
    return np.concatenate([np.stack([lat, lon], axis=1), same], axis=1)


def _spaced(lat: FloatArray, lon: FloatArray, apart_m: float) -> tuple[FloatArray, FloatArray]:
    """Return places along a line, a crown's width apart, so that crowns touch."""
    lon = np.unwrap(lon, period=360.0)
    along_m = np.concatenate([[0.0], np.cumsum(distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:]))])
    count = int(min(along_m[-1] // apart_m + 1, MOST_IN_ROW))
    at_m = np.linspace(0.0, along_m[-1], count)
    return np.interp(at_m, along_m, lat), wrap_longitude_deg(np.interp(at_m, along_m, lon))


def _rings(features: Sequence[MapFeature]) -> tuple[FloatArray, FloatArray, IntArray, IntArray]:
    """Return the vertices of all rings, where each begins, and the feature it belongs to."""
    rings = [
        (ring, number) for number, feature in enumerate(features) for ring in feature.rings if len(ring[0]) > 2
    ]
    nothing = np.zeros(0)
    return (
        np.concatenate([nothing, *(ring[0] for ring, _ in rings)]),
        np.concatenate([nothing, *(ring[1] for ring, _ in rings)]),
        np.concatenate([[0], np.cumsum([len(ring[0]) for ring, _ in rings])]).astype(np.int64),
        np.array([number for _, number in rings], dtype=np.int64),
    )


def _woods(found: Sequence[tuple[MapFeature, tuple[float, float, float]]]) -> Woods:
    lat, lon, first, polygon = _rings([feature for feature, _ in found])
    cover, tall, evergreen = np.array([wood for _, wood in found], dtype=float).reshape(-1, 3).T
    return Woods(
        latitude_deg=lat,
        longitude_deg=lon,
        first=first,
        polygon=polygon,
        cover_frac=cover,
        height_m=tall,
        evergreen_frac=evergreen,
    )


def _buildings(found: Sequence[tuple[MapFeature, float]]) -> Buildings:
    lat, lon, first, owner = _rings([feature for feature, _ in found])
    height_m = np.array([height for _, height in found], dtype=float)
    return Buildings(latitude_deg=lat, longitude_deg=lon, first=first, height_m=height_m[owner])


def _standing(found: Sequence[FloatArray]) -> StandingCrowns:
    lat, lon, tall, wide, evergreen = np.concatenate([np.zeros((0, 5)), *found]).T
    return StandingCrowns(
        latitude_deg=lat, longitude_deg=lon, height_m=tall, crown_width_m=wide, evergreen_frac=evergreen
    )
