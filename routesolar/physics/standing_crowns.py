"""Single trees as ellipsoids where they stand: what rays to the sun and to the sky meet of each of them.

A ray's way through a crown is counted in mean chords of that crown, 4/3 of its half-axis along the ray, as
elsewhere: tau to the power of it is what the crown leaves. The sun's ray is exact. The sky is looked at by rays
2.5 degrees apart: `hit` is the share of a direction that crowns stand in, and the crowns met hold there.
"""

from math import asin, atan2, ceil, cos, floor, pi, radians, sin, sqrt
from typing import NamedTuple

import numpy as np

from routesolar.arrays import BoolArray, FloatArray
from routesolar.physics.compiled import compiled
from routesolar.physics.dome import AZIMUTHS, DRAWN, ELEVATIONS
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
from routesolar.physics.prisms import Panels

AROUND, UP = 144, 36  # rays to the sky by azimuth and elevation
KINDS = 3  # of crowns: deciduous, evergreen, as the others along the road
# Columns of a crown near a panel: metres east, north and up of its middle, its half-axes, its kinds' shares.
EAST, NORTH, OVER, ACROSS, UPWARDS, EVERGREEN = range(6)


class CrownPlaces(NamedTuple):
    """c crowns in the order of their squares: `middle_deg` (c, 2) are latitude and longitude from the corner.

    `evergreen_frac` is NaN for crowns that are as the others along the road.
    """

    squares: Squares
    middle_deg: FloatArray
    height_m: FloatArray
    radius_m: FloatArray
    evergreen_frac: FloatArray


class SkyCrowns(NamedTuple):
    """The share of each direction in which crowns stand, (p, 20, 12), and those met there, (3, p, 20, 12)."""

    hit_frac: FloatArray
    met: FloatArray


def crown_places(
    latitude_deg: FloatArray,
    longitude_deg: FloatArray,
    height_m: FloatArray,
    width_m: FloatArray,
    evergreen_frac: FloatArray,
) -> CrownPlaces:
    """Return crowns as they are looked for."""
    side_m = FARTHEST_M + float(width_m.max())
    squares, order = squares_of(latitude_deg, longitude_deg, side_m)
    middles = np.stack([latitude_deg, from_corner_deg(squares, longitude_deg)], axis=1)
    return CrownPlaces(squares, middles[order], height_m[order], width_m[order] / 2, evergreen_frac[order])


def crowns_near(
    crowns: CrownPlaces, latitude_deg: FloatArray, longitude_deg: FloatArray, within_m: FloatArray
) -> BoolArray:
    """Return whether any crown comes so near to each of n places, (n,)."""
    middles = crowns.middle_deg
    return any_near(crowns.squares, middles, crowns.radius_m, latitude_deg, longitude_deg, within_m)


@compiled
def met_towards_suns(
    crowns: CrownPlaces,
    panels: Panels,
    base_frac: FloatArray,
    sun_azimuth_deg: FloatArray,
    sun_elevation_deg: FloatArray,
) -> FloatArray:
    """Return how many crowns' mean chords the ways to suns (d, p) run through, by kind, (3, d, p).

    `base_frac` (p,) is where crowns begin, as a share of their height. 0 at or below the horizon, and for NaN.
    """
    departures, count = sun_azimuth_deg.shape
    met = np.zeros((KINDS, departures, count))
    room = np.empty((64, 6))
    for i in range(count):
        room, found = _crowns_around(crowns, panels, i, base_frac[i], room)
        for d in range(departures):
            azimuth, elevation = radians(sun_azimuth_deg[d, i]), radians(sun_elevation_deg[d, i])
            if not elevation > 0.0:
                continue
            east, north = sin(azimuth) * cos(elevation), cos(azimuth) * cos(elevation)
            for j in range(found):
                chords = _chords(room[j], east, north, sin(elevation))
                if chords > 0.0:
                    _add_by_kind(met[:, d, i], room[j, EVERGREEN], chords)
    return met


def met_towards_sky(crowns: CrownPlaces, panels: Panels, base_frac: FloatArray) -> SkyCrowns:
    """Return the crowns in each direction of the sky from p panels; directions are those of `dome`."""
    return SkyCrowns(*_met_towards_sky(crowns, panels, base_frac))


