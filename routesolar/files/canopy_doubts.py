"""How sure trees and road are, by who said it: the driver, a raster, or nobody."""

from zlib import crc32

import numpy as np

from routesolar.trip.arrays import FloatArray
from routesolar.trip.canopy_doubt import (
    COVER_BY_STRETCH_SD,
    COVER_RASTER_SD,
    COVER_SAID_SD,
    HEIGHTS_SD,
    WIDTH_ASSUMED_SD,
    WIDTH_BY_STRETCH_SD,
    WIDTH_SAID_SD,
    CanopyDoubt,
)
from routesolar.trip.surroundings import Canopy


def doubt_of(
    canopy: Canopy, said: tuple[FloatArray, FloatArray], usual: tuple[float, float], from_raster: bool
) -> CanopyDoubt:
    """Return the doubt of a canopy.

    `said` holds road width and cover point by point, (n,), `usual` the two of the whole trip, NaN where nothing
    is said; `from_raster` tells that covers were read rather than one said for all cells.
    """
    width_m, cover_frac = said
    of_trip = WIDTH_SAID_SD if np.isfinite(usual[0]) else WIDTH_ASSUMED_SD
    width_sd = np.where(np.isnan(width_m), of_trip, WIDTH_BY_STRETCH_SD)
    cover_sd = np.where(np.isnan(cover_frac), COVER_SAID_SD, COVER_BY_STRETCH_SD)
    raster_sd = heights_sd = 0.0
    if canopy.cover_frac is not None:
        raster_sd = COVER_RASTER_SD if from_raster else COVER_SAID_SD
    if canopy.height_m is not None and canopy.cover_frac is None:  # single trees: what stands where is seen
        seen = np.isnan(canopy.uniform_cover_frac)
        width_sd, cover_sd = np.where(seen, 0.0, width_sd), np.where(seen, 0.0, cover_sd)
        heights_sd = HEIGHTS_SD
    files = " ".join(file.sha256 for file in canopy.files)
    return CanopyDoubt(
        road_width_sd_frac=width_sd,
        cover_sd_frac=cover_sd,
        raster_cover_sd_frac=raster_sd,
        heights_sd_frac=heights_sd,
        rests_on=(_words(usual[0], width_m), f"{files} {_words(usual[1], cover_frac)}", "crowns"),
    )


def _words(usual: float, said: FloatArray) -> str:
    """Return what tells one statement from another."""
    by_stretch = crc32(np.ascontiguousarray(said).tobytes()) if np.isfinite(said).any() else 0
    return f"{usual:g} {by_stretch}"
