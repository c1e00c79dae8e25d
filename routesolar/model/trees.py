"""The trees along a drive as the ray march reads them: from rasters and sayings to cells, views and road."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple, Self

import numpy as np

from routesolar.model.points import Points
from routesolar.model.road import (
    RoadPieces,
    clearing_pieces,
    metres_from_middle,
    road_pieces,
    stands_aside,
)
from routesolar.model.slopes import slope_at
from routesolar.model.stands import Stand, columns_under, grid_at, in_blocks, stand_along
from routesolar.physics.columns import Columns
from routesolar.physics.columns_around import crowns_per_column, tallest_columns_m
from routesolar.physics.corridor import Corridor, Road, Vehicle, pieces_near
from routesolar.physics.crowns import OVERHANG, Habit
from routesolar.physics.opening import trunk_lines_m
from routesolar.physics.raymarch import Grid, Views
from routesolar.physics.stand import tallest_m
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.fitting import check_canopy_fits, check_terrain_fits
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Terrain, Trees
from routesolar.wanted import still_wanted

AT_A_TIME = 1024  # points looked from at once: the road around each has to be held
MOST_HELD = 4096  # points whose road is kept to be looked at twice


class SingleTrees(NamedTuple):
    """Trees seen one by one, the views among them, and how many crowns a column stands for there, (n,)."""

    views: Views
    columns: Columns
    crowns_per_column: FloatArray

    def at(self, rows: IntArray) -> Self:
        """Return what some of the points see."""
        return type(self)(_at(self.views, rows), self.columns, self.crowns_per_column[rows])


class TreesInView(NamedTuple):
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


def habit_of(trees: Trees) -> Habit:
    """Return the shape of trees of one kind."""
    return Habit(trees.crown_base_frac, trees.crown_slenderness, trees.height_spread_frac)


class Lookout(NamedTuple):
    """What other widths, covers and crowns of the same trees leave as it is: looked up once a drive.

    `grid` is of the stand as stated. `views` know nothing yet of the cover said along the road. `aside` (p,) is
    the leg of a stop in a clearing of its own, -1 on the road; `clearings` are its pieces.
    """

    points: Points
    stand: Stand | None
    grid: Grid
    views: Views
    single: SingleTrees | None
    vehicle: Vehicle
    pieces: RoadPieces
    aside: IntArray
    clearings: RoadPieces


class Wood(NamedTuple):
    """The trees along a drive, of one width, cover and kind each: what is looked at from a lookout.

    `near` are the trees around all of its points, where they are few enough to be held; else None.
    """

    lookout: Lookout
    canopy: Canopy
    views: Views
    line: Mapping[int, Corridor]  # the road's, -1, and that of each clearing beside it
    grid: Grid
    near: tuple[TreesInView, ...] | None = None


def lookout_along(
    segments: Segments, points: Points, canopy: Canopy, terrain: Terrain, panel_height_m: float
) -> Lookout:
    """Return what is looked at from points of a drive, whatever the trees' doubt.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    check_canopy_fits(segments, canopy)
    check_terrain_fits(segments, terrain)
    canopy, columns = in_blocks(canopy), columns_under(canopy)
    stand = stand_along(segments, canopy)
    grid = grid_at(stand, 0.0)
    views = _views(segments, points, canopy, terrain, panel_height_m)
    single = None
    if columns is not None:
        views = views._replace(layers=_layers(canopy, points))
        among = views._replace(tallest_m=tallest_columns_m(views, columns))
        single = SingleTrees(among, columns, crowns_per_column(among, columns))
    views = views._replace(tallest_m=tallest_m(views, grid))
    offset_m = canopy.lane_offset_m[points.segment]
    vehicle = Vehicle(points.latitude_deg, points.longitude_deg, points.heading_deg, offset_m)
    leg = np.where(stands_aside(segments), segments.leg, -1)
    pieces = road_pieces(segments), leg[points.segment], clearing_pieces(segments)
    return Lookout(points, stand, grid, views, single, vehicle, *pieces)


def wood_at(lookout: Lookout, canopy: Canopy) -> Wood:
    """Return the wood of a canopy: that of the lookout, or one with other widths and covers."""
    grid = grid_at(lookout.stand, canopy.cover_shift) if canopy.cover_shift else lookout.grid
    layers = _layers(canopy, lookout.points)
    if lookout.single is not None:
        layers = np.nan_to_num(layers)  # a point that sees single trees has no random stand around it
    views = lookout.views._replace(layers=layers)
    return Wood(lookout, canopy, views, _line(lookout, canopy, views, grid), grid)


