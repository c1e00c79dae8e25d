"""A raster of 1.6 thousand million cells costs no more than the corridor through it."""

import subprocess
import sys

import numpy as np
import pyproj
import pytest
import rasterio
from files.raster_samples import from_origin, points, write

from routesolar.errors import InputError
from routesolar.files import raster_mosaic, rasters
from routesolar.files.rasters import read_cover

ALBERS = "EPSG:3577"
WEST, NORTH, CELL, SIDE = 0.0, -3_000_000.0, 30.0, 40_000
TO_ALBERS = pyproj.Transformer.from_crs("EPSG:4326", ALBERS, always_xy=True)


@pytest.fixture(scope="module")
def large(tmp_path_factory):
    """A sparse, compressed, tiled raster of 1,200 km a side; cover is 37 % in the blocks written.

    In a quarter of every block it is unknown.
    """
    path = tmp_path_factory.mktemp("large") / "cover.tif"
    profile = {
        "driver": "GTiff", "count": 1, "dtype": "uint8", "height": SIDE, "width": SIDE, "crs": ALBERS,
        "transform": from_origin(WEST, NORTH, CELL, CELL), "tiled": True, "blockxsize": 512, "blockysize": 512,
        "compress": "deflate", "sparse_ok": True,
    }  # fmt: skip
    with rasterio.open(path, "w", **profile) as dataset:
        for start in range(0, SIDE - 512, 512):
            block = np.full((512, 512), 37, "uint8")
            block[:256, :256] = 255
            dataset.write(block, 1, window=((start, start + 512),) * 2)
    return str(path)


def winding_line():
    """Return x, y (Albers metres) every 50 m along a line of over 1,500 km, winding by 3 km."""
    along = np.linspace(0, 1_150_000, 32_000)
    aside = 3000 * np.sin(along / 4000)
    x, y = WEST + 20_000 + along + aside, NORTH - 20_000 - along + aside
    assert np.hypot(np.diff(x), np.diff(y)).sum() > 1_500_000
    return x, y


def tiles_within(x, y, cells):
    """Return the tiles of 256 cells that squares of so many cells around the points touch."""
    col, row = (x - WEST) / CELL, (NORTH - y) / CELL
    return {
        (int(r // 256), int(c // 256))
        for r0, c0 in zip(row, col, strict=True)
        for r in (r0 - cells, r0 + cells)
        for c in (c0 - cells, c0 + cells)
    }


def test_only_touched_tiles_are_read_from_a_large_raster(large, monkeypatch):
    x, y = winding_line()
    longitude, latitude = TO_ALBERS.transform(x, y, direction="INVERSE")
    calls = []
    plain = raster_mosaic.read_tile
    monkeypatch.setattr(raster_mosaic, "read_tile", lambda *where: calls.append(where[1:]) or plain(*where))
    along = read_cover([large], np.asarray(latitude), np.asarray(longitude), reach_m=900.0)
    # 900 m are 30 cells; the projection stretches lengths by up to 3 %.
    assert len(tiles_within(x, y, 28.5)) <= len(calls) <= len(tiles_within(x, y, 31.5))
    assert len(calls) == len(set(calls))
    assert len(calls) < 0.03 * (SIDE / 256) ** 2
    assert along.grid.tiles.nbytes < 150e6
    assert along.grid.tiles.nbytes + along.grid.slot.nbytes < 0.025 * SIDE**2 * 4


PEAK_MB = """
import resource, sys
import numpy as np
from routesolar.files.raster_fill import fill_unknown
from routesolar.files.rasters import read_cover

latitude_deg, longitude_deg = np.load(sys.argv[2])
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
along = read_cover([sys.argv[1]], latitude_deg, longitude_deg)
assert np.isnan(along.grid.tiles).any()
fill_unknown(along)
assert not np.isnan(along.grid.tiles).any()
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1000)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the peak of memory is counted in kB on Linux only")
def test_1500_km_are_read_and_filled_within_200_mb(large, tmp_path):
    # The bound is the one promised for a route of this length on top of the route itself.
    x, y = winding_line()
    longitude, latitude = TO_ALBERS.transform(x, y, direction="INVERSE")
    np.save(tmp_path / "line.npy", [latitude, longitude])
    fresh = [sys.executable, "-c", PEAK_MB, large, str(tmp_path / "line.npy")]
    assert float(subprocess.run(fresh, capture_output=True, text=True, check=True).stdout) < 200


def test_a_raster_too_fine_for_the_route_is_refused_before_it_is_read(large, monkeypatch):
    monkeypatch.setattr(rasters, "limit_of", {"raster tiles": 100}.get)
    x, y = winding_line()
    longitude, latitude = TO_ALBERS.transform(x, y, direction="INVERSE")
    with pytest.raises(InputError, match=r"cover\.tif is too fine for a route this long.*GiB"):
        read_cover([large], np.asarray(latitude), np.asarray(longitude))


def test_a_line_across_row_strips_is_read(tmp_path):
    values = np.tile(np.arange(3000) % 101, (3000, 1)).astype("uint8")
    source = write(tmp_path / "strips.tif", values, compress="deflate")

    east = np.linspace(100, 89_000, 2000)
    along = read_cover([source], *points(east, east))
    found = rasters.values_at(along.grid, along.placement.col, along.placement.row)
    np.testing.assert_allclose(found, (east // 30) % 101 / 100, atol=1e-6)
