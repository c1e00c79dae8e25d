"""Where the trees of a drive came from, gathered for the telling."""

import numpy as np

from routesolar.timetable.stretches import StretchValues
from routesolar.trip.arrays import FloatArray
from routesolar.trip.names import printable
from routesolar.trip.surroundings import Canopy
from routesolar.trip.trees_used import TreesUsed, Used
from routesolar.trips.sources import Sources

BY_KILOMETRE, GIVEN, ASSUMED, FITTED = "given by kilometre", "as given", "assumed", "fitted to the raster"
BY_DATE = "by date and place"


def trees_used(
    canopy: Canopy, sources: Sources, said: StretchValues, leaf_frac: FloatArray, evergreen_frac: FloatArray
) -> TreesUsed:
    """Return what was used of the trees, and from where: by kilometre, from a raster, as given, or assumed."""
    count = len(canopy.road_width_m)
    tall_m = np.where(np.isnan(canopy.uniform_height_m), canopy.default_height_m, canopy.uniform_height_m)
    in_raster = np.full(count, np.nan)
    opening = FITTED if sources.fit_road_width else _given(sources.road_width_m is not None)
    named = _read(sources.canopy or sources.canopy_heights)
    cover = in_raster if named and sources.canopy_cover_frac is None else canopy.uniform_cover_frac
    heights = _read(sources.canopy_heights)
    height = heights or _given(sources.canopy_height_m is not None)
    kinds = _read(sources.leaf_type) or _given(sources.trees.evergreen_frac > 0)
    fixed = sources.crown_transmittance_frac
    return TreesUsed(
        cover=_used(said.canopy_cover_frac, cover, named if cover is in_raster else GIVEN),
        height_m=_used(said.canopy_height_m, in_raster if heights else tall_m, height),
        opening_m=_used(said.road_width_m, canopy.road_width_m, opening),
        evergreen=_used(said.evergreen_frac, np.broadcast_to(evergreen_frac, count), kinds),
        crown=_used(said.crown_transmittance_frac, np.full(count, np.nan if fixed is None else fixed), GIVEN),
        leaf_frac=(float(leaf_frac.min()), float(leaf_frac.max())),
        season=BY_DATE if sources.season == "auto" else GIVEN,
    )


def _used(said: FloatArray, otherwise: FloatArray, origin: str) -> Used:
    """Return what is said of stretches, and elsewhere what holds for the whole route."""
    silent = np.isnan(said)
    return Used(
        value=np.where(silent, otherwise, said),
        origin=tuple(origin if quiet else BY_KILOMETRE for quiet in silent.tolist()),
    )


def _given(is_given: bool) -> str:
    return GIVEN if is_given else ASSUMED


def _read(sources: tuple[str, ...]) -> str:
    """Return "as in cover.tif", empty without a raster."""
    names = [printable(source.replace("\\", "/").rsplit("/", 1)[-1]) for source in sources]
    return f"as in {', '.join(names)}" if names else ""