def held(wood: Wood) -> Wood:
    """Return the same wood with the trees around its points held, to be looked at more than once."""
    return wood._replace(near=tuple(trees_around(wood))) if len(wood.views.layers) <= MOST_HELD else wood


def trees_around(wood: Wood, some: IntArray | None = None) -> Iterator[TreesInView]:
    """Yield the trees around the points, or some of them, by kind and some at a time; rows are places there."""
    if wood.near is not None and some is None:
        yield from wood.near
        return
    points, single, aside = wood.lookout.points, wood.lookout.single, wood.lookout.aside
    places = np.arange(len(points.segment)) if some is None else some
    for rows, trees in _by_kind(wood.canopy, points.segment[places], aside[places]):
        still_wanted()
        at = places[rows]
        line = wood.line[int(aside[at[0]])]
        yield TreesInView(
            rows,
            _at(wood.views, at),
            pieces_near(line, Vehicle(*(values[at] for values in wood.lookout.vehicle))),
            wood.grid,
            habit_of(trees),
            None if single is None else single.at(at),
        )


def _layers(canopy: Canopy, points: Points) -> FloatArray:
    """Return the crowns over the ground that are said along the road, (p,); NaN where nothing is said."""
    layers: FloatArray = -np.log1p(-np.minimum(canopy.uniform_cover_frac, 0.98))[points.segment]
    return layers


def _by_kind(canopy: Canopy, segment: IntArray, aside: IntArray) -> Iterator[tuple[IntArray, Trees]]:
    """Yield the points, of these segments, among each kind of trees and on one road, some at a time."""
    kind = canopy.kind[segment]
    for number, place in np.unique(np.stack([kind, aside]), axis=1).T:
        rows = np.flatnonzero((kind == number) & (aside == place)).astype(np.int64)
        for first in range(0, len(rows), AT_A_TIME):
            yield rows[first : first + AT_A_TIME], canopy.trees[number]


def _at(views: Views, rows: IntArray) -> Views:
    """Return some of the views."""
    return Views._make(values[rows] if isinstance(values, np.ndarray) else values for values in views)


def _line(lookout: Lookout, canopy: Canopy, views: Views, grid: Grid) -> dict[int, Corridor]:
    """Return road and clearings with the trunks' distance from them, by the kind of trees on each segment."""
    points = lookout.points
    width_m = (canopy.width_factor * canopy.road_width_m)[points.segment]
    trunk_line_m = np.empty(len(points.segment))
    for rows, trees in _by_kind(canopy, points.segment, lookout.aside):
        overhang = OVERHANG[trees.road_width_between]
        trunk_line_m[rows] = trunk_lines_m(_at(views, rows), grid, width_m[rows], habit_of(trees), overhang)
    by_segment_m = points.mean(trunk_line_m[None])[0]
    lines = {-1: _corridor(lookout.pieces, by_segment_m)}
    for number, segment in enumerate(lookout.clearings.segment):
        one = RoadPieces._make(values[number : number + 1] for values in lookout.clearings)
        lines[int(lookout.aside[points.first[segment]])] = _corridor(one, by_segment_m)
    return lines


def _corridor(pieces: RoadPieces, trunk_line_m: FloatArray) -> Corridor:
    return Corridor(*pieces[1:], trunk_line_m[pieces.segment])


def _views(
    segments: Segments, points: Points, canopy: Canopy, terrain: Terrain, panel_height_m: float
) -> Views:
    """Return where the panels are among the trees, in their lane, on ground that slopes as the terrain."""
    segment, place = points.segment, canopy.placement
    heading = np.radians(points.heading_deg)
    slope_east, slope_north = slope_at(segments, points, terrain)
    east_m, north_m = metres_from_middle(segments, segment, points.latitude_deg, points.longitude_deg)
    east_m += np.cos(heading) * canopy.lane_offset_m[segment]
    north_m -= np.sin(heading) * canopy.lane_offset_m[segment]
    col, row, cells_per_m = np.zeros_like(heading), np.zeros_like(heading), np.zeros((len(heading), 2, 2))
    if place is not None:
        cells_per_m = place.cells_per_m[segment]
        col, row = place.moved(segment, east_m, north_m)
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
        layers=np.full_like(heading, np.nan),
        height_m=height[segment],
        default_height_m=canopy.default_height_m[segment],
        tallest_m=np.zeros((len(heading), 2)),
    )