@compiled
def _met_towards_sky(
    crowns: CrownPlaces, panels: Panels, base_frac: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return what SkyCrowns has, in its order."""
    count = len(panels.latitude_deg)
    hit, met = np.zeros((count, AZIMUTHS, ELEVATIONS)), np.zeros((KINDS, count, AZIMUTHS, ELEVATIONS))
    rays = np.zeros((AROUND, UP, KINDS))
    room = np.empty((64, 6))
    for i in range(count):
        room, found = _crowns_around(crowns, panels, i, base_frac[i], room)
        if found == 0:
            continue
        rays[:] = 0.0
        for j in range(found):
            _cast_sky(room[j], rays)
        _gather_sky(rays, panels.heading_deg[i], hit[i], met[:, i])
    return hit, met


@compiled
def _crowns_around(
    crowns: CrownPlaces, panels: Panels, i: int, base_frac: float, room: FloatArray
) -> tuple[FloatArray, int]:
    """Write the crowns that matter to panel i, metres from it; return the array or a larger, and a count."""
    place = place_of(crowns.squares, panels.latitude_deg[i], panels.longitude_deg[i])
    count = 0
    for k in range(3):
        start, end = row_of_squares(crowns.squares, place, k)
        for j in range(start, end):
            east_m, north_m = _apart_m(crowns, place, j)
            east_m, north_m = east_m - panels.east_m[i], north_m - panels.north_m[i]
            ground_m = panels.slope_east[i] * east_m + panels.slope_north[i] * north_m - panels.height_m
            top_m = crowns.height_m[j] + ground_m
            away_m = np.hypot(east_m, north_m) - crowns.radius_m[j]
            if top_m <= 0.0 or away_m > reach_of(top_m):
                continue
            if count == len(room):
                wider = np.empty((2 * count, 6))
                wider[:count] = room
                room = wider
            crown = room[count]
            half_m = 0.5 * (1.0 - base_frac) * crowns.height_m[j]
            crown[EAST], crown[NORTH], crown[OVER] = east_m, north_m, top_m - half_m
            crown[ACROSS], crown[UPWARDS] = crowns.radius_m[j], half_m
            crown[EVERGREEN] = crowns.evergreen_frac[j]
            count += 1
    return room, count


@compiled
def _apart_m(crowns: CrownPlaces, place: Place, j: int) -> tuple[float, float]:
    """Return metres east and north of a place at which a crown stands."""
    return (
        (crowns.middle_deg[j, 1] - place.longitude_deg) * place.east_m,
        (crowns.middle_deg[j, 0] - place.latitude_deg) * place.north_m,
    )


@compiled
def _chords(crown: FloatArray, east: float, north: float, up: float) -> float:
    """Return the mean chords of a crown that a ray along a unit vector runs through, ahead of the panel.

    In lengths of its half-axes a crown is a ball of radius 1, whose mean chord is 4/3.
    """
    across, upwards = crown[ACROSS], crown[UPWARDS]
    ray_east, ray_north, ray_up = east / across, north / across, up / upwards
    to_east, to_north, to_up = crown[EAST] / across, crown[NORTH] / across, crown[OVER] / upwards
    squared = ray_east * ray_east + ray_north * ray_north + ray_up * ray_up
    ahead = (ray_east * to_east + ray_north * to_north + ray_up * to_up) / sqrt(squared)
    aside = to_east * to_east + to_north * to_north + to_up * to_up - ahead * ahead
    if aside >= 1.0:
        return 0.0
    half = sqrt(1.0 - max(aside, 0.0))
    return 0.75 * max(0.0, ahead + half - max(0.0, ahead - half))


@compiled
def _add_by_kind(met: FloatArray, evergreen_frac: float, chords: float) -> None:
    """Add chords to the kinds (3,) that a crown is of."""
    if evergreen_frac >= 0.0:
        met[0] += (1.0 - evergreen_frac) * chords
        met[1] += evergreen_frac * chords
    else:
        met[2] += chords


@compiled
def _cast_sky(crown: FloatArray, rays: FloatArray) -> None:
    """Add a crown to the rays that meet it."""
    away_m = sqrt(crown[EAST] * crown[EAST] + crown[NORTH] * crown[NORTH])
    near_m, far_m = max(away_m - crown[ACROSS], 1e-3), away_m + crown[ACROSS]
    low_m, high_m = crown[OVER] - crown[UPWARDS], crown[OVER] + crown[UPWARDS]
    low = max(0.0, atan2(low_m, far_m if low_m > 0.0 else near_m))
    high, half_width = 0.5 * pi, pi
    if away_m > crown[ACROSS]:
        high, half_width = atan2(high_m, near_m), asin(crown[ACROSS] / away_m)
    middle, wide, tall = atan2(crown[EAST], crown[NORTH]), 2.0 * pi / AROUND, 0.5 * pi / UP
    first = ceil((middle - half_width) / wide - 0.5)
    last = min(floor((middle + half_width) / wide - 0.5), first + AROUND - 1)
    for e in range(ceil(low / tall - 0.5), min(floor(high / tall - 0.5), UP - 1) + 1):
        elevation = (e + 0.5) * tall
        level, up = cos(elevation), sin(elevation)
        for a in range(first, last + 1):
            azimuth = (a + 0.5) * wide
            chords = _chords(crown, sin(azimuth) * level, cos(azimuth) * level, up)
            if chords > 0.0:
                _add_by_kind(rays[a % AROUND, e], crown[EVERGREEN], chords)


@compiled
def _gather_sky(rays: FloatArray, heading_deg: float, hit: FloatArray, met: FloatArray) -> None:
    """Write what rays met as shares hit, (20, 12), and means of what is met there, (3, 20, 12)."""
    per = UP // ELEVATIONS
    among = np.zeros(AZIMUTHS)
    for a in range(AROUND):
        patch = _patch_of((a + 0.5) * 360.0 / AROUND - heading_deg)
        among[patch] += per
        for e in range(UP):
            if rays[a, e, 0] + rays[a, e, 1] + rays[a, e, 2] > 0.0:
                hit[patch, e // per] += 1.0
                for kind in range(KINDS):
                    met[kind, patch, e // per] += rays[a, e, kind]
    for a in range(AZIMUTHS):
        for e in range(ELEVATIONS):
            if hit[a, e] > 0.0:
                for kind in range(KINDS):
                    met[kind, a, e] /= hit[a, e]
                hit[a, e] /= among[a]


@compiled
def _patch_of(from_heading_deg: float) -> int:
    """Return which direction of the sky's table an azimuth from the heading lies in."""
    azimuth = radians(from_heading_deg % 360.0)
    even = azimuth
    for _ in range(6):  # azimuth = even - DRAWN / 2 sin(2 even), by Newton's steps
        even -= (even - 0.5 * DRAWN * sin(2.0 * even) - azimuth) / (1.0 - DRAWN * cos(2.0 * even))
    return int(even * AZIMUTHS / (2.0 * pi)) % AZIMUTHS
