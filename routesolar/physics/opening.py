"""Cover rasters near a road: the road's own opening taken out of the pixels, and where the trunks begin.

A pixel that the road crosses shows less cover than the stand beside it. The beam is traced through the
stand outside the corridor, so that pixels must tell the stand's cover, not the pixel's.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.arrays import FloatArray, Slots, Tiles
from routesolar.physics.blocks import any_above_zero
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.crowns import COVER_CAP, EDGE_COVER, Habit
from routesolar.physics.raymarch import Grid, Views, spot_of, trees_at
from routesolar.physics.tiles import TileMap, bits_of, tile_map, tile_of

SMALL_SHARE = 0.15  # of a pixel in the opening, up to which the pixel alone is corrected
WINDOW_M = 50.0  # pixels crossed by more are pooled over a window this wide: 5 x 5 of 10 m, 3 x 3 of 20 or 30 m
ROADSIDE_M = 60.0  # trees that set the trunks' distance from the edge of the opening
_SAMPLES = 64
_NONE, _ALL = np.uint64(0), ~np.uint64(0)  # of a pixel's samples, a bit each
_LATTICE = 25  # 64 points i / 64, frac(25 i / 64) spread evenly over a pixel along any line


class PixelRoad(NamedTuple):
    """The road on a raster: n straight pieces by their middle and half in columns and rows, all (n,).

    `cells_per_m` (n, 2, 2) is the placement's Jacobian, `half_width_m` half the opening.
    """

    col: FloatArray
    row: FloatArray
    half_east_m: FloatArray
    half_north_m: FloatArray
    cells_per_m: FloatArray
    half_width_m: FloatArray


def open_share(road: PixelRoad, slot: Slots, shape: tuple[int, ...]) -> Tiles:
    """Return the share of each pixel that lies in the road's opening, as tiles of `shape` (k, t, t).

    64 points a pixel; each piece of road marks those within its half-width, once whatever crosses.
    """
    marks, share = np.zeros(shape, np.uint64), np.zeros(shape, np.float32)  # most of both is never touched
    _mark_road(road, tile_map(slot, shape[1]), marks, share)
    return share


def stand_cover(cover: Tiles, share: Tiles, slot: Slots, cell_m: float) -> Tiles:
    """Return the cover of the stand beside the road in each pixel, as tiles; NaN where a pixel is not known.

    No road: as it is. Up to 15 % of the pixel: C / (1 - f). More: the cover of a window of pixels over
    their area outside the opening. Capped at .98. On a 5 km winding road the beam is good to .003-.008.
    """
    half = int(np.ceil(0.5 * WINDOW_M / cell_m - 0.5))
    corrected = cover.copy()
    _fill_stand_cover(cover, share, tile_map(slot, cover.shape[1]), half, corrected)
    return corrected


@compiled
def _mark_road(road: PixelRoad, tiles: TileMap, marks: NDArray[np.uint64], share: Tiles) -> None:
    for i in range(len(road.col)):
        _mark_piece(road, i, tiles, share.shape[1], marks, share)


@inlined
def _count_bits(mark: np.uint64) -> int:
    """Return how many bits are set."""
    left, count = mark, 0
    while left != _NONE:
        left &= left - np.uint64(1)
        count += 1
    return count


@compiled
def _square_metres_from(road: PixelRoad, i: int, col: float, row: float) -> float:
    """Return the square of the distance in metres of a place on the raster from a piece of road."""
    to_cells = road.cells_per_m[i]
    right, down = col - road.col[i], row - road.row[i]
    scale = 1.0 / (to_cells[0, 0] * to_cells[1, 1] - to_cells[0, 1] * to_cells[1, 0])
    x = scale * (to_cells[1, 1] * right - to_cells[0, 1] * down)
    y = scale * (to_cells[0, 0] * down - to_cells[1, 0] * right)
    east, north = road.half_east_m[i], road.half_north_m[i]
    squared = max(east * east + north * north, 1e-12)
    along = min(1.0, max(-1.0, (x * east + y * north) / squared))
    return (x - along * east) ** 2 + (y - along * north) ** 2


@compiled
def _cells_around(road: PixelRoad, i: int, wide_m: float) -> tuple[int, int, int, int]:
    """Return the first row and the one after the last, then columns, of cells within a distance of a piece."""
    to_cells = road.cells_per_m[i]
    east, north = road.half_east_m[i], road.half_north_m[i]
    half_col = abs(to_cells[0, 0] * east + to_cells[0, 1] * north) + wide_m * np.hypot(
        to_cells[0, 0], to_cells[0, 1]
    )
    half_row = abs(to_cells[1, 0] * east + to_cells[1, 1] * north) + wide_m * np.hypot(
        to_cells[1, 0], to_cells[1, 1]
    )
    return (
        int(np.floor(road.row[i] - half_row)),
        int(np.floor(road.row[i] + half_row)) + 1,
        int(np.floor(road.col[i] - half_col)),
        int(np.floor(road.col[i] + half_col)) + 1,
    )


@compiled
def _mark_piece(
    road: PixelRoad, i: int, tiles: TileMap, tile: int, marks: NDArray[np.uint64], share: Tiles
) -> None:
    """Mark the samples within a piece's half-width, and tell the share of those marked by now."""
    row_0, row_1, col_0, col_1 = _cells_around(road, i, road.half_width_m[i])
    bits = bits_of(tile)
    for row in range(row_0, row_1):
        for col in range(col_0, col_1):
            k = tile_of(tiles, bits, row, col)
            if k < 0:
                continue
            mark = marks[k, row % tile, col % tile]
            if mark == _ALL:  # by the pieces before
                continue
            for j in range(_SAMPLES):
                x, y = col + (j + 0.5) / _SAMPLES, row + ((_LATTICE * j) % _SAMPLES + 0.5) / _SAMPLES
                if _square_metres_from(road, i, x, y) < road.half_width_m[i] ** 2:
                    mark |= np.uint64(1) << np.uint64(j)
            marks[k, row % tile, col % tile] = mark
            share[k, row % tile, col % tile] = _count_bits(mark) / _SAMPLES


