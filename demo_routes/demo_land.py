"""The invented land of the demo: hills, rivers, woods and fields as functions of place.

Places are kilometres east (x) and north (y) of the land's own origin. The sea lies in the north. Everything
is drawn from numbered random lattices, so each run gives the same land at any resolution.
"""

from functools import cache

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.ndimage import map_coordinates
from scipy.spatial import cKDTree

Array = np.ndarray

# Rivers from the hills to the sea, as corner points (km).
RIVERS = (
    ((10.5, -4.0), (9.0, 0.5), (11.5, 5.0), (9.5, 10.0), (11.5, 15.5), (10.0, 20.0), (11.0, 25.5)),
    ((24.0, -5.5), (26.0, 0.0), (23.0, 4.5), (25.5, 9.5), (24.0, 14.0), (26.5, 19.0), (25.5, 26.0)),
    ((40.0, -4.0), (38.5, 2.0), (40.5, 7.5), (38.0, 12.0), (39.5, 17.0), (38.0, 21.0), (38.5, 27.0)),
    ((17.0, 2.0), (16.0, 6.5), (13.5, 9.5), (10.8, 12.5)),
    ((33.0, 1.0), (31.5, 6.0), (28.5, 9.0), (25.2, 11.5)),
)


def ashore(x: float, inland: float) -> tuple[float, float]:
    """Return the place at x that lies so many kilometres south of the coastline."""
    y = 20.0
    for _ in range(20):
        y += float(inland_km(np.array([x]), np.array([y]))[0]) - inland
    return x, y


def noise(x: Array, y: Array, wavelength_km: float, seed: int) -> Array:
    """Return smooth random values (mean 0, sd about .6) that change over the wavelength."""
    lattice = np.random.default_rng(seed).standard_normal((64, 64))
    return map_coordinates(lattice, [y / wavelength_km, x / wavelength_km], order=3, mode="grid-wrap")


def octaves(x: Array, y: Array, wavelength_km: float, count: int, seed: int) -> Array:
    """Return noise of several wavelengths, each half as long and half as strong as the one before."""
    return sum(noise(x, y, wavelength_km / 2**k, seed + k) / 2**k for k in range(count))


def inland_km(x: Array, y: Array) -> Array:
    """Return the distance south of the coastline; negative at sea."""
    bays = 1.3 * np.sin(x / 5.1 + 0.6) + 0.8 * np.sin(x / 2.3 + 2.0) + 0.25 * np.sin(x / 0.83)
    return 23.8 + bays + 0.25 * noise(x, y, 0.9, 71) - y


@cache
def _river_places() -> cKDTree:
    lines = []
    for number, corners in enumerate(RIVERS):
        xy = np.array(corners)
        at = np.linspace(0, len(xy) - 1, 1500)
        line = CubicSpline(np.arange(len(xy)), xy)(at)
        meander = 0.22 * noise(line[:, 1], at, 0.8, 80 + number)
        lines.append(line + np.stack([meander, np.zeros_like(meander)], axis=1))
    return cKDTree(np.concatenate(lines))


def river_km(x: Array, y: Array) -> Array:
    """Return the distance to the nearest river; infinite from 3 km on."""
    places = np.stack([np.ravel(x), np.ravel(y)], axis=1)
    distance, _ = _river_places().query(places, distance_upper_bound=3.0)
    return distance.reshape(np.shape(x))


def elevation_m(x: Array, y: Array) -> Array:
    """Return the ground's height: plains by the sea, hills with valleys inland, 0 at sea."""
    d, river = inland_km(x, y), river_km(x, y)
    inner = np.clip(d / 24, 0, 1.2)
    rise = 12 * np.sqrt(np.clip(d, 0, None)) + 520 * inner**1.6
    ridges = np.exp(-((octaves(x, y, 6.0, 4, 11) / 0.55) ** 2))
    rough = 1.0 - np.exp(-np.clip(d, 0, None) / 5.0)
    hills = rough * (190 * ridges + 45 * octaves(x, y, 2.6, 4, 21))
    valley = np.exp(-river / 0.9)
    ground = rise * (1 - 0.4 * valley) + hills * (1 - 0.95 * valley)
    return np.where(d <= 0, 0.0, np.maximum(ground, 1.0 + 4 * np.clip(d, 0, None)))


def wooded(x: Array, y: Array) -> Array:
    """Return how much the land tends to wood: above 0 it is wooded, below it is open."""
    d = inland_km(x, y)
    tendency = np.clip(0.24 * (d - 4.3), -0.62, 0.95)
    return tendency + 0.50 * octaves(x, y, 3.4, 2, 31) + 0.42 * octaves(x, y, 1.1, 4, 35)


def cover_frac(x: Array, y: Array) -> Array:
    """Return the share of ground under crowns, without roads: fields and woods near the sea, forest inland."""
    d, river = inland_km(x, y), river_km(x, y)
    free = wooded(x, y)
    turned_x, turned_y = 0.94 * x + 0.34 * y, 0.94 * y - 0.34 * x
    row = np.floor(turned_y / 0.33)
    field_x = (np.floor(turned_x / 0.46 + 0.37 * row) + 0.5 - 0.37 * row) * 0.46
    field_y = (row + 0.5) * 0.33
    fields = wooded(0.94 * field_x - 0.34 * field_y, 0.94 * field_y + 0.34 * field_x) - 0.1
    farmed = 1 / (1 + np.exp((d - 5.0 + 2.0 * noise(x, y, 2.0, 41)) / 0.4))
    tendency = farmed * fields + (1 - farmed) * free
    tendency = tendency + 1.6 * np.exp(-((river / (0.10 + 0.05 * noise(x, y, 1.3, 43))) ** 2))
    stand = 1 / (1 + np.exp(-tendency / 0.09))
    closed = 0.60 + 0.20 * np.clip(d / 12, 0, 1) + 0.09 * octaves(x, y, 1.6, 5, 51)
    scattered = 0.03 + 0.06 * np.clip(noise(x, y, 0.2, 61), 0, None)
    cover = stand * closed + (1 - stand) * scattered
    return np.where(d <= 0.12, 0.0, np.clip(cover, 0.0, 0.95))


def height_m(x: Array, y: Array) -> Array:
    """Return the top height of the trees, where there are any: lower by the sea and in poor ground."""
    d = np.clip(inland_km(x, y), 0, 20)
    tall = 11 + 15 * d / (d + 5) + 5 * octaves(x, y, 2.4, 3, 91) + 3 * np.clip(wooded(x, y), -1, 1)
    return np.clip(tall, 5, 42)
