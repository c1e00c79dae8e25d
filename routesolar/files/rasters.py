"""Read what stands along the road from rasters: tree cover, tree height, ground elevation.

Several files make a mosaic: the first that has data wins. The first file's pixel grid is kept exactly;
files on other grids or in another CRS are sampled onto it by nearest neighbour (to 1/8 of a pixel). Only
tiles within reach of the route are read, so the size of a raster does not matter.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from rasterio import Affine
from rasterio.crs import CRS

from routesolar.errors import InputError
from routesolar.files.raster_coding import (
    cover_coding,
    elevation_coding,
    height_coding,
)
from routesolar.files.raster_mosaic import Judge, Layers, RasterSource, add_sheet, survey
from routesolar.files.raster_source import source_file
from routesolar.files.raster_tiles import (
    WGS84,
    Lattice,
    Spots,
    apply,
    carried,
    cell_size_m,
    lattice_around,
    locate,
)
from routesolar.limits import limit_of
from routesolar.trip.arrays import FloatArray
from routesolar.trip.route import SourceFile
from routesolar.trip.surroundings import TILE, Placement, TiledGrid, values_at

REACH_M = 900.0  # trees of 47 m shade this far at 3 degrees of sun
FILL_M = 1000.0  # so near to an unknown cell, known ones tell what is there (raster_fill)
LEAST_CELL_M, MOST_CELL_M = 0.05, 2000.0  # finer than any survey of trees; coarser than any hill


@dataclass(frozen=True, slots=True, kw_only=True)
class RasterAlong:
    """A raster along n points: decoded touched tiles, NaN where there is no data.

    `grid` covers the corridor only; `placement` counts from its first cell, whole numbers being cell edges.
    Points far from the raster lie outside the grid. `data_frac` is the share of points whose own cell is
    known. `crs` and `transform` (cell to CRS) place the grid on Earth; `cell_m` is the size of a cell, and
    `longitude_deg` that of the first point, from which maps count. The tiles may still be changed:
    `raster_fill.fill_unknown` does so, and locks them.
    """

    grid: TiledGrid
    placement: Placement
    files: tuple[SourceFile, ...]
    data_frac: float
    crs: CRS
    transform: Affine
    cell_m: float
    longitude_deg: float
    warnings: tuple[str, ...] = ()


def read_cover(
    sources: Sequence[str], latitude_deg: FloatArray, longitude_deg: FloatArray, reach_m: float = REACH_M
) -> RasterAlong:
    """Return tree cover (fraction of a cell under crowns) along the points, from files or web addresses.

    The coding is told by the data: see `raster_coding.cover_coding`.

    Raises:
        InputError: a source cannot be read, placed or understood, or none has data near the points.
    """
    return read_along(sources, latitude_deg, longitude_deg, reach_m, cover_coding)


def read_height(
    sources: Sequence[str], latitude_deg: FloatArray, longitude_deg: FloatArray, reach_m: float = REACH_M
) -> RasterAlong:
    """Return tree heights (m above ground) along the points, from files or web addresses.

    Raises:
        InputError: as `read_cover`; also when the heights cannot be metres: too many outside 0 to 120 m.
    """
    return read_along(sources, latitude_deg, longitude_deg, reach_m, height_coding)


def read_elevation(
    sources: Sequence[str],
    latitude_deg: FloatArray,
    longitude_deg: FloatArray,
    reach_m: float,
    pooled: int = 1,
) -> RasterAlong:
    """Return ground elevations (m) along the points, from files or web addresses.

    A cell of the result holds the highest of `pooled` x `pooled` cells of the first file.

    Raises:
        InputError: as `read_cover`; also when more than half of the values are outside -500 to 9000 m.
    """
    return read_along(sources, latitude_deg, longitude_deg, reach_m, elevation_coding, pooled)


def read_along(
    sources: Sequence[str],
    latitude_deg: FloatArray,
    longitude_deg: FloatArray,
    reach_m: float,
    judge: Judge,
    pooled: int = 1,
) -> RasterAlong:
    """Return a raster along the points, its numbers read as `judge` says; see `read_cover`, `read_elevation`.

    Raises:
        InputError: as `read_cover`, and what `judge` raises.
    """
    sheets = survey(sources, pooled)
    first = sheets[0]
    spots = locate(first.crs, first.transform, first.middle_deg, latitude_deg, longitude_deg)
    _check_fineness(first, cell_size_m(spots) / pooled)
    found = lattice_around(
        first.band.name, first.crs, first.transform, spots, reach_m, [sheet.box for sheet in sheets]
    )
    if found is None:
        raise InputError(_too_far(sheets, spots, latitude_deg, longitude_deg))
    lattice, spots = found
    _check_size(lattice, first)
    layers = Layers(int(lattice.wanted.sum()))
    notes = [note for sheet in sheets for note in sheet.warnings]
    for sheet in sheets:
        notes += add_sheet(layers, lattice, sheet, judge, pooled)
    cell_m = cell_size_m(spots)
    grid = _tiled(layers, lattice, cell_m)
    names = " and ".join(sheet.band.name for sheet in sheets)
    if all(np.isnan(tile).all() for tile in grid.tiles):
        raise InputError(
            f"{names}: every pixel near the route is no data, or an impossible value; give a raster with "
            "values along the route"
        )
    return RasterAlong(
        grid=grid,
        placement=Placement(col=spots.col, row=spots.row, cells_per_m=spots.cells_per_m),
        files=tuple(source_file(source) for source in sources),
        data_frac=float(np.isfinite(values_at(grid, spots.col, spots.row)).mean()),
        crs=lattice.crs,
        transform=lattice.transform,
        cell_m=cell_m,
        longitude_deg=float(longitude_deg[0]),
        warnings=tuple(notes),
    )


def _tiled(layers: Layers, lattice: Lattice, cell_m: float) -> TiledGrid:
    """Return the layers as one grid; empty tiles too far from data to be filled by it share one."""
    slot = np.full(lattice.wanted.shape, -1, dtype=np.int32)
    slot[lattice.wanted] = layers.number
    known = slot >= 0
    reach = math.ceil(1.5 * FILL_M / (cell_m * TILE))  # 1.5: means are taken over blocks
    around = np.lib.stride_tricks.sliding_window_view(np.pad(known, reach), (2 * reach + 1, 2 * reach + 1))
    near = around.any(axis=(2, 3)) & lattice.wanted & ~known
    far = lattice.wanted & ~known & ~near
    first, shared = int(known.sum()), int(known.sum() + near.sum())
    slot[near] = np.arange(first, shared)
    slot[far] = shared
    tiles = layers.tiles[: slot.max() + 1]
    tiles[first:] = np.nan
    slot.setflags(write=False)
    return TiledGrid(tiles=tiles, slot=slot, height=lattice.height, width=lattice.width)


def check_cells(along: RasterAlong) -> None:
    """Raise InputError for cells too large to tell anything of what stands or rises beside a road."""
    if along.cell_m > MOST_CELL_M:
        names = " and ".join(file.name for file in along.files)
        raise InputError(
            f"{names}: its cells are {along.cell_m:.3g} m wide near the route; give a raster with cells of at "
            f"most {MOST_CELL_M:g} m, and check its CRS"
        )


def _check_fineness(first: RasterSource, cell_m: float) -> None:
    if not cell_m >= LEAST_CELL_M:
        raise InputError(
            f"{first.band.name}: its cells are {cell_m:.3g} m wide near the route, finer than any survey; "
            "check its CRS and position"
        )


def _check_size(lattice: Lattice, first: RasterSource) -> None:
    count = int(lattice.wanted.sum())
    if count > limit_of("raster tiles"):
        raise InputError(
            f"{first.band.name} is too fine for a route this long: its cells near the road would take "
            f"{count * TILE**2 * 4 / 2**30:.1f} GiB; resample it to larger cells, or split the route"
        )


def _too_far(
    sheets: list[RasterSource], spots: Spots, latitude_deg: FloatArray, longitude_deg: FloatArray
) -> str:
    """Return the message for rasters that do not come near the route, with the distance."""
    first = sheets[0]
    distances_m = []
    for box in (sheet.box for sheet in sheets):
        col, row = np.clip(spots.col, box.left, box.right), np.clip(spots.row, box.top, box.bottom)
        x, y = apply(first.transform, col, row)
        longitude, latitude = carried(first.crs, WGS84, x, y)
        distances_m.append(_sphere_distance_m(latitude_deg, longitude_deg, latitude, longitude))
    nearest_km = np.nanmin(np.where(np.isfinite(distances_m), distances_m, np.nan)) / 1000
    names = " and ".join(sheet.band.name for sheet in sheets)
    return (
        f"{names}: the raster does not come near the route, it is {nearest_km:,.0f} km away; "
        "give a raster that covers the route, and check its CRS"
    )


def _sphere_distance_m(
    latitude_deg: FloatArray,
    longitude_deg: FloatArray,
    to_latitude_deg: FloatArray,
    to_longitude_deg: FloatArray,
) -> FloatArray:
    """Return great-circle distances (m) by the haversine formula, to half a percent: for messages only."""
    phi1, phi2 = np.radians(latitude_deg), np.radians(to_latitude_deg)
    half = np.radians(to_longitude_deg - longitude_deg) / 2
    h = np.sin((phi2 - phi1) / 2) ** 2 + np.cos(phi1) * np.cos(phi2) * np.sin(half) ** 2
    distance: FloatArray = 2 * 6371008.8 * np.arcsin(np.sqrt(np.clip(h, 0, 1)))
    return distance
