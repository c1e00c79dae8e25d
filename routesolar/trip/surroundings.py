"""What stands around the road: tree cover, tree height, terrain. Grids in memory, already placed."""

from dataclasses import dataclass, field, replace
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray, IntArray, length_of, lock_fields
from routesolar.trip.canopy_doubt import STANDING_SD, CanopyDoubt
from routesolar.trip.grids import TILE as TILE
from routesolar.trip.grids import Placement as Placement
from routesolar.trip.grids import TiledGrid as TiledGrid
from routesolar.trip.grids import values_at as values_at
from routesolar.trip.ground import MapPicture, Outlines
from routesolar.trip.mapped_road import MappedRoad
from routesolar.trip.noun import Noun
from routesolar.trip.own_shade import OwnShade
from routesolar.trip.ranges import ALONG, check_arrays, check_ranges
from routesolar.trip.route import SourceFile, check_width_between
from routesolar.trip.standing import Buildings, StandingCrowns
from routesolar.trip.trees_used import TreesUsed

MOST_IN_CELL = {"cover_frac": 1.0001, "height_m": 150.0}  # single precision rounds; no tree is taller


@dataclass(frozen=True, slots=True, kw_only=True)
class Trees:
    """The habit of trees of one kind; defaults are those of the shade model's documentation."""

    crown_base_frac: float = 0.30
    crown_slenderness: float = 1.75
    road_width_between: str = "opening"
    lane_offset_m: float = 1.75
    height_spread_frac: float = 0.0
    evergreen_frac: float = 0.0

    def __post_init__(self) -> None:
        check_ranges(self, tuple(self.__dataclass_fields__), ALONG)
        check_width_between(self.road_width_between)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Canopy(Noun):
    """Trees along n segments.

    `cover_frac` and `height_m` are grids that share one pixel lattice and `placement` (segment
    middles); either may be None. Height alone means metre-scale columns. `uniform_cover_frac` (n,) wins
    over the grid where it is not NaN; `default_height_m` (n,) is used where no height grid speaks;
    `uniform_height_m` (n,) wins over the height grid where it is not NaN.
    `road_width_m` is the opening (n,); `lane_offset_m` (n,) is right-positive. Points whose canopy is
    unknown were already filled by the reader; `data_frac` is the share that was known.
    `kind` (n,) says which of `trees` stands at each segment. What a segment sees is of its own kind.
    `crown_transmittance_frac` (d or 1, n or 1) is what a crown lets through at that season; None is in leaf.
    `standing` are single trees beside all of this, met one by one; `standing_transmittance_frac` (2, d or 1,
    n or 1) is what deciduous and evergreen ones of them let through, None in leaf.
    Where covers are `drawn` after a map, outlines of woods may run across the road, and cells show no opening.
    `doubt` is how far all this may be off. `width_factor` (n,), `cover_shift`, of the raster's cells,
    and `crowns_factor`, of how many crowns of single trees a way meets, are 1, 0 and 1 but where other trees
    than stated are looked at.
    """

    cover_frac: TiledGrid | None
    height_m: TiledGrid | None
    placement: Placement | None
    uniform_cover_frac: FloatArray
    uniform_height_m: FloatArray
    default_height_m: FloatArray
    road_width_m: FloatArray
    lane_offset_m: FloatArray
    trees: tuple[Trees, ...] = (Trees(),)
    kind: IntArray = field(default_factory=lambda: np.zeros(1, dtype=np.int64))
    width_factor: FloatArray = field(default_factory=lambda: np.ones(1))
    cover_shift: float = 0.0
    crowns_factor: float = 1.0
    crown_transmittance_frac: FloatArray | None = None
    standing: StandingCrowns | None = None
    standing_transmittance_frac: FloatArray | None = None
    drawn: bool = False
    doubt: CanopyDoubt = field(default_factory=CanopyDoubt)
    files: tuple[SourceFile, ...] = ()
    data_frac: float = 1.0
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        n = (length_of(self.uniform_cover_frac, "uniform_cover_frac"),)
        said = ("uniform_cover_frac", "uniform_height_m")
        names = (*said, "default_height_m", "road_width_m", "lane_offset_m")
        lock_fields(self, dict.fromkeys(names, n))
        lock_fields(self, {"kind": n}, {"kind": np.int64})
        check_arrays(self, names, unknown=said)
        lock_fields(self, {"width_factor": n})
        check_arrays(self, ("width_factor",))
        check_ranges(self, ("cover_shift", "crowns_factor"), ALONG)
        self.doubt.check_fits(n[0])
        if np.any(self.kind < 0) or np.any(self.kind >= len(self.trees)):
            raise UsageError(f"kind must number the {len(self.trees)} kinds of trees from 0")
        if self.crown_transmittance_frac is not None:
            shape = np.shape(self.crown_transmittance_frac)
            if len(shape) != 2:
                raise UsageError(f"crown_transmittance_frac has shape {shape}; give (departures or 1, n or 1)")
            lock_fields(self, {"crown_transmittance_frac": shape})
            check_arrays(self, ("crown_transmittance_frac",))
        if self.standing_transmittance_frac is not None:
            shape = np.shape(self.standing_transmittance_frac)
            if len(shape) != 3 or shape[0] != 2:
                raise UsageError(
                    f"standing_transmittance_frac has shape {shape}; give (2, departures or 1, n or 1)"
                )
            lock_fields(self, {"standing_transmittance_frac": shape})
            check_arrays(self, ("standing_transmittance_frac",))
        self._check_grids(n[0])

    def _check_grids(self, count: int) -> None:
        """Raise UsageError where grids are not placed, lie on different lattices or hold something else."""
        grids = {"cover_frac": self.cover_frac, "height_m": self.height_m}
        given = {name: grid for name, grid in grids.items() if grid is not None}
        if given and (self.placement is None or len(self.placement.col) != count):
            placed = 0 if self.placement is None else len(self.placement.col)
            raise UsageError(f"the canopy has {count} segments, but {placed} of them are placed on its raster")
        if len({(grid.height, grid.width, grid.tiles.shape[1]) for grid in given.values()}) > 1:
            raise UsageError("the grids of cover and heights have different sizes; give both on the same grid")
        for name, grid in given.items():
            most = MOST_IN_CELL[name]
            if np.any(grid.tiles < 0) or np.any(grid.tiles > most):
                raise UsageError(f"the grid of {name} holds values that are not from 0 to {most:g}")

    @classmethod
    def open(cls, count: int) -> Self:
        """Return an open sky over `count` segments: no tree anywhere."""
        return cls.uniform(count, cover_frac=0.0)

    @classmethod
    def uniform(
        cls,
        count: int,
        *,
        cover_frac: float,
        height_m: float = 15.0,
        road_width_m: float = 12.0,
        trees: Trees | None = None,
    ) -> Self:
        """Return the same cover (share of ground under crowns, outside the road) along `count` segments."""
        trees = trees or Trees()
        return cls(
            cover_frac=None,
            height_m=None,
            placement=None,
            uniform_cover_frac=np.full(count, cover_frac),
            uniform_height_m=np.full(count, np.nan),
            default_height_m=np.full(count, height_m),
            road_width_m=np.full(count, road_width_m),
            lane_offset_m=np.full(count, trees.lane_offset_m),
            trees=(trees,),
        )

    def certain(self) -> Self:
        """Return the same trees taken as exactly those stated."""
        return replace(self, doubt=CanopyDoubt.none())

    def varied(self, *, width_factor: FloatArray, cover_shift: FloatArray, raster_cover_shift: float) -> Self:
        """Return the same trees with the road wider by a factor and the cover of woods shifted by shares.

        Factor and shift are (n or 1,), that of the raster is one for all its cells. The woods are those found
        with the road as wide as stated. Where there is no tree there is none after.
        """
        return replace(
            self,
            width_factor=width_factor,
            uniform_cover_frac=shifted_cover(self.uniform_cover_frac, cover_shift),
            cover_shift=raster_cover_shift,
        )

    def at(self, rows: IntArray) -> Self:
        """Return the trees at segments of these numbers."""
        crowns, standing = self.crown_transmittance_frac, self.standing_transmittance_frac
        per_segment = ("uniform_cover_frac", "uniform_height_m", "default_height_m", "road_width_m")
        return replace(
            self,
            **{name: getattr(self, name)[rows] for name in (*per_segment, "lane_offset_m", "kind")},
            placement=None if self.placement is None else self.placement.at(rows),
            crown_transmittance_frac=crowns if crowns is None or crowns.shape[1] == 1 else crowns[:, rows],
            standing_transmittance_frac=(
                standing if standing is None or standing.shape[2] == 1 else standing[..., rows]
            ),
            width_factor=self.width_factor[rows],
            doubt=self.doubt.at(rows),
        )

    @property
    def count(self) -> int:
        """Number of segments n."""
        return len(self.uniform_cover_frac)

    @property
    def is_open(self) -> bool:
        """True where no tree can shade: no stand of trees, and none by itself."""
        return self.standing is None and not self.has_stands

    @property
    def has_stands(self) -> bool:
        """Whether there is a grid, or a uniform cover above zero."""
        return bool(
            self.cover_frac is not None or self.height_m is not None or np.any(self.uniform_cover_frac > 0)
        )


