"""Trees and hills along a drive, read from what a trip says of them."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.errors import CoverageError, UsageError
from routesolar.files.canopy_files import (
    OPEN_NOTE,
    ROAD_WIDTH_M,
    CanopyRead,
    CanopySources,
    Said,
    canopy_from,
    said_of,
)
from routesolar.files.terrain import read_terrain
from routesolar.model.road_width import fit_road
from routesolar.timetable import kinds_of_trees, stretch_values
from routesolar.timetable.stretches import StretchValues
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import MapPicture
from routesolar.trip.segments import Segments
from routesolar.trip.standing import Woods
from routesolar.trip.surroundings import Canopy, Surroundings, Terrain, Trees
from routesolar.trips.crowns import with_crowns
from routesolar.trips.mapping import MapAlong
from routesolar.trips.on_map import on_mapped_road
from routesolar.trips.origins import trees_used
from routesolar.trips.sources import Sources
from routesolar.trips.trip import Trip

HEIGHT_M = 15.0
SURFACE_NOTE = (
    "all that the surface shows is taken as trees: houses without outlines let light through, too much of it "
    "while leaves are off; --map gives their outlines"
)
FLAT_CROWN = 0.5  # wider than an umbrella of a crown
LEAST_KNOWN_FRAC = 0.999  # with --strict, a smaller known share is an error


class Roadside(NamedTuple):
    """What stands along a road whatever the date: trees without their season, hills, and where both came from.

    It holds for every drive of the same road, geometry and pace alike.
    """

    canopy: Canopy
    terrain: Terrain
    values: StretchValues
    evergreen_frac: FloatArray | None
    opening_from: tuple[str, ...]
    picture: MapPicture | None


def surroundings(trip: Trip, segments: Segments) -> Surroundings:
    """Return trees and terrain along a drive of the trip, read from the sources it names.

    Raises:
        InputError: a raster cannot be used. UsageError: what is said of the trees contradicts itself.
        CoverageError: the sources are strict, and the data do not cover the route.
    """
    return in_season(roadside_of(trip, segments), trip, segments)


def hills_along(trip: Trip, segments: Segments) -> Terrain:
    """Return the hills that a trip's terrain rasters show along its drive; flat without any.

    Raises:
        InputError: a raster cannot be used. UsageError: nothing is said of the rig.
    """
    if not trip.sources.terrain:
        return Terrain.flat(segments.count)
    height_m = segments.middle_elevation_m if segments.has_elevation else np.full(segments.count, np.nan)
    places = segments.middle_latitude_deg, segments.middle_longitude_deg
    return read_terrain(trip.sources.terrain, *places, height_m, trip.fitted().roof_height_m)


def canopy_read(trip: Trip, segments: Segments) -> CanopyRead:
    """Return the trees along a drive of the trip as its sources show them.

    Raises:
        InputError: a raster cannot be used. UsageError: what is said of the trees contradicts itself.
    """
    places = segments.middle_latitude_deg, segments.middle_longitude_deg
    said = _said(stretch_values(segments, trip.plan.surroundings))
    return canopy_from(*places, _canopy_sources(trip.sources, trip.on_map), said)


def roadside_of(
    trip: Trip, segments: Segments, hills: Terrain | None = None, read: CanopyRead | None = None
) -> Roadside:
    """Return what stands along a drive of the trip whatever its date, read from the sources it names.

    `hills` are those of the drive where they have been read before; `read` are the trees, with another road
    width or height said of them perhaps.

    Raises:
        InputError: a raster cannot be used. UsageError: what is said of the trees contradicts itself.
    """
    sources, stretches = trip.sources, trip.plan.surroundings
    values = stretch_values(segments, stretches)
    said = _said(values)
    if read is None:
        read = canopy_read(trip, segments)
    else:
        read = said_of(read, _canopy_sources(sources, trip.on_map), said)
    trees, kind = kinds_of_trees(segments, stretches, sources.trees)
    warnings = (*read.canopy.warnings, *_flat_crowns(trees))
    if trip.on_map is not None:  # where it shows no wood there is none
        warnings = tuple(warning for warning in warnings if warning != OPEN_NOTE)
    if sources.surface and (trip.on_map is None or trip.on_map.stands.buildings.count == 0):
        warnings = (*warnings, SURFACE_NOTE)
    canopy = replace(read.canopy, trees=trees, kind=kind, warnings=warnings)
    if trip.on_map is None or sources.fit_road_width:
        canopy = _with_fitted_road(sources, segments, canopy, said)
    opening_from: tuple[str, ...] = ()
    if trip.on_map is not None:
        canopy, opening_from = on_mapped_road(canopy, segments, sources, trip.on_map, said.road_width_m)
    terrain = hills_along(trip, segments) if hills is None else hills
    return Roadside(canopy, terrain, values, read.evergreen_frac, opening_from, read.picture)


def in_season(roadside: Roadside, trip: Trip, segments: Segments) -> Surroundings:
    """Return trees and terrain of a drive of the trip, from what stands along it whatever the date.

    Raises:
        InputError: a raster cannot be used.
        CoverageError: the sources are strict, and the data do not cover the route.
    """
    sources, terrain, values = trip.sources, roadside.terrain, roadside.values
    canopy, leaf_frac, evergreen_frac = with_crowns(
        roadside.canopy, segments, sources, values, roadside.evergreen_frac
    )
    if sources.strict and min(canopy.data_frac, terrain.data_frac) < LEAST_KNOWN_FRAC:
        raise CoverageError(
            f"--strict: the canopy is known on {canopy.data_frac:.1%} and the terrain on "
            f"{terrain.data_frac:.1%} of the route; give rasters that cover it, or leave --strict out"
        )
    used = trees_used(canopy, sources, values, leaf_frac, evergreen_frac, roadside.opening_from)
    around = Surroundings(
        canopy=canopy, terrain=terrain, picture=roadside.picture, hills=sources.terrain, used=used
    )
    if trip.on_map is None:
        return around
    features, stands = trip.on_map.features, trip.on_map.stands
    around = replace(
        around,
        maps=features.files,
        attribution=features.attribution,
        road=trip.on_map.road,
        drawing=trip.on_map.drawing,
    )
    return around.beside(buildings=stands.buildings, standing=stands.crowns)


def _flat_crowns(trees: tuple[Trees, ...]) -> tuple[str, ...]:
    """Return a warning where a crown's shape looks like the share of a tree that is crown."""
    flattest = min(kind.crown_slenderness for kind in trees)
    if flattest >= FLAT_CROWN:
        return ()
    return (
        f"crown_slenderness {flattest:g} means crowns {1 / flattest:.3g} times as wide as tall; it is half a "
        "crown's height over half its width, usually 1 to 2.5, not the share of a tree's height that is crown",
    )


