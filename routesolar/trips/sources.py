"""Where trees and hills come from."""

from dataclasses import dataclass, field

from routesolar.errors import UsageError
from routesolar.trip.surroundings import Trees

SEASONS = ("auto", "leaf-on", "leaf-off")
SIDES = ("left", "right")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sources:
    """Where trees and hills are read from, and what is said of them for the whole trip.

    Rasters are paths or web addresses, the first with data wins. Cover holds where no raster is given, height
    where no raster of heights speaks. A road width of None is the usual one; `fit_road_width` takes what the
    cover raster shows. A `map` tells of roads, woods, single trees and buildings where nothing else is
    said. A `surface` less the `terrain` is a raster of heights. `crown_transmittance_frac` None leaves it to
    the season. `strict` refuses what is not covered.
    """

    map: tuple[str, ...] = ()
    canopy: tuple[str, ...] = ()
    canopy_cover_frac: float | None = None
    canopy_heights: tuple[str, ...] = ()
    canopy_height_m: float | None = None
    road_width_m: float | None = None
    fit_road_width: bool = False
    trees: Trees = field(default_factory=Trees)
    leaf_type: tuple[str, ...] = ()
    crown_transmittance_frac: float | None = None
    season: str = "auto"
    drive_side: str = "right"
    terrain: tuple[str, ...] = ()
    surface: tuple[str, ...] = ()
    strict: bool = False

    def __post_init__(self) -> None:
        for name, word, known in (("season", self.season, SEASONS), ("drive_side", self.drive_side, SIDES)):
            if word not in known:
                raise UsageError(f"{name} is {word!r}; give one of {', '.join(known)}")
        if self.canopy and self.canopy_cover_frac is not None:
            raise UsageError("canopy and canopy_cover_frac contradict each other; give one of them")
        if self.surface and not self.terrain:
            raise UsageError("a surface holds heights above sea: give the ground's beside it, --terrain FILE")
        if self.surface and self.canopy_heights:
            raise UsageError("surface and a canopy_height raster contradict each other; give one of them")
        if self.fit_road_width and self.road_width_m is not None:
            raise UsageError("road_width_m and fit_road_width contradict each other; give one of them")
