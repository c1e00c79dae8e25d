"""Single rows of trees along open fields, ray-cast one by one, against random crowns on a cover raster of them.

Nothing is random in a row, and cells wider than a crown smear it over the fields. Found for rows of opaque
trees 18 m tall, 9 m from the road's middle on both sides:

| a tree every | sun let through | error on cells of 2 m | 3 m | 4 m | 5 m | 10 m | 20 m | 30 m |
|---|---|---|---|---|---|---|---|---|
| 8 m | .48 | -.11 | -.07 | -.03 | .02 | .19 | .26 | .32 |
| 12 m | .61 | -.13 | -.08 | -.04 | .01 | .16 | .21 | .25 |
"""

import numpy as np
import pytest
from canopy_scenes import habit
from planted_wood import MARGIN_M, RADIUS_M, PlantedWood, cover_raster, pixel_road, scene

from routesolar.physics.canopy import beam_overlap
from routesolar.physics.crowns import OVERHANG
from routesolar.physics.opening import open_share, overhang_at, stand_cover
from routesolar.physics.stand import grid_of

pytestmark = pytest.mark.compiled

ASIDE_M, PIECES, PANEL_M = 9.0, 60, 2.0
HALF_M = 1.75 * RADIUS_M  # half a crown's height
AHEAD = np.array([np.cos(0.35), np.sin(0.35)])
INNER = np.s_[8:-8]  # pieces of road with rows all around


def rows_of_trees(gap_m):
    """Where trees stand (x, y down), and the scene they make; places along the rows a metre to and fro."""
    rng = np.random.default_rng(2)
    start = np.full(2, MARGIN_M)
    along = np.arange(-200, 50 * PIECES + 200, gap_m)
    right = np.array([-AHEAD[1], AHEAD[0]])
    rows = [
        start + np.outer(along + rng.uniform(-1, 1, len(along)), AHEAD) + side * ASIDE_M * right
        for side in (-1, 1)
    ]
    vertex = start + np.outer(50.0 * np.arange(PIECES + 1), AHEAD)
    size = np.ceil((vertex.max(axis=0) + MARGIN_M) / 60).astype(int)[::-1] * 60
    trees, covered = np.vstack(rows), np.zeros(size)
    for x, y in trees:
        row, col = np.mgrid[int(y) - 5 : int(y) + 6, int(x) - 5 : int(x) + 6]
        within = ((row + 0.5 - y) ** 2 + (col + 0.5 - x) ** 2 < RADIUS_M**2) & (row >= 0) & (col >= 0)
        within &= (row < size[0]) & (col < size[1])
        covered[row[within], col[within]] = 1.0
    trunks = ASIDE_M - RADIUS_M + RADIUS_M * overhang_at(0.5, OVERHANG["opening"])
    return trees, PlantedWood(vertex, covered, trunks)


def sunlit_share(trees, spots, azimuth_deg, elevation_deg):
    """Share of spots whose way to the sun misses every crown, an ellipsoid each: the oracle."""
    azimuth, elevation = np.radians(azimuth_deg), np.radians(elevation_deg)
    axes = np.array([RADIUS_M, RADIUS_M, HALF_M])
    sun = np.array([np.sin(azimuth), np.cos(azimuth), np.tan(elevation)]) / axes
    sun /= np.linalg.norm(sun)
    height_m = 2 * HALF_M / 0.7
    up = np.full((len(spots), len(trees)), height_m - HALF_M - PANEL_M)
    away = np.dstack([trees[None] - spots[:, None], up]) / axes
    ahead = away @ sun
    return 1 - np.mean(np.any((ahead > 0) & ((away**2).sum(axis=2) - ahead**2 < 1), axis=1))


@pytest.mark.parametrize("gap_m", [8, 12])
def test_rows_of_trees_need_cells_that_show_them(gap_m):
    trees, wood = rows_of_trees(gap_m)
    spots = wood.vertex_m[0] + np.outer(np.random.default_rng(3).uniform(500, 2500, 200), AHEAD)
    suns = scene(wood, 4)[2]
    lit = np.mean([sunlit_share(trees, spots, *sun) for sun in zip(suns[0][:, 0], suns[1][:, 0], strict=True)])
    errors = {}
    for cell in (4, 5, 10, 30):
        views, road, _ = scene(wood, cell)
        tiles, slot, size = cover_raster(wood, cell)
        share = open_share(pixel_road(wood.vertex_m, 2 * (ASIDE_M - RADIUS_M), cell), slot, tiles.shape)
        grid = grid_of((stand_cover(tiles, share, slot, float(cell)), slot), None, size)
        found = np.exp(-beam_overlap(views, road, grid, habit(), *suns)[:, INNER]).mean()
        errors[cell] = found - lit
    # The rows' own chance: 200 spots under 30 suns, of which neighbours share their trees, .03 at two standard
    # errors. As much again for crowns at random places on cells half their width.
    assert abs(errors[4]) < 0.06
    assert abs(errors[5]) < 0.06
    assert 0.06 < errors[10] < errors[30]
