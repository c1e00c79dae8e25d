"""Open map data (.osm.pbf, .osm) near a route, read in a few passes over what each needs.

Relations and large areas come first, since a wood may lie around a route without a corner near it; then points, of
which only those near the route or on a large object are kept; then roads, houses and rows of trees near the route.
"""

import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from routesolar.errors import InputError
from routesolar.files.map_blobs import Blocks, blocks_of
from routesolar.files.map_near import Near
from routesolar.files.map_rings import joined_rings
from routesolar.files.reading import printable
from routesolar.limits import limit_of
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.map_tags import AREAS, BIG_ROADS, LINES, POINTS, is_one_of, known_tags, shape_of
from routesolar.trip.mapped import MapFeature

_RECORD = np.dtype([("id", "<u8"), ("x", "<i4"), ("y", "<i4")])
_UNITS_PER_DEG = 1e7
Tell = Callable[[str], None]


class _Outline(NamedTuple):
    number: int
    tags: dict[str, str]
    nodes: IntArray


class _Source(NamedTuple):
    """A file as its parts that may hold one kind of object, each something that the library opens."""

    parts: Callable[[str], Iterator[Any]]


def read_osm(path: Path, near: Near, tell: Tell) -> tuple[list[MapFeature], Counter[str]]:
    """Return what lies near a route, and what was left out and how often.

    Raises:
        InputError: this is no map, it is damaged, or more of it lies around the route than is taken in.
    """
    faults: Counter[str] = Counter()
    try:
        source = _source(path)
        tell("areas")
        relations, members = _relations(source, faults)
        wide = _wide(source)
        parts = _member_lines(source, members)
        tell("points")
        wanted = [line.nodes for line in wide] + list(parts.values())
        places = _places(source, near, wanted, path)
        tell("roads and houses")
        close = _close(source, places, near)
    except (RuntimeError, ValueError, OSError, UnicodeError) as error:
        raise InputError(f"{path}: this map cannot be read ({printable(str(error))}); download it again") from None
    features = list(places.points)
    for outline in (*wide, *close):
        features += _of_line(outline, outline.number in parts, places, near, faults)
    for relation in relations:
        features += _of_relation(relation, parts, places, near, faults)
    return features, +faults


def _source(path: Path) -> _Source:
    import osmium

    if path.name.lower().endswith(".pbf"):
        blocks: Blocks = blocks_of(path, _first_kind, _is_sorted)

        def parts(kind: str) -> Iterator[Any]:
            for part in blocks.parts(kind):
                yield osmium.io.FileBuffer(part, "pbf")

        return _Source(parts)
    return _Source(lambda kind: iter((osmium.io.File(str(path), "osm"),)))


def _first_kind(content: bytes) -> str | None:
    import osmium

    for thing in osmium.FileProcessor(osmium.io.FileBuffer(content, "pbf")):
        return "n" if thing.is_node() else "w" if thing.is_way() else "r" if thing.is_relation() else None
    return None


def _is_sorted(head: bytes) -> bool:
    return b"Sort.Type_then_ID" in head  # told in the clear where the head is stored as it is


def _each(source: _Source, kind: str, *filters: Any) -> Iterator[Any]:
    import osmium
    from osmium import osm

    entity = {"n": osm.NODE, "w": osm.WAY, "r": osm.RELATION}[kind]
    for part in source.parts(kind):
        processor = osmium.FileProcessor(part, entity)
        for one in filters:
            processor.with_filter(one)
        yield from processor


def _relations(
    source: _Source, faults: Counter[str]
) -> tuple[list[tuple[dict[str, str], list[int]]], set[int]]:
    """Return areas made of several lines, with their tags and the numbers of the lines; and all such numbers."""
    from osmium.filter import KeyFilter, TagFilter

    found, members = [], set()
    keys = KeyFilter(*dict(AREAS), "building")
    for relation in _each(source, "r", TagFilter(("type", "multipolygon")), keys):
        tags = known_tags(relation.tags)
        if shape_of(tags, closed=True) != "area":
            continue
        lines = [member.ref for member in relation.members if member.type == "w"]
        if len(lines) < len(relation.members):
            faults["members of areas that are no lines"] += len(relation.members) - len(lines)
        found.append((tags, lines))
        members.update(lines)
    return found, members


def _wide(source: _Source) -> list[_Outline]:
    """Return the lines of woods, water and large roads anywhere on the map."""
    from osmium.filter import TagFilter

    pairs = [(key, value) for key, values in (*AREAS, *BIG_ROADS) for value in values]
    kept = []
    count = 0
    for way in _each(source, "w", TagFilter(*pairs)):
        tags = known_tags(way.tags)
        nodes = np.array([node.ref for node in way.nodes], dtype=np.int64)
        count += len(nodes)
        if count > limit_of("map outlines"):
            raise ValueError(f"its woods and waters have more than {limit_of('map outlines'):,} corners")
        if len(nodes) >= 2 and tags.get("building", "no") == "no":
            kept.append(_Outline(way.id, tags, nodes))
    return kept


def _member_lines(source: _Source, members: set[int]) -> dict[int, IntArray]:
    # The library's own filter by number takes memory by the largest number, not by how many there are.
    return {
        way.id: np.array([node.ref for node in way.nodes], dtype=np.int64)
        for way in (_each(source, "w") if members else ())
        if way.id in members
    }


