"""The road's opening, told from the cover raster itself: a narrow road shows little less cover than the stand.

A point at a distance from the centreline is under a crown unless no trunk stands within a crown's radius;
trunks stand beyond the trunk line on both sides. So the expected cover of the road's own pixels falls
with the opening, and the opening is that for which it equals the observed one.
"""

from typing import NamedTuple

import numpy as np

from routesolar.arrays import FloatArray
from routesolar.physics.crowns import COVER_CAP, EDGE_COVER, OVERHANG, outer_share

NARROWEST_M, WIDEST_M = 2.0, 60.0
BLOCKS = 10
# Crown ratios of 1.75 +- .5 are those of most trees (documentation of the shade model, 6b): a quarter of the
# radius. A tenth of the crowns over each other, between the road's edge and 30-75 m off it: judgement.
RADIUS_DOUBT, LAYERS_DOUBT = 0.25, 0.10
_SHARE_AT = np.linspace(-1.0, 1.0, 401)


class RoadPixels(NamedTuple):
    """p pixels that the road crosses: observed cover, the stand's cover beside, crown radius; (p,).

    `aside_m` (p, k) is how far k points spread over each pixel lie from the centreline.
    """

    observed_frac: FloatArray
    stand_frac: FloatArray
    radius_m: FloatArray
    aside_m: FloatArray


def expected_cover_frac(pixels: RoadPixels, width_m: float) -> FloatArray:
    """Return the cover of the pixels to expect with an opening of a width between random crowns, (p,)."""
    stand = np.minimum(pixels.stand_frac, COVER_CAP)
    overhang = np.interp(stand, EDGE_COVER, OVERHANG["opening"])
    trunks_m = (width_m / 2 + overhang * pixels.radius_m)[:, None]
    radius = pixels.radius_m[:, None]
    within = _outer((trunks_m - pixels.aside_m) / radius) + _outer((trunks_m + pixels.aside_m) / radius)
    covered: FloatArray = 1 - np.exp(np.log1p(-stand)[:, None] * within)
    return covered.mean(axis=1)


def fitted_width_m(pixels: RoadPixels) -> float:
    """Return the opening in metres that explains the observed cover; NaN where none from 2 to 60 m does."""
    observed = pixels.observed_frac.mean()
    low, high = NARROWEST_M, WIDEST_M
    if not expected_cover_frac(pixels, high).mean() <= observed <= expected_cover_frac(pixels, low).mean():
        return float("nan")
    while high - low > 0.01:
        middle = (low + high) / 2
        if expected_cover_frac(pixels, middle).mean() > observed:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def width_doubt_m(pixels: RoadPixels) -> float:
    """Return how far the fitted opening may be off, in metres: one standard deviation of all that is not known.

    Chance is told by ten stretches left out in turn. Crowns wider or narrower than their height tells, and a
    stand denser or thinner at the road than farther off, move every stretch alike, so no stretch left out shows
    them; in dense woods they are the larger part.
    """
    fits = _without_a_stretch(pixels)
    chance = (BLOCKS - 1) / BLOCKS * np.sum((fits - fits.mean()) ** 2)
    crowns = [
        fitted_width_m(pixels._replace(radius_m=pixels.radius_m * (1 + s * RADIUS_DOUBT))) for s in (-1, 1)
    ]
    stand = [fitted_width_m(pixels._replace(stand_frac=_denser(pixels.stand_frac, s))) for s in (-1, 1)]
    alike = sum(np.ptp(pair) ** 2 / 4 for pair in (crowns, stand) if not np.isnan(pair).any())
    return float(np.sqrt(chance + alike))


def _denser(stand_frac: FloatArray, sign: int) -> FloatArray:
    """Return a stand's cover with more or fewer crowns over each other by the doubt."""
    layers = -np.log1p(-np.minimum(stand_frac, COVER_CAP))
    denser: FloatArray = -np.expm1(-layers * (1 + sign * LAYERS_DOUBT))
    return denser


def _without_a_stretch(pixels: RoadPixels) -> FloatArray:
    """Return the fits with each of ten stretches left out in turn."""
    count = len(pixels.observed_frac)
    fits = []
    for block in np.array_split(np.arange(count), BLOCKS):
        kept = np.setdiff1d(np.arange(count), block)
        fits.append(fitted_width_m(RoadPixels(*(values[kept] for values in pixels))))
    return np.array(fits)


def _outer(distance: FloatArray) -> FloatArray:
    """Return `outer_share` of an array, from a fine table."""
    table = np.array([outer_share(float(at)) for at in _SHARE_AT])
    result: FloatArray = np.interp(distance, _SHARE_AT, table)
    return result
