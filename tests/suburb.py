"""A wooded suburb as airborne laser returns, and the raster of heights that a survey would make of them.

laspy 2.7.0 (BSD-2), tests/data/autzen_trim.laz: Eugene, Oregon, 359 x 172 m, 110,000 returns, classed only as
ground or other, so that houses count as trees.
"""

from functools import cache
from typing import NamedTuple

import laspy
import numpy as np
from samples import sample
from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator
from scipy.ndimage import distance_transform_edt

FOOT_M = 0.3048
TREE_M = 2.0  # what stands higher counts as a tree
TILE = 256


class Returns(NamedTuple):
    """Laser returns: metres east and north of the corner, above the ground, and whether of the ground."""

    place_m: np.ndarray
    height_m: np.ndarray
    ground: np.ndarray


@cache
def laser_returns():
    """The suburb's returns; heights are above the plane through the three ground returns around each."""
    read = laspy.read(sample("laspy", "tests/data/autzen_trim.laz"))
    east, north, up = (np.asarray(axis) * FOOT_M for axis in (read.x, read.y, read.z))
    place = np.column_stack([east - east.min(), north - north.min()])
    ground = np.asarray(read.classification) == 2
    ground_m = LinearNDInterpolator(place[ground], up[ground])(place)
    rim = np.isnan(ground_m)
    ground_m[rim] = NearestNDInterpolator(place[ground], up[ground])(place[rim])
    return Returns(place, np.where(ground, 0.0, np.maximum(up - ground_m, 0.0)), ground)


@cache
def height_raster_m():
    """Heights above ground on 1 m cells, rows growing north: the highest return, else the nearest cell's."""
    place, height_m, _ = laser_returns()
    heights = np.full(np.ceil(place.max(axis=0)).astype(int)[::-1], -1.0)
    col, row = np.minimum(place.astype(int).T, np.array(heights.shape)[::-1, None] - 1)
    np.maximum.at(heights, (row, col), height_m)
    nearest = distance_transform_edt(heights < 0, return_distances=False, return_indices=True)
    return heights[tuple(nearest)]


def tiled(values):
    """A raster as tiles and their slots; NaN beyond it."""
    rows, cols = (-(-size // TILE) for size in values.shape)
    padded = np.full((rows * TILE, cols * TILE), np.nan, dtype=np.float32)
    padded[: values.shape[0], : values.shape[1]] = values
    tiles = padded.reshape(rows, TILE, cols, TILE).swapaxes(1, 2).reshape(-1, TILE, TILE).copy()
    return tiles, np.arange(rows * cols, dtype=np.int32).reshape(rows, cols)
