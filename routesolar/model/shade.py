"""What trees, terrain and roofs leave of the beam and of the sky along a drive."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from routesolar.model.left import Shade, SkyLeft
from routesolar.model.points import Points, middles, points_along
from routesolar.model.standing import Beside, Built, Standing, at_some, left_by_standing, seen_from
from routesolar.model.trees import Lookout, TreesInView, Wood, held, lookout_along, trees_around, wood_at
from routesolar.physics.canopy import beam_overlap
from routesolar.physics.columns import beam_crossings, sky_crossings
from routesolar.physics.crowns import column_transmittance, crown_transmittance
from routesolar.physics.dome import AZIMUTHS, ELEVATIONS, above_horizon_frac, azimuth_deg
from routesolar.physics.hemisphere import sky_overlap
from routesolar.physics.seasons import crown_transmittance_frac
from routesolar.physics.terrain import interpolate_horizon
from routesolar.physics.threads import over_parts
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.fitting import check_canopy_fits, check_terrain_fits
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Terrain

SKIES_TOGETHER = 128  # segments whose skies are looked through at once
UNEVEN = 0.3  # the power of T that uneven light costs a panel of three blocks (physics.partial_shade)


class Vista(NamedTuple):
    """What is seen from the points of a drive whenever it leaves: buildings, single trees, and the wood.

    `to_sky` are the crowns met in each direction of the sky; `wood` is None where no stand of trees can shade.
    """

    points: Points
    beside: Beside
    wood: Wood | None
    to_sky: "CrownsMet"


class Outlook(NamedTuple):
    """A drive's points, its suns, and what can shade it; `lookout` is None where no stand of trees can.

    What buildings and single trees do is known at all points, whatever the trees' doubt.
    """

    segments: Segments
    terrain: Terrain
    points: Points
    sun_azimuth_deg: FloatArray
    sun_apparent_elevation_deg: FloatArray
    lookout: Lookout | None
    built: Built | None
    standing: Standing | None

    @property
    def is_open(self) -> bool:
        """True where nothing can shade the drive, roofs excepted."""
        return self.lookout is None and self.standing is None and self.terrain.is_open


class CrownsMet(NamedTuple):
    """Crowns of random stands and of single trees met on the way to suns (d, p) or to the sky (p, 20, 12).

    The latter are None where no tree is seen by itself. They do not depend on what a crown lets through.
    """

    stand: FloatArray
    single: FloatArray | None

    def at(self, some: IntArray | slice) -> "CrownsMet":
        """Return those met in each direction of the sky from some points."""
        return CrownsMet(self.stand[some], None if self.single is None else self.single[some])


_NOTHING = CrownsMet(np.zeros(()), None)


def cast_shade(
    segments: Segments,
    canopy: Canopy,
    terrain: Terrain,
    sun_azimuth_deg: FloatArray,
    sun_apparent_elevation_deg: FloatArray,
    panel_height_m: float,
) -> Shade:
    """Return the shade on a panel at a height above the road, for suns (d, n).

    Trees without a crown transmittance of their own are in leaf. Under a roof nothing is left of beam and sky.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    suns = sun_azimuth_deg, sun_apparent_elevation_deg
    vista = vista_along(segments, canopy, terrain, panel_height_m)
    outlook = outlook_on(vista, segments, canopy, terrain, *suns, panel_height_m)
    return shade_through(outlook, canopy, crowns_met(outlook, vista), vista.to_sky)


def vista_along(segments: Segments, canopy: Canopy, terrain: Terrain, panel_height_m: float) -> Vista:
    """Return what is seen along a drive whenever it leaves, and whatever crowns let through then.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    check_canopy_fits(segments, canopy)
    check_terrain_fits(segments, terrain)
    beside = Beside.of(canopy, terrain)
    among = beside.near(segments)
    if among is None and not canopy.has_stands:
        return Vista(middles(segments), beside, None, _NOTHING)
    points = points_along(segments, canopy, among)
    if not canopy.has_stands:
        return Vista(points, beside, None, _NOTHING)
    wood = held(wood_at(lookout_along(segments, points, canopy, terrain, panel_height_m), canopy))
    return Vista(points, beside, wood, met_by_sky(points, wood))


def outlook_on(
    vista: Vista,
    segments: Segments,
    canopy: Canopy,
    terrain: Terrain,
    sun_azimuth_deg: FloatArray,
    sun_apparent_elevation_deg: FloatArray,
    panel_height_m: float,
) -> Outlook:
    """Return all that a drive's shade is looked for with, whatever the trees' doubt.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    check_canopy_fits(segments, canopy)
    check_terrain_fits(segments, terrain)
    points, wood = vista.points, vista.wood
    suns = points.along(sun_azimuth_deg), points.along(sun_apparent_elevation_deg)
    seen = seen_from(vista.beside, segments, points, (canopy, terrain), suns, panel_height_m)
    trees = None if wood is None else wood.lookout
    return Outlook(segments, terrain, points, sun_azimuth_deg, sun_apparent_elevation_deg, trees, *seen)


