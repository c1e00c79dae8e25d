"""Bring tree heights onto the pixels of a cover raster, so that each cell knows both."""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from rasterio import Affine
from rasterio.crs import CRS

from routesolar.files.raster_tiles import apply, carried
from routesolar.files.rasters import RasterAlong
from routesolar.trip.arrays import FloatArray
from routesolar.trip.surroundings import TILE, TiledGrid, values_at

COVERED_M = 2.0  # a pixel at least this high is under a crown
METRE_SCALE_M = 5.05  # up to 5 m single crowns are seen; a map's scale stretches its cells by up to 1 %
CROWN_TOP = 1.08  # top height over the mean height of covered metre-scale pixels (.92-.95 of it)
KNOT = 16  # cells between exactly transformed positions; linear between: under 1 cm at 30 m cells


class Placed(NamedTuple):
    """A grid and where it lies on Earth."""

    grid: TiledGrid
    crs: CRS
    transform: Affine


def heights_on(cover: RasterAlong, height: RasterAlong) -> TiledGrid:
    """Return top heights of trees (m) on the cover's cells; NaN where unknown or nothing is over 2 m.

    Finer heights are averaged over the covered pixels whose centre lies in the cell, and raised by 8 % if
    metre-scale: the mean over crowns is lower than their tops. Others are taken from the nearest pixel.
    """
    cells, pixels = (Placed(along.grid, along.crs, along.transform) for along in (cover, height))
    if height.cell_m < 0.75 * cover.cell_m:
        values = _averaged(cells, pixels)
        if height.cell_m <= METRE_SCALE_M and height.files:  # measured, not drawn after a map
            values *= np.float32(CROWN_TOP)
    else:
        values = _nearest(cells, pixels)
    values[values <= COVERED_M] = np.nan
    return TiledGrid(
        tiles=values, slot=_own_slots(cover.grid), height=cover.grid.height, width=cover.grid.width
    )


def _own_slots(grid: TiledGrid) -> NDArray[np.int32]:
    """Return slots that number every wanted tile on its own, row by row (empty tiles were shared)."""
    slot = np.full(grid.slot.shape, -1, dtype=np.int32)
    wanted = grid.slot >= 0
    slot[wanted] = np.arange(wanted.sum(), dtype=np.int32)
    slot.setflags(write=False)
    return slot


def _averaged(cells: Placed, pixels: Placed) -> NDArray[np.float32]:
    """Return the mean of the covered height pixels in every cover cell; NaN where there is none."""
    cover, height = cells.grid, pixels.grid
    slot = _own_slots(cover)
    size = int(slot.max() + 1) * TILE * TILE
    total, count = np.zeros(size, dtype=np.float32), np.zeros(size, dtype=np.float32)
    for row, col in np.argwhere(height.slot >= 0):
        tile = height.tiles[height.slot[row, col]]
        covered = tile > COVERED_M
        if not covered.any():
            continue
        cols, rows = tile_positions(pixels, cells, row * TILE, col * TILE)
        cols, rows = np.floor(cols[covered]).astype(np.int64), np.floor(rows[covered]).astype(np.int64)
        inside = (cols >= 0) & (cols < cover.width) & (rows >= 0) & (rows < cover.height)
        cols, rows, heights = cols[inside], rows[inside], tile[covered][inside]
        slots = slot[rows // TILE, cols // TILE]
        read = slots >= 0
        places = ((slots * TILE + rows % TILE) * TILE + cols % TILE)[read]
        touched, which = np.unique(places, return_inverse=True)
        total[touched] += np.bincount(which, weights=heights[read]).astype(np.float32)
        count[touched] += np.bincount(which).astype(np.float32)
    mean = np.divide(total, count, out=np.full_like(total, np.nan), where=count > 0)
    return mean.reshape(-1, TILE, TILE)


def _nearest(cells: Placed, pixels: Placed) -> NDArray[np.float32]:
    """Return for every cover cell the height of the pixel its centre lies in; NaN outside."""
    slot = _own_slots(cells.grid)
    values = np.empty((int(slot.max() + 1), TILE, TILE), dtype=np.float32)
    for row, col in np.argwhere(slot >= 0):
        cols, rows = tile_positions(cells, pixels, row * TILE, col * TILE)
        values[slot[row, col]] = values_at(pixels.grid, cols, rows)
    return values


def tile_positions(of: Placed, on: Placed, row: Any, col: Any) -> tuple[FloatArray, FloatArray]:
    """Return where the cell centres of the tile starting at (row, col) `of` one grid lie `on` another."""
    knots = np.arange(0, TILE + 1, KNOT, dtype=float)
    cols, rows = np.meshgrid(col + knots, row + knots)
    x, y = apply(of.transform, cols, rows)
    if of.crs != on.crs:
        x, y = (values.reshape(cols.shape) for values in carried(of.crs, on.crs, x.ravel(), y.ravel()))
    cols, rows = apply(~on.transform, x, y)
    return _between(cols), _between(rows)


def _between(knots: FloatArray) -> FloatArray:
    """Return values at the TILE x TILE cell centres, linear between knots."""
    at = (np.arange(TILE) + 0.5) / KNOT
    first = at.astype(int)
    part = at - first
    lines = knots[first] * (1 - part)[:, None] + knots[first + 1] * part[:, None]
    values: FloatArray = lines[:, first] * (1 - part) + lines[:, first + 1] * part
    return values
