"""Place points on a raster and read only the tiles they touch.

The raster is never warped: points are carried into its CRS instead. A `Lattice` is the raster's own pixel
grid, cut (or extended) to the corridor, its origin on a whole tile of the raster.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple, Self

import numpy as np
from numpy.typing import NDArray
from rasterio import Affine
from rasterio._err import CPLE_BaseError
from rasterio.crs import CRS
from rasterio.enums import ColorInterp
from rasterio.errors import RasterioError
from rasterio.warp import transform
from rasterio.windows import Window

from routesolar.arrays import Tiles
from routesolar.errors import InputError
from routesolar.files.own_proj import use_own_database
from routesolar.physics.geodesy import wrap_longitude_deg
from routesolar.physics.terrain import max_pool
from routesolar.trip.arrays import BoolArray, FloatArray
from routesolar.trip.surroundings import TILE

use_own_database()
WGS84 = CRS.from_epsg(4326)
OFFSET_M = 50.0  # how far east and north the Jacobian looks
AT_A_TIME = 1024  # cells a side that are read to be pooled: 4 MB
WHOLE_TILES = 64  # 16 MB of cells
WIDEST_TILES = 20_000  # their rectangle is 400 MB of flags
OUTSIDE = -1.0e7  # column and row of a point that the raster's CRS cannot express


class Spots(NamedTuple):
    """Points on a pixel grid: fractional column, row (whole numbers are cell edges) and cells per metre."""

    col: FloatArray
    row: FloatArray
    cells_per_m: FloatArray

    def shifted(self, cols: int, rows: int) -> Self:
        """Return the same points counted from the cell (cols, rows)."""
        return self._replace(col=self.col - cols, row=self.row - rows)


class Box(NamedTuple):
    """A rectangle of cells."""

    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Lattice:
    """A pixel grid of whole tiles: CRS, cell-to-CRS transform, and which tiles are wanted (rows, cols)."""

    crs: CRS
    transform: Affine
    wanted: BoolArray

    @property
    def height(self) -> int:
        """Number of cell rows."""
        return int(self.wanted.shape[0]) * TILE

    @property
    def width(self) -> int:
        """Number of cell columns."""
        return int(self.wanted.shape[1]) * TILE

    def tile_places(self) -> Iterator[tuple[int, int, int]]:
        """Yield index, first cell row and first cell column of every wanted tile, row by row."""
        for index, (row, col) in enumerate(np.argwhere(self.wanted)):
            yield index, int(row) * TILE, int(col) * TILE


def locate(
    crs: CRS, grid: Affine, middle_deg: float, latitude_deg: FloatArray, longitude_deg: FloatArray
) -> Spots:
    """Return where points lie on the grid, and the cells per metre east and north there.

    The Jacobian is the difference to points 50 m east and north on the WGS 84 ellipsoid. In a geographic
    CRS longitudes are counted within 180 degrees of the raster's middle, so 0-360 rasters work too.
    Points that the CRS cannot express lie at OUTSIDE, with the mean Jacobian of the others.
    """
    step_north_deg, step_east_deg = _degrees_per_step(latitude_deg)
    x, y = _project(crs, latitude_deg, longitude_deg)
    x_east, y_east = _project(crs, latitude_deg, longitude_deg + step_east_deg)
    x_north, y_north = _project(crs, latitude_deg + step_north_deg, longitude_deg)
    east, north = (x_east - x, y_east - y), (x_north - x, y_north - y)
    if crs.is_geographic:
        x = middle_deg + wrap_longitude_deg(x - middle_deg)
        east, north = (wrap_longitude_deg(east[0]), east[1]), (wrap_longitude_deg(north[0]), north[1])
    inverse = ~grid
    turn = np.array([[inverse.a, inverse.b], [inverse.d, inverse.e]])
    cells_per_m = (
        np.einsum("ij,jkn->nik", turn, np.array([[east[0], north[0]], [east[1], north[1]]])) / OFFSET_M
    )
    col = inverse.a * x + inverse.b * y + inverse.c
    row = inverse.d * x + inverse.e * y + inverse.f
    bad = ~(np.isfinite(col) & np.isfinite(row) & np.isfinite(cells_per_m).all(axis=(1, 2)))
    col[bad], row[bad] = OUTSIDE, OUTSIDE
    cells_per_m[bad] = cells_per_m[~bad].mean(axis=0) if not bad.all() else np.eye(2)
    return Spots(col, row, cells_per_m)


def lattice_around(
    name: str, crs: CRS, grid: Affine, spots: Spots, reach_m: float, boxes: list[Box]
) -> tuple[Lattice, Spots] | None:
    """Return the lattice of all tiles within reach of the points, and the points on it; None if none is.

    Only points whose reach meets one of `boxes` (the rasters' extents in cells) count. A small rectangle
    around the tiles is wanted whole, so that the map under a short drive has no gaps.

    Raises:
        InputError: the tiles of raster `name` are so many that their rectangle would not fit into memory.
    """
    reach = np.hypot(spots.cells_per_m[:, :, 0], spots.cells_per_m[:, :, 1]) * reach_m
    left, right = spots.col - reach[:, 0], spots.col + reach[:, 0]
    top, bottom = spots.row - reach[:, 1], spots.row + reach[:, 1]
    meets = np.zeros(len(left), dtype=bool)
    for box in boxes:
        meets |= (right > box.left) & (left < box.right) & (bottom > box.top) & (top < box.bottom)
    if not meets.any():
        return None
    edges = np.stack([top, bottom, left, right], axis=1)[meets]
    tiles = np.unique(np.floor(edges / TILE).astype(np.int64), axis=0)
    first_row, first_col = tiles[:, 0].min(), tiles[:, 2].min()
    if max(np.ptp(tiles[:, :2]), np.ptp(tiles[:, 2:])) > WIDEST_TILES:
        raise InputError(f"{name}: its cells are too small for a route this long; resample it to larger cells")
    wanted = np.zeros((tiles[:, 1].max() - first_row + 1, tiles[:, 3].max() - first_col + 1), dtype=bool)
    for row0, row1, col0, col1 in tiles - [first_row, first_row, first_col, first_col]:
        wanted[row0 : row1 + 1, col0 : col1 + 1] = True
    if wanted.size <= WHOLE_TILES:
        wanted[:] = True
    cols, rows = int(first_col) * TILE, int(first_row) * TILE
    x, y = apply(grid, cols, rows)
    lattice = Lattice(crs=crs, transform=Affine(grid.a, grid.b, x, grid.d, grid.e, y), wanted=wanted)
    return lattice, spots.shifted(cols, rows)


def extent(dataset: Any, crs: CRS, grid: Affine) -> Box:
    """Return the rectangle of cells of `grid` (in `crs`) that the dataset covers."""
    along = np.linspace(0.0, 1.0, 21)  # edges are curved in another CRS
    cols = np.concatenate([along, along, 0 * along, 0 * along + 1]) * dataset.width
    rows = np.concatenate([0 * along, 0 * along + 1, along, along]) * dataset.height
    x, y = apply(dataset.transform, cols, rows)
    if dataset.crs != crs:
        x, y = carried(dataset.crs, crs, x, y)
    col, row = apply(~grid, x, y)
    known = np.isfinite(col) & np.isfinite(row)
    if not known.any():
        return Box(OUTSIDE, OUTSIDE, OUTSIDE, OUTSIDE)
    col, row = col[known], row[known]
    return Box(col.min(), row.min(), col.max(), row.max())


def read_tile(dataset: Any, row: int, col: int, pooled: int = 1) -> Tiles:
    """Return TILE x TILE raw values from the cell (row, col) on; NaN where masked or outside the dataset.

    A cell is the highest known of a block of `pooled` x `pooled` of the dataset's, a power of two.
    """
    if pooled == 1:
        return _read_square(dataset, row, col, TILE)
    tile = np.empty((TILE, TILE), dtype=np.float32)
    side = min(TILE, max(1, AT_A_TIME // pooled))
    for top in range(0, TILE, side):
        for left in range(0, TILE, side):
            place = (row + top) * pooled, (col + left) * pooled
            square = _read_square(dataset, *place, side * pooled)
            tile[top : top + side, left : left + side] = max_pool(square, pooled)
    return tile


def _read_square(dataset: Any, row: int, col: int, side: int) -> Tiles:
    """Return `side` x `side` raw values; NaN where masked or outside the dataset."""
    square = np.full((side, side), np.nan, dtype=np.float32)
    top, left = max(row, 0), max(col, 0)
    height, width = min(row + side, dataset.height) - top, min(col + side, dataset.width) - left
    if height <= 0 or width <= 0:
        return square
    window = Window(left, top, width, height)
    values = dataset.read(1, window=window)
    known = _known(dataset, window)
    if values.dtype.kind == "f":
        known &= np.abs(values) < 1e30  # also drops NaN, and fillers that float32 cannot hold
    inside = square[top - row : top - row + height, left - col : left - col + width]
    np.copyto(inside, values, where=known, casting="unsafe")
    return square


def _known(dataset: Any, window: Window) -> BoolArray:
    """Return where the first band is not masked; GDAL itself overlooks an alpha band of decimal numbers."""
    known: BoolArray = dataset.read_masks(1, window=window) > 0
    for band, colour in enumerate(dataset.colorinterp, 1):
        if colour == ColorInterp.alpha:
            known &= dataset.read(band, window=window) > 0
    return known


def cell_size_m(spots: Spots) -> float:
    """Return the side of a square of the same area as the cells under the points, in metres (median)."""
    return float(1.0 / np.sqrt(np.median(np.abs(np.linalg.det(spots.cells_per_m)))))


def apply(affine: Affine, x: Any, y: Any) -> tuple[Any, Any]:
    """Return x, y carried through an affine transform."""
    return affine.a * x + affine.b * y + affine.c, affine.d * x + affine.e * y + affine.f


def _project(
    crs: CRS, latitude_deg: FloatArray, longitude_deg: FloatArray
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return carried(WGS84, crs, longitude_deg, latitude_deg)


def carried(of: CRS, to: CRS, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return places `of` one CRS in another; inf where that cannot express them.

    The library gives all up for one that fails, so those are looked for by halves: they lie together.
    """
    try:
        moved = transform(of, to, x, y)
    except (CPLE_BaseError, RasterioError):
        if len(x) == 1:
            return np.full(1, np.inf), np.full(1, np.inf)
        half = len(x) // 2
        parts = carried(of, to, x[:half], y[:half]), carried(of, to, x[half:], y[half:])
        return np.concatenate([parts[0][0], parts[1][0]]), np.concatenate([parts[0][1], parts[1][1]])
    return np.asarray(moved[0], dtype=np.float64), np.asarray(moved[1], dtype=np.float64)


def _degrees_per_step(latitude_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the degrees of latitude and longitude in OFFSET_M (WGS 84 radii of curvature)."""
    a, e2 = 6378137.0, 0.00669437999014
    phi = np.radians(np.clip(latitude_deg, -89.9, 89.9))
    root = np.sqrt(1.0 - e2 * np.sin(phi) ** 2)
    meridian, parallel = a * (1.0 - e2) / root**3, a / root * np.cos(phi)
    return np.degrees(OFFSET_M / meridian), np.degrees(OFFSET_M / parallel)
