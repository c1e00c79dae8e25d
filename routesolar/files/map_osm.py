"""Open map data (.osm.pbf, .osm) near a route, read in a few passes over what each needs.

Relations and large areas come first, since a wood may lie around a route without a corner near it; then
points, of which only those near the route or on a large object are kept; then roads, houses and rows of
trees near the route. A general reader of the format was tried: objects handed over one by one cost it ten
times the time on a country.
"""

import zlib
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple
from xml.parsers.expat import ExpatError

import numpy as np

from routesolar.errors import InputError
from routesolar.files.map_columns import touching
from routesolar.files.map_near import Near
from routesolar.files.map_parts import MapParts, pbf_parts
from routesolar.files.map_rings import joined_rings
from routesolar.files.map_xml import xml_parts
from routesolar.files.reading import printable
from routesolar.limits import limit_of
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.map_tags import AREAS, BIG_ROADS, COASTS, LINES, PAUSES, POINTS, is_one_of, shape_of
from routesolar.trip.mapped import MapFeature

Tell = Callable[[str], None]
_BUILDING = (("building", ()),)
_A_LINE = 1  # kind of a relation's member


class _Outline(NamedTuple):
    number: int
    tags: dict[str, str]
    nodes: IntArray


class _Relation(NamedTuple):
    tags: dict[str, str]
    lines: list[int]


def read_osm(path: Path, near: Near, tell: Tell) -> tuple[list[MapFeature], Counter[str]]:
    """Return what lies near a route, and what was left out and how often.

    Raises:
        InputError: this is no map, it is damaged, or more of it lies around the route than is taken in.
    """
    faults: Counter[str] = Counter()
    try:
        tell("opening")
        source: MapParts = pbf_parts(path) if path.name.lower().endswith(".pbf") else xml_parts(path)
        tell("areas")
        relations = _relations(source, faults)
        wide, parts = _wide(source, {line for relation in relations for line in relation.lines})
        tell("points")
        places = _places(source, near, [*(line.nodes for line in wide), *parts.values()])
        tell("roads and houses")
        close = _close(source, places)
    except (ValueError, OSError, ExpatError, zlib.error, MemoryError) as error:
        raise InputError(
            f"{path}: this map cannot be read ({printable(str(error))}); download the extract again, or take a "
            "smaller one"
        ) from None
    features = list(places.points)
    for outline in (*wide, *close):
        features += _of_line(outline, outline.number in parts, places, near, faults)
    for relation in relations:
        features += _of_relation(relation, parts, places, near, faults)
    return features, +faults


def _relations(source: MapParts, faults: Counter[str]) -> list[_Relation]:
    """Return areas made of several lines, with their tags and the numbers of the lines."""
    found = []
    for part in source.parts("r"):
        for row in np.intersect1d(
            part.of_kinds((("type", ("multipolygon",)),)), part.of_kinds((*AREAS, *_BUILDING))
        ).tolist():
            tags = part.tags(row)
            if shape_of(tags, closed=True) == "area":
                is_line = part.types(row) == _A_LINE
                faults["members of areas that are no lines"] += int((~is_line).sum())
                found.append(_Relation(tags, part.members(row)[is_line].tolist()))
    return found


def _wide(source: MapParts, members: set[int]) -> tuple[list[_Outline], dict[int, IntArray]]:
    """Return the lines of woods, water, coasts and large roads anywhere; and those that others are made of."""
    wide: list[_Outline] = []
    parts: dict[int, IntArray] = {}
    count = 0
    wanted = np.array(sorted(members), dtype=np.int64)
    for part in source.parts("w"):
        number = part.columns.number
        for row in np.flatnonzero(np.isin(number, wanted)).tolist():
            parts[int(number[row])] = part.members(row).copy()
            count += len(parts[int(number[row])])
        for row in part.of_kinds((*AREAS, *BIG_ROADS, *COASTS)).tolist():
            nodes = part.members(row)
            tags = part.tags(row)
            if len(nodes) >= 2 and tags.get("building", "no") == "no":
                wide.append(_Outline(int(number[row]), tags, nodes.copy()))
                count += len(nodes)
        if count > limit_of("map outlines"):
            raise ValueError(f"its woods and waters have more than {limit_of('map outlines'):,} corners")
    return wide, parts


class _Places(NamedTuple):
    """Where points lie: sorted numbers, latitudes and longitudes; those near the route; and trees and towns."""

    number: IntArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    near: IntArray
    points: list[MapFeature]

    def of(self, nodes: IntArray) -> tuple[FloatArray, FloatArray, IntArray]:
        """Return latitudes, longitudes and numbers of those points that are known."""
        known, at = _found_in(self.number, nodes)
        return self.latitude_deg[at], self.longitude_deg[at], nodes[known]


def _found_in(numbers: IntArray, wanted: IntArray) -> tuple[IntArray, IntArray]:
    """Return which of some numbers are among sorted ones, and where these lie."""
    if not len(numbers):
        nobody = np.zeros(0, np.int64)
        return nobody, nobody
    at = np.minimum(np.searchsorted(numbers, wanted), len(numbers) - 1)
    known = np.flatnonzero(numbers[at] == wanted)
    return known, at[known]


