"""Several rasters as one: survey them, then put each under those before it, on the first one's pixel grid."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from rasterio import Affine
from rasterio.crs import CRS
from rasterio.enums import MaskFlags, Resampling
from rasterio.vrt import WarpedVRT

from routesolar.files.raster_coding import Band, Coding, FloatTile, Seen, judge_range
from routesolar.files.raster_source import display_name, opened
from routesolar.files.raster_tiles import Box, Lattice, apply, extent, read_tile

Judge = Callable[[Band, Seen], tuple[Coding, tuple[str, ...]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One source as surveyed: its place (`box` is in cells of the first source's grid) and its first band."""

    source: str
    crs: CRS
    transform: Affine
    middle_deg: float
    box: Box
    band: Band
    warnings: tuple[str, ...]


def survey(sources: Sequence[str], pooled: int = 1) -> list[Sheet]:
    """Open every source once and note where it lies and what its band declares.

    The grid of each is that of blocks of `pooled` x `pooled` cells.

    Raises:
        InputError: a source cannot be opened or placed on Earth.
    """
    sheets: list[Sheet] = []
    for source in sources:
        with opened(source) as dataset:
            name = display_name(source)
            first = sheets[0] if sheets else None
            own = _blocks(dataset.transform, pooled)
            crs, grid = (first.crs, first.transform) if first else (dataset.crs, own)
            values = dataset.count - sum(colour.name == "alpha" for colour in dataset.colorinterp)
            sheets.append(
                Sheet(
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


def _blocks(grid: Affine, pooled: int) -> Affine:
    return Affine(grid.a * pooled, grid.b * pooled, grid.c, grid.d * pooled, grid.e * pooled, grid.f)


def add_sheet(
    layers: list[FloatTile | None],
    lattice: Lattice,
    sheet: Sheet,
    judge: Judge,
    resampling: Resampling = Resampling.nearest,
) -> tuple[str, ...]:
    """Read, decode and put one source under what is already there; return its warnings."""
    seen, raw = Seen(), {}
    with opened(sheet.source) as dataset, _on_lattice(dataset, lattice, resampling) as (view, row0, col0):
        for index, row, col in lattice.tile_places():
            above = layers[index]
            if above is None or np.isnan(above).any():
                tile = read_tile(view, row + row0, col + col0)
                if not np.isnan(tile).all():
                    seen.add(tile, sheet.band)
                    raw[index] = tile
    if not raw:
        return (f"{sheet.band.name} has no data near the route and is not used",)
    coding, notes = judge(sheet.band, seen)
    kept = 0
    for index in sorted(raw):
        values = coding.apply(raw.pop(index))  # give the memory back as we go
        kept += int(np.isfinite(values).sum())
        above = layers[index]
        layers[index] = values if above is None else np.where(np.isnan(above), values, above)
    return notes + judge_range(sheet.band.name, coding, seen.known, seen.known - kept)


@contextmanager
def _on_lattice(dataset: Any, lattice: Lattice, resampling: Resampling) -> Iterator[tuple[Any, int, int]]:
    """Yield the dataset, and where the lattice's first cell lies in it; sampled only if its grid differs."""
    corners = np.array([[0, lattice.width, 0], [0, 0, lattice.height]])
    cols, rows = np.array(apply(~dataset.transform, *apply(lattice.transform, *corners))) - corners
    col, row = round(cols[0]), round(rows[0])
    same = max(np.abs(cols - col).max(), np.abs(rows - row).max()) < 0.01
    if dataset.crs == lattice.crs and same:
        yield dataset, row, col
        return
    masked = MaskFlags.nodata in dataset.mask_flag_enums[0] or MaskFlags.alpha in dataset.mask_flag_enums[0]
    with WarpedVRT(
        dataset,
        crs=lattice.crs,
        transform=lattice.transform,
        width=lattice.width,
        height=lattice.height,
        resampling=resampling,
        add_alpha=not masked,  # outside the source, libraries would return 0
    ) as view:
        yield view, 0, 0
