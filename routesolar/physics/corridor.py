"""The road as a trunk-free corridor: capsules around its straight pieces, cut by lines along the ray.

Positions are metres east and north of the vehicle; in the ray's frame, `s` runs towards the sun and `y`
to its right.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.physics.compiled import compiled
from routesolar.physics.geodesy import metres_per_degree

REACH_M = 800.0  # pieces of road farther from the vehicle do not matter to its shade

Array = NDArray[np.float64]


class Line(NamedTuple):
    """n straight pieces of road, from start to end in degrees, and the trunks' distance from it in metres."""

    start_latitude_deg: Array
    start_longitude_deg: Array
    end_latitude_deg: Array
    end_longitude_deg: Array
    trunk_line_m: Array


class Vehicle(NamedTuple):
    """Where the n vehicles are: on the road's centreline in degrees, and metres right of it."""

    latitude_deg: Array
    longitude_deg: Array
    heading_deg: Array
    offset_m: Array


class Road(NamedTuple):
    """The pieces of road around each of n vehicles, nearest first.

    Rows first[i] to first[i + 1] of `piece` (p, 5) are east and north of the start, of the end, and the
    half-width, metres from vehicle i; `distance_m` (p,) is how near they come to it.
    """

    first: NDArray[np.int64]
    piece: Array
    distance_m: Array


@compiled
def wrapped_deg(angle_deg: float) -> float:
    """Return an angle in degrees in [-180, 180)."""
    return (angle_deg + 180.0) % 360.0 - 180.0


@compiled
def local_m(
    latitude_deg: float, longitude_deg: float, origin_latitude_deg: float, origin_longitude_deg: float
) -> tuple[float, float]:
    """Return metres east and north of an origin no farther than some kilometres; crosses the antimeridian."""
    north, east = metres_per_degree(0.5 * (latitude_deg + origin_latitude_deg))
    return (
        wrapped_deg(longitude_deg - origin_longitude_deg) * east,
        (latitude_deg - origin_latitude_deg) * north,
    )


@compiled
def distance_to_piece(east_0: float, north_0: float, east_1: float, north_1: float) -> float:
    """Return the metres from the origin to the nearest point of a straight piece."""
    east, north = east_1 - east_0, north_1 - north_0
    squared = east * east + north * north
    share = 0.0
    if squared > 0.0:
        share = min(1.0, max(0.0, -(east_0 * east + north_0 * north) / squared))
    return np.hypot(east_0 + share * east, north_0 + share * north)


@compiled
def capsule_span(
    y: float, s_0: float, y_0: float, s_1: float, y_1: float, half_width: float
) -> tuple[float, float]:
    """Return where the line at offset `y` enters and leaves a capsule around a piece of road; (1, -1): nowhere.

    The chord of a convex shape ends on an end disc or on one of the two long sides.
    """
    low, high = np.inf, -np.inf
    squared = half_width * half_width
    under = squared - (y - y_0) * (y - y_0)
    if under > 0.0:
        root = np.sqrt(under)
        low, high = s_0 - root, s_0 + root
    under = squared - (y - y_1) * (y - y_1)
    if under > 0.0:
        root = np.sqrt(under)
        low, high = min(low, s_1 - root), max(high, s_1 + root)
    across = y_1 - y_0
    if across != 0.0:
        along = s_1 - s_0
        scale = half_width / np.hypot(along, across)
        for side in (-1.0, 1.0):
            share = (y - y_0 - side * scale * along) / across
            if 0.0 <= share <= 1.0:
                crossing = s_0 - side * scale * across + share * along
                low, high = min(low, crossing), max(high, crossing)
    if low > high:
        return 1.0, -1.0
    return low, high


@compiled
def add_span(spans: Array, count: int, low: float, high: float) -> int:
    """Insert [low, high] into the first `count` rows of sorted, disjoint `spans`; return the new count."""
    first = 0
    while first < count and spans[first, 1] < low:
        first += 1
    last = first
    while last < count and spans[last, 0] <= high:
        low, high = min(low, spans[last, 0]), max(high, spans[last, 1])
        last += 1
    shift = 1 - (last - first)
    if shift == 1:
        for k in range(count, first, -1):
            spans[k, 0], spans[k, 1] = spans[k - 1, 0], spans[k - 1, 1]
    elif shift < 0:
        for k in range(last, count):
            spans[k + shift, 0], spans[k + shift, 1] = spans[k, 0], spans[k, 1]
    spans[first, 0], spans[first, 1] = low, high
    return count + shift


