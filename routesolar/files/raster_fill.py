"""Fill unknown cells of a corridor: with the mean of the known cells within 1 km, else the route's mean."""

import numpy as np

from routesolar.files.rasters import FILL_M, RasterAlong
from routesolar.trip.arrays import FloatArray
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
    reach = max(1, round(FILL_M / (size * along.cell_m)))
    span = np.arange(-reach, reach + 1)
    disk = (np.hypot(span[:, None], span) <= reach).astype(np.float32)
    from scipy.ndimage import convolve  # slow to import, and not every drive has a raster

    total = convolve(total, disk, mode="constant")  # one after the other: each is as large as the map
    count = convolve(count, disk, mode="constant")
    count[count < 0.5] = np.nan
    total /= count
    return total, m


def _fill(grid: TiledGrid, means: FloatArray, m: int) -> None:
    """Replace unknown cells by the mean of their block, m x m of which make a tile."""
    for row, col in np.argwhere(grid.slot >= 0):
        tile = grid.tiles[grid.slot[row, col]]
        blocks = means[row * m : (row + 1) * m, col * m : (col + 1) * m].astype(np.float32)
        spread = np.repeat(np.repeat(blocks, TILE // m, axis=0), TILE // m, axis=1)
        np.copyto(tile, spread, where=np.isnan(tile))
