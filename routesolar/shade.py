"""What trees, terrain and roofs leave of the beam and of the sky along a drive."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from routesolar.physics.canopy import beam_overlap
from routesolar.physics.corridor import Line, Road, Vehicle, pieces_near
from routesolar.physics.crowns import OVERHANG, Habit
from routesolar.physics.geodesy import metres_per_degree, wrap_longitude_deg
from routesolar.physics.hemisphere import (
    AZIMUTHS,
    ELEVATIONS,
    azimuth_deg,
    direction_weight,
    elevation_deg,
    sky_overlap,
)
from routesolar.physics.opening import PixelRoad, open_share, stand_cover, trunk_lines_m
from routesolar.physics.raymarch import Grid, Views
from routesolar.physics.seasons import crown_transmittance_frac
from routesolar.physics.stand import grid_of, no_grid, tallest_m
from routesolar.physics.terrain import interpolate_horizon
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Terrain


@dataclass(frozen=True, slots=True, kw_only=True)
class Shade:
    """What is left of the beam, (d, n), and of each part of the sky in each of u seasons, (u, n, 24, 12).

    The sky's directions are those of physics.hemisphere: azimuths from the heading, elevations upwards.
    `season` (d or 1,) says which of the tables a departure has. The beam is NaN at night where trees or terrain
    had to be looked at.
    """

    beam_transmittance_frac: FloatArray
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
    """Return the share of a panel's dome left open, (n,), of a sky (n, 24, 12)."""
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
) -> Shade:
    """Return the shade on a panel at a height above the road, for suns (d, n).

    Trees without a crown transmittance of their own are in leaf. Under a roof nothing is left of beam and sky.
    """
    if canopy.is_open and terrain.is_flat and not segments.roofed.any():
        return Shade(
            beam_transmittance_frac=np.ones_like(sun_azimuth_deg),
            sky_transmittance_frac=np.ones((1, 1, 1, 1)),
            season=np.zeros(1, dtype=np.int64),
        )
    beam, sky, season = _through_trees(
        segments,
        canopy,
        terrain,
        (sun_azimuth_deg, sun_apparent_elevation_deg),
        panel_height_m,
    )
    night = ~(sun_apparent_elevation_deg > 0)
    beam = np.where(night, np.nan, beam)
    if not terrain.is_flat:
        horizon = np.array(terrain.horizon_deg)
        beam = np.where(
            sun_apparent_elevation_deg < interpolate_horizon(horizon, sun_azimuth_deg), 0.0 * beam, beam
        )
        sky_azimuth = np.asarray(segments.heading_deg) + azimuth_deg()[:, None]
        sky = sky * (elevation_deg() >= interpolate_horizon(horizon, sky_azimuth).T[..., None])
    roofed = np.asarray(segments.roofed)
    return Shade(
        beam_transmittance_frac=np.where(roofed, 0.0 * beam, beam),
        sky_transmittance_frac=np.where(roofed[:, None, None], 0.0, sky),
        season=season,
    )


