"""The trees along a drive as the ray march reads them: from rasters and sayings to cells, views and road."""

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from routesolar.model.points import Points
from routesolar.model.road import metres_from_middle, road_pieces
from routesolar.physics.columns import Columns, columns_of, crowns_per_column, tallest_columns_m
from routesolar.physics.corridor import Line, Road, Vehicle, pieces_near
from routesolar.physics.crowns import OVERHANG, Habit
from routesolar.physics.opening import PixelRoad, open_share, stand_cover, trunk_lines_m
from routesolar.physics.raymarch import Grid, Views
from routesolar.physics.stand import block_means, block_side, grid_of, no_grid, tallest_m
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.fitting import check_canopy_fits, check_terrain_fits
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Placement, Terrain, TiledGrid, shifted_cover
from routesolar.trip.surroundings import Trees as KindOfTrees

AT_A_TIME = 4096  # points looked from at once: the road around each has to be held


class SingleTrees(NamedTuple):
    """Trees seen one by one, the views among them, and how many crowns a column stands for there, (n,)."""

    views: Views
    columns: Columns
    crowns_per_column: FloatArray

    def at(self, rows: IntArray) -> Self:
        """Return what some of the points see."""
        return type(self)(_at(self.views, rows), self.columns, self.crowns_per_column[rows])


class Trees(NamedTuple):
    """The canopy around some points of a drive among one kind of trees, as the ray march reads it.

    `rows` are the points' places in the order of travel. Stands are random; trees are single where heights
    stand alone.
    """

    rows: IntArray
    views: Views
    road: Road
    grid: Grid
    habit: Habit
    single: SingleTrees | None


def habit_of(trees: KindOfTrees) -> Habit:
    """Return the shape of trees of one kind."""
    return Habit(trees.crown_base_frac, trees.crown_slenderness, trees.height_spread_frac)


def trees_along(
    segments: Segments,
    points: Points,
    canopy: Canopy,
    terrain: Terrain,
    panel_height_m: float,
    some: IntArray | None = None,
) -> Iterator[Trees]:
    """Return the canopy around points of a drive as the ray march reads it, by kind of trees, some at a time.

    Only `some` of the points are looked from where these are given; rows are places among them then.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    check_canopy_fits(segments, canopy)
    check_terrain_fits(segments, terrain)
    canopy, columns = _in_blocks(canopy), _columns(canopy)
    grid = _grid(segments, canopy)
    views = _views(segments, points, canopy, terrain, panel_height_m)
    single = None
    if columns is not None:
        among = views._replace(tallest_m=tallest_columns_m(views, columns))
        single = SingleTrees(among, columns, crowns_per_column(among, columns))
        # A point that sees single trees has no random stand around it.
        views = views._replace(layers=np.nan_to_num(views.layers))
    views = views._replace(tallest_m=tallest_m(views, grid))
    line = _line(segments, points, canopy, views, grid)
    vehicle = Vehicle(
        points.latitude_deg, points.longitude_deg, points.heading_deg, canopy.lane_offset_m[points.segment]
    )
    if some is not None:
        points, views, vehicle = (
            points.at(some),
            _at(views, some),
            Vehicle(*(values[some] for values in vehicle)),
        )
        single = None if single is None else single.at(some)
    return (
        Trees(
            rows,
            _at(views, rows),
            pieces_near(line, Vehicle(*(values[rows] for values in vehicle))),
            grid,
            habit_of(trees),
            None if single is None else single.at(rows),
        )
        for rows, trees in _by_kind(canopy, points)
    )


def _by_kind(canopy: Canopy, points: Points) -> Iterator[tuple[IntArray, KindOfTrees]]:
    """Yield the points among each kind of trees, some at a time."""
    kind = canopy.kind[points.segment]
    for number in np.unique(kind):
        rows = np.flatnonzero(kind == number).astype(np.int64)
        for first in range(0, len(rows), AT_A_TIME):
            yield rows[first : first + AT_A_TIME], canopy.trees[number]


def _at(views: Views, rows: IntArray) -> Views:
    """Return some of the views."""
    return Views._make(values[rows] if isinstance(values, np.ndarray) else values for values in views)


def _line(segments: Segments, points: Points, canopy: Canopy, views: Views, grid: Grid) -> Line:
    """Return the road with the trunks' distance from it, by the kind of trees on each segment."""
    width_m = (canopy.width_factor * canopy.road_width_m)[points.segment]
    trunk_line_m = np.empty(len(points.segment))
    for rows, trees in _by_kind(canopy, points):
        overhang = OVERHANG[trees.road_width_between]
        trunk_line_m[rows] = trunk_lines_m(_at(views, rows), grid, width_m[rows], habit_of(trees), overhang)
    pieces = road_pieces(segments)
    return Line(*pieces[1:], points.mean(trunk_line_m[None])[0, pieces.segment])