def _places(source: MapParts, near: Near, wanted: list[IntArray]) -> _Places:
    corners = np.concatenate([np.zeros(0, np.int64), *wanted])
    corners.sort()  # may hold a number twice, which does not matter
    kept: list[tuple[IntArray, FloatArray, FloatArray]] = []
    close: list[IntArray] = []
    points: list[MapFeature] = []
    count = 0
    for part in source.parts("n"):
        here = np.flatnonzero(near.may_matter(part.latitude_deg, part.longitude_deg))
        number, lat, lon = part.columns.number[here], part.latitude_deg[here], part.longitude_deg[here]
        is_near = near.holds(lat, lon)
        close.append(number[is_near])
        count += int(is_near.sum())
        if count > limit_of("map points"):
            raise ValueError(f"more than {limit_of('map points'):,} of its points lie near the route")
        is_wanted = is_near.copy()
        is_wanted[_found_in(corners, number)[0]] = True
        kept.append((number[is_wanted], lat[is_wanted], lon[is_wanted]))
        for row in np.intersect1d(part.of_kinds(POINTS), here).tolist():
            _add_point(
                part.tags(row),
                int(part.columns.number[row]),
                part.latitude_deg[row],
                part.longitude_deg[row],
                near,
                points,
            )
    nothing = np.zeros(0)
    numbers = np.concatenate([np.zeros(0, np.int64), *(each[0] for each in kept)])
    first = np.unique(numbers, return_index=True)[1]
    return _Places(
        numbers[first],
        np.concatenate([nothing, *(each[1] for each in kept)])[first],
        np.concatenate([nothing, *(each[2] for each in kept)])[first],
        np.unique(np.concatenate([np.zeros(0, np.int64), *close])),
        points,
    )


def _add_point(
    tags: dict[str, str],
    number: int,
    latitude_deg: float,
    longitude_deg: float,
    near: Near,
    points: list[MapFeature],
) -> None:
    lat, lon = np.array([latitude_deg]), np.array([longitude_deg])
    wanted = near.reaches(lat, lon) if "place" in tags else near.holds(lat, lon)[0]
    if wanted:
        points.append(MapFeature("point", tags, ((lat, lon, np.array([number], dtype=np.int64)),)))


def _close(source: MapParts, places: _Places) -> list[_Outline]:
    """Return roads, houses, rows of trees and places to pause with a corner near the route, if not wide."""
    kept = []
    for part in source.parts("w"):
        rows = part.of_kinds((*LINES, *PAUSES, *_BUILDING))
        rows = rows[touching(part.columns.first_member, part.columns.member, rows, places.near)]
        for row in rows.tolist():
            tags = part.tags(row)
            is_house = tags.get("building", "no") != "no"
            is_line = is_one_of(tags, (*LINES, *PAUSES))
            if is_house or (is_line and not is_one_of(tags, (*AREAS, *BIG_ROADS, *COASTS))):
                kept.append(_Outline(int(part.columns.number[row]), tags, part.members(row).copy()))
    return kept


def _of_line(
    outline: _Outline, is_part: bool, places: _Places, near: Near, faults: Counter[str]
) -> list[MapFeature]:
    closed = len(outline.nodes) > 3 and outline.nodes[0] == outline.nodes[-1]
    shape = shape_of(outline.tags, closed=closed)
    ring = places.of(outline.nodes)
    if not shape:  # tagged like an area, but open: a part of one, as it should be, or a fault
        faults["areas whose outline is open"] += not is_part and len(ring[0]) > 1 and near.reaches(*ring[:2])
        return []
    missing = shape == "area" and len(ring[0]) < len(outline.nodes)
    if shape == "area" and closed and len(ring[0]) > 1 and ring[2][0] == ring[2][-1]:
        ring = ring[0][:-1], ring[1][:-1], ring[2][:-1]
    if len(ring[0]) < (3 if shape == "area" else 2) or not near.reaches(*ring[:2]):
        return []
    faults["areas with missing corners"] += missing
    return [MapFeature(shape, outline.tags, (ring,))]


def _of_relation(
    relation: _Relation, parts: dict[int, IntArray], places: _Places, near: Near, faults: Counter[str]
) -> list[MapFeature]:
    present = [parts[line] for line in relation.lines if line in parts]
    outlines, loose = joined_rings(present)
    rings = [(places.of(outline), len(outline)) for outline in outlines]
    whole = [ring for ring, _ in rings if len(ring[0]) >= 3]
    if not whole or not near.reaches(*(np.concatenate([ring[k] for ring in whole]) for k in (0, 1))):
        return []
    if loose or len(present) < len(relation.lines):
        faults["areas with missing parts"] += 1
    if any(len(ring[0]) < corners for ring, corners in rings):
        faults["areas with missing corners"] += 1
    return [MapFeature("area", relation.tags, tuple(whole))]
