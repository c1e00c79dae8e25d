"""Crowns of trees as randomly placed ellipsoids: what one ray meets of them beside a straight road.

A stand of cover C has crowns of half-height b and radius r = b / ratio on trunks placed at random
(Poisson). A ray towards the sun meets every crown whose trunk stands in an ellipse on the ground, the
crown's shadow; the overlap X is the number of crowns it meets on average, and 1 - tau of the beam is
lost at each: T = exp(-(1 - tau) X). The road keeps trunks away from the vehicle, so that only the part of
the ellipse outside the trunk-free corridor counts (Boolean model: Serra 1982; Nilson 1999, Agric. For.
Meteorol. 98-99:29; the corridor is ours, proved by a ray caster in the tests).
"""

from collections.abc import Mapping
from math import acos, log, pi, radians, sin, sqrt, tan
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled

COVER_CAP = 0.98  # beyond, satellite cover tells nothing more about the number of crowns
_SPREAD_STEP = 1.22  # three equal classes at H (1 - 1.22 sd), H, H (1 + 1.22 sd) keep mean and spread
EDGE_COVER = np.array([0.0, 0.2, 0.4, 0.6, 0.75, 0.9, 0.95])
# What a road's width was measured between -> how far the trunks stand behind that edge, in crown radii,
# by EDGE_COVER outside. The opening is seen from above: edges of equal covered area, from random stands.
OVERHANG: Mapping[str, FloatArray] = MappingProxyType(
    {
        "opening": np.array([0.0, 0.03, 0.07, 0.13, 0.19, 0.31, 0.38]),
        "trunks": np.zeros(len(EDGE_COVER)),
        "crowns": np.ones(len(EDGE_COVER)),
    }
)


class Habit(NamedTuple):
    """Shape of the trees: crown base over height, crown half-height over radius, relative sd of height."""

    base_frac: float
    ratio: float
    spread_frac: float


class Crowns(NamedTuple):
    """A habit per metre of tree height: crown base, centre, radius; the ratio, and the sizes side by side."""

    base: float
    centre: float
    radius: float
    ratio: float
    steps: FloatArray


class RoadsideStand(NamedTuple):
    """A uniform stand beside a straight road, and where the panel is: metres, offset right of the centre."""

    cover_frac: float
    height_m: float
    trunk_line_m: float
    offset_m: float
    panel_height_m: float


def crowns_of(habit: Habit) -> Crowns:
    """Return a habit as lengths per metre of tree height; a spread becomes three sizes of equal share."""
    steps = np.array([1.0])
    if habit.spread_frac > 0:
        steps = 1.0 + _SPREAD_STEP * habit.spread_frac * np.array([-1.0, 0.0, 1.0])
    return Crowns(
        base=habit.base_frac,
        centre=0.5 * (1.0 + habit.base_frac),
        radius=0.5 * (1.0 - habit.base_frac) / habit.ratio,
        ratio=habit.ratio,
        steps=steps,
    )


@compiled
def layers(cover_frac: float) -> float:
    """Return how many crowns lie over a ground point on average: -ln(1 - C), C capped at .98; NaN stays."""
    if cover_frac > COVER_CAP:
        cover_frac = COVER_CAP
    return -log(1.0 - cover_frac)


@compiled
def outer_share(distance: float) -> float:
    """Return the share of a unit disc's area beyond a chord at `distance` (-1 all, 1 none) from its centre."""
    if distance >= 1.0:
        return 0.0
    if distance <= -1.0:
        return 1.0
    return (acos(distance) - distance * sqrt(1.0 - distance * distance)) / pi


@compiled
def straight_overlap(
    stand: RoadsideStand, habit: Habit, from_heading_deg: float, elevation_deg: float
) -> float:
    """Return the crowns met on average by a ray along a straight, level road through a uniform stand.

    `from_heading_deg` is the sun's azimuth less the road's heading. Exact for random crowns, except that
    trees with crowns starting below the panel are taken whole. NaN at or below the horizon.
    """
    if not elevation_deg > 0.0:
        return np.nan
    slope, side = tan(radians(elevation_deg)), sin(radians(from_heading_deg))
    half_height = 0.5 * stand.height_m * (1.0 - habit.base_frac)
    centre_height = 0.5 * stand.height_m * (1.0 + habit.base_frac)
    radius = half_height / habit.ratio
    stretch = sqrt(1.0 + (habit.ratio / slope) ** 2)
    half_width = radius * sqrt(1.0 + (habit.ratio * side / slope) ** 2)
    centre = (centre_height - stand.panel_height_m) * side / slope
    right = outer_share((stand.trunk_line_m - stand.offset_m - centre) / half_width)
    left = outer_share((stand.trunk_line_m + stand.offset_m + centre) / half_width)
    return layers(stand.cover_frac) * stretch * (right + left)


def crown_transmittance(crowns_met: ArrayLike, crown_transmittance_frac: ArrayLike) -> FloatArray:
    """Return the share of beam left after so many crowns, met at random; the arguments broadcast."""
    left: FloatArray = np.exp(-(1.0 - np.asarray(crown_transmittance_frac)) * np.asarray(crowns_met))
    return left


def column_transmittance(crowns_met: ArrayLike, crown_transmittance_frac: ArrayLike) -> FloatArray:
    """Return the share of beam left after so many crowns, each met along its mean chord: tau^met; broadcasts.

    Opaque crowns count as tau 1e-9.
    """
    left: FloatArray = np.power(np.maximum(crown_transmittance_frac, 1e-9), crowns_met)
    return left
