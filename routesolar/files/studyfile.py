"""Read a study file: which routes, rigs, dates, departures, skies and seasons are to be computed together."""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Annotated

from pydantic import Field, PlainValidator, model_validator
from pydantic_core import PydanticCustomError

from routesolar.errors import InputError, UsageError
from routesolar.files import values
from routesolar.files.beside import found_beside
from routesolar.files.reading import printable
from routesolar.files.toml_checked import TomlTable, read_checked
from routesolar.files.trip_tables import Clock, Texts
from routesolar.files.wording import day_of, read_text, sky_name
from routesolar.limits import limit_of

DAY_S, SHORTEST_EVERY_S = 86_400.0, 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyStated:
    """What a study file states; routes and rigs are files, a rig may be a rating such as "200W".

    Departures are seconds after midnight on the clocks where a route starts. Skies and seasons are empty where
    those of the trip files hold, rigs where theirs do.
    """

    name: str
    routes: tuple[Path, ...]
    rigs: tuple[str, ...]
    dates: tuple[date, ...]
    departures_s: tuple[float, ...]
    skies: tuple[str, ...]
    seasons: tuple[str, ...]


def read_study_file(path: Path) -> StudyStated:
    """Return what a study file states, paths resolved; InputError that lists everything wrong with it."""
    table = read_checked(path, StudyTable)
    if not _several(table.routes):
        raise InputError(f'{path}: routes names no file; write it as routes = ["coast.toml", "forest.toml"]')
    return StudyStated(
        name=path.stem,
        routes=tuple(Path(found_beside(path.parent, name)) for name in _several(table.routes)),
        rigs=tuple(
            name if values.is_quantity(name, "power") else found_beside(path.parent, name)
            for name in _several(table.rigs)
        ),
        dates=_dates(table.dates),
        departures_s=_departures_s(table.departures),
        skies=tuple(_several(table.skies)),
        seasons=tuple(_several(table.seasons)),
    )


def _day(value: object) -> date:
    """Return a day; it may stand without quotes, as TOML's own kind."""
    if not isinstance(value, str | date):
        raise PydanticCustomError("string_type", "Input should be a valid string")
    return day_of(value if isinstance(value, str) else value.isoformat())


def _days(value: object) -> int:
    """Return how many days lie between two dates of "10d"."""
    if not isinstance(value, str):
        raise PydanticCustomError("string_type", "Input should be a valid string")
    days = values.duration_s(value, "every") / DAY_S
    if days != int(days):
        raise UsageError(f'every is "{printable(value)}"; between dates give whole days, such as 10d')
    return int(days)


def _seconds(value: object) -> float:
    """Return the time between two departures of "30min"."""
    if not isinstance(value, str):
        raise PydanticCustomError("string_type", "Input should be a valid string")
    seconds = values.duration_s(value, "every")
    if seconds % SHORTEST_EVERY_S:
        raise UsageError(f'every is "{printable(value)}"; between departures give whole minutes, such as 30min')
    return seconds


def _word(option: str, value: object) -> str:
    """Return a word that means something under an option, as it stands."""
    if not isinstance(value, str):
        raise PydanticCustomError("string_type", "Input should be a valid string")
    read_text(option, value)
    return value


Day = Annotated[date, PlainValidator(_day)]
Sky = Annotated[str, PlainValidator(lambda value: sky_name(_word("sky", value)))]
Season = Annotated[str, PlainValidator(partial(_word, "season"))]


class DatesTable(TomlTable):
    """The [dates] from one day to another."""

    from_: Annotated[Day, Field(alias="from")]
    to: Day
    every: Annotated[int, PlainValidator(_days)] = 1

    @model_validator(mode="after")
    def _forward(self) -> "DatesTable":
        if self.to < self.from_:
            raise ValueError(f"to ({self.to}) lies before from ({self.from_})")
        return self


class DeparturesTable(TomlTable):
    """The [departures] from one clock time to another."""

    from_: Annotated[Clock, Field(alias="from")]
    to: Clock
    every: Annotated[float, PlainValidator(_seconds)] = 3600.0

    @model_validator(mode="after")
    def _forward(self) -> "DeparturesTable":
        if self.to < self.from_:
            raise ValueError("to lies before from; departures are those of one day")
        return self


class StudyTable(TomlTable):
    """What is computed together: all routes with all rigs at all dates and departures, under all skies."""

    routes: Texts
    rigs: Texts | None = None
    dates: Day | list[Day] | DatesTable
    departures: Clock | list[Clock] | DeparturesTable
    skies: Sky | list[Sky] | None = None
    seasons: Season | list[Season] | None = None

    @model_validator(mode="after")
    def _each_once(self) -> "StudyTable":
        for key in ("routes", "rigs", "dates", "departures", "skies", "seasons"):
            given = getattr(self, key)
            if isinstance(given, list) and not given:
                raise ValueError(f"{key} is an empty list; name at least one, or leave the key out")
            if isinstance(given, list) and len(set(given)) < len(given):
                twice = next(each for each in given if given.count(each) > 1)
                raise ValueError(f"{key} names {_shown(key, twice)} twice; keep one of them")
        return self


def _shown(key: str, value: object) -> str:
    if key == "departures" and isinstance(value, float):
        return f"{int(value // 3600):02d}:{int(value % 3600 // 60):02d}"
    return printable(str(value), 60)


def _dates(given: "date | list[date] | DatesTable") -> tuple[date, ...]:
    if not isinstance(given, DatesTable):
        return tuple(sorted(given)) if isinstance(given, list) else (given,)
    count = (given.to - given.from_).days // given.every + 1
    if count > limit_of("dates of a study"):
        raise UsageError(
            f"dates are {count:,}, more than {limit_of('dates of a study'):,}; give a larger every"
        )
    return tuple(given.from_ + timedelta(days=number * given.every) for number in range(count))


def _departures_s(given: "float | list[float] | DeparturesTable") -> tuple[float, ...]:
    if not isinstance(given, DeparturesTable):
        return tuple(sorted(given)) if isinstance(given, list) else (given,)
    count = int((given.to - given.from_) // given.every) + 1
    return tuple(given.from_ + number * given.every for number in range(count))


def _several(names: str | list[str] | None) -> list[str]:
    return [] if names is None else [names] if isinstance(names, str) else names
