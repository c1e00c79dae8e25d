"""Buildings and single trees along a drive: what they leave of sun and sky at each of its points."""

from typing import NamedTuple, Self

import numpy as np

from routesolar.model.points import Points
from routesolar.model.slopes import slope_at
from routesolar.physics.geodesy import destination
from routesolar.physics.prisms import (
    BESIDE_M,
    Panels,
    Rings,
    behind_buildings,
    indoors,
    rings_near,
    rings_of,
)
from routesolar.physics.standing_crowns import (
    CrownPlaces,
    SkyCrowns,
    crown_places,
    crowns_near,
    met_towards_sky,
    met_towards_suns,
)
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.fitting import check_canopy_fits, check_terrain_fits
from routesolar.trip.segments import Segments
from routesolar.trip.standing import Buildings
from routesolar.trip.surroundings import Canopy, Terrain

NEAR_M = 100.0  # of a road: what stands so near casts shadows whose edges are passed in a second


class Built(NamedTuple):
    """Where buildings hide the suns, (d, p), and what they and hills leave of each direction, (p, 20, 12)."""

    hidden: BoolArray
    sky_frac: FloatArray


class Standing(NamedTuple):
    """Crowns of single trees met on the way to the suns, (3, d, p), and to the sky, by kind."""

    to_suns: FloatArray
    to_sky: SkyCrowns


class Beside(NamedTuple):
    """What stands one by one along a drive, as it is looked for; None where there is none of it."""

    rings: Rings | None
    crowns: CrownPlaces | None

    @classmethod
    def of(cls, canopy: Canopy, terrain: Terrain) -> Self:
        """Return the buildings and single trees of surroundings."""
        trees = canopy.standing
        crowns = None
        if trees is not None:
            middles = trees.latitude_deg, trees.longitude_deg
            crowns = crown_places(*middles, trees.height_m, trees.crown_width_m, trees.evergreen_frac)
        return cls(None if terrain.buildings is None else rings_as_looked_for(terrain.buildings), crowns)

    def near(self, segments: Segments) -> BoolArray | None:
        """Return on which segments anything stands within 100 m, (n,); None where there is nothing at all."""
        if self.rings is None and self.crowns is None:
            return None
        places = np.array(segments.middle_latitude_deg), np.array(segments.middle_longitude_deg)
        within_m = np.minimum(NEAR_M + segments.length_m / 2, 800.0)
        near = np.zeros(segments.count, dtype=bool)
        if self.rings is not None:
            near |= rings_near(self.rings, *places, within_m)
        if self.crowns is not None:
            near |= crowns_near(self.crowns, *places, within_m)
        return near


def rings_as_looked_for(buildings: Buildings) -> Rings:
    """Return the rings of buildings by the squares they stand in."""
    return rings_of(buildings.latitude_deg, buildings.longitude_deg, buildings.first, buildings.height_m)


def indoors_notes(segments: Segments, terrain: Terrain) -> tuple[str, ...]:
    """Return a warning about the part of a drive that lies inside buildings and under no roof, if any does.

    Raises:
        UsageError: the terrain is of other segments.
    """
    check_terrain_fits(segments, terrain)
    if terrain.buildings is None:
        return ()
    places = np.array(segments.middle_latitude_deg), np.array(segments.middle_longitude_deg)
    inside = indoors(rings_as_looked_for(terrain.buildings), *places) & ~segments.roofed
    if not inside.any():
        return ()
    length_m = np.where(segments.stopped, 0.0, segments.length_m)
    where = "a stop lies"
    if inside[~segments.stopped].any():
        where = f"{length_m[inside].sum() / 1000:.2g} km of the way lie"
    return (
        f"{where} inside buildings as these are drawn; there the vehicle is taken as {BESIDE_M:g} m beside the "
        "nearest wall that faces open ground (a passage or a garage is roofed = true)",
    )


def stands_free(
    places: Segments, canopy: Canopy, terrain: Terrain, room_m: float, headings: int = 8
) -> BoolArray:
    """Return where no building and no single tree's crown stands within so many metres of places, (n,).

    Raises:
        UsageError: canopy or terrain are of other places.
    """
    check_canopy_fits(places, canopy)
    check_terrain_fits(places, terrain)
    latitude, longitude = np.array(places.latitude_deg), np.array(places.longitude_deg)
    free = np.ones(places.count, dtype=bool)
    beside = Beside.of(canopy, terrain)
    if beside.crowns is not None:
        free &= ~crowns_near(beside.crowns, latitude, longitude, np.full(places.count, room_m))
    if beside.rings is not None:
        free &= ~indoors(beside.rings, latitude, longitude)
        for heading_deg in np.arange(headings) * 360.0 / headings:
            free &= ~indoors(beside.rings, *destination(latitude, longitude, heading_deg, room_m))
    return free


def seen_from(
    beside: Beside,
    segments: Segments,
    points: Points,
    around: tuple[Canopy, Terrain],
    suns: tuple[FloatArray, FloatArray],
    panel_height_m: float,
) -> tuple[Built | None, Standing | None]:
    """Return what buildings and single trees do at points, for suns (d, p)."""
    if beside.rings is None and beside.crowns is None:
        return None, None
    canopy, terrain = around
    panels = _panels(segments, points, canopy, terrain, panel_height_m)
    built = standing = None
    if beside.rings is not None:
        built = Built(*behind_buildings(beside.rings, panels, *suns))
    if beside.crowns is not None:
        base_frac = np.array([trees.crown_base_frac for trees in canopy.trees])
        base_frac = base_frac[np.broadcast_to(canopy.kind, segments.count)[points.segment]]
        standing = Standing(
            met_towards_suns(beside.crowns, panels, base_frac, *suns),
            met_towards_sky(beside.crowns, panels, base_frac),
        )
    return built, standing


def left_by_standing(met: FloatArray, tau: list[FloatArray], factor: float) -> FloatArray:
    """Return the share left after a factor times so many crowns of three kinds, (3, ...).

    Opaque crowns count as tau 1e-9.
    """
    depth = sum(-np.log(np.maximum(each, 1e-9)) * chords for each, chords in zip(tau, met, strict=True))
    left: FloatArray = np.exp(-factor * depth)
    return left


def _panels(
    segments: Segments, points: Points, canopy: Canopy, terrain: Terrain, panel_height_m: float
) -> Panels:
    """Return the panels at points, in their lane, on ground that slopes as the terrain."""
    heading, offset_m = np.radians(points.heading_deg), canopy.lane_offset_m[points.segment]
    slope_east, slope_north = slope_at(segments, points, terrain)
    return Panels(
        latitude_deg=points.latitude_deg,
        longitude_deg=points.longitude_deg,
        east_m=np.cos(heading) * offset_m,
        north_m=-np.sin(heading) * offset_m,
        height_m=panel_height_m,
        slope_east=slope_east,
        slope_north=slope_north,
        heading_deg=points.heading_deg,
        horizon_deg=np.array(terrain.horizon_deg),
        place=points.segment,
    )


def at_some(standing: Standing | None, some: IntArray | None) -> Standing | None:
    """Return what single trees do at some points, None for all."""
    if standing is None or some is None:
        return standing
    sky = standing.to_sky
    return Standing(standing.to_suns[..., some], SkyCrowns(sky.hit_frac[some], sky.met[:, some]))
