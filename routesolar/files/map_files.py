"""Read what map files hold around a route: open map data, GeoJSON or GeoPackage, each by its ending."""

import hashlib
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from html import unescape
from pathlib import Path

import numpy as np

from routesolar.errors import InputError
from routesolar.files import map_cache
from routesolar.files.map_geojson import read_geojson
from routesolar.files.map_geopackage import read_geopackage
from routesolar.files.map_near import REACH_M, near_route
from routesolar.files.map_osm import read_osm
from routesolar.files.raster_source import source_file
from routesolar.files.reading import printable
from routesolar.files.telling import doing
from routesolar.limits import limit_of
from routesolar.trip.arrays import FloatArray
from routesolar.trip.mapped import MapFeatures
from routesolar.trip.route import SourceFile

ATTRIBUTION = "© OpenStreetMap contributors, ODbL"
KEPT_AS = "3"  # changes with what is read, so that an older extract is not taken for a new one
_OPEN_MAP = (".osm.pbf", ".pbf", ".osm")
_OWNER = re.compile(rb"<osm\b[^>]*\bcopyright=[\"']([^\"'<>]{1,200})[\"']")
_READERS = {
    **dict.fromkeys(_OPEN_MAP, read_osm),
    **dict.fromkeys((".geojson", ".json"), read_geojson),
    ".gpkg": read_geopackage,
}

_LIMITS = {".osm.pbf": "map file", ".pbf": "map file", ".osm": "map text", ".gpkg": "map text"}


def read_maps(paths: Sequence[str], latitude_deg: FloatArray, longitude_deg: FloatArray) -> MapFeatures:
    """Return what maps hold within some 400 m of a route, woods and towns around it too.

    What was read of a map is kept in the cache folder, by the map's and the route's digest.

    Raises:
        InputError: a file is missing, of another format, damaged, or more of it lies around the route than is
            taken in.
    """
    near = partial(near_route, latitude_deg, longitude_deg)
    place = hashlib.sha256(np.ascontiguousarray([latitude_deg, longitude_deg]).tobytes()).hexdigest()
    found, files, credits, faults = [], [], list[str](), Counter[str]()
    for path in map(Path, paths):
        ending = _ending(path)
        file = _checked(path, ending)
        key = hashlib.sha256(f"{KEPT_AS} {REACH_M} {_identity(path, file)} {place}".encode()).hexdigest()
        features = map_cache.kept(key)
        if features is None:
            tell = partial(_tell, path.name)
            read, wrong = _READERS[ending](path, near(), tell)
            if len(read) > limit_of("map objects"):
                raise InputError(
                    f"{path}: {len(read):,} objects of the map lie around the route, more than "
                    f"{limit_of('map objects'):,}; give a shorter route"
                )
            features = MapFeatures.of(read, wrong)
            map_cache.keep(key, features)
        found.append(features)
        files.append(file)
        faults.update(dict(features.faults))
        credits.append(_credit(path) if ending in _OPEN_MAP else "")
    together = found[0] if len(found) == 1 else MapFeatures.of([one for each in found for one in each], faults)
    return replace(together, files=tuple(files), attribution="; ".join(dict.fromkeys(filter(None, credits))))


def map_names(paths: Sequence[str]) -> str:
    """Return the names of map files, to be told."""
    return ", ".join(printable(Path(path).name) for path in paths)


def state_of(path: str) -> tuple[str, int, int]:
    """Return what tells a file from others without reading it: path, size and time of writing."""
    try:
        found = Path(path).stat()
    except (OSError, ValueError):  # read_maps says it better
        return path, 0, 0
    return path, found.st_size, found.st_mtime_ns


def _tell(name: str, what: str) -> None:
    doing(f"reading {printable(name)}: {what}")


def _credit(path: Path) -> str:
    """Return what has to stand beside what is drawn from a map; an .osm file may name another owner."""
    with path.open("rb") as opened:
        named = _OWNER.search(opened.read(2000))
    owner = printable(unescape(named[1].decode("utf-8", "replace")), 100) if named else ""
    return owner if owner and "openstreetmap" not in owner.lower() else ATTRIBUTION


def _ending(path: Path) -> str:
    ending = next((ending for ending in _READERS if path.name.lower().endswith(ending)), None)
    if ending is None:
        raise InputError(
            f"{printable(str(path))}: a map is an extract of open map data (.osm.pbf or .osm), GeoJSON "
            "(.geojson) or GeoPackage (.gpkg)"
        )
    return ending


def _checked(path: Path, ending: str) -> SourceFile:
    name = printable(str(path))
    if "://" in str(path):
        raise InputError(f"{name}: maps are not read from the web; download the extract first")
    try:
        if path.is_dir():
            raise InputError(f"{name}: this is a folder; name the map in it")
        if not path.exists():
            raise InputError(f"{name}: there is no such file; check the spelling and the folder")
        if not path.is_file():
            raise InputError(f"{name}: this is a pipe or a device; save it as a file")
        size, most = path.stat().st_size, limit_of(_LIMITS.get(ending, "map as GeoJSON"))
        if size > most:
            raise InputError(f"{name}: larger than {most / 1e6:,.0f} MB; give the extract of a smaller region")
        return replace(source_file(str(path)), path=str(path))
    except (OSError, ValueError) as error:
        raise InputError(f"{name}: this file cannot be opened ({error})") from None


def _identity(path: Path, file: SourceFile) -> str:
    """Return what tells a file from others: its digest; of a very large one, size and time of writing."""
    found = path.stat()
    return file.sha256 or f"{path.resolve()} {found.st_size} {found.st_mtime_ns}"
