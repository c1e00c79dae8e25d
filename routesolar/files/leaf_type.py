"""Read which trees keep their leaves, from a raster of leaf types."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from routesolar.errors import InputError
from routesolar.files.raster_coding import Band, Coding, Seen
from routesolar.files.rasters import RasterAlong, read_along
from routesolar.trip.arrays import FloatArray
from routesolar.trip.route import SourceFile
from routesolar.trip.surroundings import values_at

BROADLEAVED, CONIFEROUS = 1, 2  # as open European leaf-type layers code them; 0 is no trees
AROUND_M = 100.0  # trees this near cast most of the shade on a road


@dataclass(frozen=True, slots=True, kw_only=True)
class LeafTypeAlong:
    """Evergreen share of the tree area around n points; `data_frac` is the share of points with trees known."""

    evergreen_frac: FloatArray
    files: tuple[SourceFile, ...]
    data_frac: float
    warnings: tuple[str, ...] = ()


def read_evergreen_frac(
    sources: Sequence[str],
    latitude_deg: FloatArray,
    longitude_deg: FloatArray,
    evergreen_broadleaved_frac: float = 0.0,
) -> LeafTypeAlong:
    """Return the evergreen share of the trees within 100 m of n points, from files or web addresses.

    Cells are whole numbers: 0 no trees, 1 broadleaved, 2 coniferous, anything over 100 no data. Conifers count
    as evergreen (larches too), broadleaved trees as deciduous but for `evergreen_broadleaved_frac` of
    them, as eucalypts or holm oaks ask for. Points without trees around take the mean of the others.

    Raises:
        InputError: a source cannot be read, placed or understood, or none has trees near the points.
    """
    along = read_along(sources, latitude_deg, longitude_deg, AROUND_M + 50.0, leaf_type_coding)
    conifers, broadleaved = _counts_around(along)
    trees = conifers + broadleaved
    if not trees.any():
        names = " and ".join(file.name for file in along.files)
        raise InputError(f"{names}: no trees (1 or 2) within {AROUND_M:.0f} m of the route; leave it out")
    share = np.divide(conifers, trees, out=np.full(len(trees), np.nan), where=trees > 0)
    share = np.where(trees > 0, share, conifers.sum() / trees.sum())
    return LeafTypeAlong(
        evergreen_frac=share + (1.0 - share) * evergreen_broadleaved_frac,
        files=along.files,
        data_frac=float(np.mean(trees > 0)),
        warnings=along.warnings,
    )


def leaf_type_coding(band: Band, seen: Seen) -> tuple[Coding, tuple[str, ...]]:
    """Return how to read leaf types: classes 0 to 2 as they are.

    Raises:
        InputError: the raster holds other numbers, such as percent.
    """
    if not band.plain_integer or seen.maximum_to_100 > CONIFEROUS:
        raise InputError(
            f"{band.name} is no raster of leaf types: it must hold whole numbers, 0 no trees, "
            "1 broadleaved, 2 coniferous, and over 100 no data"
        )
    return Coding(factor=1.0, offset=0.0, low=0.0, high=float(CONIFEROUS), floor=0.0), ()


def _counts_around(along: RasterAlong) -> tuple[FloatArray, FloatArray]:
    """Return how many coniferous and broadleaved cells lie within AROUND_M of every point."""
    at, spacing_m = along.placement, min(along.cell_m, AROUND_M)
    steps = np.arange(-AROUND_M // spacing_m, AROUND_M // spacing_m + 1) * spacing_m
    conifers, broadleaved = np.zeros(len(at.col)), np.zeros(len(at.col))
    for east_m, north_m in np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2):
        if np.hypot(east_m, north_m) > AROUND_M:
            continue
        moved = at.cells_per_m @ np.array([east_m, north_m])
        kind = values_at(along.grid, at.col + moved[:, 0], at.row + moved[:, 1])
        conifers += kind == CONIFEROUS
        broadleaved += kind == BROADLEAVED
    return conifers, broadleaved
