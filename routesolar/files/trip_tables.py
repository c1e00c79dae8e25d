"""The tables of a trip file: which keys there are, and what each may hold."""

from collections.abc import Callable
from datetime import date, datetime, time
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from routesolar.files.toml_checked import Table
from routesolar.files.values import STRONGEST_WIND_MPS, length_m
from routesolar.files.wording import (
    ALTERNATIVES,
    STEP_M,
    TALLEST_TREE_M,
    check_text,
    clock_s,
    speed_mps,
    stop_at_m,
)
from routesolar.model.sky import named_sky
from routesolar.trip.route import Pace, Stop, Stretch
from routesolar.trip.sky import SkySpan

LONGEST_STOP_MIN = 30 * 1440.0

# Keys that hold a bare number: the option they stand for, and the unit it is written with there.
NUMBERS = {
    "cloud_okta": ("cloud_okta", ""),
    "air_c": ("air", "C"),
    "wind_mps": ("wind", "m/s"),
    "canopy_cover_pct": ("canopy_cover", ""),
    "canopy_height_m": ("canopy_height", "m"),
    "road_width_m": ("road_width", "m"),
    "step_m": ("step", "m"),
}


def _reads(parse: Callable[[str], object]) -> AfterValidator:
    """Return a check that the text can be read; the text itself is kept."""

    def check(text: str) -> str:
        parse(text)
        return text

    return AfterValidator(check)


def _as_text(value: object) -> object:
    """Let dates and times stand without quotes, as TOML's own kinds."""
    if isinstance(value, datetime):
        return value.isoformat(" ")
    return value.isoformat() if isinstance(value, date | time) else value


Clock = Annotated[str, _reads(clock_s)]
Distance = Annotated[str, _reads(length_m)]
Speed = Annotated[str, _reads(speed_mps)]
Percent = Annotated[float, Field(ge=0, le=100)]
Share = Annotated[float, Field(ge=0, le=1)]
TreeHeight = Annotated[float, Field(gt=0, le=TALLEST_TREE_M)]
RoadWidth = Annotated[float, Field(ge=0, le=1000)]
LaneOffset = Annotated[float, Field(ge=0, le=30)]
CrownBase = Annotated[float, Field(ge=0, lt=1)]
CrownRatio = Annotated[float, Field(gt=0, le=10)]
HeightSpread = Annotated[float, Field(ge=0, le=0.5)]
WidthBetween = Literal["opening", "trunks", "crowns"]
Texts = str | list[str]


class StopTable(Table):
    """One [[stop]]."""

    at: Annotated[str, _reads(stop_at_m)]
    minutes: Annotated[float, Field(gt=0, le=LONGEST_STOP_MIN)] | None = None
    until: Clock | None = None
    heading_deg: Annotated[float, Field(ge=0, le=360)] | None = None
    roofed: bool = False

    @model_validator(mode="after")
    def _one_end(self) -> "StopTable":
        if (self.minutes is None) == (self.until is None):
            raise ValueError('a stop needs either minutes or until = "12:30"')
        return self

    def noun(self) -> Stop:
        """Return the planned stop."""
        return Stop(
            at=self.at,
            at_m=stop_at_m(self.at),
            duration_s=None if self.minutes is None else self.minutes * 60,
            until=self.until,
            heading_deg=self.heading_deg,
            roofed=self.roofed,
        )


class _Between(Table):
    from_: Annotated[Distance, Field(alias="from")]
    to: Distance

    @model_validator(mode="after")
    def _forward(self) -> "_Between":
        if length_m(self.to) <= length_m(self.from_):
            raise ValueError(f"to ({self.to}) has to lie beyond from ({self.from_})")
        return self


class PaceTable(_Between):
    """One [[pace]]: the speed between two distances, and the width of the road driven at it."""

    speed: Speed
    road_width_m: RoadWidth | None = None

    def noun(self) -> Pace:
        """Return the pace, in metres and m/s."""
        return Pace(
            from_m=length_m(self.from_),
            to_m=length_m(self.to),
            speed_mps=speed_mps(self.speed),
            road_width_m=self.road_width_m,
        )


