"""A flexible panel bent over a roof, as flat strips side by side."""

from math import atan2, cos, degrees, hypot, radians, sin
from typing import NamedTuple

STRIPS = 5


class Strip(NamedTuple):
    """A flat part of a bent panel: its share of the area, lean, and place across as a share of the width."""

    area_frac: float
    tilt_deg: float
    facing_deg: float
    across_frac: float


def bent_strips(tilt_deg: float, facing_deg: float, curvature_deg: float) -> tuple[Strip, ...]:
    """Return the strips of a panel whose face turns by `curvature_deg` from its left edge to its right.

    Equal strips at the middle of their arc, the middle one first (it stands for the panel in tables); a
    flat panel is one strip. The bend is about the panel's length; each strip turns towards the side it
    lies on. For a level panel under a sun overhead the mean cosine is sin(c/2)/(c/2), met to .0001 at 30
    deg. Cells in series across the strips lose more than the mean light says; that is not counted.
    """
    if curvature_deg == 0.0:
        return (Strip(1.0, tilt_deg, facing_deg, 0.0),)
    tilt, facing = radians(tilt_deg), radians(facing_deg)
    up = cos(tilt)
    normal = (sin(tilt) * cos(facing), sin(tilt) * sin(facing), up)
    # The panel's right-hand direction, turned from flat to its tilt by the shortest rotation.
    across = (-normal[0] * normal[1] / (1.0 + up), 1.0 - normal[1] ** 2 / (1.0 + up), -normal[1])
    places = sorted(((k + 0.5) / STRIPS - 0.5 for k in range(STRIPS)), key=abs)
    strips = []
    for place in places:
        turn = radians(place * curvature_deg)
        ahead, right, upward = (n * cos(turn) + a * sin(turn) for n, a in zip(normal, across, strict=True))
        lean = degrees(atan2(hypot(ahead, right), upward))
        strips.append(Strip(1.0 / STRIPS, lean, degrees(atan2(right, ahead)) % 360.0, place))
    return tuple(strips)
