"""Roads that bend: hairpins of a radius and a winding road, as routes with a point every metre or two."""

import numpy as np
from routes import route_of

from routesolar.physics.geodesy import metres_per_degree
from routesolar.trip.route import Route

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


def _bent(curvature: np.ndarray, step_m: float, start: float) -> np.ndarray:
    heading = start + step_m * (np.cumsum(curvature) - curvature / 2)
    return np.vstack([[0.0, 0.0], step_m * np.cumsum(np.column_stack([np.sin(heading), np.cos(heading)]), 0)])
