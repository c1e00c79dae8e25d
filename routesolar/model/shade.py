"""What trees, terrain and roofs leave of the beam and of the sky along a drive."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from routesolar.model.points import Points, points_along
from routesolar.model.trees import Trees, trees_along
from routesolar.physics.canopy import beam_overlap
from routesolar.physics.columns import beam_crossings, sky_crossings
from routesolar.physics.crowns import column_transmittance, crown_transmittance
from routesolar.physics.dome import AZIMUTHS, ELEVATIONS, above_horizon_frac, azimuth_deg, direction_weight
from routesolar.physics.hemisphere import sky_overlap
from routesolar.physics.seasons import crown_transmittance_frac
from routesolar.physics.terrain import interpolate_horizon
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.fitting import check_canopy_fits, check_terrain_fits
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Terrain

UNEVEN = 0.3  # the power of T that uneven light costs a panel of three blocks (physics.partial_shade)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shade:
    """What is left of the beam, (d, n), and of each part of the sky in each of u seasons, (u, n, 20, 12).

    Both are means over segments. `lit_frac` (d, n) is what is left of the beam around a place that it reaches,
    the power mean by which uneven light costs what it costs point by point. Where all of a segment is alike it
    equals the mean.
    The sky's directions are those of physics.dome: azimuths from the heading, elevations upwards.
    `season` (d or 1,) says which of the tables a departure has. The beam is NaN at night where trees or terrain
    had to be looked at.
    """

    beam_transmittance_frac: FloatArray
    lit_frac: FloatArray
    sky_transmittance_frac: FloatArray
    season: IntArray

    def sky_view_frac(self, normal: FloatArray, heading_deg: ArrayLike) -> FloatArray:
        """Return the share of the panels' own dome left open, (d or 1, n), for normals (d or 1, n, 3)."""
        heading = np.atleast_1d(np.asarray(heading_deg, float))
        if self.sky_transmittance_frac.shape[1:] == (1, 1, 1):
            return np.full((1, len(heading)), self.sky_transmittance_frac.item())
        if len(normal) == 1:
            views = [_dome_view_frac(table, normal[0], heading) for table in self.sky_transmittance_frac]
            return np.stack(views)[self.season]
        season = np.broadcast_to(self.season, len(normal))
        pairs = zip(season, normal, strict=True)
        return np.stack([_dome_view_frac(self.sky_transmittance_frac[s], turn, heading) for s, turn in pairs])


def _dome_view_frac(
    sky_transmittance_frac: FloatArray, normal: FloatArray, heading_deg: FloatArray
) -> FloatArray:
    """Return the share of a panel's dome left open, (n,), of a sky (n, 20, 12)."""
    weight = direction_weight(normal, heading_deg)
    seen = np.einsum("nae,nae->n", sky_transmittance_frac, weight)
    view: FloatArray = seen / weight.sum(axis=(1, 2))
    return view


def cast_shade(
    segments: Segments,
    canopy: Canopy,
    terrain: Terrain,
    sun_azimuth_deg: FloatArray,
    sun_apparent_elevation_deg: FloatArray,
    panel_height_m: float,
    points: Points | None = None,
    some: IntArray | None = None,
) -> Shade:
    """Return the shade on a panel at a height above the road, for suns (d, n).

    `points` are those of `points_along`, where known. Given `some` of them, the shade is that of their segments
    alone, in the order given. Trees without a crown transmittance of their own are in leaf. Under a roof
    nothing is left of beam and sky.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    check_canopy_fits(segments, canopy)
    check_terrain_fits(segments, terrain)
    if some is None and canopy.is_open and terrain.is_flat and not segments.roofed.any():
        return Shade(
            beam_transmittance_frac=np.ones_like(sun_azimuth_deg),
            lit_frac=np.ones_like(sun_azimuth_deg),
            sky_transmittance_frac=np.ones((1, 1, 1, 1)),
            season=np.zeros(1, dtype=np.int64),
        )
    every = points or points_along(segments, canopy)
    points = every if some is None else every.at(some)
    sun_deg = sun_azimuth_deg[:, points.segment], sun_apparent_elevation_deg[:, points.segment]
    beam, season = np.ones_like(sun_deg[0]), np.zeros(1, dtype=np.int64)
    sky = np.ones((1, len(points.segment), AZIMUTHS, ELEVATIONS))
    if not canopy.is_open:
        parts = trees_along(segments, every, canopy, terrain, panel_height_m, some)
        beam, sky, season = _through_trees(parts, points, canopy, sun_deg)
    beam = np.where(~(sun_deg[1] > 0), np.nan, beam)
    if not terrain.is_flat:
        horizon = terrain.horizon_deg[points.segment]
        beam = np.where(sun_deg[1] < interpolate_horizon(horizon, sun_deg[0]), 0.0 * beam, beam)
        toward = points.heading_deg + azimuth_deg()[:, None]
        sky = sky * above_horizon_frac(interpolate_horizon(horizon, toward).T)
    roofed = segments.roofed[points.segment]
    beam, sky = np.where(roofed, 0.0 * beam, beam), np.where(roofed[:, None, None], 0.0, sky)
    mean, sky = points.mean(beam), points.mean(sky)
    evenly_lit = np.divide(points.mean(beam ** (1 + UNEVEN)), mean, out=mean.copy(), where=mean > 0)
    return Shade(
        beam_transmittance_frac=mean,
        lit_frac=evenly_lit ** (1 / UNEVEN),
        sky_transmittance_frac=sky,
        season=season,
    )


def _through_trees(
    parts: Iterable[Trees], points: Points, canopy: Canopy, sun_deg: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return what the trees leave at points: beam (d, p), sky (u, p, 20, 12); and whose season it is."""
    tau = crowns_of_canopy(canopy)
    seasons, season = np.unique(tau, axis=0, return_inverse=True)
    beam = np.empty(sun_deg[0].shape)
    sky = np.empty((len(seasons), len(points.segment), AZIMUTHS, ELEVATIONS))
    for rows, views, road, grid, habit, single in parts:
        suns, ahead_deg = (sun_deg[0][:, rows], sun_deg[1][:, rows]), points.heading_deg[rows]
        segment = points.segment[rows]
        beam_tau, sky_tau = _at(tau, segment), _at(seasons, segment)[..., None, None]
        through = crown_transmittance(beam_overlap(views, road, grid, habit, *suns), beam_tau)
        above = crown_transmittance(sky_overlap(views, road, grid, habit, ahead_deg), sky_tau)
        if single is not None:
            # A point has either single trees or a random stand around it.
            among, columns, per_column = single
            met = per_column * beam_crossings(among, columns, habit, *suns)
            met_above = per_column[:, None, None] * sky_crossings(among, columns, habit, ahead_deg)
            through *= column_transmittance(met, beam_tau)
            above *= column_transmittance(met_above, sky_tau)
        beam[:, rows], sky[:, rows] = through, above
    return beam, sky, season.astype(np.int64).reshape(-1)


def _at(tau: FloatArray, rows: IntArray) -> FloatArray:
    """Return the values at some segments, of (·, n or 1)."""
    return tau if tau.shape[1] == 1 else tau[:, rows]


def crowns_of_canopy(canopy: Canopy) -> FloatArray:
    """Return what a crown lets through, (d or 1, n or 1)."""
    if canopy.crown_transmittance_frac is not None:
        return canopy.crown_transmittance_frac
    evergreen = np.array([[trees.evergreen_frac for trees in canopy.trees]])
    return crown_transmittance_frac(1.0, evergreen[:, canopy.kind])
