"""Where the trees of a drive came from, gathered for the telling."""

from collections.abc import Sequence

import numpy as np

from routesolar.timetable.stretches import StretchValues
from routesolar.trip.arrays import FloatArray
from routesolar.trip.names import printable
from routesolar.trip.surroundings import Canopy
from routesolar.trip.trees_used import BY_KILOMETRE, GIVEN, TreesUsed, Used
from routesolar.trips.sources import Sources

ASSUMED, FITTED = "assumed", "fitted to the raster"
BY_DATE = "by date and place"


def trees_used(
    canopy: Canopy,
    sources: Sources,
    said: StretchValues,
    leaf_frac: FloatArray,
    evergreen_frac: FloatArray,
    opening_from: Sequence[str] = (),
) -> TreesUsed:
    """Return what was used of the trees, and where it came from: said, from a raster or map, or assumed.

    `opening_from` (n,) says where a map told the road's opening, empty where it did not.
    """
    count = len(canopy.road_width_m)
    tall_m = np.where(np.isnan(canopy.uniform_height_m), canopy.default_height_m, canopy.uniform_height_m)
    in_raster = np.full(count, np.nan)
    opening = FITTED if sources.fit_road_width else _given(sources.road_width_m is not None)
    drawn = sources.map if canopy.drawn else ()
    named = _read(sources.canopy or sources.canopy_heights or sources.surface or drawn)
    cover = in_raster if named and sources.canopy_cover_frac is None else canopy.uniform_cover_frac
    heights = _read(sources.canopy_heights or sources.surface or (drawn if canopy.height_m is not None else ()))
    height = heights or _given(sources.canopy_height_m is not None)
    kinds = _read(sources.leaf_type) or _given(sources.trees.evergreen_frac > 0)
    openings = [mapped or opening for mapped in opening_from or [""] * count]
    fixed = sources.crown_transmittance_frac
    return TreesUsed(
        cover=_used(said.canopy_cover_frac, cover, named if cover is in_raster else GIVEN),
        height_m=_used(said.canopy_height_m, in_raster if heights else tall_m, height),
        opening_m=_used(said.road_width_m, canopy.road_width_m, openings),
        evergreen=_used(said.evergreen_frac, np.broadcast_to(evergreen_frac, count), kinds),
        crown=_used(said.crown_transmittance_frac, np.full(count, np.nan if fixed is None else fixed), GIVEN),
        leaf_frac=(float(leaf_frac.min()), float(leaf_frac.max())),
        season=BY_DATE if sources.season == "auto" else GIVEN,
    )


def _used(said: FloatArray, otherwise: FloatArray, origin: str | Sequence[str]) -> Used:
    """Return what is said of stretches, and elsewhere what holds for the whole route, or for each segment."""
    silent = np.isnan(said)
    origins = [origin] * len(said) if isinstance(origin, str) else origin
    if silent.all():
        return Used(value=otherwise, origin=tuple(origins))
    return Used(
        value=np.where(silent, otherwise, said),
        origin=tuple(
            one if quiet else BY_KILOMETRE for one, quiet in zip(origins, silent.tolist(), strict=True)
        ),
    )


def _given(is_given: bool) -> str:
    return GIVEN if is_given else ASSUMED


def _read(sources: tuple[str, ...]) -> str:
    """Return "as in cover.tif", empty without a raster."""
    names = [printable(source.replace("\\", "/").rsplit("/", 1)[-1]) for source in sources]
    return f"as in {', '.join(names)}" if names else ""
