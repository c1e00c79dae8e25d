"""The shadows that trees of every cell cast at a ray, summed on lines along the ray.

The shadow of a crown is an ellipse on the ground: trunks within it meet the ray (crowns.py). Each cell has its
own trees, so its own ellipse; what counts is the ellipse's part inside the cell and outside the corridor of
the road. Lines cut both exactly.
"""

from math import cos, pi, sin, sqrt
from typing import NamedTuple

import numpy as np

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.corridor import REACH_M, block_lines
from routesolar.physics.crowns import Crowns
from routesolar.physics.raymarch import (
    CELL_COLUMNS,
    COL_IN,
    COL_OUT,
    HEIGHT,
    LAYERS,
    ROW_IN,
    ROW_OUT,
    GroundAhead,
    Viewpoint,
    Views,
    per_cell,
    rise_of,
)

# Columns of a patch, a cell's trees of one size: the borders that enter and leave it as of the cell, then
# where the shadow starts to count, its centre and radius, and crowns per square metre of shadow.
_FIRST, _CENTRE, _RADIUS, _DENSITY = range(4, 8)

NEAR_M = 120.0  # radius within which a nearer bound of the trees' height is known
LANES = 24  # lines in a bundle


def line_norm(lines: int, bins: int) -> FloatArray:
    """Return a disc's area over what `lines` lines make of it, by radius over the widest: (bins + 1,).

    Lines are spaced for the widest crown; a narrower one is cut by fewer, and its pieces are scaled by this.
    """
    share = np.minimum(1.0, (np.arange(bins + 1) + 0.5) / bins)[:, None]
    angle = np.pi * np.arange(1, lines + 1) / (lines + 1)
    chord = 2 * np.sqrt(np.maximum(0.0, share**2 - np.cos(angle) ** 2))
    summed = np.pi / (lines + 1) * np.sum(np.sin(angle) * chord, axis=1)
    area = np.pi * share[:, 0] ** 2
    norm: FloatArray = np.divide(area, summed, out=np.ones(bins + 1), where=summed > 0)
    return norm


_NORM_BINS = 1024
SPACING = pi / (LANES + 1)
# Of the lines of a whole bundle, by their angles; and squared sines halfway from each to the next.
COSINES = np.array([cos(SPACING * (j + 1)) for j in range(LANES)])
SINES = np.array([sin(SPACING * (j + 1)) for j in range(LANES)])
HALFWAY = np.array([sin(SPACING * (j + 1.5)) ** 2 for j in range(LANES - 1)])
LINE_NORM = line_norm(LANES, _NORM_BINS)


class Ray(NamedTuple):
    """One ray in the frame of its ground."""

    east: float  # forward unit
    north: float
    rise: float  # metres gained over the ground per metre ahead
    per_rise: float
    side_slope: float  # rise of the ground per metre to the right
    half_chord: float  # metres along the ray per metre of a crown's half-width
    panel_height_m: float


class Lean(NamedTuple):
    """Metres ahead per metre to the right along borders of columns, of rows, and from shadow to shadow."""

    col: float
    row: float
    centre: float


class Bundle(NamedTuple):
    """What the lines of a ray have in common; `patches` and `pieces` count what is in the room."""

    patches: int
    pieces: int
    band: GroundAhead
    half_chord: float
    lean: Lean


class Workspace(NamedTuple):
    """Working arrays, so that no ray asks for memory."""

    pieces: FloatArray
    cells: FloatArray
    patches: FloatArray
    spans: FloatArray
    y: FloatArray
    met: FloatArray
    low: FloatArray
    high: FloatArray
    weight: FloatArray
    shares: FloatArray


@compiled
def make_room(pieces: int, cells: int, classes: int, lanes: int) -> Workspace:
    """Return working arrays for so many pieces of road, cells, and size classes of trees, and lines."""
    return Workspace(
        np.empty((pieces, 5)),
        np.empty((cells, CELL_COLUMNS)),
        np.empty((cells * classes, 8)),
        np.empty((pieces + 1, 2, lanes)),
        np.empty(lanes),
        np.empty(lanes),
        np.empty(lanes),
        np.empty(lanes),
        np.empty(lanes),
        np.empty(lanes),
    )


@inlined
def ray_at(views: Views, crowns: Crowns, i: int, east: float, north: float, slope: float) -> Ray:
    """Return the ray of point i along the unit vector (east, north), rising by `slope` per metre."""
    rise = rise_of(views, i, east, north, slope)
    aside = views.slope_east[i] * north - views.slope_north[i] * east
    return Ray(east, north, rise, 1.0 / rise, aside, stretch_of(crowns, slope) / rise, views.panel_height_m)


@inlined
def stretch_of(crowns: Crowns, slope: float) -> float:
    """Return a shadow's half-length per metre of a crown's half-width, times the ray's rise."""
    return sqrt(crowns.ratio * crowns.ratio + slope * slope)


@inlined
def lean_of(spot: Viewpoint, centre: float) -> Lean:
    """Return how the borders of cells lean in a point's frame, with the lean of the shadows' centres."""
    col, row = -spot.col_aside * per_cell(spot.col_ahead), -spot.row_aside * per_cell(spot.row_ahead)
    return Lean(col, row, centre)


