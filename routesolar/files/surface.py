"""What stands on the ground, from heights above sea with houses and trees: a surface less the terrain."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from rasterio.features import rasterize

from routesolar.arrays import Tiles
from routesolar.errors import InputError
from routesolar.files.raster_coding import elevation_coding
from routesolar.files.raster_heights import Placed, tile_positions
from routesolar.files.raster_tiles import WGS84, apply, carried
from routesolar.files.rasters import REACH_M, RasterAlong, check_cells, read_along, read_elevation
from routesolar.trip.arrays import FloatArray
from routesolar.trip.standing import Buildings
from routesolar.trip.surroundings import TILE, TiledGrid, values_at

TALLEST_M = 120.0  # of what counts as a tree; more is no data
SAME_GROUND_M = 3.0  # by more than this, surface and terrain have different zeros of height


def heights_from_surface(
    surface: Sequence[str],
    terrain: Sequence[str],
    latitude_deg: FloatArray,
    longitude_deg: FloatArray,
    buildings: Buildings | None = None,
) -> RasterAlong:
    """Return heights above the ground along the points, on the surface's cells: as of trees.

    The terrain is bilinear between its cells; what is lower counts as ground. Outlines of buildings are left
    out, since these stand by themselves.

    Raises:
        InputError: as `read_cover` of either; or the two do not meet on the ground.
    """
    top = read_along(surface, latitude_deg, longitude_deg, REACH_M, elevation_coding)
    check_cells(top)
    ground = read_elevation(terrain, latitude_deg, longitude_deg, REACH_M + 100.0)
    on, below = (Placed(along.grid, along.crs, along.transform) for along in (top, ground))
    tiles = np.full_like(top.grid.tiles, np.nan)
    for row, col in np.argwhere(top.grid.slot >= 0):
        slot = top.grid.slot[row, col]
        if np.isfinite(top.grid.tiles[slot]).any():
            places = tile_positions(on, below, row * TILE, col * TILE)
            tiles[slot] = top.grid.tiles[slot] - _between_cells(below.grid, *places)
    _check_same_ground(top, ground, tiles[:, ::4, ::4])
    tiles[tiles > TALLEST_M] = np.nan
    np.maximum(tiles, np.float32(0.0), out=tiles)
    if buildings is not None:
        _clear_outlines(top, buildings, tiles)
    return replace(top, grid=_with_tiles(top.grid, tiles))


def _with_tiles(grid: TiledGrid, tiles: Tiles) -> TiledGrid:
    """Return a grid with other values."""
    return TiledGrid(tiles=tiles, slot=grid.slot, height=grid.height, width=grid.width)


def _between_cells(grid: TiledGrid, col: FloatArray, row: FloatArray) -> FloatArray:
    """Return values between the four cells around places; NaN where one is not known."""
    left, top = np.floor(col - 0.5), np.floor(row - 0.5)
    right_share, low_share = col - 0.5 - left, row - 0.5 - top
    between: FloatArray = np.zeros(np.shape(col))
    for across, share_across in ((0, 1 - right_share), (1, right_share)):
        for down, share_down in ((0, 1 - low_share), (1, low_share)):
            between += share_across * share_down * values_at(grid, left + across + 0.5, top + down + 0.5)
    return between


def _check_same_ground(top: RasterAlong, ground: RasterAlong, heights_m: Tiles) -> None:
    """Raise InputError where hardly any ground shows in the surface, or most of it lies below the terrain."""
    names = " and ".join(file.name for file in (*top.files, *ground.files))
    known = heights_m[np.isfinite(heights_m)]
    if not known.size:
        raise InputError(f"{names}: nowhere near the route are both known; give a terrain raster of that place")
    low_m, middle_m = np.percentile(known, [1, 50])
    if low_m > SAME_GROUND_M or middle_m < -SAME_GROUND_M:
        apart_m = low_m if low_m > SAME_GROUND_M else middle_m
        raise InputError(
            f"{names}: the lowest of the surface lies {apart_m:+.0f} m from the terrain; give rasters of one "
            "survey, or with the same zero of heights"
        )


def _clear_outlines(top: RasterAlong, buildings: Buildings, tiles: Tiles) -> None:
    """Set the cells that outlines of buildings touch to ground."""
    x, y = carried(WGS84, top.crs, np.array(buildings.longitude_deg), np.array(buildings.latitude_deg))
    col, row = apply(~top.transform, x, y)
    starts = buildings.first[:-1]
    low_row, low_col = (np.minimum.reduceat(values, starts) for values in (row, col))
    high_row, high_col = (np.maximum.reduceat(values, starts) for values in (row, col))
    for down, across in np.argwhere(top.grid.slot >= 0) * TILE:
        meets = (low_row < down + TILE) & (high_row > down) & (low_col < across + TILE) & (high_col > across)
        rings = []
        for k in np.flatnonzero(meets & np.isfinite(high_row + high_col)):
            ring = np.append(np.arange(buildings.first[k], buildings.first[k + 1]), buildings.first[k])
            rings.append(np.column_stack([col[ring] - across, row[ring] - down]).tolist())
        if rings:
            shape = {"type": "Polygon", "coordinates": rings}
            inside = rasterize([shape], (TILE, TILE), dtype=np.uint8, all_touched=True) > 0
            tiles[top.grid.slot[down // TILE, across // TILE]][inside] = 0.0
