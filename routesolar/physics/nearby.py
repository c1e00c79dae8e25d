"""What stands near a point, found by the square of ground that it stands in."""

from math import floor
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.arrays import BoolArray, FloatArray, IntArray
from routesolar.physics.compiled import compiled
from routesolar.physics.corridor import wrapped_deg
from routesolar.physics.geodesy import metres_per_degree

# Tops below 2 degrees hide .1 % of the sky's light and the sun when it brings next to nothing.
LOWEST_TOP = 0.035
FARTHEST_M = 800.0  # as far as trees beside the road are looked at


class Squares(NamedTuple):
    """m bodies in the order of their squares, `key` (m,) rising; sides in degrees, and the first corner.

    `longitude_deg` is that of the corner; those of bodies and points are counted from it, so that nothing ends
    at the antimeridian. `side_m` is the least side of a square.
    """

    key: IntArray
    latitude_deg: float
    longitude_deg: float
    north_deg: float
    east_deg: float
    columns: int
    side_m: float


class Place(NamedTuple):
    """A panel among bodies: degrees, longitude from the squares' corner, and metres in a degree there."""

    latitude_deg: float
    longitude_deg: float
    north_m: float
    east_m: float


def squares_of(
    latitude_deg: FloatArray, longitude_deg: FloatArray, side_m: float
) -> tuple[Squares, NDArray[np.int64]]:
    """Return squares of at least so many metres over m bodies, and the bodies' order in them."""
    east_of_first = (longitude_deg - longitude_deg[0] + 180.0) % 360.0 - 180.0
    corner_deg = float(longitude_deg[0] + east_of_first.min())
    south_deg = float(latitude_deg.min())
    poleward_deg = min(float(np.abs(latitude_deg).max()) + 0.1, 89.9)
    north_deg = side_m / 110_500.0  # a degree is nowhere shorter
    east_deg = side_m / float(metres_per_degree(poleward_deg)[1])
    column = np.floor((east_of_first - east_of_first.min()) / east_deg).astype(np.int64)
    columns = int(column.max()) + 3  # the last two of each row stay empty
    key = np.floor((latitude_deg - south_deg) / north_deg).astype(np.int64) * columns + column
    order = np.argsort(key, kind="stable")
    return Squares(key[order], south_deg, corner_deg, north_deg, east_deg, columns, side_m), order


def from_corner_deg(squares: Squares, longitude_deg: FloatArray) -> FloatArray:
    """Return longitudes counted from the squares' corner, within half a turn of it."""
    east: FloatArray = (longitude_deg - squares.longitude_deg + 180.0) % 360.0 - 180.0
    return east


@compiled
def place_of(squares: Squares, latitude_deg: float, longitude_deg: float) -> Place:
    """Return a place among the bodies of squares."""
    north_m, east_m = metres_per_degree(latitude_deg)
    return Place(latitude_deg, wrapped_deg(longitude_deg - squares.longitude_deg), north_m, east_m)


@compiled
def row_of_squares(squares: Squares, place: Place, k: int) -> tuple[int, int]:
    """Return first and last + 1 of the bodies in row k (0 to 2) of the nine squares around a place."""
    row = floor((place.latitude_deg - squares.latitude_deg) / squares.north_deg) - 1 + k
    column = floor(place.longitude_deg / squares.east_deg)
    if column < -1 or column > squares.columns - 2:
        return 0, 0
    key = row * squares.columns + column
    return int(np.searchsorted(squares.key, key - 1)), int(np.searchsorted(squares.key, key + 2))


@compiled
def reach_of(top_m: float) -> float:
    """Return how far off something so tall matters, in metres."""
    return min(top_m / LOWEST_TOP, FARTHEST_M)


@compiled
def any_near(
    squares: Squares,
    middle_deg: FloatArray,
    radius_m: FloatArray,
    latitude_deg: FloatArray,
    longitude_deg: FloatArray,
    within_m: FloatArray,
) -> BoolArray:
    """Return whether any body, middle (m, 2) and radius, comes so near to each of n places, up to a side."""
    near = np.zeros(len(latitude_deg), np.bool_)
    for i in range(len(near)):
        place = place_of(squares, latitude_deg[i], longitude_deg[i])
        for k in range(3):
            first, last = row_of_squares(squares, place, k)
            for j in range(first, last):
                north_m = (middle_deg[j, 0] - place.latitude_deg) * place.north_m
                east_m = (middle_deg[j, 1] - place.longitude_deg) * place.east_m
                near[i] |= np.hypot(north_m, east_m) - radius_m[j] < within_m[i]
    return near