def _said(values: StretchValues) -> Said:
    return Said(
        cover_frac=values.canopy_cover_frac,
        height_m=values.canopy_height_m,
        road_width_m=values.road_width_m,
        lane_offset_m=values.lane_offset_m,
    )


def _canopy_sources(sources: Sources, on_map: MapAlong | None) -> CanopySources:
    cover_frac, height_m, width_m = sources.canopy_cover_frac, sources.canopy_height_m, sources.road_width_m
    return CanopySources(
        cover=sources.canopy,
        height=sources.canopy_heights,
        surface=sources.surface,
        terrain=sources.terrain,
        buildings=None if on_map is None else on_map.stands.buildings,
        cover_frac=np.nan if cover_frac is None else cover_frac,
        height_m=HEIGHT_M if height_m is None else height_m,
        road_width_m=np.nan if width_m is None else width_m,
        trees=sources.trees,
        drive_side=sources.drive_side,
        woods=None if on_map is None else _woods(on_map.stands.woods, height_m),
    )


def _woods(woods: Woods, said_height_m: float | None) -> Woods:
    """Return a map's woods, as tall as is said where that is said."""
    return woods if said_height_m is None else replace(woods, height_m=np.full_like(woods.height_m, np.nan))


def _with_fitted_road(sources: Sources, segments: Segments, canopy: Canopy, said: Said) -> Canopy:
    """Return the canopy with the opening its raster shows, if that was asked for; else offer it in a warning.

    Raises:
        UsageError: a fit was asked for and the raster does not bear one.
    """
    asked = sources.fit_road_width
    otherwise = np.array([trees.road_width_between != "opening" for trees in canopy.trees])[canopy.kind]
    if (otherwise & np.isnan(said.road_width_m)).any():
        if asked:
            raise UsageError(
                "--road-width fit finds the opening as seen from above; leave road_width_between out of the "
                "trip file, or give the width between trunks or crowns beside it: road_width_m = 12"
            )
        return canopy
    fit = fit_road(segments, canopy) if asked or sources.road_width_m is None else None
    if fit is None:
        if asked:
            raise UsageError(
                "--road-width fit needs a cover raster of 30 m or finer and at least 5 km of wooded road whose "
                "pixels fit some opening; give the width instead, such as 12m"
            )
        return canopy
    seen = (
        f"a road opening of {fit.width_m:.1f} m (+- {fit.doubt_m:.1f} m, {fit.road_km:.0f} km of wooded road)"
    )
    if not asked:
        if abs(fit.width_m - ROAD_WIDTH_M) < max(2 * fit.doubt_m, 1.0):
            return canopy
        note = (
            f"the cover raster shows {seen}, not the {ROAD_WIDTH_M:g} m assumed; --road-width fit would use it"
        )
        return replace(canopy, warnings=(*canopy.warnings, note))
    silent = np.isnan(said.road_width_m)
    width_sd = np.where(silent, fit.doubt_m / fit.width_m, canopy.doubt.road_width_sd_frac)
    return replace(
        canopy,
        road_width_m=np.where(silent, fit.width_m, canopy.road_width_m),
        doubt=replace(canopy.doubt, road_width_sd_frac=width_sd),
        warnings=(*canopy.warnings, f"fitted to the raster: {seen}"),
    )
