"""The horizon that walls near a panel draw, by half degrees, and what it hides of the sun and of the sky.

Along a wall the horizon's tangent is a sine of the azimuth: the top's height over the panel, times the wall's
normal times the direction, over the wall's distance. The sun is compared with it at its own azimuth; the sky is
averaged over half degrees.
"""

from math import asin, atan2, cos, degrees, floor, pi, radians, sin, tan
from typing import NamedTuple

import numpy as np

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled
from routesolar.physics.dome import AZIMUTHS, DRAWN, ELEVATIONS
from routesolar.physics.terrain import horizon_toward_deg

BINS = 720  # of the horizon, half a degree each
WIDTH = 2.0 * pi / BINS
# Columns of a wall near a panel: metres east and north of its ends, its top over the panel, its ring.
EAST_0, NORTH_0, EAST_1, NORTH_1, OVER, RING = range(6)


class Skyline(NamedTuple):
    """A horizon's tangents by half degrees from north: at the middle, and bounds of those within, (720,).

    The rest are tables: east and north parts of directions at the beginnings and in the middles, (720, 2).
    """

    middle: FloatArray
    least: FloatArray
    most: FloatArray
    edges: FloatArray
    middles: FloatArray


@compiled
def empty_skyline() -> Skyline:
    """Return a horizon at level."""
    edges, middles = np.empty((BINS, 2)), np.empty((BINS, 2))
    for k in range(BINS):
        edges[k, 0], edges[k, 1] = sin(k * WIDTH), cos(k * WIDTH)
        middles[k, 0], middles[k, 1] = sin((k + 0.5) * WIDTH), cos((k + 0.5) * WIDTH)
    return Skyline(np.zeros(BINS), np.zeros(BINS), np.zeros(BINS), edges, middles)


@compiled
def raise_skyline(walls: FloatArray, first: int, last: int, line: Skyline) -> None:
    """Raise a horizon over level ground by that of some walls."""
    for j in range(first, last):
        wall = walls[j]
        across = wall[EAST_0] * wall[NORTH_1] - wall[EAST_1] * wall[NORTH_0]
        if wall[OVER] <= 0.0 or across == 0.0:
            continue
        from_az = atan2(wall[EAST_0], wall[NORTH_0])
        turn = (atan2(wall[EAST_1], wall[NORTH_1]) - from_az + pi) % (2.0 * pi) - pi
        low, high = min(from_az, from_az + turn), max(from_az, from_az + turn)
        of_east = wall[OVER] * (wall[NORTH_1] - wall[NORTH_0]) / across
        of_north = wall[OVER] * (wall[EAST_0] - wall[EAST_1]) / across
        at_low = wall[OVER] / np.hypot(wall[EAST_0], wall[NORTH_0])
        at_high = wall[OVER] / np.hypot(wall[EAST_1], wall[NORTH_1])
        if turn < 0.0:
            at_low, at_high = at_high, at_low
        first_bin, last_bin = floor(low / WIDTH), floor(high / WIDTH)
        left = at_low
        for k in range(first_bin, last_bin + 1):
            place, after = k % BINS, (k + 1) % BINS
            right = at_high
            if k < last_bin:
                right = of_east * line.edges[after, 0] + of_north * line.edges[after, 1]
                if k > first_bin:
                    line.least[place] = max(line.least[place], min(left, right))
            line.most[place] = max(line.most[place], max(left, right))
            if low <= (k + 0.5) * WIDTH < high:
                value = of_east * line.middles[place, 0] + of_north * line.middles[place, 1]
                line.middle[place] = max(line.middle[place], value)
            left = right


@compiled
def shows(ring: FloatArray, radius_m: float, over_m: float, line: Skyline) -> bool:
    """Return whether a ring, at its nearest, would rise above what is known to hide it in any direction.

    `ring` holds metres to its circle, its number, and metres east and north to the circle's middle.
    """
    most = over_m / ring[0]
    middle, half = atan2(ring[2], ring[3]), asin(min(1.0, 1.01 * radius_m / np.hypot(ring[2], ring[3])))
    for k in range(floor((middle - half) / WIDTH), floor((middle + half) / WIDTH) + 1):
        if line.least[k % BINS] < most:
            return True
    return False


@compiled
def hides(walls: FloatArray, count: int, line: Skyline, azimuth_deg: float, rise: float) -> bool:
    """Return whether a wall hides a sun that rises so much per metre over the ground."""
    azimuth = radians(azimuth_deg)
    place = floor(azimuth / WIDTH) % BINS
    if rise > 1.0001 * line.most[place] + 1e-9:  # a sine's crest between its ends
        return False
    if rise < 0.9999 * line.least[place]:
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
def write_sky(
    line: Skyline,
    slope: tuple[float, float],
    horizon_deg: FloatArray,
    heading_deg: float,
    sky: FloatArray,
) -> None:
    """Write what walls and the hills behind them leave of each direction of the sky's table, (20, 12).

    Shares are weighted as in `dome`. The ground under the walls rises by `slope` to the east and north.
    """
    hilly = np.any(horizon_deg > 0.0)
    edge = np.empty(ELEVATIONS + 1)
    for e in range(ELEVATIONS + 1):
        edge[e] = sin(0.5 * pi * e / ELEVATIONS) ** 2
    for a in range(AZIMUTHS):
        start = round(radians(_edge_deg(a) + heading_deg) / WIDTH)
        end = round(radians(_edge_deg(a + 1) + heading_deg) / WIDTH)
        sky[a] = 0.0
        for k in range(start, end):
            place = k % BINS
            tangent = line.middle[place]
            if tangent > 0.0:
                tangent += slope[0] * line.middles[place, 0] + slope[1] * line.middles[place, 1]
            if hilly:
                hills_deg = horizon_toward_deg(horizon_deg, degrees((place + 0.5) * WIDTH))
                tangent = max(tangent, tan(radians(max(0.0, hills_deg))))
            tangent = max(tangent, 0.0)
            hidden = tangent * tangent / (1.0 + tangent * tangent)
            for e in range(ELEVATIONS - 1, -1, -1):
                if hidden >= edge[e + 1]:
                    break
                sky[a, e] += min(1.0, (edge[e + 1] - hidden) / (edge[e + 1] - edge[e]))
        sky[a] /= end - start


@compiled
def _edge_deg(a: int) -> float:
    """Return the azimuth from the heading at which direction `a` of the sky's table begins."""
    even = a * 2.0 * pi / AZIMUTHS
    return degrees(even - 0.5 * DRAWN * sin(2.0 * even))
