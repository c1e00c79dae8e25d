"""Places around a stop in metres east and north of it, for drawing."""

import numpy as np

from routesolar.decisions.park import Parking
from routesolar.physics.geodesy import metres_per_degree, wrap_longitude_deg
from routesolar.trip.arrays import FloatArray


def from_stop_m(result: Parking, latitude_deg: object, longitude_deg: object) -> tuple[FloatArray, FloatArray]:
    """Return metres east and north of the stop."""
    stay = result.stay
    per_degree = metres_per_degree(stay.latitude_deg)
    apart_deg = wrap_longitude_deg(np.asarray(longitude_deg, dtype=float) - stay.longitude_deg)
    north = (np.asarray(latitude_deg, dtype=float) - stay.latitude_deg) * per_degree[0]
    return apart_deg * per_degree[1], north


def apart_m(result: Parking, *groups: tuple[FloatArray, FloatArray]) -> float:
    """Return the lattice's step: the least distance between two spots in a row."""
    east = np.unique(np.round(np.concatenate([group[0] for group in groups]), 2))
    return float(np.min(np.diff(east))) if len(east) > 1 else 10.0
