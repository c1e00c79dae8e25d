"""Horizons along a drive over a 30 m elevation raster: time, and what blocks far off change.

Run: PYTHONPATH=. python benchmarks/terrain.py
"""

import tempfile
import time
from pathlib import Path

import numpy as np
import rasterio
from rasterio import Affine

from routesolar.files.rasters import read_elevation
from routesolar.files.terrain import REACH_M, read_terrain
from routesolar.physics.horizon_rays import RasterPoints
from routesolar.physics.terrain import Relief, horizon, pyramid

CELL_M, SIDE = 30.0, 4096  # 123 km a side
EPSG = 32633
EYE_M = 2.4


def rough_ground(seed: int) -> np.ndarray:
    """Return ground of 400 m standard deviation whose waves fall with frequency squared."""
    waves = np.hypot(np.fft.fftfreq(SIDE)[:, None], np.fft.rfftfreq(SIDE)[None, :])
    waves[0, 0] = np.inf
    phases = np.exp(2j * np.pi * np.random.default_rng(seed).random(waves.shape))
    ground = np.fft.irfft2(phases * waves**-1.9, s=(SIDE, SIDE))
    return (1000 + 400 * ground / np.std(ground)).astype("f4")


def written(folder: Path) -> str:
    """Write the ground as a tiled raster of UTM zone 33 and return its path."""
    place = Affine(CELL_M, 0, 450_000, 0, -CELL_M, 5_350_000)
    profile = {"driver": "GTiff", "height": SIDE, "width": SIDE, "count": 1, "dtype": "float32", "tiled": True}
    path = str(folder / "ground.tif")
    with rasterio.open(path, "w", **profile, crs=f"EPSG:{EPSG}", transform=place, compress="deflate") as out:
        out.write(rough_ground(7), 1)
    return path


def road(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return latitudes and longitudes of a winding line across the raster's middle."""
    share = np.linspace(0.3, 0.7, count)
    x = 450_000 + share * SIDE * CELL_M
    y = 5_350_000 - (0.5 + 0.05 * np.sin(share * 40)) * SIDE * CELL_M
    longitude, latitude = rasterio.warp.transform(f"EPSG:{EPSG}", "EPSG:4326", x, y)
    return np.asarray(latitude), np.asarray(longitude)


def one_grid(path: str, at: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    """Return the horizons from the whole raster read cell by cell, however far."""
    along = read_elevation([path], *at, REACH_M)
    grid, spot = along.grid, along.placement
    place = RasterPoints(spot.col, spot.row, spot.cells_per_m, 0.0, REACH_M)
    relief = Relief(pyramid(grid.tiles, grid.slot, grid.height, grid.width), place)
    n = len(spot.col)
    return horizon([relief], np.full(n, EYE_M), np.full(n, np.nan)).horizon_deg


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        path = written(Path(folder))
        for count in (3, 1_000, 4_000):  # the first compiles
            at = road(count)
            start = time.perf_counter()
            terrain = read_terrain([path], *at, np.full(count, np.nan), EYE_M)
            print(f"{count} points, 72 azimuths, {REACH_M / 1000:.0f} km: {time.perf_counter() - start:.2f} s")
        few = slice(None, None, 40)
        error_deg = terrain.horizon_deg[few] - one_grid(path, (at[0][few], at[1][few]))
        print(f"mean horizon {terrain.horizon_deg.mean():.2f} deg, data share {terrain.data_frac:.3f}")
        print(f"near and far grid against one grid: RMS {np.sqrt(np.mean(error_deg**2)):.3f} deg")


if __name__ == "__main__":
    main()
