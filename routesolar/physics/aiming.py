"""Where a loose panel looks that is set out while parked and turned square to the sun by hand."""

from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled


@compiled
def aimed_normals(
    azimuth_deg: FloatArray,
    elevation_deg: FloatArray,
    utc_s: FloatArray,
    stopped: NDArray[np.bool_],
    every_s: float,
) -> FloatArray:
    """Return the panel's normal (east, north, up), (d, n, 3), for sun angles and times (d, n).

    At each stop it is turned to the sun at once, or at sunrise, and again when `every_s` have passed; in
    between and after sunset it stays. Level while driving and before the first turn. Turns fall on the
    times given, so they are late by up to one step.
    """
    d, n = azimuth_deg.shape
    normals = np.zeros((d, n, 3))
    for i in range(d):
        turned_s = -np.inf
        east, north, up = 0.0, 0.0, 1.0
        for j in range(n):
            if not stopped[j]:
                turned_s = -np.inf
                east, north, up = 0.0, 0.0, 1.0
            elif elevation_deg[i, j] > 0.0 and utc_s[i, j] - turned_s >= every_s:
                turned_s = utc_s[i, j]
                level = cos(radians(elevation_deg[i, j]))
                east = level * sin(radians(azimuth_deg[i, j]))
                north = level * cos(radians(azimuth_deg[i, j]))
                up = sin(radians(elevation_deg[i, j]))
            normals[i, j, 0], normals[i, j, 1], normals[i, j, 2] = east, north, up
    return normals