class _Places(NamedTuple):
    """Where points lie: sorted numbers, latitudes and longitudes; those near the route; and trees and towns."""

    number: IntArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    near: frozenset[int]
    points: list[MapFeature]

    def of(self, nodes: IntArray) -> tuple[FloatArray, FloatArray, IntArray]:
        """Return latitudes, longitudes and numbers of those points that are known."""
        at = np.clip(np.searchsorted(self.number, nodes), 0, max(len(self.number) - 1, 0))
        known = self.number[at] == nodes if len(self.number) else np.zeros(len(nodes), dtype=bool)
        at = at[known]
        return self.latitude_deg[at], self.longitude_deg[at], nodes[known]


def _places(source: _Source, near: Near, wanted: list[IntArray], path: Path) -> _Places:
    numbers = np.unique(np.concatenate([np.zeros(0, np.int64), *wanted]))
    found: list[Any] = []
    points: list[MapFeature] = []
    close: list[IntArray] = []
    for part in source.parts("n"):
        nodes = _located(part, points, near)
        nodes = nodes[near.may_matter(nodes["y"], nodes["x"], _UNITS_PER_DEG)]
        is_close = near.holds(nodes["y"] / _UNITS_PER_DEG, nodes["x"] / _UNITS_PER_DEG)
        number = nodes["id"].astype(np.int64)
        at = np.clip(np.searchsorted(numbers, number), 0, max(len(numbers) - 1, 0))
        is_wanted = numbers[at] == number if len(numbers) else np.zeros(len(number), dtype=bool)
        close.append(number[is_close])
        found.append(nodes[is_close | is_wanted])
        if sum(map(len, close)) > limit_of("map points"):
            raise InputError(
                f"{path}: more than {limit_of('map points'):,} points of the map lie near the route; give a "
                "shorter route"
            )
    kept = np.concatenate([np.zeros(0, _RECORD), *found])
    kept = kept[np.unique(kept["id"], return_index=True)[1]]
    return _Places(
        kept["id"].astype(np.int64),
        kept["y"] / _UNITS_PER_DEG,
        kept["x"] / _UNITS_PER_DEG,
        frozenset(np.concatenate([np.zeros(0, np.int64), *close]).tolist()),
        points,
    )


def _located(part: Any, points: list[MapFeature], near: Near) -> Any:
    """Return number and position of every point of a part; trees and towns among them are added to `points`.

    The library's index of positions goes through a file, since that can be read as one array.
    """
    import osmium
    from osmium import osm

    class Marked(osmium.SimpleHandler):  # type: ignore[misc]
        def node(self, node: Any) -> None:
            place = node.location
            if place.valid() and near.may_be_at(place.lat, place.lon):
                _add_point(node, points, near)

    with tempfile.TemporaryDirectory(prefix="routesolar-") as folder:
        kept = Path(folder) / "points"
        index = osmium.index.create_map(f"sparse_file_array,{kept}")
        reader = osmium.io.Reader(part, osm.NODE)
        pairs = [(key, value) for key, values in POINTS for value in values]
        osmium.apply(reader, osmium.NodeLocationsForWays(index), osmium.filter.TagFilter(*pairs), Marked())
        reader.close()
        nodes = np.fromfile(kept, dtype=_RECORD)
    return nodes[nodes["id"] > 0]


def _add_point(node: Any, points: list[MapFeature], near: Near) -> None:
    tags = known_tags(node.tags)
    lat, lon = np.array([node.location.lat]), np.array([node.location.lon])
    wanted = near.reaches(lat, lon) if "place" in tags else near.holds(lat, lon)[0]
    if wanted:
        points.append(MapFeature("point", tags, ((lat, lon, np.array([node.id], dtype=np.int64)),)))


def _close(source: _Source, places: _Places, near: Near) -> list[_Outline]:
    """Return roads, houses and rows of trees with a corner near the route, as far as they are not wide."""
    from osmium.filter import KeyFilter

    kept = []
    for way in _each(source, "w", KeyFilter(*dict(LINES), "building")):
        if not _touches(way, places.near):
            continue
        tags = known_tags(way.tags)
        is_house = tags.get("building", "no") != "no"
        if not is_house and (not is_one_of(tags, LINES) or is_one_of(tags, (*AREAS, *BIG_ROADS))):
            continue
        kept.append(_Outline(way.id, tags, np.array([node.ref for node in way.nodes], dtype=np.int64)))
    return kept


def _touches(way: Any, near: frozenset[int]) -> bool:
    """Return whether a line comes near the route: of a house, whether its first corner lies there."""
    nodes = way.nodes
    if len(nodes) and nodes[0].ref in near:
        return True
    return "building" not in way.tags and any(node.ref in near for node in nodes)


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
    if shape == "area" and closed:
        ring = tuple(values[:-1] if len(values) > 1 else values for values in ring)
    if len(ring[0]) < (3 if shape == "area" else 2) or not near.reaches(*ring[:2]):
        return []
    faults["areas with missing corners"] += missing
    return [MapFeature(shape, outline.tags, (ring,))]


def _of_relation(
    relation: tuple[dict[str, str], list[int]],
    parts: dict[int, IntArray],
    places: _Places,
    near: Near,
    faults: Counter[str],
) -> list[MapFeature]:
    tags, lines = relation
    present = [parts[line] for line in lines if line in parts]
    outlines, loose = joined_rings(present)
    rings = [places.of(outline) for outline in outlines]
    rings = [ring for ring in rings if len(ring[0]) >= 3]
    if not rings or not near.reaches(*(np.concatenate([ring[k] for ring in rings]) for k in (0, 1))):
        return []
    if loose or len(present) < len(lines):
        faults["areas with missing parts"] += 1
    if any(len(ring[0]) < len(outline) for ring, outline in zip(rings, outlines, strict=False)):
        faults["areas with missing corners"] += 1
    return [MapFeature("area", tags, tuple(rings))]
