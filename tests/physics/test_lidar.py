"""Shade on real ground: laser returns over a wooded suburb, traced to the sun, against crowns at random.

The area is repeated on all sides, for the rays and the models.
"""

import math

import numpy as np
import pytest
from numba import njit
from suburb import TREE_M, height_raster_m, tiled

from routesolar.physics.canopy import beam_overlap
from routesolar.physics.corridor import Road
from routesolar.physics.crowns import Habit
from routesolar.physics.raymarch import Views
from routesolar.physics.stand import grid_of, tallest_m

pytestmark = [pytest.mark.download, pytest.mark.compiled]

AZIMUTHS_DEG = range(0, 360, 45)


@pytest.fixture(scope="module")
def height_m():
    return height_raster_m()


def sunlit_share(height_m, elevation_deg):
    """Share of the ground in the sun, over eight azimuths, with every tree a solid column: the oracle.

    Rays leave every cell at the ground and look every half metre.
    """
    rise = math.tan(math.radians(elevation_deg))
    ahead_m = np.arange(0.25, height_m.max() / rise, 0.5)
    azimuths = np.radians(AZIMUTHS_DEG)
    return np.mean([_in_sun(height_m, ahead_m, rise, np.sin(turn), np.cos(turn)) for turn in azimuths])


@njit
def _in_sun(height_m, ahead_m, rise, east, north):
    rows, cols = height_m.shape
    lit = 0
    for row in range(rows):
        for col in range(cols):
            shaded = height_m[row, col] > TREE_M
            for s in ahead_m:
                if shaded:
                    break
                there = height_m[int(row + 0.5 + s * north) % rows, int(col + 0.5 + s * east) % cols]
                shaded = there > TREE_M and there > s * rise
            lit += not shaded
    return lit / (rows * cols)


@pytest.fixture(scope="module")
def sunlit(height_m):
    """The oracle's shares by elevation of the sun (deg)."""
    return {elevation_deg: sunlit_share(height_m, elevation_deg) for elevation_deg in (70, 60, 45, 30, 20, 15)}


def as_rasters(height_m, cell):
    """Cover and mean tree height on cells of `cell` metres, the area repeated three times each way."""
    rows, cols = (size // cell for size in height_m.shape)
    blocks = height_m[: rows * cell, : cols * cell].reshape(rows, cell, cols, cell).swapaxes(1, 2)
    trees = blocks > TREE_M
    cover = trees.mean(axis=(2, 3))
    total = np.where(trees, blocks, 0).sum(axis=(2, 3))
    tall_m = np.divide(total, trees.sum(axis=(2, 3)), out=np.zeros_like(cover), where=cover > 0)
    # The mean of covered 1 m cells is some .92-.95 of the trees' heights: 1.08 of it.
    return np.tile(cover, (3, 3)), np.tile(1.08 * tall_m, (3, 3))


def modelled_share(height_m, cell, elevation_deg, count=500):
    """Share of the ground in the sun by the random crowns of a cover raster; crowns let nothing through."""
    cover, tall_m = as_rasters(height_m, cell)
    grid = grid_of(tiled(cover), tiled(tall_m), cover.shape)
    rng = np.random.default_rng(1)
    col, row = (rng.uniform(size / 3, 2 * size / 3, count) for size in cover.shape[::-1])
    cells_per_m = np.tile([[1 / cell, 0.0], [0.0, 1 / cell]], (count, 1, 1))
    flat, unset = np.zeros(count), np.full(count, np.nan)
    bounds = np.zeros((count, 2))
    views = Views(col, row, cells_per_m, 0.0, flat, flat, unset, unset, np.full(count, 10.0), bounds)
    views = views._replace(tallest_m=tallest_m(views, grid))
    no_road = Road(np.zeros(count + 1, np.int64), np.zeros((0, 5)), np.zeros(0))
    azimuth_deg = np.repeat(np.array([AZIMUTHS_DEG], dtype=float).T, count, axis=1)
    overlap = beam_overlap(
        views, no_road, grid, Habit(0.3, 1.75, 0.0), azimuth_deg, np.full_like(azimuth_deg, elevation_deg)
    )
    return np.exp(-overlap).mean()


def test_the_suburb_is_the_one_described(height_m):
    assert height_m.shape == (172, 359)
    assert np.mean(height_m > TREE_M) == pytest.approx(0.10, abs=0.02)
    assert 30 < height_m.max() < 36


@pytest.mark.parametrize("elevation_deg", [70, 60, 45, 30, 20, 15])
def test_cover_on_30_m_cells_leaves_as_much_sun_as_the_rays_find(height_m, sunlit, elevation_deg):
    # Half-height over half-width of crowns is only known for 1.5 to 2 on this very area: .05 either way.
    found = modelled_share(height_m, 30, elevation_deg)
    assert found == pytest.approx(sunlit[elevation_deg], abs=0.05)


@pytest.mark.parametrize("cell", [4, 10])
@pytest.mark.parametrize(("elevation_deg", "within"), [(60, 0.05), (30, 0.05), (15, 0.10)])
def test_cover_on_finer_cells_is_brighter_at_low_suns(height_m, sunlit, cell, elevation_deg, within):
    # Found on 10 m: .01 too bright at 60 deg, .03 at 30, .07 at 15; on 4 m .00, .03, .06. Houses and hedges
    # stand as blocks down to the ground, and within 10 m nothing is placed at random.
    found = modelled_share(height_m, cell, elevation_deg)
    assert found == pytest.approx(sunlit[elevation_deg], abs=within)
