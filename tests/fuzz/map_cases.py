"""Small right maps of every format around the fuzzer's road, and wrong ones made of them."""

import json
import random
import re
import sqlite3
import struct
import tempfile
import zlib
from collections.abc import Callable, Sequence
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import Any

from map_worlds import box, write_map
from routes import straight

from routesolar.physics.geodesy import metres_per_degree

MAP_KINDS = ("pbf", "osm", "geojson", "gpkg")
Change = Callable[[bytes, random.Random], bytes]
_LAT, _LON = (float(value[0]) for value in straight([0.0]))
_NORTH_M, _EAST_M = (float(value) for value in metres_per_degree(_LAT))
# East and north in metres from where the road begins.
_PLACES = {
    **{1 + k: (400.0 * k, 0.0) for k in range(6)},
    **{20 + k: place for k, place in enumerate(box(150, 12, 12))},
    **{30 + k: place for k, place in enumerate(box(-3000, -3000, 7000))},
    **{40 + k: place for k, place in enumerate(box(900, -60, 50))},
    **{50 + k: (1250.0 + 20 * k, 9.0) for k in range(6)},
    60: (500.0, 9.0),
    61: (700.0, 60.0),
}
_POINTS = {
    60: {"natural": "tree", "height": "11", "diameter_crown": "6"},
    61: {"place": "town", "name": "Ford"},
}
_WAYS = [
    (101, [1, 2, 3], {"highway": "primary", "lanes": "2", "maxspeed": "72", "name": "by the river"}),
    (102, [3, 4], {"highway": "tertiary", "width": "6.5", "tunnel": "yes", "layer": "-1"}),
    (103, [4, 5, 6], {"highway": "unclassified", "bridge": "yes", "oneway": "yes", "maxspeed": "AU:rural"}),
    (104, [20, 21, 22, 23, 20], {"building": "yes", "building:levels": "3", "roof:levels": "1"}),
    (105, [30, 31, 32], {}),
    (106, [32, 33, 30], {}),
    (107, [40, 41, 42, 43, 40], {"natural": "water"}),
    (108, [50, 51, 52, 53, 54, 55], {"natural": "tree_row", "leaf_type": "needleleaved"}),
    (109, [40, 42], {"natural": "coastline"}),
]
_RELATIONS = [
    (
        201,
        [("w", 105, "outer"), ("w", 106, "outer"), ("w", 107, "inner")],
        {"type": "multipolygon", "natural": "wood", "height": "20", "leaf_cycle": "mixed"},
    )
]
_ODD = (
    b"narrow -1 0 1e9 12' 1e400 nan inf 99999999999999999 yes no none ; : 3;4 50_mph walk XX:rural AU: :urban "
    b"-0 0.0000001 \xd9\xa3 \xff multipolygon wood coastline building tree_row"
).split(b" ")


def _degrees(east_m: float, north_m: float) -> tuple[float, float]:
    return _LAT + north_m / _NORTH_M, _LON + east_m / _EAST_M


@cache
def right_map(kind: str) -> bytes:
    """Return the right map of a format."""
    if kind == "geojson":
        return json.dumps({"type": "FeatureCollection", "features": _features()}, indent=1).encode()
    with tempfile.TemporaryDirectory() as there:
        if kind == "gpkg":
            return _geopackage(Path(there) / "f.gpkg", [(_blob(_wood()), "forest", 21.0)])
        ending = {"pbf": ".osm.pbf", "osm": ".osm"}[kind]
        path = write_map(Path(there) / f"f{ending}", _PLACES, _WAYS, _RELATIONS, _POINTS, _degrees)
        return path.read_bytes()


def _ring(numbers: Sequence[int]) -> list[list[float]]:
    return [[_degrees(*_PLACES[n])[1], _degrees(*_PLACES[n])[0]] for n in numbers]


def _wood() -> list[list[float]]:
    return _ring([30, 31, 32, 33, 30])


def _features() -> list[dict[str, Any]]:
    made = [
        {
            "type": "Feature",
            "geometry": {
                "type": "Polygon" if nodes[0] == nodes[-1] else "LineString",
                "coordinates": [_ring(nodes)] if nodes[0] == nodes[-1] else _ring(nodes),
            },
            "properties": tags,
        }
        for _, nodes, tags in _WAYS
        if tags
    ]
    several = {"type": "MultiPolygon", "coordinates": [[_wood(), _ring([40, 41, 42, 43, 40])]]}
    made.append(
        {"type": "Feature", "geometry": several, "properties": {"landuse": "forest", "canopy_cover_pct": 70}}
    )
    tree = {"type": "Point", "coordinates": _ring([60])[0]}
    return [*made, {"type": "Feature", "geometry": tree, "properties": _POINTS[60]}]


