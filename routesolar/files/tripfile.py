"""Read a trip file: the route and everything said about one drive, as the command line would say it."""

import re
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from routesolar.errors import InputError, RoutesolarError
from routesolar.files.toml_checked import Table, read_checked
from routesolar.files.values import is_quantity, length_m, speed_mps
from routesolar.trip.route import Pace, Stop, Stretch
from routesolar.trip.sky import SkySpan
from routesolar.trip.surroundings import Trees

_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")


def clock_s(text: str) -> float:
    """Return seconds after midnight of a clock time; ValueError unless it is "HH:MM"."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        raise ValueError(f'"{text}" is not a clock time; write it as "12:30"')
    return int(match[1]) * 3600.0 + int(match[2]) * 60.0


def _reads(parse: Any) -> AfterValidator:
    """Return a check that the text can be read; the text itself is kept."""

    def check(text: str) -> str:
        try:
            parse(text)
        except RoutesolarError as error:
            raise ValueError(str(error)) from None
        return text

    return AfterValidator(check)


def _as_text(value: object) -> object:
    """Let a date and time stand without quotes, as TOML's own kind."""
    return value.isoformat(" ") if isinstance(value, datetime) else value


Clock = Annotated[str, _reads(clock_s)]
Distance = Annotated[str, _reads(length_m)]
Speed = Annotated[str, _reads(speed_mps)]
Percent = Annotated[float, Field(ge=0, le=100)]
Share = Annotated[float, Field(ge=0, le=1)]
Metres = Annotated[float, Field(gt=0)]
Texts = str | list[str]


