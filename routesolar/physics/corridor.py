"""The road as a trunk-free corridor: capsules around its straight pieces, cut by lines along the ray.

Positions are metres east and north of the vehicle; in the ray's frame, `s` runs towards the sun and `y`
to its right.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.geodesy import metres_per_degree
from routesolar.physics.raymarch import GroundAhead

REACH_M = 800.0  # pieces of road farther from the vehicle do not matter to its shade


class Corridor(NamedTuple):
    """n straight pieces of road, from start to end in degrees, and the trunks' distance from it in metres."""

    start_latitude_deg: FloatArray
    start_longitude_deg: FloatArray
    end_latitude_deg: FloatArray
    end_longitude_deg: FloatArray
    trunk_line_m: FloatArray


class Vehicle(NamedTuple):
    """Where the n vehicles are: on the road's centreline in degrees, and metres right of it."""

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    heading_deg: FloatArray
    offset_m: FloatArray


class Road(NamedTuple):
    """The pieces of road around each of n vehicles, nearest first.

    Rows first[i] to first[i + 1] of `piece` (p, 5) are east and north of the start, of the end, and the
    half-width, metres from vehicle i; `distance_m` (p,) is how near they come to it.
    """

    first: NDArray[np.int64]
    piece: FloatArray
    distance_m: FloatArray


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


@inlined
def turn_pieces(road: Road, i: int, east: float, north: float, band: GroundAhead, pieces: FloatArray) -> int:
    """Write the pieces of road that touch a band, in its frame along (east, north); return how many."""
    count = 0
    reach = max(band.high, -band.low) + band.widest
    for k in range(road.first[i], road.first[i + 1]):
        piece = road.piece[k]
        half_width = piece[4]
        if road.distance_m[k] > reach + half_width:
            break
        s_0, y_0 = piece[0] * east + piece[1] * north, piece[0] * north - piece[1] * east
        s_1, y_1 = piece[2] * east + piece[3] * north, piece[2] * north - piece[3] * east
        if min(y_0, y_1) - half_width > band.widest or max(y_0, y_1) + half_width < -band.widest:
            continue
        if min(s_0, s_1) - half_width > band.high or max(s_0, s_1) + half_width < band.low:
            continue
        turned = pieces[count]
        turned[0], turned[1], turned[2], turned[3], turned[4] = s_0, y_0, s_1, y_1, half_width
        count += 1
    return count


@inlined
def cut_lines(piece: FloatArray, y: FloatArray, low: FloatArray, high: FloatArray) -> None:
    """Write where lines at offsets `y` enter and leave a capsule around a piece; (inf, -inf): nowhere.

    The chord of a convex shape ends on an end disc or on one of the two long sides.
    """
    s_0, y_0, s_1, y_1, half_width = piece[0], piece[1], piece[2], piece[3], piece[4]
    along, across = s_1 - s_0, y_1 - y_0
    scale = half_width / np.sqrt(along * along + across * across)
    side_y, side_s = scale * along, scale * across
    slope = along / across if across != 0.0 else 0.0
    squared = half_width * half_width
    bottom, top = min(y_0, y_1), max(y_0, y_1)
    for j in range(len(y)):
        from_0, from_1 = y[j] - y_0, y[j] - y_1
        under_0, under_1 = squared - from_0 * from_0, squared - from_1 * from_1
        root_0, root_1 = np.sqrt(max(under_0, 0.0)), np.sqrt(max(under_1, 0.0))
        first, last = np.inf, -np.inf
        if under_0 > 0.0:
            first, last = s_0 - root_0, s_0 + root_0
        if under_1 > 0.0:
            first, last = min(first, s_1 - root_1), max(last, s_1 + root_1)
        left, right = s_0 - side_s + (from_0 - side_y) * slope, s_0 + side_s + (from_0 + side_y) * slope
        if bottom < y[j] - side_y < top:
            first, last = min(first, left), max(last, left)
        if bottom < y[j] + side_y < top:
            first, last = min(first, right), max(last, right)
        low[j], high[j] = first, last


@inlined
def block_lines(pieces: FloatArray, count: int, y: FloatArray, spans: FloatArray) -> int:
    """Write the stretches of lines at offsets `y` in the corridor as rows of `spans` (k, 2, lanes); return k.

    The stretches of one line are disjoint; rows that a line does not fill hold (inf, -inf).
    """
    rows = 0
    for k in range(count):
        low, high = spans[rows, 0], spans[rows, 1]
        cut_lines(pieces[k], y, low, high)
        if not _merge_into(spans, rows, low, high):
            rows += 1
    if rows > 1:
        for j in range(len(y)):
            _make_disjoint(spans, rows, j)
    return rows


@inlined
def _merge_into(spans: FloatArray, rows: int, low: FloatArray, high: FloatArray) -> bool:
    """Widen the first row that touches [low, high] on every line where both exist; False if there is none."""
    for k in range(rows):
        apart = 0
        for j in range(len(low)):
            apart += (low[j] > spans[k, 1, j]) & (spans[k, 0, j] <= spans[k, 1, j]) & (low[j] <= high[j])
            apart += (high[j] < spans[k, 0, j]) & (spans[k, 0, j] <= spans[k, 1, j]) & (low[j] <= high[j])
        if apart == 0:
            for j in range(len(low)):
                spans[k, 0, j] = min(spans[k, 0, j], low[j])
                spans[k, 1, j] = max(spans[k, 1, j], high[j])
            return True
    return False


@inlined
def _make_disjoint(spans: FloatArray, rows: int, j: int) -> None:
    """Merge the overlapping stretches of line j; the rows left over are emptied."""
    for k in range(1, rows):
        low, high = spans[k, 0, j], spans[k, 1, j]
        for other in range(k):
            if spans[other, 0, j] <= high and low <= spans[other, 1, j]:
                low, high = min(low, spans[other, 0, j]), max(high, spans[other, 1, j])
                spans[other, 0, j], spans[other, 1, j] = np.inf, -np.inf
        spans[k, 0, j], spans[k, 1, j] = low, high


def pieces_near(line: Corridor, vehicle: Vehicle) -> Road:
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
def _gather(ends: FloatArray, vehicle: Vehicle) -> tuple[NDArray[np.int64], FloatArray, FloatArray]:
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
def _pieces_of(ends: FloatArray, vehicle: Vehicle, i: int, longest_m: float) -> FloatArray:
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
