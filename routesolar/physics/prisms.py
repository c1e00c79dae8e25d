"""Buildings as prisms that stand on the ground: what walls hide of the sun and of the sky.

A prism on the ground hides all below its top in every direction that crosses one of its walls: buildings
are a horizon, `skyline`. Rings are taken the nearest first; those that nearer ones hide are left out.
The ground slopes as a plane through the point.
"""

from math import cos, radians, sin, sqrt, tan
from typing import NamedTuple

import numpy as np

from routesolar.arrays import BoolArray, FloatArray, IntArray
from routesolar.physics.compiled import compiled
from routesolar.physics.dome import AZIMUTHS, ELEVATIONS
from routesolar.physics.geodesy import metres_per_degree
from routesolar.physics.nearby import (
    FARTHEST_M,
    Place,
    Squares,
    any_near,
    from_corner_deg,
    place_of,
    reach_of,
    row_of_squares,
    squares_of,
)
from routesolar.physics.skyline import (
    EAST_0,
    EAST_1,
    NORTH_0,
    NORTH_1,
    OVER,
    RING,
    Skyline,
    empty_skyline,
    hides,
    raise_skyline,
    shows,
    write_sky,
)

BESIDE_M = 2.0  # from the wall, a vehicle that a map puts into a building
TRIES = 24  # walls of a building, the nearest first, beside which a vehicle may stand


class Rings(NamedTuple):
    """b rings of vertices in the order of their squares; ring k is vertices first[k] to first[k + 1].

    `vertex_deg` (v, 2) are latitude and longitude from the squares' corner, `middle_deg` (b, 2) those of the
    rings' middles, `radius_m` how far their vertices lie from these; `top_m` (b,) is above the ground.
    """

    squares: Squares
    first: IntArray
    vertex_deg: FloatArray
    middle_deg: FloatArray
    radius_m: FloatArray
    top_m: FloatArray


class Panels(NamedTuple):
    """p panels: a place in degrees, metres east and north of it, height above the ground, the ground's rise.

    `heading_deg` is what the sky's table counts from; `horizon_deg` (h, a) is of the hills around, and `place`
    (p,) says which of its rows.
    """

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    east_m: FloatArray
    north_m: FloatArray
    height_m: float
    slope_east: FloatArray
    slope_north: FloatArray
    heading_deg: FloatArray
    horizon_deg: FloatArray
    place: IntArray


class Spot(NamedTuple):
    """One panel among rings: a place, metres east and north of it, and the height above the ground."""

    place: Place
    east_m: float
    north_m: float
    height_m: float


def rings_of(latitude_deg: FloatArray, longitude_deg: FloatArray, first: IntArray, top_m: FloatArray) -> Rings:
    """Return rings as they are looked for: ring k of b is vertices first[k] to first[k + 1]."""
    count = np.diff(first)
    east_of_first = (longitude_deg - longitude_deg[0] + 180.0) % 360.0 - 180.0

    def middle(values: FloatArray) -> FloatArray:
        low, high = (extreme.reduceat(values, first[:-1]) for extreme in (np.minimum, np.maximum))
        return np.asarray((low + high) / 2)

    middles = np.stack([middle(latitude_deg), longitude_deg[0] + middle(east_of_first)], axis=1)
    per_degree = np.stack(metres_per_degree(middles[:, 0]), axis=1)
    vertices = np.stack([latitude_deg, longitude_deg[0] + east_of_first], axis=1)
    away = (vertices - np.repeat(middles, count, axis=0)) * np.repeat(per_degree, count, axis=0)
    radius_m = np.maximum.reduceat(np.hypot(away[:, 0], away[:, 1]), first[:-1])
    farthest_m = FARTHEST_M + float(radius_m.max())
    squares, order = squares_of(middles[:, 0], middles[:, 1], farthest_m)
    vertex = np.concatenate([np.arange(first[k], first[k + 1]) for k in order])
    vertices, middles = vertices[vertex], middles[order]
    for degrees_of in (vertices, middles):
        degrees_of[:, 1] = from_corner_deg(squares, degrees_of[:, 1])
    return Rings(
        squares, np.append(0, np.cumsum(count[order])), vertices, middles, radius_m[order], top_m[order]
    )


def rings_near(
    rings: Rings, latitude_deg: FloatArray, longitude_deg: FloatArray, within_m: FloatArray
) -> BoolArray:
    """Return whether any ring comes so near to each of n places, (n,)."""
    return any_near(rings.squares, rings.middle_deg, rings.radius_m, latitude_deg, longitude_deg, within_m)


