"""A route laid on the roads of a map: its line along theirs, and what each stretch of road is like."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np
from scipy.optimize import isotonic_regression

from routesolar.mapping.country_rules import Countries, nowhere
from routesolar.mapping.ferries import Ferries
from routesolar.mapping.matcher import DETOUR, MORE_M, Found, matched, path_between
from routesolar.mapping.network import Network
from routesolar.mapping.road_kinds import Road, road_of
from routesolar.physics.geodesy import distance_m, wrap_longitude_deg
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.mapped import MapFeatures
from routesolar.trip.mapped_road import LINE, MappedRoad
from routesolar.trip.route import Route

SAMPLE_M = 12.0  # points closer together say the same
AROUND = 2  # samples to both sides, of which most tell the direction
OFF = -1  # instead of the number of a road
FERRY = -2
FERRY_MPS = 8.0  # 15 knots: common practice, no source


class _Path(NamedTuple):
    """The line that is driven: places, the road that leads to each, and where each sample lies in it."""

    lat: list[float]
    lon: list[float]
    way: list[int]
    sample: list[int]


def laid_on_roads(
    route: Route,
    features: MapFeatures,
    tell: Callable[[str], None] = lambda _: None,
    countries: Countries = nowhere,
) -> MappedRoad:
    """Return the line of a route on the map's roads, where it follows them, and what these roads are like.

    Points keep their times and heights; corners of roads between them are added. `countries` tells the codes of
    the countries in which places lie.
    """
    network, ferries = Network.of(features), Ferries.of(features)
    pieces = np.split(np.arange(len(route.latitude_deg)), np.flatnonzero(np.diff(route.piece)) + 1)
    laid: list[tuple[Route, IntArray]] = []
    for number, points in enumerate(pieces):
        tell(f"following its roads, part {number + 1} of {len(pieces)}")
        laid.append(_laid(route, points, network, ferries))
    line = {name: np.concatenate([getattr(part, name) for part, _ in laid]) for name in LINE}
    way = np.concatenate([np.append(ways[1:2], ways[1:]) if len(ways) > 1 else ways for _, ways in laid])
    lat, lon = line["latitude_deg"], line["longitude_deg"]
    apart_m = distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:]) * (np.diff(line["piece"]) == 0)
    followed_m, whole_m = float(apart_m[way[1:] != OFF].sum()), float(apart_m.sum())
    return _road(line, way, network, countries, followed_m / whole_m if whole_m else 0.0)


def _road(
    line: dict[str, FloatArray], way: IntArray, network: Network, countries: Countries, matched_frac: float
) -> MappedRoad:
    """Return the stretches of points that lie on one kind of road each."""
    faults: Counter[str] = Counter()
    numbers, where = np.unique(way, return_index=True)
    named = countries(line["latitude_deg"][where], line["longitude_deg"][where])
    roads: dict[int, Road | None] = {
        number: road_of(network.ways[number].tags, faults, country) if number >= 0 else None
        for number, country in zip(numbers.tolist(), named, strict=True)
    }
    rows = [
        (road, number == FERRY, len(list(group)))
        for (road, number), group in groupby(
            (roads[number], number if number < 0 else 0) for number in way.tolist()
        )
    ]
    ends = np.cumsum([count for _, _, count in rows])
    first = np.concatenate(
        [[0], ends[:-1] - 1]
    )  # a road leads to its points, from the last one of the road before

    def of(name: str) -> FloatArray:
        return np.array([np.nan if road is None else getattr(road, name) for road, _, _ in rows])

    def words(name: str) -> tuple[str, ...]:
        return tuple("" if road is None else getattr(road, name) for road, _, _ in rows)

    ferry = np.array([is_ferry for _, is_ferry, _ in rows])
    return MappedRoad(
        latitude_deg=line["latitude_deg"],
        longitude_deg=line["longitude_deg"],
        elevation_m=line["elevation_m"],
        time_utc_s=line["time_utc_s"],
        file_index=line["file_index"].astype(np.int64),
        piece=line["piece"].astype(np.int64),
        first_point=first,
        road=tuple("ferry" if is_ferry else kind for is_ferry, kind in zip(ferry, words("kind"), strict=True)),
        carriageway_m=of("carriageway_m"),
        opening_m=of("opening_m"),
        width_sd_frac=of("width_sd_frac"),
        lane_offset_m=of("lane_offset_m"),
        speed_mps=np.where(ferry, FERRY_MPS, of("speed_mps")),
        tunnel=of("tunnel") == 1.0,
        bridge=of("bridge") == 1.0,
        ferry=ferry,
        width_from=words("width_from"),
        speed_from=words("speed_from"),
        matched_frac=matched_frac,
        faults=tuple(sorted(faults.items())),
    )


def _laid(route: Route, points: IntArray, network: Network, ferries: Ferries) -> tuple[Route, IntArray]:
    """Return one piece of the route on the roads, and the road that leads to each of its points."""
    lat, lon = route.latitude_deg[points], route.longitude_deg[points]
    if len(points) < 2 or not network.ways:
        return _part(route, points), np.full(len(points), OFF)
    apart_m = distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:])
    along_m = np.concatenate([[0.0], np.cumsum(apart_m)])
    samples = _thinned(along_m)
    found = matched(network, lat[samples], lon[samples])
    path = _path(network, found, lat[samples], lon[samples])
    way = ferries.taken(np.array(path.lat), np.array(path.lon), np.array(path.way), OFF, FERRY)
    return _filled(route, points, along_m, samples, path, way)


def _part(route: Route, points: IntArray) -> Route:
    return replace(route, **{name: getattr(route, name)[points] for name in LINE})


def _thinned(along_m: FloatArray) -> IntArray:
    """Return the points that are looked at: the first, the last, and between them none closer than the last."""
    kept, last_m = [0], float(along_m[0])
    for number, metres in enumerate(along_m.tolist()):
        if metres - last_m >= SAMPLE_M:
            kept.append(number)
            last_m = metres
    if kept[-1] != len(along_m) - 1:
        kept.append(len(along_m) - 1)
    return np.array(kept, dtype=np.int64)


def _path(network: Network, found: list[Found | None], lat: FloatArray, lon: FloatArray) -> _Path:
    """Return the line along roads, forwards on each, with the samples in it; off roads it is theirs."""
    path = _Path([], [], [], [])
    runs = _runs(_without_flicker(found))
    links = [_link(network, one, other) for one, other in pairwise(runs)]
    for number, run in enumerate(runs):
        before = links[number - 1] if number else None
        after = links[number] if number < len(links) else None
        along_m = _within(
            run, None if before is None else before.enter_m, None if after is None else after.leave_m
        )
        if before is not None:
            for vertex, way in zip(before.vertices, before.ways, strict=True):
                _add(path, *network.places[vertex], way)
        last = before.enter_m if before is not None else None
        for row, metres in zip(run.rows, along_m.tolist(), strict=True):
            if run.way == OFF:
                _add(path, float(lat[row]), float(lon[row]), OFF)
            else:
                if last is not None:
                    _add_corners(network, path, run.way, last, metres)
                _add(path, *_place(network, run.way, metres), OFF if last is None else run.way)
                last = metres
            path.sample.append(len(path.lat) - 1)
        if after is not None and after.leave_m is not None and last is not None:
            _add_corners(network, path, run.way, last, after.leave_m)
    return path


class _Run(NamedTuple):
    """Consecutive samples on one road, driven one way; where they lie along it."""

    rows: list[int]
    way: int
    backwards: bool
    along_m: FloatArray


class _Link(NamedTuple):
    """How one road goes over into the next: where it is left and the next entered, and the corners between."""

    leave_m: float | None
    enter_m: float | None
    vertices: list[int]
    ways: list[int]


_NO_LINK = _Link(None, None, [], [])


def _link(network: Network, one: _Run, other: _Run) -> _Link:
    """Return the shortest way from one road to the next, cut to what lies between the two."""
    if OFF in (one.way, other.way):
        return _NO_LINK
    last = Found(one.way, float(one.along_m[-1]), one.backwards)
    first = Found(other.way, float(other.along_m[0]), other.backwards)
    if one.way == other.way:
        turn_m = (last.along_m + first.along_m) / 2
        return _Link(turn_m, turn_m, [], [])
    straight_m = float(
        distance_m(*_place(network, one.way, last.along_m), *_place(network, other.way, first.along_m))
    )
    found = path_between(network, last, first, DETOUR * straight_m + MORE_M)
    if found is None:
        return _NO_LINK
    vertices = found[1]
    on_one = network.between_ways(vertices)
    leave = 0
    while leave < len(on_one) and on_one[leave] == one.way:
        leave += 1
    enter = len(vertices) - 1
    while enter > leave and on_one[enter - 1] == other.way:
        enter -= 1
    return _Link(
        network.along_m(one.way, vertices[leave], last.along_m),
        network.along_m(other.way, vertices[enter], first.along_m),
        vertices[leave : enter + 1],
        [one.way, *on_one[leave:enter]],
    )


def _within(run: _Run, enter_m: float | None, leave_m: float | None) -> FloatArray:
    """Return where the samples lie, none before the road is entered nor after it is left."""
    along_m = run.along_m
    low, high = (leave_m, enter_m) if run.backwards else (enter_m, leave_m)
    if low is not None:
        along_m = np.maximum(along_m, low)
    if high is not None:
        along_m = np.minimum(along_m, high)
    return along_m


def _without_flicker(found: list[Found | None]) -> list[Found | None]:
    """Return the samples without short turns to a road from one that goes on behind it: noise goes back."""
    calm = list(found)
    ways = [OFF if one is None else one.way for one in calm]
    bounds = [0, *(k for k in range(1, len(ways)) if ways[k] != ways[k - 1]), len(ways)]
    for before, first, after, end in zip(bounds, bounds[1:], bounds[2:], bounds[3:], strict=False):
        last = calm[first - 1]
        is_short = before < first and after < end and after - first <= AROUND and ways[first] != OFF
        if is_short and last is not None and ways[after] == last.way:
            calm[first:after] = [last] * (after - first)
    return calm


def _runs(found: list[Found | None]) -> list[_Run]:
    """Return consecutive samples on one road and in one direction; short turns back are noise."""
    turned = [one is not None and one.backwards for one in found]
    keys = []
    for k, one in enumerate(found):
        around = turned[max(k - AROUND, 0) : k + AROUND + 1]
        steady = 2 * sum(around) > len(around) if _same_around(found, k) else turned[k]
        keys.append((OFF, False) if one is None else (one.way, steady))
    runs = []
    row = 0
    for (way, backwards), group in groupby(keys):
        rows = list(range(row, row + len(list(group))))
        along = np.array([0.0 if one is None else one.along_m for one in (found[k] for k in rows)])
        runs.append(_Run(rows, way, backwards, along if way == OFF else _forwards(along, backwards)))
        row += len(rows)
    return runs


def _same_around(found: list[Found | None], k: int) -> bool:
    here = found[k]
    around = found[max(k - AROUND, 0) : k + AROUND + 1]
    return all(one is not None and here is not None and one.way == here.way for one in around)


def _forwards(along_m: FloatArray, backwards: bool) -> FloatArray:
    """Return places along a road without steps back: the closest row that only goes forwards."""
    fitted: FloatArray = isotonic_regression(along_m, increasing=not backwards).x
    return fitted


def _add_corners(network: Network, path: _Path, number: int, from_m: float, to_m: float) -> None:
    """Add the corners of a road between two places on it."""
    way = network.ways[number]
    low, high = sorted((from_m, to_m))
    inside = np.flatnonzero((way.along_m > low + 0.01) & (way.along_m < high - 0.01))
    for vertex in inside if to_m >= from_m else inside[::-1]:
        _add(path, float(way.latitude_deg[vertex]), float(way.longitude_deg[vertex]), number)


def _place(network: Network, number: int, along_m: float) -> tuple[float, float]:
    way = network.ways[number]
    after = min(max(int(np.searchsorted(way.along_m, along_m)), 1), len(way.along_m) - 1)
    share = (along_m - way.along_m[after - 1]) / (way.along_m[after] - way.along_m[after - 1])
    lat_0, lat_1 = way.latitude_deg[after - 1 : after + 1]
    lon_0, lon_1 = way.longitude_deg[after - 1 : after + 1]
    turn = (lon_1 - lon_0 + 180.0) % 360.0 - 180.0
    return float(lat_0 + share * (lat_1 - lat_0)), float(wrap_longitude_deg(lon_0 + share * turn))


def _add(path: _Path, lat: float, lon: float, way: int) -> None:
    path.lat.append(lat)
    path.lon.append(lon)
    path.way.append(way)


def _filled(
    route: Route, points: IntArray, along_m: FloatArray, samples: IntArray, path: _Path, way: IntArray
) -> tuple[Route, IntArray]:
    """Return the path with every point of the route in it, times and heights between them by the way."""
    lat, lon = np.array(path.lat), np.unwrap(np.array(path.lon), period=360.0)
    step_m = distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:])
    way_m = np.concatenate([[0.0], np.cumsum(step_m)])
    at = np.array(path.sample)
    # Each point lies between its samples as it did on the route's own line.
    point_m = np.interp(along_m, along_m[samples], way_m[at])
    share = np.interp(point_m, way_m, np.arange(len(way_m)))
    is_corner = np.ones(len(way_m), dtype=bool)
    is_corner[at] = False
    order_m = np.concatenate([point_m, way_m[is_corner]])
    order = np.lexsort((np.concatenate([np.zeros(len(point_m)), np.ones(int(is_corner.sum()))]), order_m))
    new_lat = np.concatenate([np.interp(share, np.arange(len(lat)), lat), lat[is_corner]])[order]
    new_lon = np.concatenate([np.interp(share, np.arange(len(lon)), lon), lon[is_corner]])[order]
    leads = np.clip(np.searchsorted(way_m, point_m - 0.001), 1, len(way) - 1)
    ways = np.concatenate([way[leads], way[is_corner]])[order]
    metres = order_m[order]
    own = np.flatnonzero(order < len(points))
    source = points[order[own]]

    def between(values: FloatArray) -> FloatArray:
        filled: FloatArray = np.interp(metres, metres[own], values[source])
        filled[own] = values[source]
        return filled

    first = np.maximum(np.searchsorted(own, np.arange(len(order)), side="right") - 1, 0)
    fresh = replace(
        route,
        latitude_deg=new_lat,
        longitude_deg=np.where(np.abs(new_lon) > 180, wrap_longitude_deg(new_lon), new_lon),
        elevation_m=between(route.elevation_m),
        time_utc_s=between(route.time_utc_s),
        file_index=route.file_index[source][first],
        piece=route.piece[source][first],
    )
    return fresh, ways