@compiled
def free_length(spans: Array, count: int, low: float, high: float) -> float:
    """Return how much of [low, high] lies outside the sorted, disjoint `spans`."""
    if high <= low:
        return 0.0
    free = high - low
    for k in range(count):
        if spans[k, 0] >= high:
            break
        free -= max(0.0, min(high, spans[k, 1]) - max(low, spans[k, 0]))
    return max(0.0, free)


def pieces_near(line: Line, vehicle: Vehicle) -> Road:
    """Return the pieces of road within 800 m of each vehicle, nearest first, in metres from it.

    Pieces without length (stops) are left out. Straight lines between degrees: good to 0.1 m in 800 m.
    """
    moved = (line.start_latitude_deg != line.end_latitude_deg) | (
        line.start_longitude_deg != line.end_longitude_deg
    )
    order = np.flatnonzero(moved)
    ends = np.stack(
        [
            line.start_latitude_deg[order],
            line.start_longitude_deg[order],
            line.end_latitude_deg[order],
            line.end_longitude_deg[order],
            line.trunk_line_m[order],
        ],
        axis=1,
    )
    by_latitude = np.argsort(ends[:, 0], kind="stable")
    return Road(*_gather(np.ascontiguousarray(ends[by_latitude]), vehicle))


@compiled
def _gather(ends: Array, vehicle: Vehicle) -> tuple[NDArray[np.int64], Array, Array]:
    longest_m = 0.0
    for k in range(len(ends)):
        east, north = local_m(ends[k, 2], ends[k, 3], ends[k, 0], ends[k, 1])
        longest_m = max(longest_m, np.hypot(east, north))
    count = len(vehicle.latitude_deg)
    first = np.zeros(count + 1, np.int64)
    rows = np.empty((16 * count + 1, 6))
    for i in range(count):
        found = _pieces_of(ends, vehicle, i, longest_m)
        first[i + 1] = first[i] + len(found)
        if first[i + 1] > len(rows):
            wider = np.empty((2 * first[i + 1], 6))
            wider[: first[i]] = rows[: first[i]]
            rows = wider
        rows[first[i] : first[i + 1]] = found
    used = rows[: first[count]]
    return first, used[:, :5].copy(), used[:, 5].copy()


@compiled
def _pieces_of(ends: Array, vehicle: Vehicle, i: int, longest_m: float) -> Array:
    """Return the pieces (p, 6) within reach of vehicle i, sorted by distance, the last column."""
    latitude, longitude = vehicle.latitude_deg[i], vehicle.longitude_deg[i]
    heading = np.radians(vehicle.heading_deg[i])
    east_i = vehicle.offset_m[i] * np.cos(heading)
    north_i = -vehicle.offset_m[i] * np.sin(heading)
    north_per_deg, east_per_deg = metres_per_degree(latitude)
    reach = REACH_M + longest_m + abs(vehicle.offset_m[i])
    low = np.searchsorted(ends[:, 0], latitude - reach / north_per_deg)
    high = np.searchsorted(ends[:, 0], latitude + reach / north_per_deg)
    found = np.empty((high - low, 6))
    count = 0
    for k in range(low, high):
        apart = abs(ends[k, 1] - longitude)
        # A cheap, generous test first: a road along a parallel has all its pieces in this band.
        if min(apart, 360.0 - apart) * east_per_deg > 1.1 * reach + 100.0:
            continue
        east_0, north_0 = local_m(ends[k, 0], ends[k, 1], latitude, longitude)
        east_1, north_1 = local_m(ends[k, 2], ends[k, 3], latitude, longitude)
        row = found[count]
        row[0], row[1], row[2], row[3] = east_0 - east_i, north_0 - north_i, east_1 - east_i, north_1 - north_i
        row[4] = ends[k, 4]
        row[5] = distance_to_piece(row[0], row[1], row[2], row[3])
        if row[5] <= REACH_M:
            count += 1
    return found[np.argsort(found[:count, 5], kind="mergesort")]
