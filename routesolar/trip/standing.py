"""What stands beside a road one by one: buildings, single trees; and woods as a map draws them."""

from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Self

import numpy as np

from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray, IntArray, lock_fields
from routesolar.trip.noun import Noun
from routesolar.trip.ranges import ALONG, Range, check_arrays

# Of one crown a width, of a building a height: other bounds than those of trees along a road.
_STANDING = MappingProxyType(
    {
        **{name: ALONG[name] for name in ("latitude_deg", "longitude_deg", "cover_frac", "evergreen_frac")},
        "height_m": Range(0.1, 1_000.0, "metres above the ground"),
        "crown_width_m": Range(0.1, 60.0, "metres across the crown"),
    }
)
_TREE_MOST_M = ALONG["height_m"].high


def _check_rings(noun: "Buildings | Woods", count_name: str) -> None:
    """Lock the vertices of rings; UsageError unless `first` counts them through."""
    v, b = np.shape(noun.latitude_deg), np.size(getattr(noun, count_name))
    lock_fields(noun, {"latitude_deg": v, "longitude_deg": v, "first": (b + 1,)}, {"first": np.int64})
    check_arrays(noun, ("latitude_deg", "longitude_deg"), table=_STANDING)
    if len(v) != 1 or noun.first[0] != 0 or noun.first[-1] != v[0] or np.any(np.diff(noun.first) < 3):
        raise UsageError(
            "first must count the vertices from 0 to their number, three or more a ring: ring k is those from "
            "first[k] to first[k + 1]"
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Buildings(Noun):
    """Buildings as prisms that stand on the ground and let no light through: b rings of v vertices.

    Ring k is the vertices from first[k] to first[k + 1]; the last joins the first. `height_m` (b,) is that of
    the ring's top above the ground there. Every ring is a wall around; a courtyard is one more ring, and what
    lies within an even number of rings is open ground.
    """

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    first: IntArray
    height_m: FloatArray

    def __post_init__(self) -> None:
        _check_rings(self, "height_m")
        lock_fields(self, {"height_m": np.shape(self.height_m)})
        check_arrays(self, ("height_m",), table=_STANDING)

    @property
    def count(self) -> int:
        """Number of rings b."""
        return len(self.height_m)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class StandingCrowns(Noun):
    """Single trees, and rows as trees spaced along their line: c crowns, each an ellipsoid on its trunk, (c,).

    `crown_width_m` is that from side to side; how far down the crown reaches goes by the kind of trees
    (`Trees.crown_base_frac`). `evergreen_frac` NaN is as what else is known of the trees along the road.
    """

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    height_m: FloatArray
    crown_width_m: FloatArray
    evergreen_frac: FloatArray

    def __post_init__(self) -> None:
        names = tuple(self.__dataclass_fields__)
        lock_fields(self, dict.fromkeys(names, np.shape(self.latitude_deg)))
        check_arrays(self, names, unknown=("evergreen_frac",), table=_STANDING)
        if np.any(self.height_m > _TREE_MOST_M):
            raise UsageError(f"height_m of a tree is {self.height_m.max():g}: no tree is taller than 150 m")

    @property
    def count(self) -> int:
        """Number of crowns c."""
        return len(self.height_m)

    def at(self, rows: IntArray) -> Self:
        """Return the crowns of these numbers."""
        return replace(self, **{name: getattr(self, name)[rows] for name in self.__dataclass_fields__})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Woods(Noun):
    """Woods as polygons with holes: r rings of v vertices, of w polygons.

    Ring k is the vertices from first[k] to first[k + 1]; the last joins the first. `polygon` (r,) numbers the
    polygon a ring belongs to; what lies within an even number of a polygon's rings is no wood. Each polygon has
    a `cover_frac`, a `height_m` and an `evergreen_frac` (w,), NaN where that is as what else is known of the
    trees. Where polygons overlap the later one holds.
    """

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    first: IntArray
    polygon: IntArray
    cover_frac: FloatArray
    height_m: FloatArray
    evergreen_frac: FloatArray

    def __post_init__(self) -> None:
        _check_rings(self, "polygon")
        w = np.shape(self.cover_frac)
        shapes = {"polygon": np.shape(self.polygon), "cover_frac": w, "height_m": w, "evergreen_frac": w}
        lock_fields(self, shapes, {"polygon": np.int64})
        unknown = ("height_m", "evergreen_frac")
        check_arrays(self, ("cover_frac", *unknown), unknown=unknown, table=_STANDING)
        if np.any(self.height_m > _TREE_MOST_M):
            raise UsageError(
                f"height_m of a wood is {np.nanmax(self.height_m):g}: no tree is taller than 150 m"
            )
        if np.any((self.polygon < 0) | (self.polygon >= w[0])):
            raise UsageError(f"polygon must number the {w[0]} woods from 0")