@inlined
def band_of(tallest_m: FloatArray, crowns: Crowns, ray: Ray) -> GroundAhead:
    """Return the ground whose trees can shade a point, from bounds of their height near it and anywhere."""
    band = _band(tallest_m[0], crowns, ray)
    if max(band.high, -band.low) + band.widest > NEAR_M:
        band = _band(tallest_m[1], crowns, ray)
    return band


@inlined
def _band(tallest_m: float, crowns: Crowns, ray: Ray) -> GroundAhead:
    tall_m = tallest_m * crowns.steps[-1]
    widest = crowns.radius * tall_m
    aside = abs(ray.side_slope) * widest * ray.per_rise
    near, high = _shadow_ends(tall_m, crowns, ray)
    # Trees whose crowns begin below the panel count from the panel on; those that begin level with it reach
    # nearest of the others, or the tallest do: the nearer end is linear in height.
    low = 0.0
    level_m = ray.panel_height_m / crowns.base if crowns.base > 0.0 else np.inf
    if level_m < tall_m:
        low = min(low, min(near, _shadow_ends(level_m, crowns, ray)[0]) - aside)
    return GroundAhead(max(low, -REACH_M), min(max(0.0, high + aside), REACH_M), widest)


@inlined
def _shadow_ends(tall_m: float, crowns: Crowns, ray: Ray) -> tuple[float, float]:
    centre = (crowns.centre * tall_m - ray.panel_height_m) * ray.per_rise
    half = ray.half_chord * crowns.radius * tall_m
    return centre - half, centre + half


@inlined
def cast_shadows(
    crowns: Crowns, ray: Ray, lean: Lean, band: GroundAhead, room: Workspace, found: int
) -> tuple[int, GroundAhead]:
    """Write a patch for the trees of each cell whose shadow touches it; return how many, and their band."""
    count, low, high, widest = 0, band.high, band.low, 0.0
    for k in range(found):
        cell = room.cells[k]
        for step in crowns.steps:
            tall_m = cell[HEIGHT] * step
            radius = crowns.radius * tall_m
            centre = (crowns.centre * tall_m - ray.panel_height_m) * ray.per_rise
            half = (ray.half_chord + abs(lean.centre)) * radius
            col_lag, row_lag = abs(lean.col) * radius, abs(lean.row) * radius
            start = 0.0 if crowns.base * tall_m < ray.panel_height_m else -np.inf
            first = max(max(centre - half, start), max(cell[COL_IN] - col_lag, cell[ROW_IN] - row_lag))
            last = min(centre + half, min(cell[COL_OUT] + col_lag, cell[ROW_OUT] + row_lag))
            if first > last or tall_m <= ray.panel_height_m:
                continue
            low, high, widest = min(low, first), max(high, last), max(widest, radius)
            patch = room.patches[count]
            patch[COL_IN], patch[COL_OUT], patch[ROW_IN], patch[ROW_OUT] = cell[0], cell[1], cell[2], cell[3]
            patch[_FIRST], patch[_CENTRE], patch[_RADIUS] = start, centre, radius
            patch[_DENSITY] = cell[LAYERS] / (pi * radius * radius * len(crowns.steps))
            count += 1
    for k in range(count):
        patch = room.patches[k]
        patch[_DENSITY] *= LINE_NORM[min(_NORM_BINS, int(_NORM_BINS * patch[_RADIUS] / widest))]
    return count, GroundAhead(max(low, band.low), min(high, band.high), widest)


@inlined
def lines_between(bundle: Bundle, first: float, last: float, room: Workspace) -> None:
    """Write crowns met per metre across on lines at the angles between two, by their cosine over the width."""
    for j in range(LANES):
        room.y[j] = bundle.band.widest * cos(first + (last - first) * (j + 1) / (LANES + 1))
    _meet(bundle, room)


@inlined
def lines_across(bundle: Bundle, room: Workspace) -> None:
    """Write crowns met per metre across on the lines of a whole bundle, as `lines_between` 0 and pi."""
    for j in range(LANES):
        room.y[j] = bundle.band.widest * COSINES[j]
    _meet(bundle, room)


@inlined
def _meet(bundle: Bundle, room: Workspace) -> None:
    """Write crowns met per metre across on the room's lines."""
    y, met, low, high = room.y, room.met, room.low, room.high
    for j in range(LANES):
        met[j] = 0.0
    rows = block_lines(room.pieces, bundle.pieces, y, room.spans)
    for k in range(bundle.patches):
        patch = room.patches[k]
        col_in, col_out, row_in, row_out = patch[COL_IN], patch[COL_OUT], patch[ROW_IN], patch[ROW_OUT]
        start, centre, squared, density = patch[_FIRST], patch[_CENTRE], patch[_RADIUS] ** 2, patch[_DENSITY]
        for j in range(LANES):
            half = bundle.half_chord * sqrt(max(squared - y[j] * y[j], 0.0))
            middle = centre + bundle.lean.centre * y[j]
            col_lag, row_lag = bundle.lean.col * y[j], bundle.lean.row * y[j]
            low[j] = max(max(middle - half, start), max(col_in + col_lag, row_in + row_lag))
            high[j] = min(min(middle + half, REACH_M), min(col_out + col_lag, row_out + row_lag))
            met[j] += density * max(high[j] - low[j], 0.0)
        for row in range(rows):
            enter, leave = room.spans[row, 0], room.spans[row, 1]
            for j in range(LANES):
                met[j] -= density * max(min(high[j], leave[j]) - max(low[j], enter[j]), 0.0)
