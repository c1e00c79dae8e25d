"""What lies beneath a route on a map: trees and hills as pictures, water, borders and towns as outlines."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from routesolar.trip.arrays import FloatArray
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Town:
    """A town on a map; east is above 180 where the map crosses the antimeridian."""

    name: str
    latitude_deg: float
    longitude_deg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Outlines(Noun):
    """Generalised lines around a route, each (k, 2) of latitude and longitude, and towns, the largest first.

    `water` holds rings of seas and lakes: what lies in an odd number of them is water. East is above 180 where
    the map crosses the antimeridian. `ponds`, `coasts` and `roads` are waters, lines of coasts and large roads
    of a map file, good to some metres, `attribution` is what its licence asks for.
    """

    water: tuple[FloatArray, ...] = ()
    borders: tuple[FloatArray, ...] = ()
    towns: tuple[Town, ...] = ()
    ponds: tuple[FloatArray, ...] = ()
    coasts: tuple[FloatArray, ...] = ()
    roads: tuple[FloatArray, ...] = ()
    attribution: str = ""

    def over(self, other: "Outlines") -> "Outlines":
        """Return these beside others; where a map names towns itself, its own stand alone."""
        return Outlines(
            water=(*other.water, *self.water),
            borders=(*other.borders, *self.borders),
            towns=self.towns or other.towns,
            ponds=(*other.ponds, *self.ponds),
            coasts=(*other.coasts, *self.coasts),
            roads=(*other.roads, *self.roads),
            attribution=self.attribution or other.attribution,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Ground(Noun):
    """The share of ground under trees, the share of north-western sunlight that slopes get, and outlines.

    Pictures are None where nothing is known of them.
    """

    trees: MapPicture | None = None
    relief: MapPicture | None = None
    outlines: Outlines = field(default_factory=Outlines)
