"""What was used of the trees along a drive, and where each of it came from."""

from dataclasses import dataclass

from routesolar.trip.arrays import FloatArray, lock_fields

BY_KILOMETRE, GIVEN = "given by kilometre", "as given"


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """One property of the trees on n segments: its value, NaN where a raster tells it cell by cell.

    `origin` says in words where each segment's came from ("as given", "assumed"); empty is not told.
    """

    value: FloatArray
    origin: tuple[str, ...]

    def __post_init__(self) -> None:
        lock_fields(self, {"value": (len(self.origin),)})

    @property
    def is_said(self) -> bool:
        """Whether somebody said it, at least of a part of the road."""
        return bool({BY_KILOMETRE, GIVEN} & set(self.origin))


@dataclass(frozen=True, slots=True, kw_only=True)
class TreesUsed:
    """The trees of a drive: cover outside the road, height, road opening, and what the crowns are like.

    `evergreen` is the share of trees that keep their leaves, `crown` the share of light a crown lets through
    where that was said in place of a season, else NaN. `leaf_frac` bounds the share of their leaves that the
    others carry; `season` says where that came from.
    """

    cover: Used
    height_m: Used
    opening_m: Used
    evergreen: Used
    crown: Used
    leaf_frac: tuple[float, float]
    season: str
