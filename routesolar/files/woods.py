"""Woods that a map draws, laid out as cells of cover and height along a route."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from rasterio import Affine
from rasterio.crs import CRS
from rasterio.features import rasterize

from routesolar.arrays import Tiles
from routesolar.files.raster_tiles import WGS84, Box, Lattice, carried, cell_size_m, lattice_around, locate
from routesolar.files.rasters import RasterAlong
from routesolar.physics.geodesy import wrap_longitude_deg
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.standing import Woods
from routesolar.trip.surroundings import TILE, Placement, TiledGrid, values_at

CELL_M = 5.0  # twice and four times as wide on drives so long that they would take too many
MOST_TILES = 600  # 0.3 GB of cover and heights
REACH_M = 500.0  # trees of 25 m shade this far at 3 degrees of sun
FINE = 4  # parts of a cell's side that tell how much of it is wooded
AROUND_M, LOOKS = 100.0, 9  # trees this near cast most of the shade on a road; rows of places looked at
_EVERYWHERE = Box(-np.inf, -np.inf, np.inf, np.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class WoodsAlong:
    """Woods along n points as rasters on one grid; heights None where no wood's is known.

    `evergreen_frac` (n,) is that of the woods within 100 m whose kind is known, NaN where there are none.
    """

    cover: RasterAlong
    height: RasterAlong | None
    evergreen_frac: FloatArray


def woods_along(woods: Woods, latitude_deg: FloatArray, longitude_deg: FloatArray) -> WoodsAlong | None:
    """Return the woods of a map within 500 m of n points, on cells of 5 m; None where there are none.

    A cell's cover is that of its wood times the share of it within, told by 4 x 4 parts. What no polygon covers
    is open. Cells are those of a transverse Mercator projection around the route's middle; rings may cross
    themselves.
    """
    if not len(woods.first) - 1:
        return None
    lattice, placement, cell_m = _lattice(latitude_deg, longitude_deg)
    slot = np.where(lattice.wanted, 0, -1).astype(np.int32)  # the first tile is the open land's
    cover, height, evergreen = ([np.zeros((TILE, TILE), np.float32)] for _ in range(3))
    for (row, col), which in _drawn(woods, lattice):
        cover_frac = _means(which, np.append(woods.cover_frac, 0.0))
        slot[row, col] = len(cover)
        cover.append(cover_frac)
        height.append(_among(which, woods, woods.height_m))
        evergreen.append(_among(which, woods, woods.evergreen_frac))
    if len(cover) == 1:
        return None

    def along(tiles: list[Tiles]) -> RasterAlong:
        grid = TiledGrid(tiles=np.stack(tiles), slot=slot, height=lattice.height, width=lattice.width)
        return RasterAlong(
            grid=grid,
            placement=placement,
            files=(),
            data_frac=1.0,
            crs=lattice.crs,
            transform=lattice.transform,
            cell_m=cell_m,
            longitude_deg=float(longitude_deg[0]),
        )

    whole = along(cover)
    return WoodsAlong(
        cover=whole,
        height=along(height) if np.isfinite(woods.height_m).any() else None,
        evergreen_frac=_around(whole.placement, whole.grid, along(evergreen).grid),
    )


def _lattice(latitude_deg: FloatArray, longitude_deg: FloatArray) -> tuple[Lattice, Placement, float]:
    """Return cells around the points, where these lie on them, and their side in metres."""
    east_deg = wrap_longitude_deg(longitude_deg - longitude_deg[0])
    middle_deg = longitude_deg[0] + (east_deg.min() + east_deg.max()) / 2
    north_deg = (latitude_deg.min() + latitude_deg.max()) / 2
    crs = CRS.from_proj4(f"+proj=tmerc +lat_0={north_deg} +lon_0={middle_deg} +ellps=WGS84 +units=m +no_defs")
    for cell_m in (CELL_M, 2 * CELL_M, 4 * CELL_M):
        grid = Affine(cell_m, 0.0, 0.0, 0.0, -cell_m, 0.0)
        spots = locate(crs, grid, middle_deg, latitude_deg, longitude_deg)
        found = lattice_around("the woods of the map", crs, grid, spots, REACH_M, [_EVERYWHERE])
        if found is not None and found[0].wanted.sum() <= MOST_TILES:
            break
    assert found is not None  # the box is everywhere
    lattice, spots = found
    placement = Placement(col=spots.col, row=spots.row, cells_per_m=spots.cells_per_m)
    return lattice, placement, cell_size_m(spots)


def _drawn(woods: Woods, lattice: Lattice) -> Iterator[tuple[tuple[int, int], NDArray[np.int32]]]:
    """Yield row and column of tiles with woods, and which wood each fine cell is in, -1 for none."""
    x, y = carried(WGS84, lattice.crs, np.array(woods.longitude_deg), np.array(woods.latitude_deg))
    x, y = (np.where(np.isfinite(values), values, np.nan) for values in (x, y))
    inverse = ~lattice.transform
    col, row = (inverse.a * x + inverse.c) / TILE, (inverse.e * y + inverse.f) / TILE
    starts = woods.first[:-1]
    # A ring that the projection cannot express (half the Earth away) has bounds of NaN and meets nothing.
    top, left = (np.minimum.reduceat(values, starts) for values in (row, col))
    bottom, right = (np.maximum.reduceat(values, starts) for values in (row, col))
    for down, across in np.argwhere(lattice.wanted):
        meets = (top < down + 1) & (bottom > down) & (left < across + 1) & (right > across)
        parts: dict[int, list[list[list[float]]]] = {}
        for k in np.flatnonzero(meets):
            ring = np.s_[woods.first[k] : woods.first[k + 1]]
            within = _in_tile(np.column_stack([col[ring] - across, row[ring] - down]))
            if len(within) >= 3:
                places = np.vstack([within, within[:1]]) * (TILE * FINE)
                parts.setdefault(int(woods.polygon[k]), []).append(places.tolist())
        if not parts:
            continue
        # The rings of a polygon go together: what lies within an even number of them is left out.
        shapes = [({"type": "Polygon", "coordinates": parts[wood]}, wood) for wood in sorted(parts)]
        which = rasterize(shapes, (TILE * FINE, TILE * FINE), fill=-1, dtype=np.int32)
        if (which >= 0).any():
            yield (int(down), int(across)), which


def _in_tile(ring: FloatArray) -> FloatArray:
    """Return the part of a ring (v, 2) in the unit square, cut at one side after the other.

    Sutherland & Hodgman (1974), Commun. ACM 17:32. Where it leaves the square it runs along its sides.
    """
    for axis in (0, 1):
        for low, sign in ((0.0, 1.0), (1.0, -1.0)):
            depth = sign * (ring[:, axis] - low)
            after, beyond = np.roll(ring, -1, axis=0), np.roll(depth, -1)
            crosses = (depth >= 0) != (beyond >= 0)
            share = np.divide(depth, depth - beyond, out=np.zeros_like(depth), where=crosses)
            both = np.stack([ring, ring + share[:, None] * (after - ring)], axis=1)
            ring = both[np.stack([depth >= 0, crosses], axis=1)]
    return ring


def _means(which: NDArray[np.int32], of_wood: FloatArray) -> Tiles:
    """Return means over cells of a value of the wood that each fine cell is in, that of -1 the last."""
    fine = of_wood.astype(np.float32)[which]
    rows, means = np.zeros((TILE, TILE * FINE), np.float32), np.zeros((TILE, TILE), np.float32)
    for k in range(FINE):  # many times as fast as the mean over two axes of four
        rows += fine[k::FINE]
    for k in range(FINE):
        means += rows[:, k::FINE]
    means /= FINE * FINE
    return means


def _among(which: NDArray[np.int32], woods: Woods, of_wood: FloatArray) -> Tiles:
    """Return means over the covered part of cells of what is known of their woods; NaN where nothing is."""
    known = np.isfinite(of_wood)
    weight = np.append(np.where(known, woods.cover_frac, 0.0), 0.0)
    total = _means(which, weight * np.append(np.where(known, of_wood, 0.0), 0.0))
    share = _means(which, weight)
    return np.divide(total, share, out=np.full_like(total, np.nan), where=share > 0)


def _around(place: Placement, cover: TiledGrid, evergreen: TiledGrid) -> FloatArray:
    """Return means of the evergreen share within 100 m of points, by cover; NaN where none is known."""
    total, weight = np.zeros(len(place.col)), np.zeros(len(place.col))
    rows: IntArray = np.arange(len(place.col))
    looks = np.linspace(-AROUND_M, AROUND_M, LOOKS)
    for east_m, north_m in np.stack(np.meshgrid(looks, looks), axis=-1).reshape(-1, 2):
        if np.hypot(east_m, north_m) > AROUND_M:
            continue
        col, row = place.moved(rows, np.full(len(rows), east_m), np.full(len(rows), north_m))
        share, covered = values_at(evergreen, col, row), np.nan_to_num(values_at(cover, col, row))
        covered = np.where(np.isnan(share), 0.0, covered)
        total += np.nan_to_num(share) * covered
        weight += covered
    mean: FloatArray = np.divide(total, weight, out=np.full(len(rows), np.nan), where=weight > 0)
    return mean
