"""Fit the road's opening to the cover raster along a drive."""

from typing import NamedTuple

import numpy as np

from routesolar.model.trees import habit_of
from routesolar.physics.crowns import crowns_of
from routesolar.physics.road_width import RoadPixels, fitted_width_m, width_doubt_m
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.fitting import check_canopy_fits
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, TiledGrid, values_at

LEAST_ROAD_KM = 5.0  # less wooded road than this and the fit is too unsure to use
LEAST_COVER_FRAC = 0.2  # beside the road: thinner woods hardly tell its width
COARSEST_M = 32.0
BESIDE_M = (30.0, 45.0, 60.0, 75.0)  # where the stand is looked at, on both sides: beyond any opening
_POINTS = (np.arange(6) + 0.5) / 6 - 0.5  # across a pixel, each way


class RoadFit(NamedTuple):
    """The opening in metres, its standard error, and the kilometres of wooded road it rests on."""

    width_m: float
    doubt_m: float
    road_km: float


def fit_road(segments: Segments, canopy: Canopy) -> RoadFit | None:
    """Return the opening that the cover raster shows along the drive.

    None without a cover raster of 30 m or finer, for cells drawn after a map, with less than 5 km of wooded
    road, or where no opening between 2 and 60 m explains what is seen.
    """
    pixels, road_km = road_pixels(segments, canopy)
    if pixels is None or canopy.drawn or road_km < LEAST_ROAD_KM:
        return None
    width_m = fitted_width_m(pixels)
    return None if np.isnan(width_m) else RoadFit(width_m, width_doubt_m(pixels), road_km)


def road_pixels(segments: Segments, canopy: Canopy) -> tuple[RoadPixels | None, float]:
    """Return the raster's pixels under the wooded road, each once, and how many kilometres they stand for."""
    check_canopy_fits(segments, canopy)
    grid, place = canopy.cover_frac, canopy.placement
    if grid is None or place is None:
        return None, 0.0
    if place.cell_m > COARSEST_M:
        return None, 0.0
    heading = np.radians(segments.heading_deg)
    right = np.stack([np.cos(heading), -np.sin(heading)], axis=1)
    stand = _stand_cover(grid, place.col, place.row, np.einsum("nij,nj->ni", place.cells_per_m, right))
    wooded = (stand > LEAST_COVER_FRAC) & ~segments.stopped & np.isnan(canopy.uniform_cover_frac)
    road_km = float(segments.length_m[wooded].sum() / 1000)
    cell = np.stack([np.floor(place.row), np.floor(place.col)], axis=1)
    rows = np.flatnonzero(wooded).astype(np.int64)
    _, first = np.unique(cell[rows], axis=0, return_index=True)
    rows = rows[np.sort(first)]
    observed = values_at(grid, place.col[rows], place.row[rows])
    known = np.isfinite(observed)
    rows = rows[known]
    height = np.where(np.isnan(canopy.uniform_height_m), canopy.default_height_m, canopy.uniform_height_m)
    radius = np.array([crowns_of(habit_of(trees)).radius for trees in canopy.trees])[canopy.kind]
    pixels = RoadPixels(
        observed_frac=observed[known],
        stand_frac=stand[rows],
        radius_m=(radius * height)[rows],
        aside_m=_aside_m(canopy, rows, right[rows]),
    )
    return (pixels if len(rows) else None), road_km


def _stand_cover(grid: TiledGrid, col: FloatArray, row: FloatArray, right_cells: FloatArray) -> FloatArray:
    """Return the mean cover beside the road, (n,), NaN where nothing is known."""
    seen = np.stack(
        [
            values_at(grid, col + side * far * right_cells[:, 0], row + side * far * right_cells[:, 1])
            for far in BESIDE_M
            for side in (-1.0, 1.0)
        ]
    )
    known = np.isfinite(seen)
    total = np.where(known, seen, 0.0).sum(axis=0)
    mean: FloatArray = np.divide(
        total, known.sum(axis=0), out=np.full(len(col), np.nan), where=known.any(axis=0)
    )
    return mean


def _aside_m(canopy: Canopy, rows: IntArray, right: FloatArray) -> FloatArray:
    """Return how far points over each pixel lie from the road's line through the segment, (p, k)."""
    place = canopy.placement
    assert place is not None
    to_metres = np.linalg.inv(place.cells_per_m[rows])
    col, row = (np.floor(values[rows]) + 0.5 - values[rows] for values in (place.col, place.row))
    across, down = (offset.ravel() for offset in np.meshgrid(_POINTS, _POINTS))
    offsets = np.stack([col[:, None] + across, row[:, None] + down], axis=-1)
    metres = np.einsum("pij,pkj->pki", to_metres, offsets)
    aside: FloatArray = np.abs(np.einsum("pki,pi->pk", metres, right))
    return aside
