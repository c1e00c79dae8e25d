"""What the driver knows about the surroundings, put onto places along the route."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.route import Clearing, Stretch
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Trees

HABIT = ("crown_base_frac", "crown_slenderness", "height_spread_frac", "road_width_between")


class StretchValues(NamedTuple):
    """Known surroundings per segment, (n,); NaN where the driver says nothing."""

    canopy_cover_frac: FloatArray
    canopy_height_m: FloatArray
    road_width_m: FloatArray
    lane_offset_m: FloatArray
    evergreen_frac: FloatArray
    crown_transmittance_frac: FloatArray


def stretch_values(segments: Segments, stretches: Sequence[Stretch]) -> StretchValues:
    """Return what is said of each segment, in metres and shares.

    The later of two stretches wins; over them, what is said of a stop itself.
    """
    middle_m = segments.along_m + segments.length_m / 2
    values = StretchValues(*(np.full(segments.count, np.nan) for _ in StretchValues._fields))
    for stretch in stretches:
        inside = within(middle_m, stretch)
        for name, array in values._asdict().items():
            known = getattr(stretch, name)
            if known is not None:
                array[inside] = known
    for number, leg in enumerate(segments.legs):
        for name in Clearing.__dataclass_fields__ if leg.clearing is not None else ():
            known = getattr(leg.clearing, name)
            if known is not None:
                getattr(values, name)[segments.leg == number] = known
    return values


def kinds_of_trees(
    segments: Segments, stretches: Sequence[Stretch], usual: Trees
) -> tuple[tuple[Trees, ...], IntArray]:
    """Return the kinds of trees along the segments, and which stands at each, (n,); the later stretch wins.

    Where a stretch says nothing of the trees' habit, it is the usual one.
    """
    middle_m = segments.along_m + segments.length_m / 2
    kinds, kind = [usual], np.zeros(segments.count, dtype=np.int64)
    for stretch in stretches:
        said = {name: getattr(stretch, name) for name in HABIT if getattr(stretch, name) is not None}
        inside, before = within(middle_m, stretch), kind.copy()
        for number in np.unique(before[inside]) if said else ():
            trees = replace(kinds[number], **said)
            if trees not in kinds:
                kinds.append(trees)
            kind[inside & (before == number)] = kinds.index(trees)
    return tuple(kinds), kind


def within(along_m: FloatArray, stretch: Stretch) -> BoolArray:
    """Return which places lie on a stretch; both its ends belong to it, so that a stop there does too."""
    inside: BoolArray = (along_m >= stretch.from_m - 0.01) & (along_m <= stretch.to_m + 0.01)
    return inside
