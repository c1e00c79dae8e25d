"""The woods of a drive's rasters: fine cells put together, the road's opening taken out of the cover."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.arrays import Slots, Tiles
from routesolar.model.road import metres_from_middle, road_pieces
from routesolar.physics.columns import Columns, columns_of
from routesolar.physics.opening import PixelRoad, open_share, stand_cover
from routesolar.physics.raymarch import Grid
from routesolar.physics.stand import block_means, block_side, grid_of, no_grid
from routesolar.trip.fitting import check_canopy_fits
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Placement, TiledGrid, shifted_cover


class Stand(NamedTuple):
    """Cover of the stand beside the road by cell, heights where known, and the raster's height and width."""

    cover_frac: tuple[Tiles, Slots]
    height_m: tuple[Tiles, Slots] | None
    size: tuple[int, int]


def stand_along(segments: Segments, canopy: Canopy) -> Stand | None:
    """Return the stand of the canopy's rasters; None where they tell no cover.

    Raises:
        UsageError: the canopy is of other segments.
    """
    check_canopy_fits(segments, canopy)
    cover, height, place = canopy.cover_frac, canopy.height_m, canopy.placement
    if cover is None or place is None:
        return None
    segment, *ends = road_pieces(segments)
    start, end = (metres_from_middle(segments, segment, *ends[k : k + 2]) for k in (0, 2))
    col, row = place.moved(segment, (start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    road = PixelRoad(
        col=col,
        row=row,
        half_east_m=(end[0] - start[0]) / 2,
        half_north_m=(end[1] - start[1]) / 2,
        cells_per_m=place.cells_per_m[segment],
        half_width_m=canopy.road_width_m[segment] / 2,
    )
    slot = np.array(cover.slot)
    share = open_share(road, slot, cover.tiles.shape)
    heights = None if height is None else (height.tiles, height.slot)
    beside = stand_cover(cover.tiles, share, slot, place.cell_m)
    if canopy.drawn:  # a wood that is drawn up to the road, or across it, is no denser beside it than within
        from scipy.ndimage import maximum_filter  # slow to import, and most woods are not drawn

        beside = np.minimum(beside, maximum_filter(cover.tiles, (1, 3, 3), mode="nearest"))
    return Stand((beside, slot), heights, (cover.height, cover.width))


def grid_at(stand: Stand | None, cover_shift: float) -> Grid:
    """Return the stand's cells as the ray march reads them, their cover shifted by a share."""
    if stand is None:
        return no_grid()
    cover_frac, slot = stand.cover_frac
    if cover_shift:
        cover_frac = shifted_cover(cover_frac, cover_shift)
    return grid_of((cover_frac, slot), stand.height_m, stand.size)


def columns_under(canopy: Canopy) -> Columns | None:
    """Return the columns of a height raster that stands alone."""
    height = canopy.height_m
    if height is None or canopy.cover_frac is not None or canopy.placement is None:
        return None
    size = height.height, height.width
    return columns_of(height.tiles, height.slot, size, canopy.placement.cell_m)


def in_blocks(canopy: Canopy) -> Canopy:
    """Return the canopy with fine cells of cover, and the heights beside it, put together for random crowns.

    Tiles have fewer cells then; heights are averaged over what is covered.
    """
    cover, height, place = canopy.cover_frac, canopy.height_m, canopy.placement
    if cover is None or place is None:
        return canopy
    side = block_side(place.cell_m, cover.tiles.shape[1])
    if side == 1:
        return canopy
    if height is not None:
        weight = np.zeros_like(height.tiles)
        both = (cover.slot >= 0) & (height.slot >= 0)
        weight[height.slot[both]] = cover.tiles[cover.slot[both]]
        height = _blocks_of(height, block_means(height.tiles, side, weight), side)
    return replace(
        canopy,
        cover_frac=_blocks_of(cover, block_means(cover.tiles, side), side),
        height_m=height,
        placement=Placement(col=place.col / side, row=place.row / side, cells_per_m=place.cells_per_m / side),
    )


def _blocks_of(grid: TiledGrid, means: NDArray[np.float32], side: int) -> TiledGrid:
    return TiledGrid(tiles=means, slot=grid.slot, height=-(-grid.height // side), width=-(-grid.width // side))