def _blob(ring: Sequence[Sequence[float]]) -> bytes:
    places = b"".join(struct.pack("<dd", *place) for place in ring)
    head = b"GP\x00\x01" + struct.pack("<i", 4326)
    return head + struct.pack("<BIII", 1, 3, 1, len(ring)) + places


def _geopackage(path: Path, rows: Sequence[tuple[bytes, str, object]], code: object = 4326) -> bytes:
    with closing(sqlite3.connect(path)) as base:
        base.executescript(
            """create table gpkg_spatial_ref_sys (srs_id, organization, organization_coordsys_id);
            create table gpkg_geometry_columns (table_name, column_name, srs_id);
            insert into gpkg_geometry_columns values ('woods', 'geom', 1);
            create table woods (geom blob, landuse text, height real);"""
        )
        base.execute("insert into gpkg_spatial_ref_sys values (1, 'EPSG', ?)", (code,))
        base.executemany("insert into woods values (?, ?, ?)", rows)
        base.commit()
    return path.read_bytes()


def wrong_map(kind: str, chance: random.Random, change: Change) -> bytes:
    """Return a map with something wrong in it: its bytes, or what lies within their packing."""
    right = right_map(kind)
    if kind == "pbf" and chance.random() < 0.8:
        return _within_blocks(right, chance, change)
    if kind == "gpkg" and chance.random() < 0.7:
        return _odd_geopackage(chance, change)
    if kind in ("osm", "geojson") and chance.random() < 0.5:
        return _odd_values(right, chance)
    return change(right, chance)


def _odd_values(content: bytes, chance: random.Random) -> bytes:
    """Return text with a few of what stands in quotes or as numbers replaced."""
    for _ in range(chance.choice([1, 1, 2, 5])):
        found = list(re.finditer(rb'"[^"\n]{0,60}"|-?\d+(?:\.\d+)?', content))
        if not found:
            break
        one = chance.choice(found)
        odd = chance.choice(_ODD)
        content = content[: one.start()] + (b'"' + odd + b'"' if b'"' in one[0] else odd) + content[one.end() :]
    return content


def _odd_geopackage(chance: random.Random, change: Change) -> bytes:
    ring = [[chance.choice([lon, lon, 1e308, float("nan"), -200.0]), lat] for lon, lat in _wood()]
    blob = change(_blob(ring), chance)
    value = chance.choice([21.0, "tall", None, b"\x00\xff", 10**18, float("inf")])
    code = chance.choice([4326, 4326, 3857, 28355, -1, "x", None, 10**12])
    with tempfile.TemporaryDirectory() as there:
        return _geopackage(Path(there) / "f.gpkg", [(blob, "forest", value), (_blob(_wood()), "wood", 3)], code)


def _within_blocks(content: bytes, chance: random.Random, change: Change) -> bytes:
    """Return a map whose packing is whole and holds something wrong."""
    blocks = list(_blocks(content))
    at = chance.randrange(len(blocks))
    name, data = blocks[at]
    blocks[at] = name, change(data, chance)
    return b"".join(_packed(name, data, chance) for name, data in blocks)


def _blocks(content: bytes) -> list[tuple[bytes, bytes]]:
    """Return the blocks of a map from the reference library: names and what is packed in them."""
    found, place = [], 0
    while place < len(content):
        size = struct.unpack_from(">I", content, place)[0]
        head = content[place + 4 : place + 4 + size]
        name = head[2 : 2 + head[1]]
        length, _ = _number(head, 2 + head[1] + 1)
        body = content[place + 4 + size : place + 4 + size + length]
        packed = body[body.index(b"\x78") :]
        found.append((name, zlib.decompressobj().decompress(packed)))
        place += 4 + size + length
    return found


def _number(content: bytes, place: int) -> tuple[int, int]:
    value = shift = 0
    while content[place] > 127:
        value |= (content[place] & 127) << shift
        place, shift = place + 1, shift + 7
    return value | content[place] << shift, place + 1


def _written(value: int) -> bytes:
    made = bytearray()
    while value > 127:
        made.append(value & 127 | 128)
        value >>= 7
    return bytes([*made, value])


def _packed(name: bytes, data: bytes, chance: random.Random) -> bytes:
    if chance.random() < 0.5:
        body = b"\x0a" + _written(len(data)) + data
    else:
        small = zlib.compress(data)
        told = chance.choice([len(data), len(data), 0, 1 << 40])
        body = b"\x10" + _written(told) + b"\x1a" + _written(len(small)) + small
    head = b"\x0a" + _written(len(name)) + name + b"\x18" + _written(len(body))
    return struct.pack(">I", len(head)) + head + body
