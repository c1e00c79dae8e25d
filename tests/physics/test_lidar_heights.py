"""Shade on real ground: a height raster walked as columns, against rays cast over the laser returns themselves.

Every return over 2 m is an opaque ball, and a ground return is in the shade where its way to the sun touches
one. A crown's skin is closed by balls that reach halfway to the next return: returns lie .75 m apart on
average over the area, and their cells of 1 m, which are the raster's, are .5 m from middle to side and 1 m
across. So what balls of .5 m shade is the least, and what balls of 1 m shade the most, that these returns tell.

Found, share of open ground in the shade, over eight azimuths, crowns letting nothing through:

| sun, deg | 70 | 60 | 45 | 30 | 20 | 15 |
|---|---|---|---|---|---|---|
| balls of .5 m | .033 | .051 | .096 | .153 | .209 | .265 |
| balls of .71 m, half a cell's diagonal | .040 | .062 | .112 | .177 | .246 | .315 |
| balls of 1 m | .051 | .074 | .126 | .197 | .279 | .355 |
| the raster's columns | .039 | .062 | .113 | .187 | .268 | .333 |

The columns are .00-.02 darker than balls of .71 m, most at low suns, which look through the sides of crowns
where few returns come from. The area is repeated on all sides, for the rays and the columns.
"""

import math

import numpy as np
import pytest
from scipy.spatial import cKDTree
from suburb import TREE_M, height_raster_m, laser_returns, tiled

from routesolar.physics.columns import beam_crossings, columns_of
from routesolar.physics.columns_around import tallest_columns_m
from routesolar.physics.crowns import Habit, column_transmittance
from routesolar.physics.raymarch import Views

pytestmark = [pytest.mark.download, pytest.mark.compiled]

AZIMUTHS_DEG = range(0, 360, 45)
ELEVATIONS_DEG = (70, 60, 45, 30, 20, 15)
POINTS = 1500


def trees_m():
    """The raster of heights, without what is no tree."""
    return np.where(height_raster_m() > TREE_M, height_raster_m(), 0.0)


@pytest.fixture(scope="module")
def open_ground_m():
    """Where ground returns lie on cells without a tree, metres east and north of the corner."""
    place, _, ground = laser_returns()
    col, row = np.minimum(place.astype(int).T, np.array(trees_m().shape)[::-1, None] - 1)
    spots = np.flatnonzero(ground & (trees_m()[row, col] == 0.0))
    return place[np.random.default_rng(1).choice(spots, POINTS, replace=False)]


def clearance_m(spots_m, azimuth_deg, elevation_deg):
    """How far the middle of the nearest return is from each way to the sun: the oracle.

    Looking along the sun's rays, every return is a dot: (aside, up) in the plane across them. A return behind
    a spot lies below the ground in that plane, so that only those ahead come near.
    """
    east, north = math.sin(math.radians(azimuth_deg)), math.cos(math.radians(azimuth_deg))
    across, up = math.sin(math.radians(elevation_deg)), math.cos(math.radians(elevation_deg))
    place, height_m, _ = laser_returns()
    tree = height_m > TREE_M
    steps = [np.array([c, r]) * trees_m().shape[::-1] for c in (-1, 0, 1) for r in (-1, 0, 1)]
    place, height_m = np.vstack([place[tree] + step for step in steps]), np.tile(height_m[tree], 9)

    def seen(east_m, north_m, up_m):
        ahead = east_m * east + north_m * north
        return np.column_stack([east_m * north - north_m * east, up_m * up - ahead * across])

    return cKDTree(seen(*place.T, height_m)).query(seen(*spots_m.T, np.zeros(len(spots_m))))[0]


def shaded_by_columns(spots_m, elevation_deg):
    """Which spots the columns of the height raster shade, (azimuths, spots): rays that meet any crown."""
    raster = np.tile(trees_m(), (3, 3))
    columns = columns_of(*tiled(raster), raster.shape, 1.0)
    rows, cols = trees_m().shape
    flat, unset = np.zeros(POINTS), np.full(POINTS, np.nan)
    col, row = spots_m[:, 0] + cols, spots_m[:, 1] + rows
    cells_per_m, bounds = np.tile(np.eye(2), (POINTS, 1, 1)), np.zeros((POINTS, 2))
    views = Views(col, row, cells_per_m, 0.0, flat, flat, unset, unset, unset, bounds)
    views = views._replace(tallest_m=tallest_columns_m(views, columns))
    azimuth_deg = np.repeat(np.array([AZIMUTHS_DEG], dtype=float).T, POINTS, axis=1)
    suns = azimuth_deg, np.full_like(azimuth_deg, elevation_deg)
    return 1 - column_transmittance(beam_crossings(views, columns, Habit(0.3, 1.75, 0.0), *suns), 0.0)


@pytest.mark.parametrize("elevation_deg", ELEVATIONS_DEG)
def test_columns_shade_as_much_open_ground_as_the_returns_do(open_ground_m, elevation_deg):
    found = shaded_by_columns(open_ground_m, elevation_deg)
    clearance = np.array([clearance_m(open_ground_m, a, elevation_deg) for a in AZIMUTHS_DEG])
    least, most = (clearance < 0.5).mean(axis=1), (clearance < 1.0).mean(axis=1)
    assert least.mean() <= found.mean() <= most.mean()
    # One azimuth alone: up to .07 of 1,500 spots are seen differently, two standard errors .014.
    assert np.all(found.mean(axis=1) >= least - 0.014)
    assert np.all(found.mean(axis=1) <= most + 0.014)


@pytest.mark.parametrize("elevation_deg", ELEVATIONS_DEG)
def test_columns_shade_the_same_spots_as_the_returns_do(open_ground_m, elevation_deg):
    # A raster turned about, or a sun on the other side, would give four times as many.
    found = shaded_by_columns(open_ground_m, elevation_deg) > 0.5
    clearance = np.array([clearance_m(open_ground_m, a, elevation_deg) for a in AZIMUTHS_DEG])
    unsure = np.mean((clearance >= 0.5) & (clearance < 1.0))
    assert np.mean(found != (clearance < math.sqrt(0.5))) <= unsure
