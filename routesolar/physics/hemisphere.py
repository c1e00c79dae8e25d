"""The sky above each point in 24 x 12 directions: crowns met in each, and the share of sky a panel sees.

Azimuths are midpoints counted clockwise from the heading, elevations midpoints from the horizon up. Every
line is walked once an azimuth and serves all elevations.
"""

import numpy as np
from numpy.typing import NDArray

from routesolar.physics.canopy import blocked_spans, bounds, crowns_of, ray_at, turn_pieces
from routesolar.physics.compiled import compiled
from routesolar.physics.corridor import Road, free_length
from routesolar.physics.crowns import Habit
from routesolar.physics.raymarch import Crowns, Grid, Views, cells_in_reach, cross_cells, spot_of

Array = NDArray[np.float64]

AZIMUTHS = 24
ELEVATIONS = 12
LINES = 5  # per azimuth; against 255: mean .002
_NORM_BINS = 256  # per crown radius over the widest near the point


def azimuth_deg() -> Array:
    """Return the table's azimuths in degrees clockwise from the heading, (24,)."""
    azimuths: Array = (np.arange(AZIMUTHS) + 0.5) * 360.0 / AZIMUTHS
    return azimuths


def elevation_deg() -> Array:
    """Return the table's elevations in degrees above the horizon, (12,)."""
    elevations: Array = (np.arange(ELEVATIONS) + 0.5) * 90.0 / ELEVATIONS
    return elevations


def sky_overlap(views: Views, road: Road, grid: Grid, habit: Habit, heading_deg: Array) -> Array:
    """Return the crowns met on average in each direction of the sky, (n, 24, 12).

    As `beam_overlap`, with coarser lines. Infinite where the ground rises above the direction.
    """
    return _sky_overlap(views, road, grid, crowns_of(habit), np.radians(heading_deg), line_norm(LINES))


def line_norm(lines: int) -> Array:
    """Return the area of a disc over its area by `lines` chords, by radius over the widest in bins up to 2.

    A crown narrower than the widest is cut by few of the lines; its pieces are scaled by this.
    """
    share = (np.arange(2 * _NORM_BINS + 1) + 0.5)[:, None] / _NORM_BINS
    angle = np.pi * np.arange(1, lines + 1) / (lines + 1)
    chord = 2 * np.sqrt(np.maximum(0.0, share**2 - np.cos(angle) ** 2))
    summed = np.pi / (lines + 1) * np.sum(np.sin(angle) * chord, axis=1)
    norm: Array = np.where(share[:, 0] < 1, np.pi * share[:, 0] ** 2 / summed, 1.0)
    return norm


@compiled
def _sky_overlap(views: Views, road: Road, grid: Grid, crowns: Crowns, heading: Array, norm: Array) -> Array:
    count = len(heading)
    overlap = np.zeros((count, AZIMUTHS, ELEVATIONS))
    slope = np.tan(np.pi / 2 * (np.arange(ELEVATIONS) + 0.5) / ELEVATIONS)
    for i in range(count):
        room = road.first[i + 1] - road.first[i]
        pieces, spans = np.empty((room, 5)), np.empty((room, 2))
        crossed = np.empty((cells_in_reach(views.cells_per_m[i]), 4))
        for k in range(AZIMUTHS):
            azimuth = heading[i] + 2 * np.pi * (k + 0.5) / AZIMUTHS
            _azimuth_overlap(
                views, road, grid, crowns, i, azimuth, slope, norm, (pieces, spans, crossed), overlap[i, k]
            )
    return overlap


@compiled
def _azimuth_overlap(
    views: Views,
    road: Road,
    grid: Grid,
    crowns: Crowns,
    i: int,
    azimuth: float,
    slope: Array,
    norm: Array,
    room: tuple[Array, Array, Array],
    overlap: Array,
) -> None:
    pieces, spans, crossed = room
    rise, half_chord = np.empty(ELEVATIONS), np.empty(ELEVATIONS)
    for e in range(ELEVATIONS):
        ray = ray_at(views, crowns, i, azimuth, slope[e])
        rise[e], half_chord[e] = ray.rise, ray.half_chord
        overlap[e] = 0.0 if ray.rise > 0.0 else np.inf
    lowest = 0
    while lowest < ELEVATIONS and not rise[lowest] > 0.0:
        lowest += 1
    if lowest == ELEVATIONS:
        return
    ray = ray_at(views, crowns, i, azimuth, slope[lowest])
    low, high, widest = bounds(views, crowns, i, ray)
    steep = ray_at(views, crowns, i, azimuth, slope[ELEVATIONS - 1])
    low = min(low, bounds(views, crowns, i, steep)[0])
    spot = spot_of(views, i, ray.east, ray.north)
    widest = crowns.radius * views.tallest_m[i, 0] * crowns.steps[-1]
    count = turn_pieces(road, i, ray, low, high, widest, pieces)
    for j in range(1, LINES + 1):
        angle = np.pi * j / (LINES + 1)
        y = widest * np.cos(angle)
        weight = widest * np.sin(angle) * np.pi / (LINES + 1)
        blocked = blocked_spans(pieces, count, y, spans)
        for c in range(cross_cells(grid, spot, y, low, high, crossed)):
            cell = crossed[c]
            for k in range(len(crowns.steps)):
                tall_m = cell[3] * crowns.steps[k]
                radius = crowns.radius * tall_m
                inside = radius * radius - y * y
                if inside <= 0.0:
                    continue
                root = np.sqrt(inside)
                scale = weight * cell[2] / (np.pi * radius * radius * len(crowns.steps))
                scale *= norm[min(len(norm) - 1, int(_NORM_BINS * radius / widest))]
                lift = crowns.centre * tall_m - ray.panel_height_m + ray.side_slope * y
                start = max(cell[0], 0.0) if crowns.base * tall_m < ray.panel_height_m else cell[0]
                for e in range(lowest, ELEVATIONS):
                    centre, half = lift / rise[e], half_chord[e] * root
                    first, last = max(start, centre - half), min(cell[1], centre + half)
                    if last > first:
                        overlap[e] += scale * free_length(spans, blocked, first, last)


def direction_weight(normal: Array, heading_deg: Array) -> Array:
    """Return how much each direction counts for panels with these normals (..., 3), as (..., 24, 12).

    The cosine of incidence integrated over each elevation band at its middle azimuth; the weights of a
    level panel are sin^2 of the band's upper edge less sin^2 of its lower.
    """
    azimuth = np.radians(np.asarray(heading_deg)[..., None] + azimuth_deg())
    edge = np.linspace(0.0, np.pi / 2, ELEVATIONS + 1)
    level = np.diff(edge / 2 + np.sin(2 * edge) / 4)
    up = np.diff(np.sin(edge) ** 2) / 2
    across = normal[..., 0, None] * np.sin(azimuth) + normal[..., 1, None] * np.cos(azimuth)
    weight: Array = np.maximum(0.0, across[..., None] * level + normal[..., 2, None, None] * up)
    return weight
