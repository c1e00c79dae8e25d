"""What it costs to read the cover along a long road out of a raster of 40,000 x 40,000 cells.

Run: python benchmarks/rasters.py [cell size in metres, 30 by default: then the road is 1,500 km long]
"""

import multiprocessing
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import rasterio
from rasterio import Affine
from rasterio.warp import transform

from routesolar.files.raster_fill import fill_unknown
from routesolar.files.rasters import read_cover

SIDE = 40_000
ALBERS = "EPSG:3577"
WEST, NORTH = 0.0, -3_000_000.0


def main() -> None:
    """Write a raster, then read it in a fresh process, whose peak of memory is the reading's own."""
    cell_m = float(sys.argv[1]) if len(sys.argv) > 1 else 30.0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cover.tif"
        write_raster(path, cell_m)
        print(f"raster {path.stat().st_size / 1e6:.1f} MB on disk, {SIDE**2 / 1e9:.1f} G cells of {cell_m:g} m")
        with multiprocessing.get_context("spawn").Pool(1) as fresh:
            fresh.apply(measure, (path, cell_m))


def measure(path: Path, cell_m: float) -> None:
    """Print seconds and memory for reading and filling."""
    latitude_deg, longitude_deg, length_km = line(cell_m)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begun = time.perf_counter()
    along = read_cover([str(path)], latitude_deg, longitude_deg)
    read_s = time.perf_counter() - begun
    read = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    fill_unknown(along)
    fill_s = time.perf_counter() - begun - read_s
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    megabytes = (along.grid.tiles.nbytes + along.grid.slot.nbytes) / 1e6
    wanted = int((along.grid.slot >= 0).sum())
    print(f"{len(latitude_deg)} points over {length_km:.0f} km")
    print(f"read {read_s:.2f} s: {wanted} tiles ({wanted / (SIDE / 256) ** 2:.1%}), {megabytes:.0f} MB")
    print(f"fill {fill_s:.2f} s; known at {along.data_frac:.1%} of the points")
    grown = [(peak - before) / 1e3 for peak in (read, after)]
    print(f"peak memory grew by {grown[0]:.0f} MB in reading, {grown[1]:.0f} MB in all")


def write_raster(path: Path, cell_m: float) -> None:
    """Write a sparse raster with noise around its diagonal and a tenth of it unknown."""
    rng = np.random.default_rng(1)
    profile = {"driver": "GTiff", "count": 1, "dtype": "uint8", "height": SIDE, "width": SIDE, "crs": ALBERS}
    layout = {"tiled": True, "blockxsize": 512, "blockysize": 512, "compress": "deflate", "sparse_ok": True}
    grid = Affine(cell_m, 0, WEST, 0, -cell_m, NORTH)
    with rasterio.open(path, "w", **profile, **layout, transform=grid) as dataset:
        for start in range(0, SIDE - 512, 512):
            for aside in (-512, 0, 512):
                block = rng.integers(0, 112, (512, 512), "uint8")
                if 0 <= start + aside < SIDE - 512:
                    columns = (start + aside, start + aside + 512)
                    dataset.write(block, 1, window=((start, start + 512), columns))


def line(cell_m: float) -> tuple[np.ndarray, np.ndarray, float]:
    """Return latitude, longitude about every 50 m along a winding diagonal, and its length in km."""
    along = np.arange(0, 0.785 * SIDE * cell_m, 33.0)
    aside = 3000 * np.sin(along / 4000)
    x, y = WEST + 10_000 + along + aside, NORTH - 10_000 - along + aside
    longitude, latitude = transform(ALBERS, "EPSG:4326", x, y)
    return np.asarray(latitude), np.asarray(longitude), float(np.hypot(np.diff(x), np.diff(y)).sum() / 1000)


if __name__ == "__main__":
    main()
