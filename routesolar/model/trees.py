"""The trees along a drive as the ray march reads them: from rasters and sayings to cells, views and road."""

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.physics.columns import Columns, columns_of, crowns_per_column, tallest_columns_m
from routesolar.physics.corridor import Line, Road, Vehicle, pieces_near
from routesolar.physics.crowns import OVERHANG, Habit
from routesolar.physics.geodesy import metres_per_degree, wrap_longitude_deg
from routesolar.physics.opening import PixelRoad, open_share, stand_cover, trunk_lines_m
from routesolar.physics.raymarch import Grid, Views
from routesolar.physics.stand import block_means, block_side, grid_of, no_grid, tallest_m
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.fitting import check_canopy_fits, check_terrain_fits
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Placement, Terrain, TiledGrid, shifted_cover
from routesolar.trip.surroundings import Trees as KindOfTrees


class SingleTrees(NamedTuple):
    """Trees seen one by one, the views among them, and how many crowns a column stands for there, (n,)."""

    views: Views
    columns: Columns
    crowns_per_column: FloatArray


class Trees(NamedTuple):
    """The canopy around segments among one kind of trees, as the ray march reads it.

    `rows` are the segments' places along the drive. Stands are random; trees are single where heights stand
    alone.
    """

    rows: IntArray
    views: Views
    road: Road
    grid: Grid
    habit: Habit
    single: SingleTrees | None


def habit_of(trees: KindOfTrees) -> Habit:
    """Return the shape of trees of one kind."""
    return Habit(trees.crown_base_frac, trees.crown_ratio, trees.height_spread_frac)


def trees_along(
    segments: Segments, canopy: Canopy, terrain: Terrain, panel_height_m: float
) -> tuple[Trees, ...]:
    """Return the canopy along a drive as the ray march reads it, a part for each kind of trees.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    check_canopy_fits(segments, canopy)
    check_terrain_fits(segments, terrain)
    canopy, columns = _in_blocks(canopy), _columns(canopy)
    grid = _grid(segments, canopy)
    views = _views(segments, canopy, terrain, panel_height_m)
    among = None
    if columns is not None:
        among = views._replace(tallest_m=tallest_columns_m(views, columns))
        per_column = crowns_per_column(among, columns)
        # A point that sees single trees has no random stand around it.
        views = views._replace(layers=np.nan_to_num(views.layers))
    views = views._replace(tallest_m=tallest_m(views, grid))
    line, vehicle = _line(segments, canopy, views, grid), _vehicle(segments, canopy)
    parts = []
    for rows, trees in _by_kind(canopy):
        single = None
        if among is not None and columns is not None:
            single = SingleTrees(_at(among, rows), columns, per_column[rows])
        near = pieces_near(line, Vehicle(*(values[rows] for values in vehicle)))
        parts.append(Trees(rows, _at(views, rows), near, grid, habit_of(trees), single))
    return tuple(parts)


def _by_kind(canopy: Canopy) -> Iterator[tuple[IntArray, KindOfTrees]]:
    """Return the segments among each kind of trees."""
    for kind in np.unique(canopy.kind):
        yield np.flatnonzero(canopy.kind == kind).astype(np.int64), canopy.trees[kind]


def _at(views: Views, rows: IntArray) -> Views:
    """Return some of the views."""
    return Views._make(values[rows] if isinstance(values, np.ndarray) else values for values in views)


def _line(segments: Segments, canopy: Canopy, views: Views, grid: Grid) -> Line:
    """Return the road with the trunks' distance from it, by the kind of trees at each piece."""
    width_m = canopy.width_factor * canopy.road_width_m
    trunk_line_m = np.empty(segments.count)
    for rows, trees in _by_kind(canopy):
        overhang = OVERHANG[trees.road_width_between]
        trunk_line_m[rows] = trunk_lines_m(_at(views, rows), grid, width_m[rows], habit_of(trees), overhang)
    return Line(
        np.array(segments.latitude_deg),
        np.array(segments.longitude_deg),
        np.array(segments.end_latitude_deg),
        np.array(segments.end_longitude_deg),
        trunk_line_m,
    )


def _vehicle(segments: Segments, canopy: Canopy) -> Vehicle:
    return Vehicle(
        np.array(segments.middle_latitude_deg),
        np.array(segments.middle_longitude_deg),
        np.array(segments.heading_deg),
        np.array(canopy.lane_offset_m),
    )


