"""Compose the canopy along a route from rasters, constants and what the driver said."""

from dataclasses import dataclass, field, replace

import numpy as np

from routesolar.errors import InputError, UsageError
from routesolar.files.canopy_doubts import doubt_of
from routesolar.files.map_pictures import canopy_picture
from routesolar.files.raster_fill import fill_unknown
from routesolar.files.raster_heights import COVERED_M, CROWN_TOP, METRE_SCALE_M, heights_on
from routesolar.files.rasters import RasterAlong, check_cells, read_cover, read_height
from routesolar.files.surface import heights_from_surface
from routesolar.files.woods import WoodsAlong, woods_along
from routesolar.trip.arrays import BoolArray, FloatArray, length_of, lock_fields
from routesolar.trip.ground import MapPicture
from routesolar.trip.ranges import ALONG, check_arrays, check_points, check_ranges
from routesolar.trip.standing import Buildings, Woods
from routesolar.trip.surroundings import Canopy, Trees, values_at

SIDES = {"right": 1.0, "left": -1.0}
ROAD_WIDTH_M = 12.0  # of the opening, where nothing is said
OPEN_NOTE = "no canopy is given for all or part of the route: open sky is assumed there"


@dataclass(frozen=True, slots=True, kw_only=True)
class CanopySources:
    """What the user gave for the whole route; rasters are paths or web addresses, the first with data wins.

    `cover_frac` holds where no raster is given, `height_m` where no height raster speaks. `road_width_m` is NaN
    where nothing is said of it. `woods` of a map hold where neither a cover nor heights of single trees are
    given, their heights and kinds of leaf where no raster has these. A `surface` less the `terrain` stands for
    heights; outlines of `buildings` are left out of it.
    """

    cover: tuple[str, ...] = ()
    height: tuple[str, ...] = ()
    cover_frac: float = np.nan
    height_m: float = 15.0
    road_width_m: float = np.nan
    trees: Trees = field(default_factory=Trees)
    drive_side: str = "right"
    woods: Woods | None = None
    surface: tuple[str, ...] = ()
    terrain: tuple[str, ...] = ()
    buildings: Buildings | None = None

    def __post_init__(self) -> None:
        check_ranges(self, ("height_m",), ALONG)
        said = (name for name in ("cover_frac", "road_width_m") if not np.isnan(getattr(self, name)))
        check_ranges(self, tuple(said), ALONG)
        if self.drive_side not in SIDES:
            raise UsageError(f"drive_side is {self.drive_side!r}; use one of: {', '.join(SIDES)}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the driver says point by point, which wins over all else; (n,), NaN where nothing is said."""

    cover_frac: FloatArray
    height_m: FloatArray
    road_width_m: FloatArray
    lane_offset_m: FloatArray

    def __post_init__(self) -> None:
        names = tuple(self.__dataclass_fields__)
        count = length_of(self.cover_frac, "cover_frac")
        lock_fields(self, dict.fromkeys(names, (count,)))
        check_arrays(self, names, unknown=names)

    @classmethod
    def nothing(cls, count: int) -> "Said":
        """Return nothing said over `count` points."""
        silent = np.full(count, np.nan)
        return cls(cover_frac=silent, height_m=silent, road_width_m=silent, lane_offset_m=silent)


@dataclass(frozen=True, slots=True, kw_only=True)
class CanopyRead:
    """The canopy along the points, and a picture of the cover as read (for maps); None without rasters.

    `evergreen_frac` (n,) is that of a map's woods around, NaN where it tells none; None without a map.
    """

    canopy: Canopy
    picture: MapPicture | None
    evergreen_frac: FloatArray | None = None


def canopy_from(
    latitude_deg: FloatArray, longitude_deg: FloatArray, sources: CanopySources, said: Said
) -> CanopyRead:
    """Return the canopy along n points, with its doubt.

    Unknown cells are filled (see raster_fill); points that no raster reaches take the route's mean.

    Raises:
        InputError: a raster cannot be used, or heights alone are too coarse to show single crowns.
        UsageError: a cover is given beside heights that show every crown.
    """
    count = check_points(latitude_deg, longitude_deg)
    if len(said.cover_frac) != count:
        raise UsageError(f"the stated canopy has {len(said.cover_frac)} points, but the line has {count}")
    return said_of(_read(latitude_deg, longitude_deg, sources, said), sources, said)


def said_of(read: CanopyRead, sources: CanopySources, said: Said) -> CanopyRead:
    """Return what was read with the road width said, the height where no raster tells one, and its doubt."""
    usual = (sources.road_width_m, sources.cover_frac)
    canopy = replace(
        read.canopy,
        road_width_m=_road_width_m(sources, said),
        default_height_m=np.full(len(said.road_width_m), sources.height_m),
    )
    doubt = doubt_of(canopy, (said.road_width_m, said.cover_frac), usual, from_raster=bool(sources.cover))
    return replace(read, canopy=replace(canopy, doubt=doubt))


def _read(
    latitude_deg: FloatArray, longitude_deg: FloatArray, sources: CanopySources, said: Said
) -> CanopyRead:
    """Return what `canopy_from` returns, but for the doubt."""
    points = latitude_deg, longitude_deg
    cover = read_cover(sources.cover, *points) if sources.cover else None
    if cover is not None:
        check_cells(cover)
    height = _heights(sources, *points)
    woods = None if sources.woods is None else woods_along(sources.woods, *points)
    if cover is not None:
        of_woods = None if woods is None else woods.height
        read = _from_cover(cover, height or of_woods, sources, said)
        return replace(read, evergreen_frac=None if woods is None else woods.evergreen_frac)
    single = height is not None and height.cell_m <= METRE_SCALE_M
    if woods is not None and not single and np.isnan(sources.cover_frac):
        return _from_woods(woods, height, sources, said)
    if height is not None:
        return _from_heights(height, sources, said)
    everywhere = _where_silent(said.cover_frac, np.isnan(said.cover_frac), sources.cover_frac)
    canopy = _without_rasters(sources, replace(said, cover_frac=np.nan_to_num(everywhere)))
    notes = (OPEN_NOTE,) if np.isnan(everywhere).any() else ()
    return CanopyRead(canopy=replace(canopy, warnings=notes), picture=None)


def _heights(sources: CanopySources, latitude_deg: FloatArray, longitude_deg: FloatArray) -> RasterAlong | None:
    """Return heights above the ground: of their own raster, or of a surface."""
    points = latitude_deg, longitude_deg
    if sources.surface:
        return heights_from_surface(sources.surface, sources.terrain, *points, sources.buildings)
    return read_height(sources.height, *points) if sources.height else None


def _from_cover(
    cover: RasterAlong, height: RasterAlong | None, sources: CanopySources, said: Said
) -> CanopyRead:
    """Return a canopy on the cover's cells, with heights brought onto them."""
    place = cover.placement
    known = np.isfinite(values_at(cover.grid, place.col, place.row)) | np.isfinite(said.cover_frac)
    picture = canopy_picture(cover)
    cover_mean = fill_unknown(cover)
    beyond = np.isnan(values_at(cover.grid, place.col, place.row))
    heights, height_mean_m = None, np.nan
    if height is not None:
        on_cells = heights_on(cover, height)
        if np.isfinite(on_cells.tiles).any():
            heights, height_mean_m = on_cells, fill_unknown(replace(cover, grid=on_cells))
    canopy = _without_rasters(
        sources,
        replace(
            said,
            cover_frac=_where_silent(said.cover_frac, beyond, cover_mean),
            height_m=_where_silent(said.height_m, beyond, height_mean_m),
        ),
    )
    canopy = replace(
        canopy,
        cover_frac=cover.grid,
        height_m=heights,
        placement=place,
        files=cover.files + (height.files if height else ()),
        data_frac=float(known.mean()),
        warnings=cover.warnings + _unknown_note(known) + _height_notes(height),
    )
    return CanopyRead(canopy=canopy, picture=picture)


def _from_woods(
    woods: WoodsAlong, height: RasterAlong | None, sources: CanopySources, said: Said
) -> CanopyRead:
    """Return a canopy on the cells of a map's woods, with their heights or those of a raster."""
    if height is not None:
        read = _from_cover(woods.cover, height, sources, said)
    else:
        place = woods.cover.placement
        woods.cover.grid.tiles.setflags(write=False)
        beyond = np.isnan(values_at(woods.cover.grid, place.col, place.row))
        canopy = _without_rasters(
            sources, replace(said, cover_frac=_where_silent(said.cover_frac, beyond, 0.0))
        )
        canopy = replace(
            canopy,
            cover_frac=woods.cover.grid,
            height_m=None if woods.height is None else woods.height.grid,
            placement=place,
        )
        read = CanopyRead(canopy=canopy, picture=canopy_picture(woods.cover))
    canopy = replace(read.canopy, drawn=True)
    return replace(read, canopy=canopy, evergreen_frac=woods.evergreen_frac)


def _from_heights(height: RasterAlong, sources: CanopySources, said: Said) -> CanopyRead:
    """Return a canopy of columns from metre-scale heights, or of one cover with coarser heights."""
    names = " and ".join(file.name for file in height.files)
    if np.isfinite(sources.cover_frac):
        if height.cell_m <= METRE_SCALE_M:
            raise UsageError(f"{names} shows every crown; a cover beside it would contradict it: drop one")
        same = np.full_like(height.grid.tiles, sources.cover_frac)
        cover = replace(height, grid=replace(height.grid, tiles=same), files=(), warnings=())
        return _from_cover(cover, height, sources, said)
    if height.cell_m > METRE_SCALE_M:
        raise InputError(
            f"{names}: pixels of {height.cell_m:.0f} m tell how tall trees are, not how densely they stand; "
            "add a cover raster (--canopy) or one cover for all (--canopy-cover)"
        )
    return _columns(height, sources, said)


def _columns(height: RasterAlong, sources: CanopySources, said: Said) -> CanopyRead:
    """Return a canopy of columns; points in the unknown take the share and mean height of known crowns.

    Single unknown pixels are taken as ground: a mean height would be a solid roof.
    """
    tiles, place = height.grid.tiles, height.placement
    unknown = np.isnan(values_at(height.grid, place.col, place.row))
    known = ~unknown | np.isfinite(said.cover_frac)
    crowns = tiles[tiles > COVERED_M]
    top_m = float(crowns.mean() * CROWN_TOP) if crowns.size else np.nan
    under_crown = np.where(np.isnan(tiles), tiles, tiles > COVERED_M)
    covered = replace(height, grid=replace(height.grid, tiles=under_crown))
    picture = canopy_picture(covered)
    share_mean = fill_unknown(covered)
    near_share = values_at(covered.grid, place.col, place.row)
    near_share = np.where(np.isnan(near_share), share_mean, near_share)
    np.nan_to_num(tiles, copy=False)
    tiles.setflags(write=False)
    canopy = _without_rasters(
        sources,
        replace(
            said,
            cover_frac=_where_silent(said.cover_frac, unknown, near_share),
            height_m=_where_silent(said.height_m, unknown, top_m),
        ),
    )
    canopy = replace(
        canopy,
        height_m=height.grid,
        placement=place,
        files=height.files,
        data_frac=float(known.mean()),
        warnings=height.warnings + _unknown_note(known),
    )
    return CanopyRead(canopy=canopy, picture=picture)


def _without_rasters(sources: CanopySources, said: Said) -> Canopy:
    """Return the canopy of what was said and the constants."""
    side = SIDES[sources.drive_side]
    everywhere = np.full(len(said.road_width_m), True)
    width_m = _road_width_m(sources, said)
    offset_m = _where_silent(said.lane_offset_m, everywhere, sources.trees.lane_offset_m)
    return Canopy(
        cover_frac=None,
        height_m=None,
        placement=None,
        uniform_cover_frac=said.cover_frac,
        uniform_height_m=said.height_m,
        default_height_m=np.full_like(width_m, sources.height_m),
        road_width_m=width_m,
        lane_offset_m=side * offset_m,
        trees=(sources.trees,),
    )


def _road_width_m(sources: CanopySources, said: Said) -> FloatArray:
    usual_m = ROAD_WIDTH_M if np.isnan(sources.road_width_m) else sources.road_width_m
    return _where_silent(said.road_width_m, np.full(len(said.road_width_m), True), usual_m)


def _where_silent(said: FloatArray, missing: BoolArray, value: FloatArray | float) -> FloatArray:
    """Return what was said; where nothing was, and data are missing too, the given value."""
    result: FloatArray = np.where(np.isnan(said) & missing, value, said)
    return result


def _height_notes(height: RasterAlong | None) -> tuple[str, ...]:
    """Return what is to be said about the heights beside a cover raster."""
    if height is None or height.data_frac == 1.0:
        return () if height is None else height.warnings
    return (
        *height.warnings,
        f"tree heights are unknown on {1 - height.data_frac:.1%} of the route; there they are taken as the "
        "mean of those known within 1 km, else of all",
    )


def _unknown_note(known: BoolArray) -> tuple[str, ...]:
    """Return the warning about unknown stretches, or none."""
    if known.all():
        return ()
    return (
        f"the canopy is unknown on {1 - known.mean():.1%} of the route; there it is taken as the mean of what "
        "is known within 1 km, else of the whole route",
    )