@compiled
def indoors(rings: Rings, latitude_deg: FloatArray, longitude_deg: FloatArray) -> BoolArray:
    """Return whether each of n places lies within an odd number of rings, (n,)."""
    inside = np.zeros(len(latitude_deg), np.bool_)
    around, walls = np.empty((64, 4)), np.empty((256, 6))
    for i in range(len(inside)):
        place = place_of(rings.squares, latitude_deg[i], longitude_deg[i])
        spot = Spot(place, 0.0, 0.0, 0.0)
        around, found = _rings_around(rings, spot, around)
        walls, count = _walls_over(rings, spot, around, found, walls)
        inside[i] = _within(walls, count, 0.0, 0.0)
    return inside


@compiled
def behind_buildings(
    rings: Rings, panels: Panels, sun_azimuth_deg: FloatArray, sun_elevation_deg: FloatArray
) -> tuple[BoolArray, FloatArray]:
    """Return whether buildings hide suns (d, p) and what they and hills leave panels of the sky, (p, 20, 12).

    A panel inside a building stands 2 m beside its nearest wall that has open ground before it; where no wall
    has, the building is left out. A sun at or below the horizon, or NaN, counts as not hidden.
    """
    departures, count = sun_azimuth_deg.shape
    hidden, sky = np.zeros((departures, count), np.bool_), np.ones((count, AZIMUTHS, ELEVATIONS))
    line = empty_skyline()
    around, walls = np.empty((256, 4)), np.empty((256, 6))
    for i in range(count):
        place = place_of(rings.squares, panels.latitude_deg[i], panels.longitude_deg[i])
        spot = Spot(place, panels.east_m[i], panels.north_m[i], panels.height_m)
        around, found = _rings_around(rings, spot, around)
        walls, shown = _write_horizon(rings, spot, around, found, line, walls)
        slope_east, slope_north = panels.slope_east[i], panels.slope_north[i]
        for d in range(departures):
            azimuth, elevation = radians(sun_azimuth_deg[d, i]), radians(sun_elevation_deg[d, i])
            if shown and elevation > 0.0:
                rise = tan(elevation) - slope_east * sin(azimuth) - slope_north * cos(azimuth)
                hidden[d, i] = hides(walls, shown, line, sun_azimuth_deg[d, i], rise)
        horizon_deg = panels.horizon_deg[panels.place[i]]
        if shown == 0 and not np.any(horizon_deg > 0.0):
            continue
        write_sky(line, (slope_east, slope_north), horizon_deg, panels.heading_deg[i], sky[i])
    return hidden, sky


@compiled
def _rings_around(rings: Rings, spot: Spot, around: FloatArray) -> tuple[FloatArray, int]:
    """Write the rings that may matter to a panel, the nearest first; return the array or a larger, and a count.

    Rows are metres to the circle around a ring, 0 or less within it, the ring, and metres east and north to the
    middle of that circle.
    """
    count = 0
    for k in range(3):
        start, end = row_of_squares(rings.squares, spot.place, k)
        for ring in range(start, end):
            east_m = (rings.middle_deg[ring, 1] - spot.place.longitude_deg) * spot.place.east_m - spot.east_m
            north_m = (rings.middle_deg[ring, 0] - spot.place.latitude_deg) * spot.place.north_m - spot.north_m
            near_m = np.hypot(east_m, north_m) - 1.01 * rings.radius_m[ring]
            if near_m > max(0.0, reach_of(rings.top_m[ring] - spot.height_m)):
                continue
            if count == len(around):
                wider = np.empty((2 * count, 4))
                wider[:count] = around
                around = wider
            row = around[count]
            row[0], row[1], row[2], row[3] = near_m, ring, east_m, north_m
            count += 1
    around[:count] = around[np.argsort(around[:count, 0])]
    return around, count


@compiled
def _add_walls(rings: Rings, spot: Spot, ring: int, walls: FloatArray, count: int) -> tuple[FloatArray, int]:
    """Write the walls of a ring after so many others; return the array or a larger, and the new count."""
    first, last = rings.first[ring], rings.first[ring + 1]
    if count + last - first > len(walls):
        wider = np.empty((2 * (count + last - first), 6))
        wider[:count] = walls[:count]
        walls = wider
    before = rings.vertex_deg[last - 1]
    for v in range(first, last):
        vertex, wall = rings.vertex_deg[v], walls[count]
        wall[EAST_0] = (before[1] - spot.place.longitude_deg) * spot.place.east_m - spot.east_m
        wall[NORTH_0] = (before[0] - spot.place.latitude_deg) * spot.place.north_m - spot.north_m
        wall[EAST_1] = (vertex[1] - spot.place.longitude_deg) * spot.place.east_m - spot.east_m
        wall[NORTH_1] = (vertex[0] - spot.place.latitude_deg) * spot.place.north_m - spot.north_m
        wall[OVER], wall[RING] = rings.top_m[ring] - spot.height_m, ring
        before = vertex
        count += 1
    return walls, count