def _columns(canopy: Canopy) -> Columns | None:
    """Return the columns of a height raster that stands alone."""
    height = canopy.height_m
    if height is None or canopy.cover_frac is not None:
        return None
    return columns_of(np.array(height.tiles), np.array(height.slot), (height.height, height.width))


def _in_blocks(canopy: Canopy) -> Canopy:
    """Return the canopy with fine cells of cover, and the heights beside it, put together for random crowns.

    Tiles have fewer cells then; heights are averaged over what is covered.
    """
    cover, height, place = canopy.cover_frac, canopy.height_m, canopy.placement
    if cover is None or place is None:
        return canopy
    side = block_side(_cell_m(place), cover.tiles.shape[1])
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


def _cell_m(place: Placement) -> float:
    """Return the usual side of a cell in metres."""
    return float(np.median(np.abs(np.linalg.det(place.cells_per_m)) ** -0.5))


def _grid(segments: Segments, canopy: Canopy) -> Grid:
    """Return the cells of the canopy's rasters, with the road's opening taken out of the cover."""
    cover, height, place = canopy.cover_frac, canopy.height_m, canopy.placement
    if cover is None or place is None:
        return no_grid()
    north, east = metres_per_degree(np.asarray(segments.middle_latitude_deg))
    apart = wrap_longitude_deg(segments.end_longitude_deg - segments.longitude_deg)
    cells_per_m = np.array(place.cells_per_m)
    road = PixelRoad(
        col=np.array(place.col),
        row=np.array(place.row),
        half_east_m=apart * east / 2,
        half_north_m=(segments.end_latitude_deg - segments.latitude_deg) * north / 2,
        cells_per_m=cells_per_m,
        half_width_m=canopy.road_width_m / 2,
    )
    slot = np.array(cover.slot)
    share = open_share(road, slot, cover.tiles.shape)
    corrected = shifted_cover(stand_cover(cover.tiles, share, slot, _cell_m(place)), canopy.cover_shift)
    return grid_of(
        (corrected, slot), None if height is None else (height.tiles, height.slot), (cover.height, cover.width)
    )


def _views(segments: Segments, canopy: Canopy, terrain: Terrain, panel_height_m: float) -> Views:
    """Return where the panels are among the trees, in their lane, on ground that slopes as the terrain."""
    n, place = segments.count, canopy.placement
    heading = np.radians(segments.heading_deg)
    slope_east, slope_north = _slope(segments, terrain)
    right = np.stack([np.cos(heading), -np.sin(heading)], axis=1) * canopy.lane_offset_m[:, None]
    col, row, cells_per_m = np.zeros(n), np.zeros(n), np.zeros((n, 2, 2))
    if place is not None:
        cells_per_m = np.array(place.cells_per_m)
        aside = np.einsum("nij,nj->ni", cells_per_m, right)
        col, row = place.col + aside[:, 0], place.row + aside[:, 1]
    uniform = shifted_cover(canopy.uniform_cover_frac, canopy.cover_shift)
    height = np.array(canopy.uniform_height_m)
    if canopy.height_m is None or canopy.cover_frac is None:
        height = np.where(np.isnan(height), canopy.default_height_m, height)
    return Views(
        col=col,
        row=row,
        cells_per_m=cells_per_m,
        panel_height_m=panel_height_m,
        slope_east=slope_east,
        slope_north=slope_north,
        layers=-np.log1p(-np.minimum(uniform, 0.98)),
        height_m=height,
        default_height_m=np.array(canopy.default_height_m),
        tallest_m=np.zeros((n, 2)),
    )


def _slope(segments: Segments, terrain: Terrain) -> tuple[FloatArray, FloatArray]:
    """Return the ground's rise per metre east and north; where unknown, it climbs with the road."""
    heading, grade = np.radians(segments.heading_deg), np.asarray(segments.grade_frac)
    slopes = [grade * np.sin(heading), grade * np.cos(heading)]
    for k, known in enumerate((terrain.slope_east_frac, terrain.slope_north_frac)):
        if len(known) > 0:
            slopes[k] = np.where(np.isnan(known), slopes[k], known)
    return slopes[0], slopes[1]
