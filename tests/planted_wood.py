"""Trees planted one by one beside a road, the cover that a raster of them would show, and the views there."""

from typing import NamedTuple

import numpy as np
from numba import njit

from routesolar.physics.corridor import Road, distance_to_piece
from routesolar.physics.crowns import OVERHANG, layers
from routesolar.physics.opening import PixelRoad, overhang_at
from routesolar.physics.raymarch import Views

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


def pixel_road(vertex_m, width_m, cell_m):
    """A road of metres x, y down from the raster's corner, on cells of so many metres."""
    vertex = np.asarray(vertex_m, float)
    middle, half = (vertex[1:] + vertex[:-1]) / 2, (vertex[1:] - vertex[:-1]) / 2
    count = len(middle)
    return PixelRoad(
        col=middle[:, 0] / cell_m,
        row=middle[:, 1] / cell_m,
        half_east_m=half[:, 0],
        half_north_m=half[:, 1],
        cells_per_m=np.tile(np.eye(2) / cell_m, (count, 1, 1)),
        half_width_m=np.full(count, width_m / 2),
    )


def scene(wood, cell):
    """Views, road and suns of the planted wood's road: every piece's middle, thirty suns for all."""
    vertex = wood.vertex_m
    middle, count = (vertex[1:] + vertex[:-1]) / 2, len(vertex) - 1
    piece, distance = [], []
    for place in middle:
        moved = np.hstack([vertex[:-1] - place, vertex[1:] - place, np.full((count, 1), wood.trunk_line_m)])
        apart = np.array([distance_to_piece(*row[:4]) for row in moved])
        order = np.argsort(apart)[:20]
        piece.append(moved[order])
        distance.append(apart[order])
    road = Road(np.arange(count + 1) * 20, np.vstack(piece), np.concatenate(distance))
    height_m = np.full(count, RADIUS_M * 2 * 1.75 / 0.7)
    flat, unknown = np.zeros(count), np.full(count, np.nan)
    place = np.ascontiguousarray(middle.T) / cell
    cells_per_m = np.tile(np.eye(2) / cell, (count, 1, 1))
    tallest = np.column_stack([height_m, height_m])
    views = Views(*place, cells_per_m, 2.0, flat, flat, unknown, unknown, height_m, tallest)
    rng = np.random.default_rng(4)
    azimuth, elevation = rng.uniform(0, 360, (30, 1)), np.degrees(np.arcsin(rng.uniform(0.15, 0.9, (30, 1))))
    return views, road, (np.repeat(azimuth, count, axis=1), np.repeat(elevation, count, axis=1))


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