@compiled
def _walls_over(
    rings: Rings, spot: Spot, around: FloatArray, found: int, walls: FloatArray
) -> tuple[FloatArray, int]:
    """Write the walls of the rings that a panel may be in; return the array or a larger, and a count."""
    count = 0
    for j in range(found):
        if around[j, 0] > 0.0:
            break
        walls, count = _add_walls(rings, spot, int(around[j, 1]), walls, count)
    return walls, count


@compiled
def _write_horizon(
    rings: Rings, spot: Spot, around: FloatArray, found: int, line: Skyline, walls: FloatArray
) -> tuple[FloatArray, int]:
    """Write the horizon of a panel, and the walls that make it; return the array or a larger, and a count.

    Rings that lie behind nearer ones are left out, but for a panel inside one, which has to find a free place.
    """
    line.middle[:], line.least[:], line.most[:] = 0.0, 0.0, 0.0
    walls, count = _walls_over(rings, spot, around, found, walls)
    inside = _within(walls, count, 0.0, 0.0)
    if not inside:
        raise_skyline(walls, 0, count, line)
    for j in range(found):
        if around[j, 0] <= 0.0:
            continue
        ring = int(around[j, 1])
        if inside or shows(around[j], rings.radius_m[ring], rings.top_m[ring] - spot.height_m, line):
            before = count
            walls, count = _add_walls(rings, spot, ring, walls, count)
            if not inside:
                raise_skyline(walls, before, count, line)
    if inside:
        _step_outside(walls, count)
        raise_skyline(walls, 0, count, line)
    return walls, count


@compiled
def _crosses(wall: FloatArray, east_m: float, north_m: float) -> bool:
    """Return whether a line eastwards from a place crosses a wall."""
    if (wall[NORTH_0] > north_m) == (wall[NORTH_1] > north_m):
        return False
    share = (north_m - wall[NORTH_0]) / (wall[NORTH_1] - wall[NORTH_0])
    return bool(wall[EAST_0] + share * (wall[EAST_1] - wall[EAST_0]) > east_m)


@compiled
def _within(walls: FloatArray, count: int, east_m: float, north_m: float) -> bool:
    """Return whether a place lies within an odd number of rings, all of which are whole among the walls."""
    crossed = 0
    for j in range(count):
        if _crosses(walls[j], east_m, north_m):
            crossed += 1
    return crossed % 2 == 1


@compiled
def _step_outside(walls: FloatArray, count: int) -> None:
    """Move the walls so that their origin, inside a building, comes to lie beside the nearest free wall.

    Where none of the nearest walls is free, those of rings around the origin no longer stand over it.
    """
    tried_m = -1.0
    for _ in range(TRIES):
        nearest_m, east_m, north_m = np.inf, 0.0, 0.0
        for j in range(count):
            wall = walls[j]
            east, north = wall[EAST_1] - wall[EAST_0], wall[NORTH_1] - wall[NORTH_0]
            squared = east * east + north * north
            if squared == 0.0:
                continue
            share = min(1.0, max(0.0, -(wall[EAST_0] * east + wall[NORTH_0] * north) / squared))
            foot_east, foot_north = wall[EAST_0] + share * east, wall[NORTH_0] + share * north
            away_m = np.hypot(foot_east, foot_north)
            if tried_m < away_m < nearest_m:
                nearest_m = away_m
                # Straight out of the wall; from on the wall itself, to its right.
                length = sqrt(squared)
                out_east, out_north = north / length, -east / length
                if away_m > 1e-6:
                    out_east, out_north = foot_east / away_m, foot_north / away_m
                east_m, north_m = foot_east + BESIDE_M * out_east, foot_north + BESIDE_M * out_north
        if nearest_m == np.inf:
            break
        if not _within(walls, count, east_m, north_m):
            for j in range(count):
                walls[j, EAST_0] -= east_m
                walls[j, EAST_1] -= east_m
                walls[j, NORTH_0] -= north_m
                walls[j, NORTH_1] -= north_m
            return
        tried_m = nearest_m
    start = 0
    for j in range(1, count + 1):
        if j == count or walls[j, RING] != walls[start, RING]:
            if _within(walls[start:j], j - start, 0.0, 0.0):
                walls[start:j, OVER] = 0.0
            start = j
