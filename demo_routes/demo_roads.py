"""The invented roads of the demo: drawn over the land like roads are, along gentle ground, then smoothed."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import demo_land as land
import numpy as np
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter1d
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

Array = np.ndarray

STEP_KM = 0.2  # of the net of possible ways
WIDE_KM, SOUTH_KM, NORTH_KM = 44.0, -5.0, 28.0  # extent of the net
SWING_STEP_KM = 0.05
FINE_KM = 0.02  # between the points of a finished road
HAIRPIN_POINT_M = 5
MOVES = ((0, 1), (1, 0), (1, 1), (1, -1), (1, 2), (2, 1), (1, -2), (2, -1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Road:
    """A road's line, with a point every 20 m, on hairpins every 5 m, and the opening between its trees.

    Kilometres east and north, metres above the sea.
    """

    x: Array
    y: Array
    elevation_m: Array
    width_m: float

    @property
    def along_km(self) -> Array:
        """Return the distance from the start at every point."""
        return np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(self.x), np.diff(self.y)))])

    def distance_km(self, x: Array, y: Array, within_km: float = np.inf) -> Array:
        """Return the distance of places to the road's line; infinite beyond `within_km`."""
        places = np.stack([np.ravel(x), np.ravel(y)], axis=1)
        at = np.arange(0, self.along_km[-1], 0.002)  # every 2 m
        tree = cKDTree(np.stack([np.interp(at, self.along_km, part) for part in (self.x, self.y)], axis=1))
        return tree.query(places, distance_upper_bound=within_km)[0].reshape(np.shape(x))


def draw(
    corners: list[tuple[float, float]],
    dislike: Callable[[Array, Array], Array],
    *,
    steep: float,
    winding_km: float,
    seed: int,
    width_m: float,
) -> Road:
    """Return the road through the corners that climbs little and keeps to what is not disliked.

    `steep` is the grade that doubles the cost of a step; `winding_km` how far the road swings aside.
    """
    ways = [_cheapest(a, b, dislike, steep) for a, b in pairwise(corners)]
    line = np.concatenate([ways[0], *[way[1:] for way in ways[1:]]])
    line = _evenly(gaussian_filter1d(line, 1.6, axis=0, mode="nearest"), SWING_STEP_KM)
    along = np.arange(len(line)) * SWING_STEP_KM
    aside = np.gradient(line, axis=0)[:, ::-1] * [-1, 1] / SWING_STEP_KM
    swing = winding_km * land.octaves(along, 0 * along + seed, 0.9, 2, 100 + seed)
    line = gaussian_filter1d(line + aside * swing[:, None], 1.0, axis=0, mode="nearest")
    for end, rest in ((0, along), (-1, along[-1] - along)):
        line = line + np.exp(-((rest / 0.6) ** 2))[:, None] * (np.array(corners[end]) - line[end])
    line = _evenly(line, FINE_KM)
    ground = land.elevation_m(line[:, 0], line[:, 1])
    built = gaussian_filter1d(ground, 14.0, mode="nearest")  # cut and filled over some 400 m
    return Road(x=line[:, 0], y=line[:, 1], elevation_m=built, width_m=width_m)


def with_hairpins(road: Road, from_km: float, *, turns: int, radius_m: float, straight_m: float) -> Road:
    """Return the road with hairpins on its way up a slope, at a steady grade: a point every 5 m there."""
    bends = _hairpins_km(turns, radius_m, straight_m)
    line = road.x + 1j * road.y
    first = int(np.argmin(np.abs(road.along_km - from_km)))
    last = first + int(np.argmax(np.abs(line[first:] - line[first]) >= abs(bends[-1])))
    bends = (line[first] + bends * (line[last] - line[first]) / bends[-1])[1:-1]
    inside = np.linspace(road.elevation_m[first], road.elevation_m[last], len(bends) + 2)[1:-1]
    line, elevation_m = (
        np.concatenate([outside[: first + 1], between, outside[last:]])
        for outside, between in ((line, bends), (road.elevation_m, inside))
    )
    return Road(x=line.real, y=line.imag, elevation_m=elevation_m, width_m=road.width_m)


def joined(*roads: Road) -> Road:
    """Return roads driven one after the other."""
    x, y, z = (np.concatenate([getattr(road, name) for road in roads]) for name in ("x", "y", "elevation_m"))
    return Road(x=x, y=y, elevation_m=z, width_m=roads[0].width_m)