def crowns_met(outlook: Outlook, vista: Vista) -> CrownsMet:
    """Return the crowns met from all points on the ways to the suns."""
    return _NOTHING if vista.wood is None else met_by_beam(outlook, vista.wood)


def met_by_beam(outlook: Outlook, wood: Wood, some: IntArray | None = None) -> CrownsMet:
    """Return the crowns met on the way to the suns from points, or from some of them: the march of the beam."""
    points = outlook.points if some is None else outlook.points.at(some)
    suns = points.along(outlook.sun_azimuth_deg), points.along(outlook.sun_apparent_elevation_deg)
    met = CrownsMet(np.empty(suns[0].shape), None if wood.lookout.single is None else np.empty(suns[0].shape))

    def march(trees: TreesInView) -> None:
        rows, views, road, grid, habit, single = trees
        there = suns[0][:, rows], suns[1][:, rows]
        met.stand[:, rows] = beam_overlap(views, road, grid, habit, *there)
        if single is not None and met.single is not None:
            among, columns, per_column = single
            met.single[:, rows] = per_column * beam_crossings(among, columns, habit, *there)

    _march(wood, some, march)
    return met


def met_by_sky(points: Points, wood: Wood, some: IntArray | None = None) -> CrownsMet:
    """Return the crowns met in each direction of the sky from points, or from some: the march of the sky."""
    heading_deg = points.heading_deg if some is None else points.heading_deg[some]
    shape = len(heading_deg), AZIMUTHS, ELEVATIONS
    met = CrownsMet(np.empty(shape), None if wood.lookout.single is None else np.empty(shape))

    def march(trees: TreesInView) -> None:
        rows, views, road, grid, habit, single = trees
        met.stand[rows] = sky_overlap(views, road, grid, habit, heading_deg[rows])
        if single is not None and met.single is not None:
            among, columns, per_column = single
            crossings = sky_crossings(among, columns, habit, heading_deg[rows])
            met.single[rows] = per_column[:, None, None] * crossings

    _march(wood, some, march)
    return met


def _march(wood: Wood, some: IntArray | None, march: Callable[[TreesInView], None]) -> None:
    """March among the trees around points; on all processors where they are at hand, since each goes alone."""
    if wood.near is None or some is not None:
        for trees in trees_around(wood, some):
            march(trees)
        return
    over_parts(march, wood.near)


def shade_through(outlook: Outlook, canopy: Canopy, to_suns: CrownsMet, to_sky: CrownsMet) -> Shade:
    """Return the shade of a canopy, terrain and roofs, of which so many crowns are met from all points."""
    if outlook.is_open and not outlook.segments.roofed.any():
        open_frac = np.ones_like(outlook.sun_azimuth_deg)
        return Shade(
            beam_transmittance_frac=open_frac,
            lit_frac=open_frac,
            sky=SkyLeft(np.ones((1, 1, 1, 1)), np.zeros(1, dtype=np.int64)),
        )
    mean, lit = beam_left(outlook, canopy, to_suns)
    return Shade(beam_transmittance_frac=mean, lit_frac=lit, sky=sky_left(outlook, canopy, to_sky))


def beam_left(outlook: Outlook, canopy: Canopy, to_suns: CrownsMet) -> tuple[FloatArray, FloatArray]:
    """Return what is left of the beam, and around lit places, both (d, n), of crowns met from all points."""
    beam = beam_at_points(outlook, canopy, to_suns)
    return mean_and_lit(*(outlook.points.mean(values) for values in left_and_used(beam)))


def beam_at_points(
    outlook: Outlook, canopy: Canopy, met: CrownsMet, some: IntArray | None = None
) -> FloatArray:
    """Return what is left of the beam at all points, (d, p), or at some."""
    points = outlook.points if some is None else outlook.points.at(some)
    azimuth_deg = points.along(outlook.sun_azimuth_deg)
    elevation_deg = points.along(outlook.sun_apparent_elevation_deg)
    beam = np.ones_like(azimuth_deg)
    if outlook.lookout is not None:
        beam = _through(met, _at(crowns_of_canopy(canopy), points.segment), canopy.crowns_factor)
    standing = at_some(outlook.standing, some)
    if standing is not None:
        tau = [_at(each, points.segment) for each in standing_of_canopy(canopy)]
        beam = beam * left_by_standing(standing.to_suns, tau, canopy.crowns_factor)
    beam = np.where(~(elevation_deg > 0), np.nan, beam)
    if outlook.built is not None:
        hidden = outlook.built.hidden if some is None else outlook.built.hidden[:, some]
        beam = np.where(hidden, 0.0 * beam, beam)
    if not outlook.terrain.is_flat:
        horizon_deg = outlook.terrain.horizon_deg[points.segment]
        beam = np.where(elevation_deg < interpolate_horizon(horizon_deg, azimuth_deg), 0.0 * beam, beam)
    return np.where(outlook.segments.roofed[points.segment], 0.0 * beam, beam)


