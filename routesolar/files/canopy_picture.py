"""Lay the tree cover along a route out as a small picture for maps."""

import numpy as np
from numpy.typing import NDArray
from rasterio import Affine
from rasterio.crs import CRS
from rasterio.enums import Resampling
from rasterio.warp import reproject, transform

from routesolar.files.raster_tiles import apply
from routesolar.files.rasters import RasterAlong
from routesolar.trip.harvest_report import CanopyPicture
from routesolar.trip.surroundings import TILE, TiledGrid

LARGEST_PX = 600
EARTH_M = 6378137.0  # radius of the sphere that Web Mercator is drawn on


def canopy_picture(cover: RasterAlong) -> CanopyPicture:
    """Return the corridor's cover at most 600 pixels a side, NaN where unknown.

    Edges are counted from the route's own longitude, so that one across the antimeridian stays in one piece.
    """
    middle_deg = cover.longitude_deg
    coarse, grid = _reduced(cover.grid, cover.transform)
    mercator = CRS.from_proj4(f"+proj=merc +a={EARTH_M} +b={EARTH_M} +lon_0={middle_deg} +units=m")
    west, south, east, north = _edges(coarse.shape, grid, cover.crs, mercator)
    pixel_m = max(east - west, north - south) / LARGEST_PX
    width, height = max(1, round((east - west) / pixel_m)), max(1, round((north - south) / pixel_m))
    drawn = np.full((height, width), np.nan, dtype=np.float32)
    reproject(
        coarse,
        drawn,
        src_transform=grid,
        src_crs=cover.crs,
        src_nodata=np.nan,
        dst_transform=Affine((east - west) / width, 0.0, west, 0.0, (south - north) / height, north),
        dst_crs=mercator,
        dst_nodata=np.nan,
        resampling=Resampling.nearest,
    )
    south_deg, north_deg = (np.degrees(np.arctan(np.sinh(y / EARTH_M))) for y in (south, north))
    return CanopyPicture(
        cover_frac=drawn,
        south_deg=float(south_deg),
        west_deg=float(middle_deg + np.degrees(west / EARTH_M)),
        north_deg=float(north_deg),
        east_deg=float(middle_deg + np.degrees(east / EARTH_M)),
    )


def _reduced(grid: TiledGrid, cell_to_crs: Affine) -> tuple[NDArray[np.float32], Affine]:
    """Return block means of the known part as one array near the picture's size, and its transform."""
    tiles_across = max(grid.slot.shape)
    factor = int(2 ** np.clip(np.round(np.log2(tiles_across * TILE / (2 * LARGEST_PX))), 0, np.log2(TILE)))
    m = TILE // factor
    coarse = np.full((grid.slot.shape[0] * m, grid.slot.shape[1] * m), np.nan, dtype=np.float32)
    for row, col in np.argwhere(grid.slot >= 0):
        blocks = grid.tiles[grid.slot[row, col]].reshape(m, factor, m, factor)
        count = np.isfinite(blocks).sum(axis=(1, 3))
        mean = np.divide(np.nansum(blocks, axis=(1, 3)), count, out=np.full((m, m), np.nan), where=count > 0)
        coarse[row * m : (row + 1) * m, col * m : (col + 1) * m] = mean
    t = cell_to_crs
    known = np.isfinite(coarse)
    rows, cols = np.flatnonzero(known.any(axis=1)), np.flatnonzero(known.any(axis=0))
    x, y = apply(t, cols[0] * factor, rows[0] * factor)
    cut = coarse[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]
    return cut, Affine(t.a * factor, t.b * factor, x, t.d * factor, t.e * factor, y)


def _edges(shape: tuple[int, int], grid: Affine, crs: CRS, mercator: CRS) -> tuple[float, float, float, float]:
    """Return west, south, east, north of the array in Mercator metres."""
    along = np.linspace(0.0, 1.0, 21)
    cols = np.concatenate([along, along, 0 * along, 0 * along + 1]) * shape[1]
    rows = np.concatenate([0 * along, 0 * along + 1, along, along]) * shape[0]
    x, y = (np.asarray(values) for values in transform(crs, mercator, *apply(grid, cols, rows)))
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())
