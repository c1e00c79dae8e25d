"""Expected overlap of crowns on the way to the sun, along real roads and through rasters.

The crowns a ray meets are those whose trunks stand in its shadow and outside the road's corridor
(crowns.py, corridor.py). The area is summed on a bundle of lines along the ray, spaced as the nodes of Gauss
and Chebyshev (shadows.py); lines are added where the sum jumps from one to the next: along a road or a border
of cells that runs with the ray. Against 2,047 plain lines on a winding road and a 30 m raster: mean error of
transmittance .0003, one in a hundred over .003, the worst of 10,000 rays .015.
"""

from math import cos, exp, radians, sin, tan

import numpy as np

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.corridor import Road, turn_pieces
from routesolar.physics.crowns import Crowns, Habit, crowns_of
from routesolar.physics.raymarch import Grid, GroundAhead, Views, gather_cells, spot_of
from routesolar.physics.shadows import (
    HALFWAY,
    LANES,
    SINES,
    SPACING,
    Bundle,
    Ray,
    Workspace,
    band_of,
    cast_shadows,
    lean_of,
    lines_across,
    lines_between,
    make_room,
    ray_at,
)

LEVELS = 2  # times a jump between two lines is looked at more closely, 25-fold each
TOLERANCE = 0.004  # of transmittance, that a jump may cost unseen


def beam_overlap(
    views: Views,
    road: Road,
    grid: Grid,
    habit: Habit,
    sun_azimuth_deg: FloatArray,
    sun_elevation_deg: FloatArray,
) -> FloatArray:
    """Return the crowns met on average on the way to the sun, (d, n) as the suns.

    Multiply by 1 - crown transmittance for an optical depth. Trees beyond 800 m are not seen. Infinite where
    the ground ahead rises above the sun; NaN at or below the horizon and where the cover is not known.
    """
    return _beam_overlap(views, road, grid, crowns_of(habit), sun_azimuth_deg, sun_elevation_deg)


@compiled
def _beam_overlap(
    views: Views,
    road: Road,
    grid: Grid,
    crowns: Crowns,
    sun_azimuth_deg: FloatArray,
    sun_elevation_deg: FloatArray,
) -> FloatArray:
    departures, count = sun_azimuth_deg.shape
    overlap = np.empty((departures, count))
    classes = len(crowns.steps)
    room = make_room(16, 64, classes, LANES)
    for i in range(count):
        if road.first[i + 1] - road.first[i] > len(room.pieces):
            room = make_room(2 * (road.first[i + 1] - road.first[i]), len(room.cells), classes, LANES)
        for d in range(departures):
            azimuth, elevation = radians(sun_azimuth_deg[d, i]), radians(sun_elevation_deg[d, i])
            met = -1.0
            while met < 0.0:
                met = _overlap(views, road, grid, crowns, i, azimuth, elevation, room)
                if met < 0.0:  # as many cells as there is no room for
                    room = make_room(len(room.pieces), int(-2.0 * met), classes, LANES)
            overlap[d, i] = met
    return overlap


@inlined
def _overlap(
    views: Views,
    road: Road,
    grid: Grid,
    crowns: Crowns,
    i: int,
    azimuth: float,
    elevation: float,
    room: Workspace,
) -> float:
    """Return the crowns met by one ray; minus the number of cells if the room is too small for them."""
    if not elevation > 0.0:
        return np.nan
    if views.layers[i] == 0.0:
        return 0.0
    ray = ray_at(views, crowns, i, sin(azimuth), cos(azimuth), tan(elevation))
    if not ray.rise > 0.0:
        return np.inf
    bundle = bundle_of(views, road, grid, crowns, i, ray, room)
    if bundle.patches <= 0:
        return float(bundle.patches)
    if inside_one(room.pieces, bundle.pieces, bundle.band):
        return 0.0
    return _sum_bundle(bundle, room)