def shifted_cover(cover_frac: NDArray[Any], shift: FloatArray | float) -> NDArray[Any]:
    """Return covers moved by shares, where there is any; NaN stays NaN."""
    return np.where(cover_frac > 0, np.clip(cover_frac + shift, 0, 1), cover_frac).astype(cover_frac.dtype)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Terrain(Noun):
    """The horizon around n segments: elevation angle (n, a) at azimuths 0, 360/a, ... clockwise from north.

    `buildings` are those around the whole drive, which hide sun and sky beside the horizon.

    `slope_east_frac` and `slope_north_frac` (n,) are the ground's rise per metre, NaN where unknown and empty
    without a raster. `data_frac` is the share of points whose own ground was known.
    """

    horizon_deg: FloatArray
    slope_east_frac: FloatArray = field(default_factory=lambda: np.zeros(0))
    slope_north_frac: FloatArray = field(default_factory=lambda: np.zeros(0))
    buildings: Buildings | None = None
    files: tuple[SourceFile, ...] = ()
    data_frac: float = 1.0
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        shape = np.shape(self.horizon_deg)
        if len(shape) != 2 or 0 in shape:
            raise UsageError(f"horizon_deg has shape {shape}; give (segments, azimuths)")
        slopes = ("slope_east_frac", "slope_north_frac")
        lock_fields(self, {"horizon_deg": shape})
        for name in slopes:
            lock_fields(self, {name: (np.size(getattr(self, name)) and shape[0],)})
        check_arrays(self, ("horizon_deg", *slopes), unknown=slopes)

    @property
    def count(self) -> int:
        """Number of segments n."""
        return len(self.horizon_deg)

    @classmethod
    def flat(cls, count: int) -> Self:
        """Return a horizon at zero everywhere, for `count` segments."""
        return cls(horizon_deg=np.zeros((count, 1)))

    def at(self, rows: IntArray) -> Self:
        """Return the hills around segments of these numbers."""
        sloped = (
            "horizon_deg",
            *(("slope_east_frac", "slope_north_frac") if len(self.slope_east_frac) else ()),
        )
        return replace(self, **{name: getattr(self, name)[rows] for name in sloped})

    @property
    def is_flat(self) -> bool:
        """True where the horizon hides nothing."""
        return not np.any(self.horizon_deg > 0)

    @property
    def is_open(self) -> bool:
        """True where neither hills nor buildings hide anything."""
        return self.is_flat and self.buildings is None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Surroundings(Noun):
    """Trees and terrain along a drive. For maps: a picture of the trees, and where hills are read from.

    `used` says what was used of the trees and where it came from, where that is known; `maps` are the map
    files it was partly taken from, `road` the road on them and `drawing` what else they
    show, `attribution` what has to stand beside what is drawn from them. A
    `shade` of one's own stands for both; then the canopy is open and the terrain flat.
    """

    canopy: Canopy
    terrain: Terrain
    picture: MapPicture | None = None
    hills: tuple[str, ...] = ()
    used: TreesUsed | None = None
    maps: tuple[SourceFile, ...] = ()
    attribution: str = ""
    road: MappedRoad | None = None
    drawing: Outlines = field(default_factory=Outlines)
    shade: OwnShade | None = None

    def __post_init__(self) -> None:
        if self.shade is not None and not (self.canopy.is_open and self.terrain.is_open):
            raise UsageError("give trees and hills, or a shade of your own: one or the other")

    def beside(self, *, buildings: Buildings | None = None, standing: StandingCrowns | None = None) -> Self:
        """Return the same surroundings with these buildings and single trees in place of any known before.

        None leaves those known. Trees of a wood or a raster stay; leave out single trees that they show.
        """
        canopy, terrain = self.canopy, self.terrain
        if buildings is not None:
            terrain = replace(terrain, buildings=buildings if buildings.count else None)
        if standing is not None:
            canopy = replace(canopy, standing=standing if standing.count else None)
            sd = max(canopy.doubt.heights_sd_frac, STANDING_SD if standing.count else 0.0)
            canopy = replace(canopy, doubt=replace(canopy.doubt, heights_sd_frac=sd))
        return replace(self, canopy=canopy, terrain=terrain)
