"""Roads and stands for the canopy tests, in metres east and north of the vehicle on flat ground."""

import numpy as np

from routesolar.physics.columns import columns_of
from routesolar.physics.corridor import Road
from routesolar.physics.crowns import Habit
from routesolar.physics.raymarch import Grid, Views

STRAIGHT_M = 2000.0


def straight():
    """A straight road to the north: (p, 2) vertices of the centreline, which passes (0, 0)."""
    return np.array([[0.0, -STRAIGHT_M], [0.0, STRAIGHT_M]])


def bend(radius_m, side, step_m=0.25):
    """An arc of +-90 deg about the vehicle, then tangents; side +1 bends to the right."""
    angle = np.linspace(-np.pi / 2, np.pi / 2, int(np.pi * radius_m / step_m))
    arc = np.column_stack([side * radius_m * (1 - np.cos(angle)), radius_m * np.sin(angle)])
    return _with_tangents(arc)


def s_bend(ahead_m, behind_m, step_m=0.25):
    """Ahead a right arc, behind it the other-hand arc: the inflection is at the vehicle, heading north."""
    before = np.linspace(-np.pi / 2, 0, int(np.pi / 2 * behind_m / step_m))[:-1]
    after = np.linspace(0, np.pi / 2, int(np.pi / 2 * ahead_m / step_m))
    back = np.column_stack([-behind_m * (1 - np.cos(before)), behind_m * np.sin(before)])
    front = np.column_stack([ahead_m * (1 - np.cos(after)), ahead_m * np.sin(after)])
    return _with_tangents(np.vstack([back, front]))


def _with_tangents(arc):
    start, end = arc[0] - arc[1], arc[-1] - arc[-2]
    first = arc[0] + STRAIGHT_M * start / np.hypot(*start)
    last = arc[-1] + STRAIGHT_M * end / np.hypot(*end)
    return np.vstack([first, arc, last])


def road_of(vertices, trunk_line_m, offset_m, count=1):
    """The same road around each of `count` vehicles that stand `offset_m` right of (0, 0), heading north."""
    vertices = np.asarray(vertices, float) - [offset_m, 0.0]
    start, end = vertices[:-1], vertices[1:]
    along = end - start
    share = np.clip(-np.sum(start * along, axis=1) / np.sum(along**2, axis=1), 0, 1)
    distance = np.hypot(*(start + share[:, None] * along).T)
    order = np.argsort(distance, kind="stable")
    half = np.full((len(start), 1), float(trunk_line_m))
    piece = np.hstack([start, end, half])[order]
    return Road(
        first=np.arange(count + 1) * len(piece),
        piece=np.tile(piece, (count, 1)),
        distance_m=np.tile(distance[order], count),
    )


def uniform_views(cover, height_m, panel_height_m, slope_east=0.0, slope_north=0.0):
    one = np.ones(1)
    return Views(
        col=0 * one,
        row=0 * one,
        cells_per_m=np.zeros((1, 2, 2)),
        panel_height_m=float(panel_height_m),
        slope_east=slope_east * one,
        slope_north=slope_north * one,
        layers=-np.log(1 - cover) * one,
        height_m=height_m * one,
        default_height_m=height_m * one,
        tallest_m=np.full((1, 2), float(height_m)),
    )


def habit(base_frac=0.3, ratio=1.75, spread_frac=0.0):
    return Habit(float(base_frac), float(ratio), float(spread_frac))


def grid_of(cover, height_m, tile=8):
    """A whole small raster (rows, cols) in memory as tiles of `tile` cells."""
    rows, cols = cover.shape
    down, across = -(-rows // tile), -(-cols // tile)
    cells = np.zeros((down * tile, across * tile, 2), np.float32)
    cells[:rows, :cols, 0] = -np.log(1 - cover)
    cells[:rows, :cols, 1] = height_m
    tiles = cells.reshape(down, tile, across, tile, 2).swapaxes(1, 2).reshape(-1, tile, tile, 2)
    slot = np.arange(down * across, dtype=np.int32).reshape(down, across)
    bits = tile.bit_length() - 1
    return Grid(np.ascontiguousarray(tiles), slot, bits, rows, cols, np.nan, np.nan)


def grid_views(grid, col, row, cells_per_m, panel_height_m, default_height_m=15.0, slope=(0.0, 0.0)):
    one = np.ones(len(np.atleast_1d(col)))
    tallest = float(np.nanmax(grid.cells[..., 1], initial=default_height_m))
    return Views(
        col=col * one,
        row=row * one,
        cells_per_m=np.broadcast_to(cells_per_m, (len(one), 2, 2)).copy(),
        panel_height_m=float(panel_height_m),
        slope_east=slope[0] * one,
        slope_north=slope[1] * one,
        layers=np.nan * one,
        height_m=np.nan * one,
        default_height_m=default_height_m * one,
        tallest_m=np.full((len(one), 2), tallest),
    )


def columns_from(heights, tile=32):
    """A whole small height raster, its sides multiples of `tile`, as columns in memory."""
    rows, cols = (size // tile for size in heights.shape)
    tiles = heights.astype(np.float32).reshape(rows, tile, cols, tile).swapaxes(1, 2).reshape(-1, tile, tile)
    slot = np.arange(rows * cols, dtype=np.int32).reshape(rows, cols)
    return columns_of(np.ascontiguousarray(tiles), slot, heights.shape, 1.0)


def column_views(col, row, panel_height_m, cells_per_m=((1.0, 0.0), (0.0, -1.0))):
    """One panel on level ground among columns of up to 25 m; rows grow to the south unless said otherwise."""
    one = np.ones(1)
    return Views(
        col=col * one,
        row=row * one,
        cells_per_m=np.array(cells_per_m, float).reshape(1, 2, 2),
        panel_height_m=float(panel_height_m),
        slope_east=0.0 * one,
        slope_north=0.0 * one,
        layers=np.nan * one,
        height_m=np.nan * one,
        default_height_m=15.0 * one,
        tallest_m=np.full((1, 2), 25.0),
    )