def left_and_used(beam_frac: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what is left of the beam at points, T, and what panels use of it, T^1.3."""
    return beam_frac, beam_frac ** (1 + UNEVEN)


def mean_and_lit(beam_frac: FloatArray, used_frac: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the beam left and what is left of it around lit places, from means of T and of T^1.3."""
    evenly_lit = np.divide(used_frac, beam_frac, out=beam_frac.copy(), where=beam_frac > 0)
    return beam_frac, np.minimum(evenly_lit, 1.0) ** (1 / UNEVEN)


def sky_left(outlook: Outlook, canopy: Canopy, met: CrownsMet, some: IntArray | None = None) -> SkyLeft:
    """Return what is left of the sky, or that on the segments of some points."""
    points = outlook.points if some is None else outlook.points.at(some)
    crowns = [] if outlook.lookout is None else [crowns_of_canopy(canopy)]
    single = [] if outlook.standing is None else standing_of_canopy(canopy)
    season, tau = _seasons([*crowns, *single]) if crowns or single else (np.zeros(1, dtype=np.int64), [])
    left = np.empty((int(season.max()) + 1, len(points.first), AZIMUTHS, ELEVATIONS))
    # Every direction from all points at once would be many times what is kept of it.
    for first in range(0, len(points.first), SKIES_TOGETHER):
        segments = slice(first, first + SKIES_TOGETHER)
        part, there = points.on(segments)
        rows = np.arange(there.start, there.stop) if some is None else some[there]
        crowns_there = met.at(there) if crowns else met
        left[:, segments] = part.mean(_sky_at(outlook, part, rows, crowns_there, tau, canopy.crowns_factor))
    return SkyLeft(left, season)


def _sky_at(
    outlook: Outlook, points: Points, rows: IntArray, met: CrownsMet, tau: list[FloatArray], factor: float
) -> FloatArray:
    """Return what is left of the sky at points, which are those `rows` of all, in u seasons, (u, p, 20, 12)."""
    sky = np.ones((1, len(points.segment), AZIMUTHS, ELEVATIONS))
    crowns = [_at(of_season, points.segment)[..., None, None] for of_season in tau]
    if outlook.lookout is not None:
        sky = _through(met, crowns[0], factor)
    standing = at_some(outlook.standing, rows)
    if standing is not None:
        hit_frac, deep = standing.to_sky
        sky = sky * (1.0 - hit_frac * (1.0 - left_by_standing(deep[:, None], crowns[-3:], factor)))
    if outlook.built is not None:
        sky = sky * outlook.built.sky_frac[rows]
    elif not outlook.terrain.is_flat:
        toward = points.heading_deg + azimuth_deg()[:, None]
        horizon_deg = outlook.terrain.horizon_deg[points.segment]
        sky = sky * above_horizon_frac(interpolate_horizon(horizon_deg, toward).T)
    return np.where(outlook.segments.roofed[points.segment][:, None, None], 0.0, sky)


def _through(met: CrownsMet, tau: FloatArray, single_factor: float) -> FloatArray:
    """Return the share left after so many crowns, of single trees so many times as many.

    A point sees single trees or a random stand, not both.
    """
    left = crown_transmittance(met.stand, tau)
    return left if met.single is None else left * column_transmittance(single_factor * met.single, tau)


def _seasons(tau: list[FloatArray]) -> tuple[IntArray, list[FloatArray]]:
    """Return each departure's season, of u, and what kinds of crowns let through in each, (u, n or 1)."""
    departures = max(len(each) for each in tau)
    if departures == 1:
        return np.zeros(1, dtype=np.int64), tau
    spread = [np.broadcast_to(each, (departures, each.shape[1])) for each in tau]
    seasons, number = np.unique(np.concatenate(spread, axis=1), axis=0, return_inverse=True)
    ends = np.cumsum([each.shape[1] for each in tau])[:-1]
    return number.astype(np.int64).reshape(-1), np.split(seasons, ends, axis=1)


def _at(tau: FloatArray, rows: IntArray) -> FloatArray:
    """Return the values at some segments, of (·, n or 1)."""
    return tau if tau.shape[1] == 1 else tau[:, rows]


def standing_of_canopy(canopy: Canopy) -> list[FloatArray]:
    """Return what single trees let through: deciduous, evergreen, as the others are; (d or 1, n or 1)."""
    known = canopy.standing_transmittance_frac
    if known is None:
        known = crown_transmittance_frac(1.0, np.array([0.0, 1.0]))[:, None, None]
    return [known[0], known[1], crowns_of_canopy(canopy)]


def crowns_of_canopy(canopy: Canopy) -> FloatArray:
    """Return what a crown lets through, (d or 1, n or 1)."""
    if canopy.crown_transmittance_frac is not None:
        return canopy.crown_transmittance_frac
    evergreen = np.array([[trees.evergreen_frac for trees in canopy.trees]])
    return crown_transmittance_frac(1.0, evergreen[:, canopy.kind])
