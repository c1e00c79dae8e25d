"""Read which trees keep their leaves, from a raster of leaf types."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from routesolar.errors import InputError
from routesolar.files.raster_coding import Band, Coding, Seen
from routesolar.files.rasters import RasterAlong, read_along
from routesolar.trip.arrays import BoolArray, FloatArray
from routesolar.trip.route import SourceFile
from routesolar.trip.surroundings import values_at

BROADLEAVED, CONIFEROUS = 1, 2  # as open European leaf-type layers code them; 0 is no trees
AROUND_M = 100.0  # trees this near cast most of the shade on a road


@dataclass(frozen=True, slots=True, kw_only=True)
class LeafTypeAlong:
    """Evergreen share of the tree area around n points; `data_frac` is the share of points with known cells."""

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
    them, as eucalypts or holm oaks ask for. Points without trees around take the mean of the others, and so do
    points where nothing is known, which a warning counts.

    Raises:
        InputError: a source cannot be read, placed or understood, or none has trees near the points.
    """
    along = read_along(sources, latitude_deg, longitude_deg, AROUND_M + 50.0, leaf_type_coding)
    conifers, broadleaved, known = _counts_around(along)
    trees = conifers + broadleaved
    names = " and ".join(file.name for file in along.files)
    if not trees.any():
        raise InputError(f"{names}: no trees (1 or 2) within {AROUND_M:.0f} m of the route; leave it out")
    share = np.divide(conifers, trees, out=np.full(len(trees), np.nan), where=trees > 0)
    share = np.where(trees > 0, share, conifers.sum() / trees.sum())
    return LeafTypeAlong(
        evergreen_frac=share + (1.0 - share) * evergreen_broadleaved_frac,
        files=along.files,
        data_frac=float(known.mean()),
        warnings=along.warnings if known.all() else (*along.warnings, _unknown_note(names, known)),
    )


def leaf_type_coding(band: Band, seen: Seen) -> tuple[Coding, tuple[str, ...]]:
    """Return how to read leaf types: classes 0 to 2 as they are.

    Raises:
        InputError: the raster holds other numbers, such as percent.
    """
    if not band.plain_integer or seen.maximum_to_100 > CONIFEROUS:
        raise InputError(
            f"{band.name} is not a raster of leaf types: it must hold whole numbers, 0 no trees, "
            "1 broadleaved, 2 coniferous, and over 100 no data"
        )
    return Coding(factor=1.0, offset=0.0, low=0.0, high=float(CONIFEROUS), floor=0.0), ()


def _unknown_note(names: str, known: BoolArray) -> str:
    return (
        f"{names}: the leaf type is unknown on {1 - known.mean():.1%} of the route; there it is taken as the "
        "mean of the rest"
    )


def _counts_around(along: RasterAlong) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return conifers and broadleaved cells within AROUND_M of every point, and whether any is known."""
    at, spacing_m = along.placement, min(along.cell_m, AROUND_M)
    steps = np.arange(-AROUND_M // spacing_m, AROUND_M // spacing_m + 1) * spacing_m
    conifers, broadleaved = np.zeros(len(at.col)), np.zeros(len(at.col))
    known = np.zeros(len(at.col), dtype=bool)
    for east_m, north_m in np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2):
        if np.hypot(east_m, north_m) > AROUND_M:
            continue
        moved = at.cells_per_m @ np.array([east_m, north_m])
        kind = values_at(along.grid, at.col + moved[:, 0], at.row + moved[:, 1])
        conifers += kind == CONIFEROUS
        broadleaved += kind == BROADLEAVED
        known |= np.isfinite(kind)
    return conifers, broadleaved, known
