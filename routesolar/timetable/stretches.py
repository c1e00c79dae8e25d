"""What the driver knows about the surroundings, put onto places along the route."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from routesolar.trip.arrays import BoolArray, FloatArray
from routesolar.trip.route import Stretch
from routesolar.trip.segments import Segments


class StretchValues(NamedTuple):
    """Known surroundings per segment, (n,); NaN where the driver says nothing."""

    canopy_cover_frac: FloatArray
    canopy_height_m: FloatArray
    road_width_m: FloatArray
    lane_offset_m: FloatArray
    evergreen_frac: FloatArray
    crown_transmittance_frac: FloatArray


def stretch_values(segments: Segments, stretches: Sequence[Stretch]) -> StretchValues:
    """Return what is said of each segment, in metres and shares; the later of two stretches wins."""
    middle_m = segments.along_m + segments.length_m / 2
    values = StretchValues(*(np.full(segments.count, np.nan) for _ in StretchValues._fields))
    for stretch in stretches:
        inside = within(middle_m, stretch)
        for name, array in values._asdict().items():
            known = getattr(stretch, name)
            if known is not None:
                array[inside] = known
    return values


def within(along_m: FloatArray, stretch: Stretch) -> BoolArray:
    """Return which places lie on a stretch; both its ends belong to it, so that a stop there does too."""
    inside: BoolArray = (along_m >= stretch.from_m - 0.01) & (along_m <= stretch.to_m + 0.01)
    return inside
