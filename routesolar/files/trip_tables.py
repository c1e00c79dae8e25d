"""The tables of a trip file: which keys there are, and what each may hold."""

from collections.abc import Callable
from datetime import date, datetime, time
from functools import partial
from typing import Annotated, Any, Literal

from pydantic import Field, PlainValidator, field_validator, model_validator
from pydantic_core import PydanticCustomError

from routesolar.files.toml_checked import TomlTable
from routesolar.files.values import STRONGEST_WIND_MPS, length_m
from routesolar.files.wording import (
    ALTERNATIVES,
    STEP_M,
    TALLEST_TREE_M,
    clock_s,
    read_text,
    sky_name,
    speed_mps,
    stop_at_m,
    until_of,
)
from routesolar.model.sky import named_sky
from routesolar.timetable.departure import read_departure
from routesolar.trip.rig import Rig
from routesolar.trip.route import MOST_HOURS_A_DAY, LegsBy, LegsEvery, Pace, Route, Stop, Stretch
from routesolar.trip.sky import SkySpan

LONGEST_STOP_MIN = 30 * 1440.0

# Keys that hold a bare number, and the option they stand for.
NUMBERS = {
    "air_c": "air",
    "wind_mps": "wind",
    "canopy_cover_pct": "canopy_cover",
    "canopy_cover_frac": "canopy_cover",
    "canopy_height_m": "canopy_height",
    "road_width_m": "road_width",
    "step_m": "step",
}


def _text(read: Callable[[str], object]) -> PlainValidator:
    """Return a check that a value is text that can be read; what it means is kept."""

    def meaning(value: object) -> object:
        if not isinstance(value, str):
            raise PydanticCustomError("string_type", "Input should be a valid string")
        return read(value)

    return PlainValidator(meaning)


def _option(name: str) -> PlainValidator:
    return _text(partial(read_text, name))


def _departure(value: object) -> object:
    """Return a departure; dates and times may stand without quotes, as TOML's own kinds."""
    if not isinstance(value, str | date | time):  # a datetime is a date
        raise PydanticCustomError("string_type", "Input should be a valid string")
    return read_departure(value if isinstance(value, str) else value.isoformat())


Clock = Annotated[float, _text(clock_s)]
Distance = Annotated[float, _text(length_m)]
Speed = Annotated[float, _text(speed_mps)]
SpeedOrMap = Annotated[float | str, _option("speed")]
Wind = Annotated[float, _option("wind")]
Percent = Annotated[float, Field(ge=0, le=100)]
CoverShare = Annotated[float, Field(ge=0, le=1)]
Share = Annotated[float, Field(ge=0, le=1)]
TreeHeight = Annotated[float, Field(gt=0, le=TALLEST_TREE_M)]
RoadWidth = Annotated[float, Field(ge=0, le=1000)]
LaneOffset = Annotated[float, Field(ge=0, le=30)]
CrownBase = Annotated[float, Field(ge=0, lt=1)]
CrownSlenderness = Annotated[float, Field(gt=0, le=10)]
HeightSpread = Annotated[float, Field(ge=0, le=0.5)]
WidthBetween = Literal["opening", "trunks", "crowns"]
Texts = str | list[str]


def _until(value: object) -> str:
    """Return a time until which one stays; dates and times may stand without quotes."""
    if not isinstance(value, str | date | time):
        raise PydanticCustomError("string_type", "Input should be a valid string")
    return until_of(value if isinstance(value, str) else str(value))


def cover_frac_of(table: "StopTable | SurroundingsTable | TripTable") -> float | None:
    """Return the cover that a table gives in percent or as a share."""
    if table.canopy_cover_pct is None:
        return table.canopy_cover_frac
    return table.canopy_cover_pct / 100


def _check_one_cover(table: "StopTable | SurroundingsTable") -> None:
    if table.canopy_cover_pct is not None and table.canopy_cover_frac is not None:
        raise ValueError("canopy_cover_frac and canopy_cover_pct contradict each other; keep one of them")