@inlined
def bundle_of(
    views: Views, road: Road, grid: Grid, crowns: Crowns, i: int, ray: Ray, room: Workspace
) -> Bundle:
    """Fill the room with the shadows and the pieces of road around one ray; return what they have in common.

    Where the room is too small, `patches` is minus the number of cells.
    """
    spot = spot_of(views, i, ray.east, ray.north)
    lean = lean_of(spot, ray.side_slope * ray.per_rise)
    band = band_of(views.tallest_m[i], crowns, ray)
    found = gather_cells(grid, spot, band, room.cells)
    if found > len(room.cells):
        return Bundle(-found, 0, band, ray.half_chord, lean)
    patches, band = cast_shadows(crowns, ray, lean, band, room, found)
    pieces = turn_pieces(road, i, ray.east, ray.north, band, room.pieces) if patches > 0 else 0
    return Bundle(patches, pieces, band, ray.half_chord, lean)


@inlined
def inside_one(pieces: FloatArray, count: int, band: GroundAhead) -> bool:
    """Return whether the whole band lies in the corridor around one piece of road."""
    for k in range(count):
        inside = True
        for s in (band.low, band.high):
            for y in (-band.widest, band.widest):
                inside = inside and _near_piece(pieces[k], s, y)
        if inside:
            return True
    return False


@inlined
def _near_piece(piece: FloatArray, s: float, y: float) -> bool:
    along, across = piece[2] - piece[0], piece[3] - piece[1]
    share = ((s - piece[0]) * along + (y - piece[1]) * across) / (along * along + across * across)
    share = min(1.0, max(0.0, share))
    return (s - piece[0] - share * along) ** 2 + (y - piece[1] - share * across) ** 2 < piece[4] * piece[4]


@inlined
def _sum_bundle(bundle: Bundle, room: Workspace) -> float:
    """Return the crowns met, from a first bundle over the whole width and closer ones where it jumps."""
    lines_across(bundle, room)
    total = 0.0
    for j in range(LANES):
        total += room.met[j] * SINES[j]
    overlap = bundle.band.widest * SPACING * total
    allowed = TOLERANCE / _sensitivity(overlap)
    shares = room.shares
    for j in range(LANES):
        shares[j] = room.met[j] / SINES[j]
    for j in range(LANES - 1):
        jump = abs(shares[j + 1] - shares[j])
        if j > 0:
            jump = min(jump, abs(shares[j + 1] - 2.0 * shares[j] + shares[j - 1]))
        if j < LANES - 2:
            jump = min(jump, abs(shares[j + 2] - 2.0 * shares[j + 1] + shares[j]))
        if jump * HALFWAY[j] * bundle.band.widest * SPACING / 2.0 > allowed:
            overlap += _look_closer(bundle, SPACING * (j + 1), shares[j], shares[j + 1], allowed, room)
    return overlap


@inlined
def _look_closer(
    bundle: Bundle, angle: float, share: float, next_share: float, allowed: float, room: Workspace
) -> float:
    """Return what closer lines between two neighbours add to their trapezium; they narrow in on the jump."""
    step = SPACING
    start, end = share * sin(angle) ** 2, next_share * sin(angle + step) ** 2
    added = -0.5 * step * (start + end)
    for level in range(LEVELS):
        lines_between(bundle, angle, angle + step, room)
        step /= LANES + 1
        worst, place, before, after = 0.0, 0, 0.0, 0.0
        here = start
        for j in range(LANES + 1):
            there = room.met[j] * sin(angle + step * (j + 1)) if j < LANES else end
            added += 0.5 * step * (here + there)
            if abs(there - here) > worst:
                worst, place, before, after = abs(there - here), j, here, there
            here = there
        if level == LEVELS - 1 or worst * bundle.band.widest * step / 2.0 < allowed:
            break
        added -= 0.5 * step * (before + after)
        angle, start, end = angle + step * place, before, after
    return added * bundle.band.widest


@inlined
def _sensitivity(overlap: float) -> float:
    """Return how much transmittance one more crown costs at most, for crown transmittances up to .6."""
    if overlap <= 1.0:
        return exp(-overlap)
    if overlap <= 2.5:
        return exp(-1.0) / overlap
    return 0.4 * exp(-0.4 * overlap)
