"""Woods, buildings and roads near a route from GeoPackage (OGC 12-128); columns are named as tags."""

import sqlite3
import struct
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
from pyproj import Transformer
from pyproj.exceptions import ProjError

from routesolar.errors import InputError
from routesolar.files.map_geojson import Positions, features_of
from routesolar.files.map_near import Near
from routesolar.files.reading import printable
from routesolar.trip.arrays import FloatArray
from routesolar.trip.mapped import MapFeature

_ENVELOPE_BYTES = (0, 32, 48, 48, 64)
_DEEPEST = 4
# Tables alone: a view is a question, which may have no end.
_LAYERS = """select c.table_name, c.column_name, s.organization, s.organization_coordsys_id
    from gpkg_geometry_columns c join gpkg_spatial_ref_sys s on s.srs_id = c.srs_id
    join sqlite_master m on m.name = c.table_name
    where m.type = 'table' and m.sql not like 'create virtual%'"""


def read_geopackage(
    path: Path, near: Near, tell: Callable[[str], None]
) -> tuple[list[MapFeature], Counter[str]]:
    """Return what lies near a route, and what was left out and how often.

    Raises:
        InputError: this is no GeoPackage, or its positions are in a system that is not known.
    """
    found: list[MapFeature] = []
    faults: Counter[str] = Counter()
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True)) as base:
            base.execute("pragma trusted_schema = off")
            for table, column, organisation, code in base.execute(_LAYERS).fetchall():
                tell(printable(str(table)))
                degrees = _to_degrees(f"{organisation}:{code}".upper())
                for row in _rows(base, str(table)):
                    _take(row, str(column), degrees, near, found, faults)
    except (sqlite3.Error, ProjError, ValueError) as error:
        raise InputError(f"{path}: this GeoPackage cannot be read ({printable(str(error))})") from None
    return found, faults


def _rows(base: sqlite3.Connection, table: str) -> Iterator[dict[str, Any]]:
    quoted = table.replace('"', '""')
    rows = base.execute(f'select * from "{quoted}"')
    names = [column[0] for column in rows.description]
    for row in rows:
        yield dict(zip(names, row, strict=True))


def _take(
    row: dict[str, Any],
    column: str,
    degrees: Callable[[FloatArray], FloatArray],
    near: Near,
    found: list[MapFeature],
    faults: Counter[str],
) -> None:
    try:
        shapes = [(shape, [degrees(part) for part in parts]) for shape, parts in _blob(row.pop(column))]
    except (struct.error, IndexError, TypeError, KeyError, AttributeError):
        faults["objects without a shape on the map"] += 1
        return
    found += features_of(row, shapes, near, faults)


def _to_degrees(system: str) -> Callable[[FloatArray], FloatArray]:
    """Return what turns positions of a system into longitudes and latitudes, infinite where they are none."""
    if system == "EPSG:4326":
        return lambda part: part
    transformer = Transformer.from_crs(system, "EPSG:4326", always_xy=True)
    return lambda part: np.stack(transformer.transform(part[:, 0], part[:, 1]), axis=1)


def _blob(content: bytes) -> list[tuple[str, Positions]]:
    """Return the shapes of a GeoPackage's geometry: its own header, then well-known binary (OGC 06-103r4)."""
    if content[:2] != b"GP":
        raise TypeError
    header = 8 + _ENVELOPE_BYTES[(content[3] >> 1) & 7]
    shapes: list[tuple[str, Positions]] = []
    _geometry(content, header, shapes, 0)
    return shapes


def _geometry(content: bytes, place: int, shapes: list[tuple[str, Positions]], depth: int) -> int:
    """Add the shapes of the geometry at a place of the content; return the place after it."""
    order = "<" if content[place] == 1 else ">"
    code = struct.unpack_from(f"{order}I", content, place + 1)[0]
    dimensions = 2 + (code // 1000 in (1, 2, 3)) + (code // 1000 == 3)
    kind, place = code % 1000, place + 5
    if kind == 1:
        part, place = _points(content, place, order, 1, dimensions)
        shapes.append(("point", [part]))
        return place
    count, place = struct.unpack_from(f"{order}I", content, place)[0], place + 4
    if kind == 2:
        part, place = _points(content, place, order, count, dimensions)
        shapes.append(("line", [part]))
    elif kind == 3:
        rings = []
        for _ in range(count):
            corners, place = struct.unpack_from(f"{order}I", content, place)[0], place + 4
            part, place = _points(content, place, order, corners, dimensions)
            rings.append(part)
        shapes.append(("area", rings))
    elif kind in (4, 5, 6, 7) and depth < _DEEPEST:
        for _ in range(count):
            place = _geometry(content, place, shapes, depth + 1)
    else:
        raise TypeError
    return place


def _points(content: bytes, place: int, order: str, count: int, dimensions: int) -> tuple[FloatArray, int]:
    end = place + 8 * dimensions * count
    if end > len(content):
        raise IndexError
    numbers = np.frombuffer(content[place:end], dtype=f"{order}f8").reshape(count, dimensions)
    return numbers[:, :2].astype(np.float64), end
