"""Trees other than stated, looked at from some points only: what they change is alike along a stretch of road.

Where crowns are more, or let through less, the optical depth of every way through them grows by one factor;
where the road is narrower, by much the same one along a stretch. So other trees are looked at from a few
hundred points, which say to what power the transmittance of the trees as stated has to be raised at all of
them. Where more light comes, more points are looked at: a low sun lights few places.
"""

from typing import NamedTuple

import numpy as np

from routesolar.model.points import Points
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.segments import Segments

HEADINGS = 8  # of a road, told apart in each stretch
SAMPLE, SKY_SAMPLE = 600, 200  # points looked from on the way: to the sun, and to the sky, which changes less
A_STRETCH = 60  # of SAMPLE looked at in a stretch: along 240 a low sun rises, and later light counts more
_GOLDEN_FRAC = 0.6180339887498949
_STEEPEST = 4.0  # logarithm of the largest power
_HALVINGS = 18


class Sample(NamedTuple):
    """The m points looked at among all p, `some`, the way each stands for, and the stretch of each of the p.

    Points looked at are in the order of stretches, of which `first` (s,) are the first.
    """

    some: IntArray
    stands_for: FloatArray
    of_point: IntArray
    first: IntArray


def sample_of(segments: Segments, points: Points, light: FloatArray, wanted: int) -> Sample | None:
    """Return so many points that stand for all, as densely along the way as light (p,) comes, and all stops.

    None where the points on the way are not more than twice as many.
    """
    moving = ~segments.stopped & (segments.length_m > 0)
    many = np.count_nonzero(moving[points.segment])
    if many <= 2 * wanted:
        return None
    parts = np.diff(np.append(points.first, len(points.segment)))
    part_m = (np.where(moving, segments.length_m, 0.0) / parts)[points.segment]
    way_m = np.cumsum(part_m)
    # Somewhere in every part of the way, not in its middle: bends may repeat as often as parts do.
    share = (np.arange(wanted) + (np.arange(wanted) * _GOLDEN_FRAC) % 1) / wanted
    lit_m = np.cumsum(part_m * light)
    halts = np.flatnonzero(~moving[points.segment])
    some = np.unique(np.concatenate([np.searchsorted(lit_m, share * lit_m[-1]), halts]))
    stretches = max(round(SAMPLE / A_STRETCH), 1)
    stretch = np.minimum(way_m / way_m[-1] * stretches, stretches - 1).astype(np.int64)
    # The sun along a road and across it see other trees, and panels turn with the road.
    stretch = stretch * HEADINGS + (points.heading_deg % 180 / 180 * HEADINGS).astype(np.int64) % HEADINGS
    stretch[halts] = stretches * HEADINGS + np.arange(len(halts))
    known = np.flatnonzero(np.isin(stretch, stretch[some]))
    stretch = stretch[known[np.minimum(np.searchsorted(known, np.arange(len(stretch))), len(known) - 1)]]
    _, of_point = np.unique(stretch, return_inverse=True)
    some = some[np.lexsort((some, of_point[some]))]
    stands_for = np.where(moving[points.segment], 1.0 / light, 1.0)[some]
    return Sample(some, stands_for, of_point, np.flatnonzero(np.diff(of_point[some], prepend=-1)))


def raised(stated: FloatArray, seen: FloatArray, other: FloatArray, sample: Sample, of: IntArray) -> FloatArray:
    """Return shares left of light by other trees, (., n), from those as stated and both at the sample, (., m).

    `of` (n,) is the stretch of each. The mean over what is looked at of a stretch is that seen there. Open
    stays open, dark dark, and NaN NaN.
    """
    seen, other = np.nan_to_num(seen), np.nan_to_num(other)
    seen, other = np.broadcast_arrays(seen, other)

    def summed(values: FloatArray) -> FloatArray:
        return np.asarray(np.add.reduceat(values * sample.stands_for, sample.first, axis=-1))

    of_seen = sample.of_point[sample.some]
    target, log = summed(other), np.zeros((*seen.shape[:-1], len(sample.first)))
    step = _STEEPEST / 2
    varied = summed(seen * (1 - seen)) > 1e-9
    for _ in range(_HALVINGS):
        reached = summed(seen ** np.exp(log)[..., of_seen])
        log = np.where(varied, np.where(reached > target, log + step, log - step), 0.0)
        step /= 2
    reached = summed(seen ** np.exp(log)[..., of_seen])
    rest = np.divide(target, reached, out=np.ones_like(target), where=reached > 0)
    left: FloatArray = stated ** np.exp(log)[..., of] * rest[..., of]
    return np.minimum(left, 1.0)