class StopTable(TomlTable):
    """One [[stop]]."""

    at: Annotated[tuple[str, float | None], _text(lambda at: (at, stop_at_m(at)))]
    minutes: Annotated[float, Field(gt=0, le=LONGEST_STOP_MIN)] | None = None
    until: Annotated[str, PlainValidator(_until)] | None = None
    heading_deg: Annotated[float, Field(ge=0, le=360)] | None = None
    roofed: bool = False
    canopy_cover_pct: Percent | None = None
    canopy_cover_frac: CoverShare | None = None
    canopy_height_m: TreeHeight | None = None
    road_width_m: RoadWidth | None = None

    @model_validator(mode="after")
    def _one_end(self) -> "StopTable":
        if (self.minutes is None) == (self.until is None):
            raise ValueError('a stop needs either minutes or until = "12:30"')
        _check_one_cover(self)
        return self

    def noun(self) -> Stop:
        """Return the planned stop."""
        at, at_m = self.at
        return Stop(
            at=at,
            at_m=at_m,
            duration_s=None if self.minutes is None else self.minutes * 60,
            until=self.until,
            heading_deg=self.heading_deg,
            roofed=self.roofed,
            canopy_cover_frac=cover_frac_of(self),
            canopy_height_m=self.canopy_height_m,
            road_width_m=self.road_width_m,
        )


class _Between(TomlTable):
    from_: Annotated[Distance, Field(alias="from")]
    to: Distance

    @model_validator(mode="after")
    def _forward(self) -> "_Between":
        if self.to <= self.from_:
            raise ValueError(f"to ({self.to / 1000:g} km) must be beyond from ({self.from_ / 1000:g} km)")
        return self


class PaceTable(_Between):
    """One [[pace]]: the speed between two distances, and the width of the road driven at it."""

    speed: Speed
    road_width_m: RoadWidth | None = None

    def noun(self) -> Pace:
        """Return the pace, in metres and m/s."""
        return Pace(
            from_m=self.from_,
            to_m=self.to,
            speed_mps=self.speed,
            road_width_m=self.road_width_m,
        )


class SurroundingsTable(_Between):
    """One [[surroundings]]: what the driver knows between two distances; all of [trees] but the raster."""

    canopy_cover_pct: Percent | None = None
    canopy_cover_frac: CoverShare | None = None
    canopy_height_m: TreeHeight | None = None
    road_width_m: RoadWidth | None = None
    road_width_between: WidthBetween | None = None
    lane_offset_m: LaneOffset | None = None
    crown_base_frac: CrownBase | None = None
    crown_slenderness: CrownSlenderness | None = None
    height_spread_frac: HeightSpread | None = None
    evergreen_frac: Share | None = None
    crown_transmittance_frac: Share | None = None
    roofed: bool | None = None

    @model_validator(mode="after")
    def _says_something(self) -> "SurroundingsTable":
        said = self.model_dump(exclude={"from_", "to"})
        if not any(value is not None for value in said.values()):
            raise ValueError(f"sets nothing; give {', '.join(list(said)[:-1])} or {list(said)[-1]}")
        return self

    @model_validator(mode="after")
    def _says_one_cover(self) -> "SurroundingsTable":
        _check_one_cover(self)
        return self

    def noun(self) -> Stretch:
        """Return the stretch, in metres and shares."""
        return Stretch(
            from_m=self.from_,
            to_m=self.to,
            canopy_cover_frac=cover_frac_of(self),
            canopy_height_m=self.canopy_height_m,
            road_width_m=self.road_width_m,
            road_width_between=self.road_width_between,
            lane_offset_m=self.lane_offset_m,
            crown_base_frac=self.crown_base_frac,
            crown_slenderness=self.crown_slenderness,
            height_spread_frac=self.height_spread_frac,
            evergreen_frac=self.evergreen_frac,
            crown_transmittance_frac=self.crown_transmittance_frac,
            roofed=self.roofed,
        )


class TreesTable(TomlTable):
    """The [trees] of the whole trip, where no [[surroundings]] says otherwise."""

    crown_base_frac: CrownBase = 0.30
    crown_slenderness: CrownSlenderness = 1.75
    crown_transmittance_frac: Share | None = None
    road_width_between: WidthBetween = "opening"
    lane_offset_m: LaneOffset = 1.75
    height_spread_frac: HeightSpread = 0.0
    evergreen_frac: Share = 0.0
    leaf_type: Texts | None = None


