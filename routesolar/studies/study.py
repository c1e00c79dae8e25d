"""A study as it is asked for: which drives are computed together, typed and checked once."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Self, TypeVar

from routesolar.errors import UsageError
from routesolar.files.digest import digest_of, source_digest
from routesolar.files.reading import PathText
from routesolar.files.rigfile import read_rig
from routesolar.files.stated import Stated, overridden
from routesolar.files.study_folder import SCHEMA, Part, folder_name
from routesolar.files.studyfile import read_study_file
from routesolar.files.tripfile import read_trip_file
from routesolar.files.values import is_quantity
from routesolar.files.wording import read_text, sky_name
from routesolar.limits import limit_of
from routesolar.trip.names import printable
from routesolar.trip.noun import Noun
from routesolar.trip.rig import Rig
from routesolar.trip.sky import Sky
from routesolar.trips.assembling import skies_of
from routesolar.trips.sources import SEASONS
from routesolar.trips.trip import Trip
from routesolar.trips.words import path_of
from routesolar.version import SOFTWARE

DAY_S = 86_400.0
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Study(Noun):
    """Every route with every rig, leaving on all dates at all clock times, under all skies and in all seasons.

    Routes are trips and rigs nouns, each under its name. `departures_s` are seconds after midnight on the
    clocks where a route starts. Without rigs every trip has its own, without skies its first, without seasons
    its own.

    >>> from datetime import date
    >>> import routesolar as rs
    >>> north = rs.route_from_arrays([50.0, 50.1], [10.0, 10.0], name="north")
    >>> trip = rs.Trip.along(north, panel="200W", speed="60km/h")
    >>> days = tuple(date(2026, month, 21) for month in range(1, 13))
    >>> rs.Study(routes={"north": trip}, dates=days, departures_s=(28_800.0, 43_200.0), skies=("fair",)).count
    24
    """

    routes: Mapping[str, Trip]
    rigs: Mapping[str, Rig] = field(default_factory=dict)
    dates: tuple[date, ...]
    departures_s: tuple[float, ...]
    skies: tuple[str, ...] = ()
    seasons: tuple[str, ...] = ()
    name: str = "study"

    def __post_init__(self) -> None:
        for name in ("routes", "dates", "departures_s"):
            if not getattr(self, name):
                raise UsageError(f"{name} of a study are empty; give at least one")
        for name in ("dates", "departures_s", "skies", "seasons"):
            if len(set(getattr(self, name))) < len(getattr(self, name)):
                raise UsageError(f"{name} of a study hold one twice; keep one of them")
        if not all(0 <= clock_s < DAY_S for clock_s in self.departures_s):
            raise UsageError("departures_s are seconds after midnight: give them from 0 to 86399")
        for sky in self.skies:
            sky_name(sky)
        if wrong := [season for season in self.seasons if season not in SEASONS]:
            raise UsageError(f"season is {wrong[0]!r}; give one of {', '.join(SEASONS)}")
        for route, trip in self.routes.items():
            if not self.rigs and trip.rig is None:
                raise UsageError(f'{route} has no rig, nor has the study; write rigs = ["van.toml", "200W"]')
        folders = [folder_name(route) for route in self.routes]
        if len(set(map(str.casefold, folders))) < len(folders):
            raise UsageError("two routes of a study would lie in one folder; give their files other names")
        self._check_size()

    def _check_size(self) -> None:
        points = sum(len(trip.route.latitude_deg) for trip in self.routes.values())
        sizes = {
            "dates of a study": len(self.dates),
            "drives of a part": self.count // (len(self.routes) * len(self.dates)),
            "drives of a study": self.count,
            "points of a study": points,
        }
        for what, size in sizes.items():
            if size > limit_of(what):
                raise UsageError(f"{what}: {size:,}, more than {limit_of(what):,}; divide it into several")

    @property
    def count(self) -> int:
        """How many drives it has."""
        each = (self.rigs, self.skies, self.seasons)
        combined = len(self.routes) * len(self.dates) * len(self.departures_s)
        for several in each:
            combined *= max(len(several), 1)
        return combined

    @property
    def counts(self) -> dict[str, int]:
        """How many of each are combined, and how many drives that makes."""
        return {
            "routes": len(self.routes),
            "rigs": max(len(self.rigs), 1),
            "dates": len(self.dates),
            "departures": len(self.departures_s),
            "skies": max(len(self.skies), 1),
            "seasons": max(len(self.seasons), 1),
            "drives": self.count,
        }

    @property
    def time_zone(self) -> str:
        """The zone of the times in its tables: that of its routes, UTC where they lie in several."""
        zones = {trip.time_zone for trip in self.routes.values()}
        return zones.pop() if len(zones) == 1 else "UTC"

    def parts(self) -> Iterator[Part]:
        """Return what is computed and written together, date by date of each route."""
        for route in self.routes:
            for day in self.dates:
                yield Part(folder_name(route), day)

    @classmethod
    def read(cls, path: Path) -> Self:
        """Return the study of a file."""
        stated = read_study_file(path)
        return cls(
            routes=_named(path, "routes", [(each.stem, _trip(each)) for each in stated.routes]),
            rigs=_named(path, "rigs", [_rig(each) for each in stated.rigs]),
            dates=stated.dates,
            departures_s=stated.departures_s,
            skies=stated.skies,
            seasons=stated.seasons,
            name=stated.name,
        )


def read_study(path: PathText) -> Study:
    """Return the study of a study file.

    Raises:
        InputError: it or a file that it names cannot be used; the message lists all that is wrong with it.
        UsageError: it asks for nothing, or for more than is taken in.
    """
    return Study.read(path_of(path, "path"))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class RouteDrives(Noun):
    """All that a worker needs for the drives of one route; `made_of` says what they rest on, name by name."""

    name: str
    trip: Trip
    rigs: Mapping[str, Rig]
    skies: Mapping[str, Sky]
    seasons: tuple[str, ...]
    departures_s: tuple[float, ...]
    time_zone: str
    made_of: Mapping[str, str]

    def record(self) -> dict[str, object]:
        """Return what the tables of its parts say they rest on."""
        return {"schema": SCHEMA, "software": SOFTWARE, "route": self.name, "made_of": dict(self.made_of)}


def drives_of(study: Study, route: str) -> RouteDrives:
    """Return what a worker needs for the drives of one route of a study.

    Raises:
        InputError: a raster or map cannot be read.
    """
    trip = study.routes[route]
    rigs = study.rigs or {_rig_name(trip.fitted()): trip.fitted()}
    skies = {sky: _sky(trip, sky) for sky in study.skies} or {trip.skies[0].name: trip.skies[0]}
    seasons = study.seasons or (trip.sources.season,)
    sources = trip.sources
    rasters = [*sources.canopy, *sources.canopy_heights, *sources.leaf_type, *sources.terrain, *sources.surface]
    said = replace(
        sources, map=(), canopy=(), canopy_heights=(), leaf_type=(), terrain=(), surface=(), season="auto"
    )
    options = (study.departures_s, study.time_zone, seasons)
    return RouteDrives(
        name=route,
        trip=trip,
        rigs=rigs,
        skies=skies,
        seasons=seasons,
        departures_s=study.departures_s,
        time_zone=study.time_zone,
        made_of={
            "software": SOFTWARE,
            "departures, seasons, zone": digest_of(options),
            f"route {route}": digest_of((trip.route, trip.plan, trip.time_zone, said)),
            **{f"raster or map {_last(source)}": source_digest(source) for source in (*sources.map, *rasters)},
            **{f"rig {name}": digest_of(rig) for name, rig in rigs.items()},
            **{f"sky {name}": digest_of(sky) for name, sky in skies.items()},
        },
    )


def _last(source: str) -> str:
    return printable(source.replace("\\", "/").rsplit("/", 1)[-1])


def _sky(trip: Trip, word: str) -> Sky:
    return skies_of(overridden(trip.stated(), Stated(sky=word)), trip.route)[0]


def _trip(path: Path) -> Trip:
    """Return the trip of a trip file, or along a GPX file with its recorded times."""
    return Trip.of(read_trip_file(path) if path.suffix.lower() == ".toml" else Stated(routes=(path,)))


def _rig(text: str) -> tuple[str, Rig]:
    """Return a rig and its name: a rating is its own."""
    if is_quantity(text, "power"):
        rig: Rig = read_text("panel", text)
        return text, rig
    return Path(text).stem, read_rig(Path(text))


def _rig_name(rig: Rig) -> str:
    if rig.file is not None:
        return Path(rig.file.name).stem
    return f"{sum(panel.rated_w for panel in rig.panels):g}W"


def _named(path: Path, key: str, pairs: list[tuple[str, _T]]) -> dict[str, _T]:
    """Return things under their names, which must differ."""
    names = [name for name, _ in pairs]
    if twice := [name for name in names if names.count(name) > 1]:
        raise UsageError(f"{path}: two {key} are called {printable(twice[0])}; give their files other names")
    return dict(pairs)
