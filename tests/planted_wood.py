"""A wood planted tree by tree beside a winding road, and the cover that a raster of it would show."""

from typing import NamedTuple

import numpy as np
from numba import njit

from routesolar.physics.crowns import OVERHANG, layers
from routesolar.physics.opening import overhang_at

RADIUS_M = 3.6
MARGIN_M = 210.0
TILE = 64


class PlantedWood(NamedTuple):
    """Vertices of the road in metres (x, y down), what crowns cover (1 m cells), and the trunks' distance."""

    vertex_m: np.ndarray
    covered: np.ndarray
    trunk_line_m: float


def planted_wood(cover_frac, width_m, rng, pieces=100):
    """A wood of crowns of 3.6 m beside a road of pieces of 50 m with an opening seen from above."""
    along = np.arange(pieces) * 50.0
    heading = 0.5 * np.sin(along / 400) + 0.3 * np.sin(along / 150 + 1)
    vertex = np.cumsum(50.0 * np.column_stack([np.cos(heading), np.sin(heading)]), axis=0)
    vertex = np.vstack([[0.0, 0.0], vertex])
    vertex += MARGIN_M - vertex.min(axis=0)
    size = np.ceil((vertex.max(axis=0) + MARGIN_M) / 60).astype(int)[::-1] * 60
    trunks = width_m / 2 + RADIUS_M * overhang_at(cover_frac, OVERHANG["opening"])
    return PlantedWood(vertex, _plant(vertex, trunks, size, layers(cover_frac), rng), trunks)


def cover_raster(wood, cell):
    """Tiles and slots of the cover on cells of so many metres, and the raster's size."""
    rows, cols = (size // cell for size in wood.covered.shape)
    cover = wood.covered[: rows * cell, : cols * cell].reshape(rows, cell, cols, cell).mean(axis=(1, 3))
    down, across = -(-rows // TILE), -(-cols // TILE)
    padded = np.full((down * TILE, across * TILE), np.nan, np.float32)
    padded[:rows, :cols] = cover
    tiles = padded.reshape(down, TILE, across, TILE).swapaxes(1, 2).reshape(-1, TILE, TILE)
    slot = np.arange(down * across, dtype=np.int32).reshape(down, across)
    return np.ascontiguousarray(tiles), slot, (rows, cols)


@njit
def _plant(vertex, trunks, size, crown_layers, rng):
    covered = np.zeros((size[0], size[1]))
    radius = RADIUS_M
    for _ in range(rng.poisson(crown_layers / (np.pi * radius**2) * size[0] * size[1])):
        x, y = rng.uniform(0, size[1]), rng.uniform(0, size[0])
        if _road_within(vertex, x, y, trunks):
            continue
        for row in range(max(0, int(y - radius)), min(size[0], int(y + radius) + 2)):
            for col in range(max(0, int(x - radius)), min(size[1], int(x + radius) + 2)):
                if (row + 0.5 - y) ** 2 + (col + 0.5 - x) ** 2 < radius**2:
                    covered[row, col] = 1.0
    return covered


@njit
def _road_within(vertex, x, y, trunks):
    for k in range(len(vertex) - 1):
        along_x, along_y = vertex[k + 1, 0] - vertex[k, 0], vertex[k + 1, 1] - vertex[k, 1]
        share = ((x - vertex[k, 0]) * along_x + (y - vertex[k, 1]) * along_y) / (along_x**2 + along_y**2)
        share = min(1.0, max(0.0, share))
        if (x - vertex[k, 0] - share * along_x) ** 2 + (y - vertex[k, 1] - share * along_y) ** 2 < trunks**2:
            return True
    return False
