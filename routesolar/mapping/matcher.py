"""Which road of a map a line follows: the likeliest row of roads, one for every place on the line.

A hidden Markov model in the manner of Newson & Krumm (2009), ACM GIS 2009, doi 10.1145/1653771.1653818: how
far a road lies from the recorded place and how well their headings agree (likelier near and along), and how
much longer the way between two such roads is than the straight line (likelier when alike); the best row is
found as by Viterbi (1967). Beside all roads there is one state of its own: on no road of the map.
"""

from typing import NamedTuple

import numpy as np

from routesolar.mapping.network import NearEdges, Network, edges_near
from routesolar.physics.geodesy import distance_m, metres_per_degree
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.mapped import Tags

# Receivers err by some metres and maps by a few; ways between places err by twice as much. Judgement; roads are
# found with errors of 10 m on each axis (tests).
ERROR_M, REACH_M = 8.0, 50.0
WAY_ERROR_M = 15.0
TURNED_DEG = 30.0  # a heading over 80 m of line with such errors is off by 10 degrees
MOST_TURNED = 6.0  # cost of any larger angle, since tracks turn where roads do not
LOOK_M = 40.0  # headings are taken over this much line to both sides
NO_ROAD, ONTO_ROAD, JUMP = 11.0, 6.0, 14.0  # cost of being off all roads, of leaving them, of no way between
SMALL_ROAD = 0.7  # cost of a track or driveway beside a road as near
MOST = 8  # roads that are kept in mind at once
APART_M = 25.0  # two places on one road, further apart than this along it, are two roads here
DETOUR, MORE_M = 2.0, 120.0  # ways longer than this times the straight line, and so much more, are no ways


class Found(NamedTuple):
    """A place on a road: the way, and the metres from its start; and whether it is driven backwards."""

    way: int
    along_m: float
    backwards: bool


class _State(NamedTuple):
    way: int
    vertex: int
    along_m: float
    cost: float
    backwards: bool


def matched(network: Network, lat: FloatArray, lon: FloatArray) -> list[Found | None]:
    """Return the road at each place of a line in the order of travel; None where it follows no road."""
    states = _states(network, lat, lon)
    apart_m = distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:]).tolist()
    costs: list[float] = [state.cost for state in states[0]] + [ONTO_ROAD + NO_ROAD]
    steps: list[list[int]] = []
    for number, straight_m in enumerate(apart_m):
        costs, best = _next(network, states[number], states[number + 1], costs, straight_m)
        steps.append(best)
    at = int(np.argmin(costs))
    row = [at]
    for best in reversed(steps):
        at = best[at]
        row.append(at)
    row.reverse()
    return [
        None if at == len(here) else Found(here[at].way, here[at].along_m, here[at].backwards)
        for at, here in zip(row, states, strict=True)
    ]


def _next(
    network: Network, before: list[_State], after: list[_State], costs: list[float], straight_m: float
) -> tuple[list[float], list[int]]:
    """Return the least costs of arriving at each state, the last being on no road, and from where."""
    least = min(range(len(costs)), key=costs.__getitem__)
    reached, best = [], []
    for state in after:
        options = [(cost + ONTO_ROAD * (at == len(before)) + JUMP, at) for at, cost in ((least, costs[least]),)]
        if costs[-1] + ONTO_ROAD < options[0][0]:
            options.append((costs[-1] + ONTO_ROAD, len(before)))
        for at, earlier in enumerate(before):
            if costs[at] >= options[0][0]:
                continue
            way_m = way_between_m(network, earlier, state, straight_m)
            if way_m is not None:
                options.append((costs[at] + abs(way_m - straight_m) / WAY_ERROR_M, at))
        cost, at = min(options)
        reached.append(cost + state.cost)
        best.append(at)
    stay = [cost + ONTO_ROAD for cost in costs[:-1]] + [costs[-1]]
    at = min(range(len(stay)), key=stay.__getitem__)
    return [*reached, stay[at] + NO_ROAD], [*best, at]


def way_between_m(
    network: Network, one: "_State | Found", other: "_State | Found", straight_m: float
) -> float | None:
    """Return the metres along roads between two places on them; None where no way is of sensible length."""
    within_m = DETOUR * straight_m + MORE_M
    if one.way == other.way:
        way_m = abs(other.along_m - one.along_m)
        if way_m <= within_m:
            return way_m
    ends = path_between(network, one, other, within_m)
    return None if ends is None else ends[0]


def path_between(
    network: Network, one: "_State | Found", other: "_State | Found", within_m: float
) -> tuple[float, list[int]] | None:
    """Return the shortest way along roads between places on two roads: metres, and the vertices passed."""
    best: tuple[float, int, int] | None = None
    for start, start_m in _ends(network, one):
        if start_m > within_m:
            continue
        reached = network.reached(start, within_m)
        for end, end_m in _ends(network, other):
            if end in reached:
                metres = start_m + reached[end][0] + end_m
                if metres <= within_m and (best is None or metres < best[0]):
                    best = metres, start, end
    if best is None:
        return None
    metres, start, end = best
    reached = network.reached(start, within_m)
    vertices = [end]
    while vertices[-1] != start:
        vertices.append(reached[vertices[-1]][1])
    return metres, vertices[::-1]