def _through_trees(
    segments: Segments,
    canopy: Canopy,
    terrain: Terrain,
    sun_deg: tuple[FloatArray, FloatArray],
    panel_height_m: float,
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return what the trees leave of the beam (d, n), of the sky (u, n, 24, 12), and whose season it is."""
    if canopy.is_open:
        sky = np.ones((1, segments.count, AZIMUTHS, ELEVATIONS))
        return np.ones_like(sun_deg[0]), sky, np.zeros(1, dtype=np.int64)
    met = 1 - _crown_transmittance_frac(canopy)
    views, road, grid, habit = scene_of(segments, canopy, terrain, panel_height_m)
    beam = beam_overlap(views, road, grid, habit, np.array(sun_deg[0]), np.array(sun_deg[1]))
    sky = sky_overlap(views, road, grid, habit, np.array(segments.heading_deg))
    seasons, season = np.unique(met, axis=0, return_inverse=True)
    return np.exp(-met * beam), np.exp(-seasons[..., None, None] * sky), season.astype(np.int64).reshape(-1)


def _crown_transmittance_frac(canopy: Canopy) -> FloatArray:
    """Return what a crown lets through, (d or 1, n or 1)."""
    if canopy.crown_transmittance_frac is not None:
        return canopy.crown_transmittance_frac
    return crown_transmittance_frac(1.0, [[canopy.trees.evergreen_frac]])


def scene_of(
    segments: Segments, canopy: Canopy, terrain: Terrain, panel_height_m: float
) -> tuple[Views, Road, Grid, Habit]:
    """Return the canopy as the ray march reads it: views, road, grid and the trees' habit."""
    trees = canopy.trees
    habit = Habit(trees.crown_base_frac, trees.crown_ratio, trees.height_spread_frac)
    grid = _grid(segments, canopy)
    views = _views(segments, canopy, terrain, grid, panel_height_m)
    lines = trunk_lines_m(views, grid, np.array(canopy.road_width_m), habit, OVERHANG[trees.road_width_between])
    line = Line(
        np.array(segments.latitude_deg),
        np.array(segments.longitude_deg),
        np.array(segments.end_latitude_deg),
        np.array(segments.end_longitude_deg),
        lines,
    )
    vehicle = Vehicle(
        np.array(segments.middle_latitude_deg),
        np.array(segments.middle_longitude_deg),
        np.array(segments.heading_deg),
        np.array(canopy.lane_offset_m),
    )
    return views, pieces_near(line, vehicle), grid, habit


def _grid(segments: Segments, canopy: Canopy) -> Grid:
    """Return the cells of the canopy's rasters, with the road's opening taken out of the cover."""
    cover, height, place = canopy.cover_frac, canopy.height_m, canopy.placement
    if cover is None or place is None:
        return no_grid()
    north, east = metres_per_degree(np.asarray(segments.middle_latitude_deg))
    apart = wrap_longitude_deg(segments.end_longitude_deg - segments.longitude_deg)
    cells_per_m = np.array(place.cells_per_m)
    road = PixelRoad(
        col=np.array(place.col),
        row=np.array(place.row),
        half_east_m=apart * east / 2,
        half_north_m=(segments.end_latitude_deg - segments.latitude_deg) * north / 2,
        cells_per_m=cells_per_m,
        half_width_m=canopy.road_width_m / 2,
    )
    slot = np.array(cover.slot)
    cell_m = float(np.median(np.abs(np.linalg.det(cells_per_m)) ** -0.5))
    share = open_share(road, slot, cover.tiles.shape)
    corrected = stand_cover(cover.tiles, share, slot, cell_m)
    return grid_of(
        (corrected, slot), None if height is None else (height.tiles, height.slot), (cover.height, cover.width)
    )


def _slopes(segments: Segments, terrain: Terrain) -> tuple[FloatArray, FloatArray]:
    """Return the ground's rise per metre east and north: the terrain's, else the road's own grade."""
    heading = np.radians(segments.heading_deg)
    road = segments.grade_frac * np.sin(heading), segments.grade_frac * np.cos(heading)
    if not terrain.slope_east_frac.size:
        return road
    ground = terrain.slope_east_frac, terrain.slope_north_frac
    east, north = (np.where(np.isnan(g), r, g) for g, r in zip(ground, road, strict=True))
    return east, north


def _views(segments: Segments, canopy: Canopy, terrain: Terrain, grid: Grid, panel_height_m: float) -> Views:
    """Return where the panels are among the trees, in their lane, on ground that climbs with the road."""
    n, place = segments.count, canopy.placement
    heading = np.radians(segments.heading_deg)
    slope_east, slope_north = _slopes(segments, terrain)
    right = np.stack([np.cos(heading), -np.sin(heading)], axis=1) * canopy.lane_offset_m[:, None]
    col, row, cells_per_m = np.zeros(n), np.zeros(n), np.zeros((n, 2, 2))
    if place is not None:
        cells_per_m = np.array(place.cells_per_m)
        aside = np.einsum("nij,nj->ni", cells_per_m, right)
        col, row = place.col + aside[:, 0], place.row + aside[:, 1]
    uniform = np.array(canopy.uniform_cover_frac)
    height = np.array(canopy.uniform_height_m)
    if canopy.height_m is None:
        height = np.where(np.isnan(height), canopy.default_height_m, height)
    views = Views(
        col=col,
        row=row,
        cells_per_m=cells_per_m,
        panel_height_m=panel_height_m,
        slope_east=slope_east,
        slope_north=slope_north,
        layers=-np.log1p(-np.minimum(uniform, 0.98)),
        height_m=height,
        default_height_m=np.array(canopy.default_height_m),
        tallest_m=np.zeros((n, 2)),
    )
    return views._replace(tallest_m=tallest_m(views, grid))