class _StopTable(Table):
    at: str
    minutes: Annotated[float, Field(gt=0)] | None = None
    until: Clock | None = None
    heading_deg: Annotated[float, Field(ge=0, le=360)] | None = None
    roofed: bool = False

    @model_validator(mode="after")
    def _one_end(self) -> "_StopTable":
        if (self.minutes is None) == (self.until is None):
            raise ValueError('a stop needs either minutes or until = "12:30"')
        return self

    def noun(self) -> Stop:
        return Stop(
            at=self.at,
            at_m=length_m(self.at) if is_quantity(self.at, "length") else None,
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


class _PaceTable(_Between):
    speed: Speed

    def noun(self) -> Pace:
        return Pace(from_m=length_m(self.from_), to_m=length_m(self.to), speed_mps=speed_mps(self.speed))


class _SurroundingsTable(_Between):
    canopy_cover_pct: Percent | None = None
    canopy_height_m: Metres | None = None
    road_width_m: Annotated[float, Field(ge=0)] | None = None
    roofed: bool = False

    def noun(self) -> Stretch:
        return Stretch(
            from_m=length_m(self.from_),
            to_m=length_m(self.to),
            canopy_cover_frac=None if self.canopy_cover_pct is None else self.canopy_cover_pct / 100,
            canopy_height_m=self.canopy_height_m,
            road_width_m=self.road_width_m,
            roofed=self.roofed,
        )


class _TreesTable(Table):
    crown_base_frac: Annotated[float, Field(ge=0, lt=1)] = 0.30
    crown_ratio: Annotated[float, Field(gt=0, le=10)] = 1.75
    crown_transmittance_frac: Share | None = None
    road_width_between: Literal["opening", "trunks", "crowns"] = "opening"
    lane_offset_m: Annotated[float, Field(ge=0, le=30)] = 1.75
    height_spread_frac: Annotated[float, Field(ge=0, le=0.5)] = 0.0
    evergreen_frac: Share = 0.0
    leaf_type: Texts | None = None


class _SkyTable(Table):
    from_: Annotated[Clock, Field(alias="from")]
    to: Clock
    sky: str

    def noun(self) -> SkySpan:
        return SkySpan(from_clock_s=clock_s(self.from_), to_clock_s=clock_s(self.to), name=self.sky)


class _TripTable(Table):
    route: Texts
    rig: str | None = None
    panel: str | None = None
    depart: Annotated[str | None, BeforeValidator(_as_text)] = None
    speed: Speed | None = None
    legs: str | None = None
    sky: str | list[_SkyTable] | None = None
    cloud_okta: Annotated[float, Field(ge=0, le=8)] | None = None
    weather: str | None = None
    forecast: str | None = None
    air_c: Annotated[float, Field(ge=-90, le=60)] | None = None
    wind_mps: Annotated[float, Field(ge=0, le=100)] | None = None
    canopy: Texts | None = None
    canopy_cover_pct: Percent | None = None
    canopy_height: str | None = None
    canopy_height_m: Metres | None = None
    terrain: Texts | None = None
    road_width: str | None = None
    road_width_m: Annotated[float, Field(ge=0)] | None = None
    drive_side: str | None = None
    season: str | None = None
    step_m: Annotated[float, Field(gt=0)] | None = None
    tz: str | None = None
    units: str | None = None
    also: str | None = None
    strict: bool = False
    seed: int | None = None
    stop: tuple[_StopTable, ...] = Field(default=(), strict=False)
    pace: tuple[_PaceTable, ...] = Field(default=(), strict=False)
    surroundings: tuple[_SurroundingsTable, ...] = Field(default=(), strict=False)
    trees: _TreesTable | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TripFile:
    """What a trip file says. `options` holds the command line's words and texts; paths are resolved.

    `crown_transmittance_frac` None leaves it to the season.
    """

    routes: tuple[Path, ...]
    options: dict[str, Any]
    stops: tuple[Stop, ...] = ()
    paces: tuple[Pace, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    sky_spans: tuple[SkySpan, ...] = ()
    trees: Trees = field(default_factory=Trees)
    crown_transmittance_frac: float | None = None
    leaf_type: tuple[str, ...] = ()


def read_trip(path: Path) -> TripFile:
    """Return a trip file's content; InputError that lists everything wrong with it."""
    table = read_checked(path, _TripTable)
    routes = _several(table.route)
    if not routes:
        raise InputError(f'{path}: route names no file; write it as route = ["coast.gpx"]')
    folder = path.parent
    trees = table.trees or _TreesTable()
    habit = trees.model_dump(exclude={"crown_transmittance_frac", "leaf_type"})
    return TripFile(
        routes=tuple(folder / name for name in routes),
        options=_options(table, folder),
        stops=tuple(stop.noun() for stop in table.stop),
        paces=tuple(pace.noun() for pace in table.pace),
        stretches=tuple(stretch.noun() for stretch in table.surroundings),
        sky_spans=tuple(span.noun() for span in table.sky) if isinstance(table.sky, list) else (),
        trees=Trees(**habit),
        crown_transmittance_frac=trees.crown_transmittance_frac,
        leaf_type=tuple(_beside(folder, name) for name in _several(trees.leaf_type)),
    )


def _options(table: _TripTable, folder: Path) -> dict[str, Any]:
    """Return what the file says in the command line's words; what it does not say is left out."""
    height = None if table.canopy_height_m is None else f"{table.canopy_height_m}m"
    if table.canopy_height is not None:
        raster = not is_quantity(table.canopy_height, "length")
        height = _beside(folder, table.canopy_height) if raster else table.canopy_height
    said = {
        "rig": None if table.rig is None else folder / table.rig,
        "panel": table.panel,
        "depart": table.depart,
        "speed": table.speed,
        "legs": table.legs,
        "sky": table.sky if isinstance(table.sky, str) else None,
        "cloud_okta": _text(table.cloud_okta),
        "weather": None if table.weather is None else folder / table.weather,
        "forecast": table.forecast,
        "air": _text(table.air_c, "C"),
        "wind": _text(table.wind_mps, "m/s"),
        "canopy": [_beside(folder, name) for name in _several(table.canopy)] or None,
        "canopy_cover": _text(table.canopy_cover_pct),
        "canopy_height": height,
        "terrain": [_beside(folder, name) for name in _several(table.terrain)] or None,
        "road_width": table.road_width or _text(table.road_width_m, "m"),
        "drive_side": table.drive_side,
        "season": table.season,
        "step": _text(table.step_m, "m"),
        "tz": table.tz,
        "units": table.units,
        "also": table.also,
        "strict": table.strict or None,
    }
    return {key: value for key, value in said.items() if value is not None}


def _several(names: Texts | None) -> list[str]:
    return [] if names is None else [names] if isinstance(names, str) else names


def _text(number: float | None, unit: str = "") -> str | None:
    return None if number is None else f"{number:g}{unit}"


def _beside(folder: Path, name: str) -> str:
    """Return a path relative to the trip file's folder; a web address stays as it is."""
    return name if "://" in name else str(folder / name)
