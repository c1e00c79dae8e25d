"""Buildings as prisms that stand on the ground: what walls hide of the sun and of the sky.

A prism on the ground hides all below its top in every direction that crosses one of its walls: buildings
are a horizon. Along a wall its tangent is the top's height over the panel times the wall's normal times the
direction, over the wall's distance: a sine of the azimuth. The sun is compared with it at its own azimuth; the
sky is averaged over half degrees. The ground slopes as a plane through the point.
"""

from math import atan, atan2, cos, degrees, floor, pi, radians, sin, sqrt, tan
from typing import NamedTuple

import numpy as np

from routesolar.arrays import BoolArray, FloatArray, IntArray
from routesolar.physics.compiled import compiled
from routesolar.physics.dome import AZIMUTHS, DRAWN, ELEVATIONS
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
from routesolar.physics.terrain import horizon_toward_deg

BINS = 720  # of the horizon, half a degree each
BESIDE_M = 2.0  # from the wall, a vehicle that a map puts into a building
TRIES = 24  # walls of a building, the nearest first, beside which a vehicle may stand
# Columns of a wall near a panel: metres east and north of its ends, its top over the panel, its ring.
EAST_0, NORTH_0, EAST_1, NORTH_1, OVER, RING = range(6)


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


class Profile(NamedTuple):
    """A horizon's tangents by half degrees from north: at the middle, and bounds of those within, (720,)."""

    middle: FloatArray
    least: FloatArray
    most: FloatArray


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
    walls = np.empty((64, 6))
    for i in range(len(inside)):
        place = place_of(rings.squares, latitude_deg[i], longitude_deg[i])
        walls, count = _walls_near(rings, place, 0.0, 0.0, 0.0, True, walls)
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
    profile = Profile(np.empty(BINS), np.empty(BINS), np.empty(BINS))
    walls = np.empty((256, 6))
    for i in range(count):
        place = place_of(rings.squares, panels.latitude_deg[i], panels.longitude_deg[i])
        east_m, north_m = panels.east_m[i], panels.north_m[i]
        walls, found = _walls_near(rings, place, east_m, north_m, panels.height_m, False, walls)
        if found and _within(walls, found, 0.0, 0.0):
            _step_outside(walls, found)
        _write_profile(walls, found, profile)
        slope_east, slope_north = panels.slope_east[i], panels.slope_north[i]
        for d in range(departures):
            azimuth, elevation = radians(sun_azimuth_deg[d, i]), radians(sun_elevation_deg[d, i])
            if found and elevation > 0.0:
                rise = tan(elevation) - slope_east * sin(azimuth) - slope_north * cos(azimuth)
                hidden[d, i] = _hides(walls, found, profile, azimuth, rise)
        horizon_deg = panels.horizon_deg[panels.place[i]]
        if found == 0 and not np.any(horizon_deg > 0.0):
            continue
        _add_hills(profile.middle, slope_east, slope_north, horizon_deg)
        _write_sky(profile.middle, panels.heading_deg[i], sky[i])
    return hidden, sky


@compiled
def _walls_near(
    rings: Rings,
    place: Place,
    east_m: float,
    north_m: float,
    height_m: float,
    only_here: bool,
    walls: FloatArray,
) -> tuple[FloatArray, int]:
    """Write the walls that matter to a panel, in metres from it; return the array or a larger, and a count.

    `only_here` leaves out rings that the panel cannot be in.
    """
    count = 0
    for k in range(3):
        start, end = row_of_squares(rings.squares, place, k)
        for ring in range(start, end):
            over_m = rings.top_m[ring] - height_m
            away_m = np.hypot(
                (rings.middle_deg[ring, 0] - place.latitude_deg) * place.north_m - north_m,
                (rings.middle_deg[ring, 1] - place.longitude_deg) * place.east_m - east_m,
            )
            reach_m = 1.0 if only_here else max(1.0, reach_of(over_m))
            if away_m - 1.01 * rings.radius_m[ring] > reach_m:
                continue
            first, last = rings.first[ring], rings.first[ring + 1]
            if count + last - first > len(walls):
                wider = np.empty((2 * (count + last - first), 6))
                wider[:count] = walls[:count]
                walls = wider
            before = rings.vertex_deg[last - 1]
            for v in range(first, last):
                vertex, wall = rings.vertex_deg[v], walls[count]
                wall[EAST_0] = (before[1] - place.longitude_deg) * place.east_m - east_m
                wall[NORTH_0] = (before[0] - place.latitude_deg) * place.north_m - north_m
                wall[EAST_1] = (vertex[1] - place.longitude_deg) * place.east_m - east_m
                wall[NORTH_1] = (vertex[0] - place.latitude_deg) * place.north_m - north_m
                wall[OVER], wall[RING] = over_m, ring
                before = vertex
                count += 1
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


