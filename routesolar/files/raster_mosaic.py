"""Several rasters as one: survey them, then put each under those before it, on the first one's pixel grid."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from rasterio import Affine
from rasterio.crs import CRS
from rasterio.enums import MaskFlags, Resampling
from rasterio.vrt import WarpedVRT

from routesolar.arrays import Tiles
from routesolar.errors import InputError
from routesolar.files.raster_coding import Band, Coding, Seen, judge_range
from routesolar.files.raster_ranges import check_ranges
from routesolar.files.raster_source import display_name, is_remote, opened
from routesolar.files.raster_tiles import Box, Lattice, apply, extent, read_tile
from routesolar.trip.surroundings import TILE

Judge = Callable[[Band, Seen], tuple[Coding, tuple[str, ...]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class RasterSource:
    """One source as surveyed: its place (`box` is in cells of the first source's grid) and its first band."""

    source: str
    crs: CRS
    transform: Affine
    middle_deg: float
    box: Box
    band: Band
    warnings: tuple[str, ...]


class Layers:
    """The wanted tiles of a lattice while sheet after sheet is put under them.

    `number` tells where in `tiles` each is, -1 where nothing is known yet. All lie in one array from the
    start: it takes no memory before it is written to, and nothing has to be copied in the end.
    """

    def __init__(self, count: int) -> None:
        """Start with nothing known in any of `count` tiles."""
        self.tiles: NDArray[np.float32] = np.empty((count, TILE, TILE), dtype=np.float32)
        self.number: NDArray[np.int32] = np.full(count, -1, dtype=np.int32)

    def is_full(self, index: int) -> bool:
        """Tell whether a tile has no unknown cell left."""
        number = self.number[index]
        return bool(number >= 0 and not np.isnan(self.tiles[number]).any())

    def put_first(self, index: int, tile: Tiles) -> Tiles:
        """Keep a tile of which nothing was known; return it where it is kept, to be changed there."""
        self.number[index] = self.number.max() + 1
        kept: Tiles = self.tiles[self.number[index]]
        kept[:] = tile
        return kept

    def put_under(self, index: int, tile: Tiles) -> None:
        """Fill what is unknown in a tile."""
        above = self.tiles[self.number[index]]
        np.copyto(above, tile, where=np.isnan(above))


def survey(sources: Sequence[str], pooled: int = 1) -> list[RasterSource]:
    """Open every source once and note where it lies and what its band declares.

    The grid of each is that of blocks of `pooled` x `pooled` cells.

    Raises:
        InputError: a source cannot be opened or placed on Earth, or its server lies about parts of files.
    """
    sheets: list[RasterSource] = []
    for source in sources:
        with opened(source) as dataset:
            name = display_name(source)
            if is_remote(source):
                check_ranges(source, name)
            _check_scale(dataset, name)
            first = sheets[0] if sheets else None
            own = _blocks(dataset.transform, pooled)
            crs, grid = (first.crs, first.transform) if first else (dataset.crs, own)
            values = dataset.count - sum(colour.name == "alpha" for colour in dataset.colorinterp)
            sheets.append(
                RasterSource(
                    source=source,
                    crs=dataset.crs,
                    transform=own,
                    middle_deg=apply(dataset.transform, dataset.width / 2, dataset.height / 2)[0],
                    box=extent(dataset, crs, grid),
                    band=Band(
                        name=name,
                        integer=np.issubdtype(np.dtype(dataset.dtypes[0]), np.integer),
                        scale=dataset.scales[0],
                        offset=dataset.offsets[0],
                        unit=dataset.units[0] or "",
                    ),
                    warnings=() if values == 1 else (f"{name} has {values} bands; the first one is read",),
                )
            )
    return sheets


def _check_scale(dataset: Any, name: str) -> None:
    """Raise InputError for a declared scale or offset that would make all values the same, or none."""
    scale, offset = dataset.scales[0], dataset.offsets[0]
    if not scale or not np.isfinite([scale, offset]).all():
        raise InputError(
            f"{name} declares that its values are to be multiplied by {scale:g} and raised by {offset:g}; "
            "correct it with: gdal_edit.py -scale 1 -offset 0 FILE"
        )


def _blocks(grid: Affine, pooled: int) -> Affine:
    return Affine(grid.a * pooled, grid.b * pooled, grid.c, grid.d * pooled, grid.e * pooled, grid.f)


def add_sheet(
    layers: Layers,
    lattice: Lattice,
    sheet: RasterSource,
    judge: Judge,
    pooled: int = 1,
) -> tuple[str, ...]:
    """Read, decode and put one source under what is already there; return its warnings."""
    seen = Seen()
    first: dict[int, Tiles] = {}
    under: dict[int, Tiles] = {}
    with opened(sheet.source) as dataset, _on_lattice(dataset, lattice, pooled) as (view, row0, col0, blocks):
        for index, row, col in lattice.tile_places():
            tile = None if layers.is_full(index) else read_tile(view, row + row0, col + col0, blocks)
            if tile is None or np.isnan(tile).all():
                continue
            seen.add(tile, sheet.band)
            if layers.number[index] < 0:
                first[index] = layers.put_first(index, tile)
            else:
                under[index] = tile
    if not first and not under:
        return (f"{sheet.band.name} has no data near the route and is not used",)
    coding, notes = judge(sheet.band, seen)
    kept = sum(coding.decode(tile) for tile in (*first.values(), *under.values()))
    for index, tile in under.items():
        layers.put_under(index, tile)
    return notes + judge_range(sheet.band.name, coding, seen.known, seen.known - kept)


@contextmanager
def _on_lattice(dataset: Any, lattice: Lattice, pooled: int) -> Iterator[tuple[Any, int, int, int]]:
    """Yield the dataset, where the lattice's first cell lies in it, and how many of its cells make one.

    It is sampled only if its grid, of blocks of `pooled` x `pooled` cells, differs.
    """
    corners = np.array([[0, lattice.width, 0], [0, 0, lattice.height]])
    own = _blocks(dataset.transform, pooled)
    cols, rows = np.array(apply(~own, *apply(lattice.transform, *corners))) - corners
    col, row = round(cols[0]), round(rows[0])
    same = max(np.abs(cols - col).max(), np.abs(rows - row).max()) < 0.01
    if dataset.crs == lattice.crs and same:
        yield dataset, row, col, pooled
        return
    masked = MaskFlags.nodata in dataset.mask_flag_enums[0] or MaskFlags.alpha in dataset.mask_flag_enums[0]
    with WarpedVRT(
        dataset,
        crs=lattice.crs,
        transform=lattice.transform,
        width=lattice.width,
        height=lattice.height,
        resampling=Resampling.max if pooled > 1 else Resampling.nearest,
        add_alpha=not masked,  # outside the source, libraries would return 0
    ) as view:
        yield view, 0, 0, 1
