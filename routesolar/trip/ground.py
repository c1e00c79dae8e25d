"""What lies beneath a route on a map: trees and hills as pictures."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from routesolar.trip.noun import Noun


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class MapPicture(Noun):
    """Values around a route, to draw beneath it.

    `values` is (rows, columns), north up, in Web Mercator between the four bounds; NaN is unknown.
    East is above 180 where the picture crosses the antimeridian.
    """

    values: NDArray[np.float32]
    south_deg: float
    west_deg: float
    north_deg: float
    east_deg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Ground(Noun):
    """The share of ground under trees, and the share of a north-western sun's light that slopes receive.

    Each is None where nothing is known of it.
    """

    trees: MapPicture | None = None
    relief: MapPicture | None = None
