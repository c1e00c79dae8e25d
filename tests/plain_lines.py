"""A second, plain way to sum the crowns a ray meets: many lines, each walked cell by cell, one at a time.

No patches, no lanes, no refinement, no normalisation: slow, simple, and independent of how physics.canopy
does it, which must agree with it.
"""

import numpy as np
from numba import njit

from routesolar.physics.crowns import crowns_of


def plain_overlap(views, road, grid, habit, sun_azimuth_deg, sun_elevation_deg, lines=255):
    """Return the crowns met on average, (d, n) as the suns, from `lines` lines through each shadow."""
    return _all(views, road, grid, crowns_of(habit), sun_azimuth_deg, sun_elevation_deg, lines)


@njit(nogil=True)
def _all(views, road, grid, crowns, azimuth_deg, elevation_deg, lines):
    overlap = np.empty(azimuth_deg.shape)
    for d in range(overlap.shape[0]):
        for i in range(overlap.shape[1]):
            ray = plain_ray(views, i, azimuth_deg[d, i], elevation_deg[d, i])
            overlap[d, i] = _one(views, road, grid, crowns, i, ray, lines)
    return overlap


@njit
def plain_ray(views, i, azimuth_deg, elevation_deg):
    """East, north, slope of the ray, ground slope ahead and aside."""
    east, north = np.sin(np.radians(azimuth_deg)), np.cos(np.radians(azimuth_deg))
    ahead = views.slope_east[i] * east + views.slope_north[i] * north
    aside = views.slope_east[i] * north - views.slope_north[i] * east
    return east, north, np.tan(np.radians(elevation_deg)), ahead, aside


@njit
def _one(views, road, grid, crowns, i, ray, lines):
    _, _, slope, ahead, aside = ray
    if slope <= ahead:
        return np.inf
    tallest = views.tallest_m[i, 1] * crowns.steps[-1]
    widest = crowns.radius * tallest
    half = np.sqrt(crowns.ratio**2 + slope**2) / (slope - ahead) * widest
    centre, shift = crowns.centre * tallest / (slope - ahead), abs(aside) * widest / (slope - ahead)
    low = -views.panel_height_m / (slope - ahead) - shift - half
    high = min(800.0, centre + half + shift)
    total = 0.0
    for j in range(1, lines + 1):
        angle = np.pi * j / (lines + 1)
        total += np.sin(angle) * line_shadow(
            views, road, grid, crowns, i, ray, widest * np.cos(angle), (low, high)
        )
    return total * widest * np.pi / (lines + 1)


@njit
def line_shadow(views, road, grid, crowns, i, ray, y, reach):
    """Crowns met per metre across on the line at offset `y`."""
    east, north, _, _, _ = ray
    spans = _blocked(road, i, east, north, y)
    if not (np.isnan(views.layers[i]) or np.isnan(views.height_m[i])):
        return _cell_shadow(views, crowns, i, ray, y, reach, (views.layers[i], views.height_m[i]), spans)
    cells = views.cells_per_m[i]
    col_0 = views.col[i] + (cells[0, 0] * north - cells[0, 1] * east) * y
    row_0 = views.row[i] + (cells[1, 0] * north - cells[1, 1] * east) * y
    col_ahead, row_ahead = cells[0, 0] * east + cells[0, 1] * north, cells[1, 0] * east + cells[1, 1] * north
    met, here = 0.0, reach[0]
    while here < reach[1]:
        # Amanatides & Woo 1987, recomputed from the border each time: slower, without running sums.
        inside = here + 1e-9
        col, row = np.floor(col_0 + col_ahead * inside), np.floor(row_0 + row_ahead * inside)
        there = reach[1]
        if col_ahead != 0.0:
            there = min(there, max((col - col_0) / col_ahead, (col + 1 - col_0) / col_ahead))
        if row_ahead != 0.0:
            there = min(there, max((row - row_0) / row_ahead, (row + 1 - row_0) / row_ahead))
        there = max(there, inside)
        met += _cell_shadow(
            views, crowns, i, ray, y, (here, there), _trees(views, grid, i, int(row), int(col)), spans
        )
        here = there
    return met


@njit
def _trees(views, grid, i, row, col):
    tile = grid.cells.shape[1]
    layers, height = grid.beyond_layers, grid.beyond_height_m
    if 0 <= row < grid.height and 0 <= col < grid.width and grid.slot[row // tile, col // tile] >= 0:
        k = grid.slot[row // tile, col // tile]
        layers, height = (
            float(grid.cells[k, row % tile, col % tile, 0]),
            float(grid.cells[k, row % tile, col % tile, 1]),
        )
    if not np.isnan(views.layers[i]):
        layers = views.layers[i]
    if not np.isnan(views.height_m[i]):
        height = views.height_m[i]
    return layers, views.default_height_m[i] if np.isnan(height) else height


@njit
def _cell_shadow(views, crowns, i, ray, y, piece, trees, spans):
    _, _, slope, ahead, aside = ray
    met = 0.0
    for step in crowns.steps:
        tall = trees[1] * step
        radius = crowns.radius * tall
        if radius <= abs(y):
            continue
        half = np.sqrt(crowns.ratio**2 + slope**2) / (slope - ahead) * np.sqrt(radius**2 - y**2)
        centre = (crowns.centre * tall - views.panel_height_m + aside * y) / (slope - ahead)
        low, high = max(piece[0], centre - half), min(piece[1], centre + half)
        if crowns.base * tall < views.panel_height_m:
            low = max(low, 0.0)
        free = max(0.0, high - low)
        for k in range(len(spans)):
            free -= max(0.0, min(high, spans[k, 1]) - max(low, spans[k, 0]))
        met += free * trees[0] / (np.pi * radius**2 * len(crowns.steps))
    return met


@njit
def _blocked(road, i, east, north, y):
    """Sorted, disjoint stretches of the line inside the corridor: each capsule by bisection-free geometry."""
    spans = np.empty((road.first[i + 1] - road.first[i], 2))
    count = 0
    for k in range(road.first[i], road.first[i + 1]):
        e_0, n_0, e_1, n_1, half = road.piece[k]
        s_0, y_0, s_1, y_1 = (
            e_0 * east + n_0 * north,
            e_0 * north - n_0 * east,
            e_1 * east + n_1 * north,
            e_1 * north - n_1 * east,
        )
        low, high = np.inf, -np.inf
        for s_c, y_c in ((s_0, y_0), (s_1, y_1)):
            if abs(y - y_c) < half:
                root = np.sqrt(half**2 - (y - y_c) ** 2)
                low, high = min(low, s_c - root), max(high, s_c + root)
        if y_1 != y_0:
            length = np.hypot(s_1 - s_0, y_1 - y_0)
            for side in (-half, half):
                share = (y - y_0 - side * (s_1 - s_0) / length) / (y_1 - y_0)
                if 0 <= share <= 1:
                    crossing = s_0 - side * (y_1 - y_0) / length + share * (s_1 - s_0)
                    low, high = min(low, crossing), max(high, crossing)
        if high > low:
            spans[count, 0], spans[count, 1] = low, high
            count += 1
    spans = spans[:count][np.argsort(spans[:count, 0])]
    merged = 0
    for k in range(1, count):
        if spans[k, 0] <= spans[merged, 1]:
            spans[merged, 1] = max(spans[merged, 1], spans[k, 1])
        else:
            merged += 1
            spans[merged] = spans[k]
    return spans[: merged + 1] if count else spans