@compiled
def _write_profile(walls: FloatArray, count: int, profile: Profile) -> None:
    """Write the horizon that walls draw over level ground."""
    profile.middle[:], profile.least[:], profile.most[:] = 0.0, 0.0, 0.0
    width = 2.0 * pi / BINS
    for j in range(count):
        wall = walls[j]
        across = wall[EAST_0] * wall[NORTH_1] - wall[EAST_1] * wall[NORTH_0]
        if wall[OVER] <= 0.0 or across == 0.0:
            continue
        from_az = atan2(wall[EAST_0], wall[NORTH_0])
        turn = (atan2(wall[EAST_1], wall[NORTH_1]) - from_az + pi) % (2.0 * pi) - pi
        low, high = min(from_az, from_az + turn), max(from_az, from_az + turn)
        of_sin = wall[OVER] * (wall[NORTH_1] - wall[NORTH_0]) / across
        of_cos = wall[OVER] * (wall[EAST_0] - wall[EAST_1]) / across
        for k in range(floor(low / width), floor(high / width) + 1):
            left, right, middle = k * width, (k + 1) * width, (k + 0.5) * width
            start, end, place = max(low, left), min(high, right), k % BINS
            one, other = of_sin * sin(start) + of_cos * cos(start), of_sin * sin(end) + of_cos * cos(end)
            profile.most[place] = max(profile.most[place], max(one, other))
            if low <= left and right <= high:
                profile.least[place] = max(profile.least[place], min(one, other))
            if low <= middle < high:
                profile.middle[place] = max(profile.middle[place], of_sin * sin(middle) + of_cos * cos(middle))


@compiled
def _hides(walls: FloatArray, count: int, profile: Profile, azimuth: float, rise: float) -> bool:
    """Return whether a wall hides a sun that rises so much per metre over the ground."""
    place = floor(azimuth / (2.0 * pi / BINS)) % BINS
    if rise > 1.0001 * profile.most[place] + 1e-9:  # a sine's crest between its ends
        return False
    if rise < 0.9999 * profile.least[place]:
        return True
    east, north = sin(azimuth), cos(azimuth)
    for j in range(count):
        wall = walls[j]
        side_0 = wall[EAST_0] * north - wall[NORTH_0] * east
        side_1 = wall[EAST_1] * north - wall[NORTH_1] * east
        if (side_0 > 0.0) == (side_1 > 0.0) or wall[OVER] <= 0.0:
            continue
        share = side_0 / (side_0 - side_1)
        ahead_m = (wall[EAST_0] + share * (wall[EAST_1] - wall[EAST_0])) * east
        ahead_m += (wall[NORTH_0] + share * (wall[NORTH_1] - wall[NORTH_0])) * north
        if ahead_m > 0.0 and wall[OVER] > rise * ahead_m:
            return True
    return False


@compiled
def _add_hills(tangent: FloatArray, slope_east: float, slope_north: float, horizon_deg: FloatArray) -> None:
    """Let the ground under walls rise, and raise the horizon to that of the hills."""
    for k in range(BINS):
        azimuth = (k + 0.5) * 2.0 * pi / BINS
        if tangent[k] > 0.0:
            tangent[k] += slope_east * sin(azimuth) + slope_north * cos(azimuth)
        hills_deg = horizon_toward_deg(horizon_deg, degrees(azimuth))
        tangent[k] = max(tangent[k], tan(radians(max(0.0, hills_deg))))


@compiled
def _write_sky(tangent: FloatArray, heading_deg: float, sky: FloatArray) -> None:
    """Write what a horizon leaves of each direction of the sky's table, (20, 12), weighted as in `dome`."""
    for a in range(AZIMUTHS):
        first, last = _edge_deg(a) + heading_deg, _edge_deg(a + 1) + heading_deg
        start, end = round(first * BINS / 360.0), round(last * BINS / 360.0)
        sky[a] = 0.0
        for k in range(start, end):
            squared = tangent[k % BINS] ** 2 / (1.0 + tangent[k % BINS] ** 2)
            lowest = min(int(atan(tangent[k % BINS]) / (0.5 * pi) * ELEVATIONS), ELEVATIONS - 1)
            low, high = sin(0.5 * pi * lowest / ELEVATIONS) ** 2, sin(0.5 * pi * (lowest + 1) / ELEVATIONS) ** 2
            sky[a, lowest] += min(1.0, max(0.0, (high - squared) / (high - low)))
            sky[a, lowest + 1 :] += 1.0
        sky[a] /= end - start


@compiled
def _edge_deg(a: int) -> float:
    """Return the azimuth from the heading at which direction `a` of the sky's table begins."""
    even = a * 2.0 * pi / AZIMUTHS
    return degrees(even - 0.5 * DRAWN * sin(2.0 * even))
