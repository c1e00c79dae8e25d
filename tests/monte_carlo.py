"""A ray caster of random crowns, to judge the canopy model by what it claims to be the mean of.

It knows nothing of ellipses on the ground, corridors cut by lines or cells crossed: for every ray it plants
new trees around, each an ellipsoid on the sloping ground, leaves out those whose trunks stand on the road,
and counts the crowns that the ray hits.
"""

from typing import NamedTuple

import numpy as np
from numba import njit


class Wood(NamedTuple):
    """Trees by cell of a raster, (rows, cols), where the vehicle is on it, cells per metre east and north."""

    cover: np.ndarray
    height_m: np.ndarray
    place: np.ndarray  # column, row
    cells_per_m: np.ndarray


class Ground(NamedTuple):
    """The road's pieces, (k, 5) metres from the vehicle and half-width; slopes; crowns; panel height."""

    pieces: np.ndarray
    slope_east: float
    slope_north: float
    base_frac: float
    ratio: float
    panel_height_m: float


@njit
def cast(wood, ground, sun_deg, tau, rays, rng):
    """Mean transmittance of `rays` rays towards the sun, and its standard error."""
    east, north = np.sin(np.radians(sun_deg[0])), np.cos(np.radians(sun_deg[0]))
    slope = np.tan(np.radians(sun_deg[1]))
    rise = slope - ground.slope_east * east - ground.slope_north * north
    tallest = wood.height_m.max()
    widest = tallest * (1 - ground.base_frac) / 2 / ground.ratio
    # Where the ray is lower than the tallest tree, with a crown's width to spare on all sides.
    aside = abs(ground.slope_east) + abs(ground.slope_north)
    first, last = -2 * widest, (tallest + aside * widest) / rise + 2 * widest
    dense = _densest(wood, ground)
    mean = square = 0.0
    for _ in range(rays):
        left = 1.0
        for _ in range(rng.poisson(dense * (last - first) * 2 * widest)):
            ahead, right = rng.uniform(first, last), rng.uniform(-widest, widest)
            x, y = ahead * east + right * north, ahead * north - right * east
            cover, height = _cell(wood, x, y)
            radius = height * (1 - ground.base_frac) / 2 / ground.ratio
            if radius == 0.0 or rng.random() * dense > -np.log(1 - cover) / (np.pi * radius**2):
                continue
            if _hits(ground, x, y, height, east, north, slope) and not _on_road(ground, x, y):
                left *= tau
        mean += left
        square += left * left
    mean /= rays
    return mean, np.sqrt(max(square / rays - mean * mean, 0.0) / rays)


@njit
def _densest(wood, ground):
    dense = 0.0
    for row in range(wood.cover.shape[0]):
        for col in range(wood.cover.shape[1]):
            radius = wood.height_m[row, col] * (1 - ground.base_frac) / 2 / ground.ratio
            if radius > 0.0:
                dense = max(dense, -np.log(1 - wood.cover[row, col]) / (np.pi * radius**2))
    return dense


@njit
def _cell(wood, x, y):
    """Cover and height where a tree would stand; the outermost cells go on for ever."""
    col = wood.place[0] + wood.cells_per_m[0, 0] * x + wood.cells_per_m[0, 1] * y
    row = wood.place[1] + wood.cells_per_m[1, 0] * x + wood.cells_per_m[1, 1] * y
    i = min(max(int(np.floor(row)), 0), wood.cover.shape[0] - 1)
    j = min(max(int(np.floor(col)), 0), wood.cover.shape[1] - 1)
    return wood.cover[i, j], wood.height_m[i, j]


@njit
def _hits(ground, x, y, height, east, north, slope):
    """Whether the ray from the panel meets the crown of a tree at (x, y): a line and an ellipsoid."""
    half = height * (1 - ground.base_frac) / 2
    radius = half / ground.ratio
    up = ground.slope_east * x + ground.slope_north * y + height - half - ground.panel_height_m
    a = 1 / radius**2 + slope**2 / half**2
    b = (x * east + y * north) / radius**2 + up * slope / half**2
    c = (x * x + y * y) / radius**2 + up * up / half**2 - 1
    under = b * b - a * c
    return under > 0 and b + np.sqrt(under) > 0


@njit
def _on_road(ground, x, y):
    for k in range(len(ground.pieces)):
        x_0, y_0, x_1, y_1, half = ground.pieces[k]
        length_squared = (x_1 - x_0) ** 2 + (y_1 - y_0) ** 2
        if (x - x_0) ** 2 + (y - y_0) ** 2 > 2 * (half * half + length_squared):
            continue  # farther from its start than its length and half the width
        along = ((x - x_0) * (x_1 - x_0) + (y - y_0) * (y_1 - y_0)) / length_squared
        along = min(max(along, 0.0), 1.0)
        if (x - x_0 - along * (x_1 - x_0)) ** 2 + (y - y_0 - along * (y_1 - y_0)) ** 2 < half * half:
            return True
    return False