def _columns(canopy: Canopy) -> Columns | None:
    """Return the columns of a height raster that stands alone."""
    height = canopy.height_m
    if height is None or canopy.cover_frac is not None or canopy.placement is None:
        return None
    size = height.height, height.width
    return columns_of(np.array(height.tiles), np.array(height.slot), size, canopy.placement.cell_m)


def _in_blocks(canopy: Canopy) -> Canopy:
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


def _grid(segments: Segments, canopy: Canopy) -> Grid:
    """Return the cells of the canopy's rasters, with the road's opening taken out of the cover."""
    cover, height, place = canopy.cover_frac, canopy.height_m, canopy.placement
    if cover is None or place is None:
        return no_grid()
    segment, *ends = road_pieces(segments)
    start, end = (metres_from_middle(segments, segment, *ends[k : k + 2]) for k in (0, 2))
    cells_per_m = place.cells_per_m[segment]
    col, row = place.moved(segment, (start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    road = PixelRoad(
        col=col,
        row=row,
        half_east_m=(end[0] - start[0]) / 2,
        half_north_m=(end[1] - start[1]) / 2,
        cells_per_m=cells_per_m,
        half_width_m=canopy.road_width_m[segment] / 2,
    )
    slot = np.array(cover.slot)
    share = open_share(road, slot, cover.tiles.shape)
    corrected = shifted_cover(stand_cover(cover.tiles, share, slot, place.cell_m), canopy.cover_shift)
    return grid_of(
        (corrected, slot), None if height is None else (height.tiles, height.slot), (cover.height, cover.width)
    )


def _views(
    segments: Segments, points: Points, canopy: Canopy, terrain: Terrain, panel_height_m: float
) -> Views:
    """Return where the panels are among the trees, in their lane, on ground that slopes as the terrain."""
    segment, place = points.segment, canopy.placement
    heading = np.radians(points.heading_deg)
    slope_east, slope_north = _slope(segments, points, terrain)
    east_m, north_m = metres_from_middle(segments, segment, points.latitude_deg, points.longitude_deg)
    east_m += np.cos(heading) * canopy.lane_offset_m[segment]
    north_m -= np.sin(heading) * canopy.lane_offset_m[segment]
    col, row, cells_per_m = np.zeros_like(heading), np.zeros_like(heading), np.zeros((len(heading), 2, 2))
    if place is not None:
        cells_per_m = place.cells_per_m[segment]
        col, row = place.moved(segment, east_m, north_m)
    uniform = canopy.uniform_cover_frac
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
        layers=-np.log1p(-np.minimum(uniform, 0.98))[segment],
        height_m=height[segment],
        default_height_m=canopy.default_height_m[segment],
        tallest_m=np.zeros((len(heading), 2)),
    )


def _slope(segments: Segments, points: Points, terrain: Terrain) -> tuple[FloatArray, FloatArray]:
    """Return the ground's rise per metre east and north; where unknown, it climbs with the road."""
    heading, grade = np.radians(points.heading_deg), segments.grade_frac[points.segment]
    slopes = [grade * np.sin(heading), grade * np.cos(heading)]
    for k, known in enumerate((terrain.slope_east_frac, terrain.slope_north_frac)):
        if len(known) > 0:
            at_points = known[points.segment]
            slopes[k] = np.where(np.isnan(at_points), slopes[k], at_points)
    return slopes[0], slopes[1]
