"""The package's own coarse world maps: read once, and read between their nodes.

Sources, units and the recipe stand in benchmarks/climate_tables.py.
"""

from functools import cache
from importlib.resources import as_file, files
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled, inlined

_NO_VALUE = -32768


class WorldMap(NamedTuple):
    """Values (rows, columns, k) at nodes, from a southern row upwards, eastward around the world; NaN: none."""

    values: FloatArray
    south_deg: float
    west_deg: float
    step_deg: float


@cache
def usual_air() -> WorldMap:
    """Return the usual air at sea level in C as waves: mean, cosine and sine of the year and of its half."""
    return _read("usual_air", "tenths_c")


@cache
def usual_swing() -> WorldMap:
    """Return a day's highest less its lowest air in C, month by month."""
    return _read("usual_swing", "tenths_c")


@cache
def usual_sky() -> WorldMap:
    """Return the mean of daily global irradiance over day and night in W/m2, month by month; NaN at sea."""
    return _read("usual_sky", "tenths_wm2")


def between_nodes(world: WorldMap, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> FloatArray:
    """Return bilinear values (n, k) at n places, of the nodes around that hold one; NaN where none does."""
    row = (np.asarray(latitude_deg, np.float64) - world.south_deg) / world.step_deg
    column = (np.asarray(longitude_deg, np.float64) - world.west_deg) % 360 / world.step_deg
    mean = np.empty((len(row), world.values.shape[2]))
    _blend(world.values, row, column, mean)
    return mean


@compiled
def _blend(values: FloatArray, row: FloatArray, column: FloatArray, mean: FloatArray) -> None:
    """Fill the mean (n, k) of the nodes around places given in rows and columns of nodes."""
    rows, columns, kinds = values.shape
    for p in range(len(row)):
        weights, mean[p] = 0.0, 0.0
        if not np.isnan(row[p] + column[p]):
            south, west = int(np.floor(row[p])), int(np.floor(column[p]))
            for i in (south, south + 1):
                for j in (west, west + 1):
                    if 0 <= i < rows and _is_known(values[i, j % columns]):
                        weight = (1.0 - abs(row[p] - i)) * (1.0 - abs(column[p] - j))
                        weights += weight
                        for k in range(kinds):
                            mean[p, k] += weight * values[i, j % columns, k]
        for k in range(kinds):
            mean[p, k] = mean[p, k] / weights if weights > 0.0 else np.nan


@inlined
def _is_known(node: FloatArray) -> bool:
    """Return whether a node has all its values."""
    known = True
    for value in node:
        known = known and np.isfinite(value)
    return known


def _read(name: str, values: str) -> WorldMap:
    with as_file(files("routesolar") / "data" / f"{name}.npz") as path, np.load(path) as stored:
        codes = stored[values]
        place = (float(stored[key]) for key in ("south_deg", "west_deg", "step_deg"))
        return WorldMap(np.where(codes == _NO_VALUE, np.nan, codes / 10.0), *place)
