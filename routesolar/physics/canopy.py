"""Expected overlap of crowns on the way to the sun, along real roads and through rasters.

The crowns a ray meets are those whose trunks stand in its shadow ellipse and outside the road's corridor
(crowns.py). The area is summed on lines parallel to the ray: each is cut by the corridor (corridor.py) and
walked through the grid cell by cell (raymarch.py).
"""

import numpy as np
from numpy.typing import NDArray

from routesolar.physics.compiled import compiled
from routesolar.physics.corridor import REACH_M, Road, add_span, capsule_span
from routesolar.physics.crowns import Habit
from routesolar.physics.raymarch import (
    Crowns,
    Grid,
    Ray,
    Views,
    cells_in_reach,
    cross_cells,
    shadow_on_line,
    spot_of,
)

Array = NDArray[np.float64]

SPREAD_STEP = 1.22  # three equal classes at H (1 - 1.22 sd), H, H (1 + 1.22 sd) keep mean and spread
NEAR_M = 120.0  # radius within which a nearer bound of the trees' height is known
LINES = 127


def beam_overlap(
    views: Views, road: Road, grid: Grid, habit: Habit, sun_azimuth_deg: Array, sun_elevation_deg: Array
) -> Array:
    """Return the crowns met on average on the way to the sun, (d, n) as the suns.

    Multiply by 1 - crown transmittance for an optical depth. Infinite where the ground ahead rises above
    the sun; NaN at or below the horizon and where the cover is not known.
    """
    return _beam_overlap(views, road, grid, crowns_of(habit), sun_azimuth_deg, sun_elevation_deg)


def crowns_of(habit: Habit) -> Crowns:
    """Return a habit as lengths per metre of tree height."""
    steps = np.array([1.0])
    if habit.spread_frac > 0:
        steps = 1.0 + SPREAD_STEP * habit.spread_frac * np.array([-1.0, 0.0, 1.0])
    return Crowns(
        base=habit.base_frac,
        centre=0.5 * (1.0 + habit.base_frac),
        radius=0.5 * (1.0 - habit.base_frac) / habit.ratio,
        ratio=habit.ratio,
        steps=steps,
    )


@compiled
def _beam_overlap(
    views: Views, road: Road, grid: Grid, crowns: Crowns, sun_azimuth_deg: Array, sun_elevation_deg: Array
) -> Array:
    departures, count = sun_azimuth_deg.shape
    overlap = np.empty((departures, count))
    for i in range(count):
        room = road.first[i + 1] - road.first[i]
        pieces, spans = np.empty((room, 5)), np.empty((room, 2))
        crossed = np.empty((cells_in_reach(views.cells_per_m[i]), 4))
        for d in range(departures):
            azimuth, elevation = np.radians(sun_azimuth_deg[d, i]), np.radians(sun_elevation_deg[d, i])
            overlap[d, i] = _overlap(views, road, grid, crowns, i, azimuth, elevation, (pieces, spans, crossed))
    return overlap


@compiled
def _overlap(
    views: Views,
    road: Road,
    grid: Grid,
    crowns: Crowns,
    i: int,
    azimuth: float,
    elevation: float,
    room: tuple[Array, Array, Array],
) -> float:
    if not elevation > 0.0:
        return np.nan
    pieces, spans, crossed = room
    ray = ray_at(views, crowns, i, azimuth, np.tan(elevation))
    if not ray.rise > 0.0:
        return np.inf
    spot = spot_of(views, i, ray.east, ray.north)
    low, high, widest = bounds(views, crowns, i, ray)
    count = turn_pieces(road, i, ray, low, high, widest, pieces)
    total = 0.0
    for j in range(1, LINES + 1):
        angle = np.pi * j / (LINES + 1)
        y = widest * np.cos(angle)
        blocked = blocked_spans(pieces, count, y, spans)
        met = 0.0
        for k in range(cross_cells(grid, spot, y, low, high, crossed)):
            met += shadow_on_line(crossed[k], y, ray, crowns, spans, blocked)
        total += np.sin(angle) * met
    return total * widest * np.pi / (LINES + 1)


@compiled
def ray_at(views: Views, crowns: Crowns, i: int, azimuth: float, slope: float) -> Ray:
    """Return the ray of point i towards an azimuth (radians), rising by `slope` per metre."""
    east, north = np.sin(azimuth), np.cos(azimuth)
    ahead = views.slope_east[i] * east + views.slope_north[i] * north
    aside = views.slope_east[i] * north - views.slope_north[i] * east
    rise = slope - ahead
    half_chord = np.sqrt(crowns.ratio * crowns.ratio + slope * slope) / rise
    return Ray(east, north, rise, aside, half_chord, views.panel_height_m)


@compiled
def bounds(views: Views, crowns: Crowns, i: int, ray: Ray) -> tuple[float, float, float]:
    """Return the stretch of the ray, and the widest crown, that the trees around point i can shade: metres."""
    low, high, widest = reach_of(ray, crowns, views.tallest_m[i, 0] * crowns.steps[-1])
    if max(high, -low) > NEAR_M - 5.0:
        low, high, widest = reach_of(ray, crowns, views.tallest_m[i, 1] * crowns.steps[-1])
    return low, high, widest


@compiled
def reach_of(ray: Ray, crowns: Crowns, tallest_m: float) -> tuple[float, float, float]:
    """Return the stretch of the ray, and the widest crown, that trees up to a height can shade: metres."""
    widest = crowns.radius * tallest_m
    aside = abs(ray.side_slope) * widest
    half = ray.half_chord * widest
    high = (crowns.centre * tallest_m - ray.panel_height_m + aside) / ray.rise + half
    low = (-ray.panel_height_m - aside) / ray.rise + min(0.0, crowns.centre * tallest_m / ray.rise - half)
    return max(low, -REACH_M), max(low, min(high, REACH_M)), widest


@compiled
def turn_pieces(road: Road, i: int, ray: Ray, low: float, high: float, widest: float, pieces: Array) -> int:
    """Write the pieces of road that can cut the ray's shadow, in the ray's frame; return how many."""
    count = 0
    reach = max(high, -low) + widest
    for k in range(road.first[i], road.first[i + 1]):
        half_width = road.piece[k, 4]
        if road.distance_m[k] > reach + half_width:
            break
        east_0, north_0, east_1, north_1 = (
            road.piece[k, 0],
            road.piece[k, 1],
            road.piece[k, 2],
            road.piece[k, 3],
        )
        s_0, y_0 = east_0 * ray.east + north_0 * ray.north, east_0 * ray.north - north_0 * ray.east
        s_1, y_1 = east_1 * ray.east + north_1 * ray.north, east_1 * ray.north - north_1 * ray.east
        if min(y_0, y_1) - half_width > widest or max(y_0, y_1) + half_width < -widest:
            continue
        if min(s_0, s_1) - half_width > high or max(s_0, s_1) + half_width < low:
            continue
        row = pieces[count]
        row[0], row[1], row[2], row[3], row[4] = s_0, y_0, s_1, y_1, half_width
        count += 1
    return count


@compiled
def blocked_spans(pieces: Array, count: int, y: float, spans: Array) -> int:
    """Write the stretches of the line at offset `y` that lie in the corridor, sorted; return how many."""
    blocked = 0
    for k in range(count):
        low, high = capsule_span(y, pieces[k, 0], pieces[k, 1], pieces[k, 2], pieces[k, 3], pieces[k, 4])
        if high > low:
            blocked = add_span(spans, blocked, low, high)
    return blocked
