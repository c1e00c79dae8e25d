"""Fill unknown cells of a corridor: with the mean of the known cells within 1 km, else the route's mean."""

import numpy as np
from numpy.typing import NDArray

from routesolar.files.rasters import FILL_M, RasterAlong
from routesolar.trip.surroundings import TILE, TiledGrid

BLOCK_M = 500.0  # means are taken over blocks of about this side


def fill_unknown(along: RasterAlong) -> float:
    """Fill every unknown cell of the grid where it lies, lock its tiles, and return the route's mean.

    A cell takes the mean of the known cells in blocks (at least one cell, about 500 m) whose centres lie
    within 1 km of its own block. The route's mean is the mean of these means over the points that have
    one; it stands where nothing is known nearby. The grid must hold at least one known cell. It is not
    copied, since it may be most of the memory a long route needs.
    """
    local, per_tile = _local_means(along)
    place = along.placement
    grid = along.grid
    inside = (place.col >= 0) & (place.col < grid.width) & (place.row >= 0) & (place.row < grid.height)
    size = TILE // per_tile
    at_points = local[(place.row[inside] // size).astype(int), (place.col[inside] // size).astype(int)]
    known = at_points if np.isfinite(at_points).any() else local
    route_mean = float(np.nanmean(known))
    local[np.isnan(local)] = route_mean
    _fill(grid, local, per_tile)
    grid.tiles.setflags(write=False)
    return route_mean


def _local_means(along: RasterAlong) -> tuple[NDArray[np.float32], int]:
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
    reach = max(1, round(FILL_M / (size * along.cell_m)))
    total = _disk_sums(total, reach)  # one after the other: each is as large as the map
    count = _disk_sums(count, reach)
    count[count < 0.5] = np.nan
    total /= count
    return total, m


def _disk_sums(values: NDArray[np.float32], reach: int) -> NDArray[np.float32]:
    """Return the sum of all values within so many cells of each; beyond the edge there is nothing."""
    rows, columns = values.shape
    padded, span = np.pad(values, reach), np.arange(-reach, reach + 1)
    total = np.zeros(values.shape)
    for row, column in np.argwhere(np.hypot(span[:, None], span) <= reach):
        total += padded[row : row + rows, column : column + columns]
    return total.astype(np.float32)


def _fill(grid: TiledGrid, means: NDArray[np.float32], m: int) -> None:
    """Replace unknown cells by the mean of their block, m x m of which make a tile."""
    for row, col in np.argwhere(grid.slot >= 0):
        tile = grid.tiles[grid.slot[row, col]]
        blocks = means[row * m : (row + 1) * m, col * m : (col + 1) * m]
        spread = np.repeat(np.repeat(blocks, TILE // m, axis=0), TILE // m, axis=1)
        np.copyto(tile, spread, where=np.isnan(tile))