def _ends(network: Network, found: "_State | Found") -> tuple[tuple[int, float], tuple[int, float]]:
    """Return the vertices at both ends of the edge a place lies on, and how far they are along it."""
    way = network.ways[found.way]
    after = min(max(int(np.searchsorted(way.along_m, found.along_m)), 1), len(way.along_m) - 1)
    return (
        (int(way.node[after - 1]), found.along_m - float(way.along_m[after - 1])),
        (int(way.node[after]), float(way.along_m[after]) - found.along_m),
    )


def _states(network: Network, lat: FloatArray, lon: FloatArray) -> list[list[_State]]:
    """Return the roads that may be meant at each place, best first."""
    near = edges_near(network.edges, lat, lon, REACH_M)
    heading, sure = _headings(lat, lon)
    cost, backwards = _costs(network, near, heading, sure)
    along_m = _along_m(network, near)
    way = network.edges.way[near.edge]
    kept = _one_of_each(near.place, way, along_m, cost)
    states: list[list[_State]] = [[] for _ in lat]
    for k in kept.tolist():
        here = states[near.place[k]]
        if len(here) < MOST:
            vertex = int(network.edges.vertex[near.edge[k]])
            here.append(_State(int(way[k]), vertex, float(along_m[k]), float(cost[k]), bool(backwards[k])))
    return states


def _costs(
    network: Network, near: NearEdges, heading: FloatArray, sure: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Return what each pair of place and road costs, and whether the road is driven backwards."""
    big = np.array([_is_big(way.tags.get("highway", "")) for way in network.ways], dtype=bool)
    only = np.array([_one_way(way.tags) for way in network.ways], dtype=np.int64)
    way = network.edges.way[near.edge]
    turned = abs((near.heading_deg - heading[near.place] + 180.0) % 360.0 - 180.0)
    backwards = turned > 90.0
    either = np.minimum(turned, 180.0 - turned)
    angle = np.select([only[way] == 1, only[way] == -1], [turned, 180.0 - turned], either)
    aside = np.minimum(0.5 * (angle / TURNED_DEG) ** 2, MOST_TURNED) * sure[near.place]
    cost = 0.5 * (near.apart_m / ERROR_M) ** 2 + aside + SMALL_ROAD * ~big[way]
    return cost, backwards


def _is_big(kind: str) -> bool:
    return kind not in ("service", "track", "road")


def _one_way(tags: Tags) -> int:
    """Return 1 for roads driven along their line only, -1 against it only, 0 for others."""
    said = tags.get("oneway", "")
    if said in ("yes", "true", "1"):
        return 1
    if said in ("-1", "reverse"):
        return -1
    ring = tags.get("junction") == "roundabout"
    fast = tags.get("highway") in ("motorway", "motorway_link")
    return int(said != "no" and (ring or fast))


def _headings(lat: FloatArray, lon: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the line's headings over 80 m around each place, and how far they can be relied on."""
    north, east = metres_per_degree(np.clip(lat, -89.0, 89.0))
    steps_lon = (np.diff(lon) + 180.0) % 360.0 - 180.0
    x = np.concatenate([[0.0], np.cumsum(steps_lon * east[1:])])
    y = np.concatenate([[0.0], np.cumsum(np.diff(lat) * north[1:])])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    ahead, behind = along + LOOK_M, along - LOOK_M
    across = np.interp(ahead, along, x) - np.interp(behind, along, x)
    up = np.interp(ahead, along, y) - np.interp(behind, along, y)
    straight = np.hypot(across, up) / np.maximum(np.minimum(ahead, along[-1]) - np.maximum(behind, 0.0), 1.0)
    return np.degrees(np.arctan2(across, up)) % 360.0, np.clip(1.5 * straight - 0.3, 0.0, 1.0)


def _along_m(network: Network, near: NearEdges) -> FloatArray:
    starts = np.concatenate([np.zeros(0), *(way.along_m[:-1] for way in network.ways)])
    ends = np.concatenate([np.zeros(0), *(way.along_m[1:] for way in network.ways)])
    along: FloatArray = starts[near.edge] + near.share * (ends - starts)[near.edge]
    return along


def _one_of_each(place: IntArray, way: IntArray, along_m: FloatArray, cost: FloatArray) -> IntArray:
    """Return the numbers of the best of neighbouring places on one road, by place and then by cost."""
    order = np.lexsort((along_m, way, place))
    if not len(order):
        return order.astype(np.int64)
    step = np.diff(along_m[order]) > APART_M
    fresh = np.append(True, (np.diff(place[order]) != 0) | (np.diff(way[order]) != 0) | step)
    group = np.cumsum(fresh)
    by_cost = np.lexsort((cost[order], group))
    first = np.append(True, np.diff(group[by_cost]) != 0)
    best = order[by_cost[first]]
    kept: IntArray = best[np.lexsort((cost[best], place[best]))].astype(np.int64)
    return kept