@compiled
def _fill_stand_cover(cover: Tiles, share: Tiles, tiles: TileMap, half: int, corrected: Tiles) -> None:
    tile = cover.shape[1]
    for down in range(tiles.slot.shape[0]):
        for across in range(tiles.slot.shape[1]):
            k = tiles.slot[down, across]
            if k < 0:
                continue
            for row in range(tile):
                if not any_above_zero(share[k, row], tile):
                    continue
                for col in range(tile):
                    here = share[k, row, col]
                    if here == 0.0:
                        continue
                    stand = cover[k, row, col] / (1.0 - here) if here < 1.0 else np.nan
                    if here > SMALL_SHARE:
                        stand = _pooled(cover, share, tiles, down * tile + row, across * tile + col, half)
                    corrected[k, row, col] = min(stand, COVER_CAP) if stand == stand else np.nan


@compiled
def _pooled(cover: Tiles, share: Tiles, tiles: TileMap, row: int, col: int, half: int) -> float:
    covered = outside = 0.0
    tile = cover.shape[1]
    bits = bits_of(tile)
    for r in range(row - half, row + half + 1):
        for c in range(col - half, col + half + 1):
            k = tile_of(tiles, bits, r, c)
            value = cover[k, r % tile, c % tile] if k >= 0 else np.nan
            if value == value:
                covered += value
                outside += 1.0 - share[k, r % tile, c % tile]
    return covered / outside if outside > 0.0 else np.nan


@compiled
def trunk_lines_m(
    views: Views, grid: Grid, road_width_m: FloatArray, habit: Habit, overhang_radii: FloatArray
) -> FloatArray:
    """Return the trunks' distance in metres from the road's centreline at each view, (n,).

    Half the width plus the overhang of the trees within 60 m, weighted by their cover, since those with
    most cover shade most; half the width alone where there are none. `overhang_radii` is a row of OVERHANG.
    """
    lines = 0.5 * road_width_m
    for i in range(len(lines)):
        spot = spot_of(views, i, 0.0, 1.0)
        covered = overhung_m = 0.0
        reach_col = ROADSIDE_M * np.hypot(spot.col_ahead, spot.col_aside)
        reach_row = ROADSIDE_M * np.hypot(spot.row_ahead, spot.row_aside)
        step = max(1, int(min(reach_col, reach_row) / 6.0))
        for row in range(int(np.floor(spot.row - reach_row)), int(np.floor(spot.row + reach_row)) + 1, step):
            for col in range(
                int(np.floor(spot.col - reach_col)), int(np.floor(spot.col + reach_col)) + 1, step
            ):
                layers, height_m = trees_at(grid, spot, row, col)
                cover = 1.0 - np.exp(-layers)
                radius = 0.5 * height_m * (1.0 - habit.base_frac) / habit.ratio
                covered += cover
                overhung_m += cover * radius * overhang_at(cover, overhang_radii)
        if covered > 0.0:
            lines[i] += overhung_m / covered
    return lines


@compiled
def overhang_at(cover_frac: float, radii: FloatArray) -> float:
    """Return how far trunks stand behind the measured edge, in crown radii, linear in a row of OVERHANG."""
    for k in range(1, len(EDGE_COVER)):
        if cover_frac <= EDGE_COVER[k]:
            share = (cover_frac - EDGE_COVER[k - 1]) / (EDGE_COVER[k] - EDGE_COVER[k - 1])
            return radii[k - 1] + share * (radii[k] - radii[k - 1])
    return radii[-1]
