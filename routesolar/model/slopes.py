"""How the ground rises around the points of a drive."""

import numpy as np

from routesolar.model.points import Points
from routesolar.trip.arrays import FloatArray
from routesolar.trip.fitting import check_terrain_fits
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Terrain


def slope_at(segments: Segments, points: Points, terrain: Terrain) -> tuple[FloatArray, FloatArray]:
    """Return the ground's rise per metre east and north; where unknown, it climbs with the road.

    Raises:
        UsageError: the terrain is of other segments.
    """
    check_terrain_fits(segments, terrain)
    heading, grade = np.radians(points.heading_deg), segments.grade_frac[points.segment]
    slopes = [grade * np.sin(heading), grade * np.cos(heading)]
    for k, known in enumerate((terrain.slope_east_frac, terrain.slope_north_frac)):
        if len(known) > 0:
            at_points = known[points.segment]
            slopes[k] = np.where(np.isnan(at_points), slopes[k], at_points)
    return slopes[0], slopes[1]
