"""Fill unknown cells of a corridor: with the mean of the known cells within 1 km, else the route's mean."""

from typing import NamedTuple

import numpy as np
from scipy.ndimage import convolve

from routesolar.files.rasters import RasterAlong
from routesolar.trip.arrays import FloatArray
from routesolar.trip.surroundings import TILE, TiledGrid

RADIUS_M = 1000.0
BLOCK_M = 500.0  # means are taken over blocks of about this side


class Filled(NamedTuple):
    """A grid without NaN, and the route's mean, which stands wherever nothing is known within 1 km."""

    grid: TiledGrid
    route_mean: float


def fill_unknown(along: RasterAlong) -> Filled:
    """Return the grid with every unknown cell filled; the grid must hold at least one known cell.

    The mean is that of the known cells in blocks (at least one cell, about 500 m) whose centres lie
    within 1 km of the cell's own block. The route's mean is the mean of these means over the points that
    have one. Empty tiles with nothing known nearby share one tile.
    """
    local, per_tile = _local_means(along)
    place = along.placement
    grid = along.grid
    inside = (place.col >= 0) & (place.col < grid.width) & (place.row >= 0) & (place.row < grid.height)
    size = TILE // per_tile
    at_points = local[(place.row[inside] // size).astype(int), (place.col[inside] // size).astype(int)]
    known = at_points if np.isfinite(at_points).any() else local
    route_mean = float(np.nanmean(known))
    return Filled(_filled(grid, local, per_tile, route_mean), route_mean)


def _local_means(along: RasterAlong) -> tuple[FloatArray, int]:
    """Return the mean of the known cells around every block (NaN where there is none), and blocks per tile."""
    size = int(2 ** np.clip(np.round(np.log2(BLOCK_M / along.cell_m)), 0, np.log2(TILE)))
    m = TILE // size
    slot = along.grid.slot
    total = np.zeros((slot.shape[0] * m, slot.shape[1] * m), dtype=np.float32)
    count = np.zeros_like(total)
    for row, col in np.argwhere(slot >= 0):
        blocks = along.grid.tiles[slot[row, col]].reshape(m, size, m, size)
        here = np.s_[row * m : (row + 1) * m, col * m : (col + 1) * m]
        count[here] = np.isfinite(blocks).sum(axis=(1, 3))
        total[here] = np.nansum(blocks, axis=(1, 3), dtype=np.float64)
    reach = max(1, round(RADIUS_M / (size * along.cell_m)))
    span = np.arange(-reach, reach + 1)
    disk = (np.hypot(span[:, None], span) <= reach).astype(np.float32)
    total, count = convolve(total, disk, mode="constant"), convolve(count, disk, mode="constant")
    known = count > 0.5
    return np.divide(total, count, out=np.full_like(total, np.nan), where=known), m


def _filled(grid: TiledGrid, local: FloatArray, m: int, route_mean: float) -> TiledGrid:
    """Return the grid with unknown cells replaced by the means of their blocks, else by the route's."""
    wanted = np.argwhere(grid.slot >= 0)
    slot = np.full_like(grid.slot, -1)
    tiles = np.empty((len(wanted), TILE, TILE), dtype=np.float32)
    used, shared = 0, -1
    for row, col in wanted:
        tile = grid.tiles[grid.slot[row, col]]
        means = local[row * m : (row + 1) * m, col * m : (col + 1) * m]
        lonely = np.isnan(means).all()
        if lonely and shared >= 0:
            slot[row, col] = shared
            continue
        means = np.where(np.isnan(means), route_mean, means).astype(np.float32)
        blocks = np.repeat(np.repeat(means, TILE // m, axis=0), TILE // m, axis=1)
        tiles[used] = np.where(np.isnan(tile), blocks, tile)
        slot[row, col] = used
        shared = used if lonely else shared
        used += 1
    tiles.setflags(write=False)
    slot.setflags(write=False)
    return TiledGrid(tiles=tiles[:used], slot=slot, height=grid.height, width=grid.width)
