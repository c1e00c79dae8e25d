"""Trees other than stated, looked at from some points only: what they change is alike along a stretch of road.

Where crowns are more, or let through less, the optical depth of every way through them grows by one factor;
where the road is narrower, by much the same one along a stretch. So other trees are looked at from a few
hundred points, which say to what power the transmittance of the trees as stated has to be raised there.
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
    """The m segments looked at, places of their points among all, and the stretch of these and of all n.

    Segments looked at are in the order of stretches, of which `first` (s,) are the first.
    """

    points: Points
    segment: IntArray
    some: IntArray
    of_seen: IntArray
    of_segment: IntArray
    first: IntArray


def sample_of(segments: Segments, points: Points, wanted: int) -> Sample | None:
    """Return segments of so many points that stand for all, evenly along the way, and each stop.

    None where the points are not more than twice as many.
    """
    moving = ~segments.stopped & (segments.length_m > 0)
    many = int(np.count_nonzero(moving[points.segment]))
    if many <= 2 * wanted:
        return None
    ways_m = np.cumsum(np.where(moving, segments.length_m, 0.0))
    count = max(wanted * int(np.count_nonzero(moving)) // many, 1)
    # Somewhere in every part, not in its middle: bends may repeat as often as parts do.
    share = (np.arange(count) + (np.arange(count) * _GOLDEN_FRAC) % 1) / count
    halts = np.flatnonzero(~moving)
    seen = np.unique(np.concatenate([np.searchsorted(ways_m, share * ways_m[-1]), halts]))
    stretches = max(round(count * SAMPLE / wanted / A_STRETCH), 1)
    stretch = np.minimum(ways_m / ways_m[-1] * stretches, stretches - 1).astype(np.int64)
    # The sun along a road and across it see other trees, and panels turn with the road.
    stretch = stretch * HEADINGS + (segments.heading_deg % 180 / 180 * HEADINGS).astype(np.int64) % HEADINGS
    stretch[halts] = stretches * HEADINGS + np.arange(len(halts))
    known = np.flatnonzero(np.isin(stretch, stretch[seen]))
    stretch = stretch[known[np.minimum(np.searchsorted(known, np.arange(segments.count)), len(known) - 1)]]
    _, of_segment = np.unique(stretch, return_inverse=True)
    seen = seen[np.argsort(of_segment[seen], kind="stable")]
    of_seen = of_segment[seen]
    ends = np.append(points.first, len(points.segment))
    some = np.concatenate([np.arange(ends[i], ends[i + 1]) for i in seen])
    return Sample(points, seen, some, of_seen, of_segment, np.flatnonzero(np.diff(of_seen, prepend=-1)))


def raised(stated: FloatArray, seen: FloatArray, other: FloatArray, sample: Sample) -> FloatArray:
    """Return shares left of light by other trees, (., n), from those as stated and both at the sample, (., m).

    The mean over what is looked at of a stretch is that seen there. Open stays open, dark dark, and NaN NaN.
    """
    seen, other = np.nan_to_num(seen), np.nan_to_num(other)
    seen, other = np.broadcast_arrays(seen, other)

    def summed(values: FloatArray) -> FloatArray:
        return np.asarray(np.add.reduceat(values, sample.first, axis=-1))

    target, log = summed(other), np.zeros((*seen.shape[:-1], len(sample.first)))
    step = _STEEPEST / 2
    varied = summed(seen * (1 - seen)) > 1e-9
    for _ in range(_HALVINGS):
        reached = summed(seen ** np.exp(log)[..., sample.of_seen])
        log = np.where(varied, np.where(reached > target, log + step, log - step), 0.0)
        step /= 2
    reached = summed(seen ** np.exp(log)[..., sample.of_seen])
    rest = np.divide(target, reached, out=np.ones_like(target), where=reached > 0)
    left: FloatArray = stated ** np.exp(log)[..., sample.of_segment] * rest[..., sample.of_segment]
    return np.minimum(left, 1.0)
