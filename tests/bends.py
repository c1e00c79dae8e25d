"""Roads that bend, as routes with a point every metre or two, and a raster of patchy woods around them."""

from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree

from routesolar.physics.geodesy import metres_per_degree, wrap_longitude_deg
from routesolar.trip.route import Route
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import TILE, Canopy, Placement, TiledGrid
from tests.routes import route_of

LATITUDE, LONGITUDE = 46.5, 9.0


def hairpins_m(radius_m: float, turns: int, straight_m: float = 60.0, step_m: float = 1.0) -> np.ndarray:
    """Return points (k, 2) in metres of a road in half circles to the left and right, straights between."""
    curvature = []
    for turn in range(turns):
        curvature += [0.0] * round(straight_m / step_m)
        curvature += [(-1) ** turn / radius_m] * round(np.pi * radius_m / step_m)
    return _bent(np.array(curvature), step_m, start=np.radians(70.0))


def winding_m(length_m: float, step_m: float = 2.0) -> np.ndarray:
    """Return points (k, 2) of a road whose radius is 35 m at its sharpest bends, most of it over 100 m."""
    along = np.arange(0.0, length_m, step_m)
    wave = np.sin(2 * np.pi * along / 310.0) + 0.6 * np.sin(2 * np.pi * along / 127.0 + 1.0)
    return _bent(wave * np.sin(2 * np.pi * along / 5300.0) / 55.0, step_m, start=np.radians(40.0))


def route_through(points_m: np.ndarray, **known: object) -> Route:
    """Return a route through points in metres east and north of a place in the Alps."""
    north, east = metres_per_degree(LATITUDE)
    return route_of(LATITUDE + points_m[:, 1] / north, LONGITUDE + points_m[:, 0] / east, **known)


class PatchyWood:
    """Woods and clearings of some 100 m on cells of a size, each another cover and height, none on the road."""

    def __init__(self, points_m: np.ndarray, cell_m: float, opening_m: float = 12.0) -> None:
        self.cell_m, self.west_m, self.north_m = cell_m, *(points_m.min(0)[0] - 1000, points_m.max(0)[1] + 1000)
        size = np.ceil((np.ptp(points_m, axis=0) + 2000) / cell_m / TILE).astype(int)[::-1] * TILE
        row, col = np.indices(size) + 0.5
        x, y = self.west_m + col * cell_m, self.north_m - row * cell_m
        rng = np.random.default_rng(1)
        cover = 0.6 + 0.35 * np.sin(x / 70) * np.cos(y / 55) + rng.normal(0, 0.2, size)
        height = 15 + 5 * np.sin(x / 110 - y / 90) + rng.normal(0, 2, size)
        centre = np.stack([x, y], axis=-1)
        road = cKDTree(points_m)
        near = np.isfinite(road.query(centre, distance_upper_bound=cell_m + opening_m)[0])
        apart = np.array([(east, north) for east in range(6) for north in range(6)]) - 2.5
        within = road.query(centre[near][:, None] + apart / 6 * cell_m)[0] < opening_m / 2
        cover = np.clip(cover, 0, 0.95)
        cover[near] *= 1 - within.mean(axis=1)
        self.cover = tiled(cover)
        self.height = tiled(np.clip(height, 6, 28))

    def along(self, segments: Segments) -> Canopy:
        """Return the canopy along a drive over it."""
        north, east = metres_per_degree(LATITUDE)
        x = np.asarray(wrap_longitude_deg(segments.middle_longitude_deg - LONGITUDE)) * east
        y = (segments.middle_latitude_deg - LATITUDE) * north
        place = Placement(
            col=(x - self.west_m) / self.cell_m,
            row=(self.north_m - y) / self.cell_m,
            cells_per_m=np.tile(np.diag([1.0, -1.0]) / self.cell_m, (segments.count, 1, 1)),
        )
        unsaid = replace(
            Canopy.uniform(segments.count, cover_frac=0.0), uniform_cover_frac=np.full(segments.count, np.nan)
        )
        return replace(unsaid, cover_frac=self.cover, height_m=self.height, placement=place)


def tiled(cells: np.ndarray) -> TiledGrid:
    """Return a raster all of whose tiles are in memory."""
    down, across = cells.shape[0] // TILE, cells.shape[1] // TILE
    tiles = cells.reshape(down, TILE, across, TILE).swapaxes(1, 2).reshape(-1, TILE, TILE)
    slot = np.arange(down * across, dtype=np.int32).reshape(down, across)
    return TiledGrid(tiles=tiles.astype(np.float32), slot=slot, height=cells.shape[0], width=cells.shape[1])


def _bent(curvature: np.ndarray, step_m: float, start: float) -> np.ndarray:
    heading = start + step_m * (np.cumsum(curvature) - curvature / 2)
    return np.vstack([[0.0, 0.0], step_m * np.cumsum(np.column_stack([np.sin(heading), np.cos(heading)]), 0)])