class SurroundingsTable(_Between):
    """One [[surroundings]]: what the driver knows between two distances; all of [trees] but the raster."""

    canopy_cover_pct: Percent | None = None
    canopy_height_m: TreeHeight | None = None
    road_width_m: RoadWidth | None = None
    road_width_between: WidthBetween | None = None
    lane_offset_m: LaneOffset | None = None
    crown_base_frac: CrownBase | None = None
    crown_ratio: CrownRatio | None = None
    height_spread_frac: HeightSpread | None = None
    evergreen_frac: Share | None = None
    crown_transmittance_frac: Share | None = None
    roofed: bool = False

    @model_validator(mode="after")
    def _says_something(self) -> "SurroundingsTable":
        said = self.model_dump(exclude={"from_", "to"})
        if not any(value is not None and value is not False for value in said.values()):
            raise ValueError(f"says nothing; give {', '.join(list(said)[:-1])} or {list(said)[-1]}")
        return self

    def noun(self) -> Stretch:
        """Return the stretch, in metres and shares."""
        return Stretch(
            from_m=length_m(self.from_),
            to_m=length_m(self.to),
            canopy_cover_frac=None if self.canopy_cover_pct is None else self.canopy_cover_pct / 100,
            canopy_height_m=self.canopy_height_m,
            road_width_m=self.road_width_m,
            road_width_between=self.road_width_between,
            lane_offset_m=self.lane_offset_m,
            crown_base_frac=self.crown_base_frac,
            crown_ratio=self.crown_ratio,
            height_spread_frac=self.height_spread_frac,
            evergreen_frac=self.evergreen_frac,
            crown_transmittance_frac=self.crown_transmittance_frac,
            roofed=self.roofed,
        )


class TreesTable(Table):
    """The [trees] of the whole trip, where no [[surroundings]] says otherwise."""

    crown_base_frac: CrownBase = 0.30
    crown_ratio: CrownRatio = 1.75
    crown_transmittance_frac: Share | None = None
    road_width_between: WidthBetween = "opening"
    lane_offset_m: LaneOffset = 1.75
    height_spread_frac: HeightSpread = 0.0
    evergreen_frac: Share = 0.0
    leaf_type: Texts | None = None


class SkyTable(Table):
    """One [[sky]]: another sky between two clock times."""

    from_: Annotated[Clock, Field(alias="from")]
    to: Clock
    sky: Annotated[str, _reads(named_sky)]

    @model_validator(mode="after")
    def _lasts(self) -> "SkyTable":
        if clock_s(self.from_) == clock_s(self.to):
            raise ValueError(f"from and to are both {self.to}, so this sky never stands; let it last")
        return self

    def noun(self) -> SkySpan:
        """Return the span of the day, in seconds after midnight."""
        return SkySpan(from_clock_s=clock_s(self.from_), to_clock_s=clock_s(self.to), name=self.sky)


class TripTable(Table):
    """The options of the command line: texts under the same word, bare numbers with their unit after it."""

    route: Texts
    rig: str | None = None
    panel: str | None = None
    depart: Annotated[str | None, BeforeValidator(_as_text)] = None
    speed: str | None = None
    legs: str | None = None
    sky: str | list[SkyTable] | None = None
    cloud_okta: Annotated[float, Field(ge=0, le=8)] | None = None
    weather: str | None = None
    forecast: str | None = None
    air: str | None = None
    air_c: Annotated[float, Field(ge=-90, le=60)] | None = None
    wind: str | None = None
    wind_mps: Annotated[float, Field(ge=0, le=STRONGEST_WIND_MPS)] | None = None
    canopy: Texts | None = None
    canopy_cover: str | None = None
    canopy_cover_pct: Percent | None = None
    canopy_height: str | None = None
    canopy_height_m: TreeHeight | None = None
    terrain: Texts | None = None
    road_width: str | None = None
    road_width_m: RoadWidth | None = None
    drive_side: str | None = None
    season: str | None = None
    step: str | None = None
    step_m: Annotated[float, Field(ge=STEP_M[0], le=STEP_M[1])] | None = None
    tz: str | None = None
    units: str | None = None
    also: str | None = None
    strict: bool = False
    trees: TreesTable | None = None
    stop: tuple[StopTable, ...] = Field(default=(), strict=False)
    pace: tuple[PaceTable, ...] = Field(default=(), strict=False)
    surroundings: tuple[SurroundingsTable, ...] = Field(default=(), strict=False)

    @field_validator("*")
    @classmethod
    def _can_be_read(cls, value: Any, info: ValidationInfo) -> Any:
        if isinstance(value, str):
            check_text(str(info.field_name), value)
        return value

    @model_validator(mode="after")
    def _says_one_thing(self) -> "TripTable":
        # A sky for some hours of the day goes together with any other sky.
        said = self.model_fields_set - ({"sky"} if isinstance(self.sky, list) else set())
        for group in (*ALTERNATIVES, *((option,) for option, _ in NUMBERS.values())):
            several = sorted(key for key in said if NUMBERS.get(key, (key, ""))[0] in group)
            if len(several) > 1:
                raise ValueError(f"{' and '.join(several)} contradict each other; keep one of them")
        return self
