"""The road's opening fitted to rasters of random crowns around a road of known opening."""

import numpy as np
import pytest
from drives import straight_drive, utc

from routesolar.model.road_width import fit_road, road_pixels
from routesolar.physics.crowns import EDGE_COVER, OVERHANG
from routesolar.trip.surroundings import TILE, Canopy, Placement, TiledGrid

COVER, HEIGHT_M = 0.6, 16.0
RADIUS_M = 0.5 * HEIGHT_M * 0.7 / 1.75
LENGTH_M, SIDE_M = 7000.0, 120.0


def raster_of_crowns(
    width_m: float, cell_m: float, seed: int, stand: float = COVER, radius_m: float = RADIUS_M
) -> np.ndarray:
    """Return cover by cell of Poisson crowns beside a straight road along the middle row, seen from above."""
    rng = np.random.default_rng(seed)
    trunk_line = width_m / 2 + np.interp(stand, EDGE_COVER, OVERHANG["opening"]) * radius_m
    density = -np.log(1 - stand) / (np.pi * radius_m**2)
    count = rng.poisson(density * LENGTH_M * 2 * SIDE_M)
    x, y = rng.uniform(0, LENGTH_M, count), rng.uniform(-SIDE_M, SIDE_M, count)
    x, y = x[np.abs(y) > trunk_line], y[np.abs(y) > trunk_line]
    fine = np.zeros((int(2 * SIDE_M), int(LENGTH_M)), bool)
    for down in range(-6, 7):
        for along in range(-6, 7):
            row, col = np.floor(y + SIDE_M).astype(int) + down, np.floor(x).astype(int) + along
            near = (row + 0.5 - y - SIDE_M) ** 2 + (col + 0.5 - x) ** 2 <= radius_m**2
            near &= (row >= 0) & (row < fine.shape[0]) & (col >= 0) & (col < fine.shape[1])
            fine[row[near], col[near]] = True
    size = int(cell_m)
    trimmed = fine[: fine.shape[0] // size * size, : fine.shape[1] // size * size]
    return trimmed.reshape(trimmed.shape[0] // size, size, -1, size).mean(axis=(1, 3))


def canopy_of(cover: np.ndarray, cell_m: float, count: int, step_m: float) -> Canopy:
    rows, cols = cover.shape
    high, wide = -(-rows // TILE), -(-cols // TILE)
    padded = np.full((high * TILE, wide * TILE), np.nan, np.float32)
    padded[:rows, :cols] = cover
    tiles = padded.reshape(high, TILE, wide, TILE).swapaxes(1, 2).reshape(-1, TILE, TILE)
    grid = TiledGrid(
        tiles=tiles, slot=np.arange(high * wide, dtype=np.int32).reshape(high, wide), height=rows, width=cols
    )
    place = Placement(
        col=(np.arange(count) + 0.5) * step_m / cell_m,
        row=np.full(count, SIDE_M / cell_m),
        cells_per_m=np.tile(np.diag([1 / cell_m, -1 / cell_m]), (count, 1, 1)),
    )
    return Canopy(
        cover_frac=grid,
        height_m=None,
        placement=place,
        uniform_cover_frac=np.full(count, np.nan),
        uniform_height_m=np.full(count, np.nan),
        default_height_m=np.full(count, HEIGHT_M),
        road_width_m=np.full(count, 12.0),
        lane_offset_m=np.zeros(count),
    )


@pytest.mark.parametrize(("cell_m", "within_m"), [(10.0, 1.0), (20.0, 2.0), (30.0, 3.0)])
@pytest.mark.parametrize("width_m", [8.0, 12.0, 18.0])
def test_a_known_opening_is_found_from_random_crowns(width_m, cell_m, within_m):
    # A Monte Carlo written here; the tolerance is some three standard errors over 6 km of road.
    drive = straight_drive(50.0, 8.0, [utc("2026-06-21T12:00+00:00")], segments=120, step_s=2.5)
    canopy = canopy_of(raster_of_crowns(width_m, cell_m, seed=int(width_m * cell_m)), cell_m, 120, 50.0)
    fit = fit_road(drive, canopy)
    assert fit is not None
    assert fit.width_m == pytest.approx(width_m, abs=within_m)
    # The doubt holds unknown crowns too, which these fits did not suffer from.
    assert 0.0 < fit.doubt_m < 1.2 * within_m


@pytest.mark.parametrize("stand", [0.6, 0.9])
@pytest.mark.parametrize("wider", [0.8, 1.0, 1.25])
def test_the_doubt_of_a_fit_covers_crowns_of_other_widths(wider, stand):
    # Crowns a fifth narrower or a quarter wider than their height tells, and a dense wood, in which stretches
    # left out in turn said +- .1 m.
    drive = straight_drive(50.0, 8.0, [utc("2026-06-21T12:00+00:00")], segments=120, step_s=2.5)
    misses = []
    for seed in range(4):
        cover = raster_of_crowns(10.0, 10.0, seed, stand, wider * RADIUS_M)
        fit = fit_road(drive, canopy_of(cover, 10.0, 120, 50.0))
        assert fit is not None
        misses.append((fit.width_m - 10.0) / fit.doubt_m)
    assert np.sqrt(np.mean(np.square(misses))) < 1.5


def test_too_little_wooded_road_gives_no_width():
    drive = straight_drive(50.0, 8.0, [utc("2026-06-21T12:00+00:00")], segments=60, step_s=2.5)
    cover = raster_of_crowns(12.0, 10.0, seed=1)
    assert fit_road(drive, canopy_of(cover, 10.0, 60, 50.0)) is None
    bare = straight_drive(50.0, 8.0, [utc("2026-06-21T12:00+00:00")], segments=120, step_s=2.5)
    assert fit_road(bare, canopy_of(0.1 * cover, 10.0, 120, 50.0)) is None
    assert fit_road(bare, Canopy.uniform(120, cover_frac=0.6)) is None


def test_each_pixel_under_the_road_counts_once():
    drive = straight_drive(50.0, 8.0, [utc("2026-06-21T12:00+00:00")], segments=120, step_s=2.5)
    pixels, road_km = road_pixels(drive, canopy_of(raster_of_crowns(12.0, 20.0, seed=2), 20.0, 120, 5.0))
    assert pixels is not None and len(pixels.observed_frac) == 30
    assert road_km == pytest.approx(6.0, abs=0.2)