def reverse(road: Road) -> Road:
    """Return the road driven the other way."""
    return Road(x=road.x[::-1], y=road.y[::-1], elevation_m=road.elevation_m[::-1], width_m=road.width_m)


def opened_share(x: Array, y: Array, cell_m: float, roads: list[Road]) -> Array:
    """Return the share of every cell (centres x, y in km) that lies in a road's opening."""
    share = np.zeros(np.shape(x))
    offsets = (np.arange(5) - 2) / 5 * cell_m / 1000
    for road in roads:
        near = np.isfinite(road.distance_km(x, y, (cell_m + road.width_m) / 1000))
        inside = np.zeros(near.sum())
        for east in offsets:
            for north in offsets:
                distance_m = road.distance_km(x[near] + east, y[near] + north) * 1000
                inside += distance_m < road.width_m / 2
        share[near] = np.maximum(share[near], inside / 25)
    return share


def _cheapest(a: tuple[float, float], b: tuple[float, float], dislike: Callable, steep: float) -> Array:
    """Return the cheapest way from a to b over a net of points 200 m apart (Dijkstra)."""
    ys, xs = np.mgrid[SOUTH_KM:NORTH_KM:STEP_KM, 0:WIDE_KM:STEP_KM]
    ground, weight = land.elevation_m(xs, ys), 1 + dislike(xs, ys)
    weight = np.where(land.inland_km(xs, ys) < 0.25, np.inf, weight)
    number = np.arange(xs.size).reshape(xs.shape)
    start, end, cost = [], [], []
    for down, right in MOVES:
        here = np.s_[: xs.shape[0] - down, max(0, -right) : xs.shape[1] - max(0, right)]
        there = np.s_[down:, max(0, right) : xs.shape[1] + min(0, right)]
        length = STEP_KM * np.hypot(down, right)
        grade = np.abs(ground[there] - ground[here]) / (1000 * length)
        price = length * (weight[here] + weight[there]) / 2 * (1 + (grade / steep) ** 2)
        passable = np.isfinite(price)
        start.append(number[here][passable])
        end.append(number[there][passable])
        cost.append(price[passable])
    net = coo_matrix((np.concatenate(cost), (np.concatenate(start), np.concatenate(end))), (xs.size,) * 2)
    first, last = (round((y - SOUTH_KM) / STEP_KM) * xs.shape[1] + round(x / STEP_KM) for x, y in (a, b))
    _, before = dijkstra(net.tocsr(), directed=False, indices=first, return_predecessors=True)
    way = [last]
    while way[-1] != first:
        way.append(int(before[way[-1]]))
        if way[-1] < 0:
            raise ValueError(f"no way from {a} to {b}: one of them lies in the sea")
    return np.stack([xs.ravel()[way[::-1]], ys.ravel()[way[::-1]]], axis=1)


def _hairpins_km(turns: int, radius_m: float, straight_m: float) -> Array:
    """Return half circles to the right and left, straights between, from 0 on as complex numbers."""
    turn_deg = [90.0, *(180.0 * (-1) ** (k + 1) for k in range(turns))]
    turn_deg.append(-sum(turn_deg))
    straights_m = [straight_m / 2, *[straight_m] * (turns - 1), straight_m / 2, 0.0]
    curvature = []
    for turn, along_m in zip(np.radians(turn_deg), straights_m, strict=True):
        curvature += [np.sign(turn) / radius_m] * round(abs(turn) * radius_m) + [0.0] * round(along_m)
    heading = np.cumsum(curvature) - np.array(curvature) / 2  # in the middle of each metre
    line = np.concatenate([[0.0], np.cumsum(np.exp(1j * heading))]) / 1000
    every = np.arange(0, len(line), HAIRPIN_POINT_M)
    return line[np.union1d(every, len(line) - 1)]


def _evenly(line: Array, step_km: float) -> Array:
    """Return points about step_km apart along a smooth curve through the line's points."""
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    curve = CubicSpline(length, line)
    fine = curve(np.arange(0, length[-1], step_km / 4))
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(fine, axis=0).T))])
    at = np.linspace(0, length[-1], round(length[-1] / step_km) + 1)
    return np.stack([np.interp(at, length, fine[:, k]) for k in (0, 1)], axis=1)