class SkyTable(TomlTable):
    """One [[sky]]: another sky between two clock times; without them, the sky of the rest of the day."""

    from_: Annotated[Clock | None, Field(alias="from")] = None
    to: Clock | None = None
    sky: Annotated[str, _text(sky_name)]

    @model_validator(mode="after")
    def _lasts(self) -> "SkyTable":
        if (self.from_ is None) != (self.to is None):
            raise ValueError("from and to go together; without both it is the sky of the rest of the day")
        if self.from_ is not None and self.from_ == self.to:
            raise ValueError("from and to are the same time, so this sky never applies; give it a duration")
        if self.from_ is not None:
            named_sky(self.sky)
        return self

    def noun(self) -> SkySpan:
        """Return the span of the day, in seconds after midnight."""
        return SkySpan(from_clock_s=self.from_ or 0.0, to_clock_s=self.to or 0.0, name=self.sky)


class TripTable(TomlTable):
    """The options of the command line: texts under the same word, bare numbers with their unit after it."""

    route: Texts | None = None
    at: Annotated[Route, _option("at")] | None = None
    rig: str | None = None
    panel: Annotated[Rig, _option("panel")] | None = None
    depart: Annotated[datetime, PlainValidator(_departure)] | None = None
    until: Annotated[str, PlainValidator(_until)] | None = None
    speed: SpeedOrMap | None = None
    distance: Annotated[float, _option("distance")] | None = None
    drive_from: Annotated[float, _option("drive_from")] | None = None
    hours_a_day: Annotated[float, Field(ge=0.1, le=MOST_HOURS_A_DAY)] | None = None
    legs: Annotated[LegsBy | LegsEvery, _option("legs")] | None = None
    sky: str | list[SkyTable] | None = None
    cloud_okta: Annotated[float, Field(ge=0, le=8)] | None = None
    weather: str | None = None
    forecast: Annotated[str, _option("forecast")] | None = None
    air: Annotated[float, _option("air")] | None = None
    air_c: Annotated[float, Field(ge=-90, le=60)] | None = None
    wind: Wind | None = None
    wind_mps: Annotated[float, Field(ge=0, le=STRONGEST_WIND_MPS)] | None = None
    map: Texts | None = None
    canopy: Texts | None = None
    canopy_cover: Annotated[float, _option("canopy_cover")] | None = None
    canopy_cover_pct: Percent | None = None
    canopy_cover_frac: CoverShare | None = None
    canopy_height: Annotated[float | str, _option("canopy_height")] | None = None
    canopy_height_m: TreeHeight | None = None
    terrain: Texts | None = None
    surface: Texts | None = None
    road_width: Annotated[float | str, _option("road_width")] | None = None
    road_width_m: RoadWidth | None = None
    drive_side: Annotated[str, _option("drive_side")] | None = None
    season: Annotated[str, _option("season")] | None = None
    step: Annotated[float, _option("step")] | None = None
    step_m: Annotated[float, Field(ge=STEP_M[0], le=STEP_M[1])] | None = None
    tz: Annotated[str, _option("tz")] | None = None
    units: Annotated[str, _option("units")] | None = None
    also: Annotated[tuple[str, ...], _option("also")] | None = None
    strict: bool = False
    trees: TreesTable | None = None
    stop: tuple[StopTable, ...] = Field(default=(), strict=False)
    pace: tuple[PaceTable, ...] = Field(default=(), strict=False)
    surroundings: tuple[SurroundingsTable, ...] = Field(default=(), strict=False)

    @field_validator("sky")
    @classmethod
    def _is_a_sky(cls, value: Any) -> Any:
        return sky_name(value) if isinstance(value, str) else value

    @model_validator(mode="after")
    def _says_one_thing(self) -> "TripTable":
        spans = self.sky if isinstance(self.sky, list) else None
        rest = [entry for entry in spans or () if entry.from_ is None]
        if len(rest) > 1:
            raise ValueError("two [[sky]] give neither from nor to; only one can hold for the rest of the day")
        # A sky for some hours of the day goes together with any other sky.
        said = self.model_fields_set - ({"sky"} if spans is not None and not rest else set())
        for group in (*ALTERNATIVES, *((option,) for option in NUMBERS.values())):
            several = sorted(key for key in said if NUMBERS.get(key, key) in group)
            if len(several) > 1:
                raise ValueError(f"{' and '.join(several)} contradict each other; keep one of them")
        return self
