"""The drives of one route on one date, in one go: the road is looked at once for all rigs and skies."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta

from routesolar.errors import RoutesolarError
from routesolar.files.digest import digest_of
from routesolar.files.parquet import parquet_bytes
from routesolar.model.scene import Scene
from routesolar.studies.rows import TABLES, DriveRows, Row, failed_row, rows_of
from routesolar.studies.study import RouteDrives
from routesolar.timetable import departure_at
from routesolar.trip.names import printable
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Surroundings
from routesolar.trips.around import Roadside, in_season, roadside_of
from routesolar.trips.harvesting import harvest, scenes
from routesolar.trips.trip import Trip

TRIES = 3  # of a part whose process ends


def computed_part(drives: RouteDrives, day: date) -> dict[str, bytes]:
    """Return the tables of a route's drives on a date, as Parquet: a worker's whole task."""
    return as_tables(drives, list(_rows(drives, day)))


def failed_part(drives: RouteDrives, day: date, why: str) -> dict[str, bytes]:
    """Return the tables of drives of which no process came back: a row each, with its error."""
    return as_tables(drives, [failed_row(which, why) for which, *_ in _all(drives, day)])


def as_tables(drives: RouteDrives, rows: Sequence[DriveRows]) -> dict[str, bytes]:
    """Return rows as the tables of a part."""
    return {
        table: parquet_bytes(
            columns, [row for each in rows for row in getattr(each, table)], drives.record(), drives.time_zone
        )
        for table, columns in TABLES.items()
    }


def _all(drives: RouteDrives, day: date) -> Iterator[tuple[Row, str, float, str, str]]:
    """Return the drives in the order of their rows: what tells each apart, season, clock, rig and sky."""
    for season in drives.seasons:
        for clock_s in drives.departures_s:
            clock = f"{int(clock_s // 3600):02d}:{int(clock_s % 3600 // 60):02d}"
            for rig in drives.rigs:
                for sky in drives.skies:
                    which = {"route": drives.name, "rig": rig, "sky": sky, "season": season}
                    yield which | {"depart_date": day, "depart_clock": clock}, season, clock_s, rig, sky


def _rows(drives: RouteDrives, day: date) -> Iterator[DriveRows]:
    found: tuple[str, float] | None = None
    scene_of: Mapping[str, Scene | str] = {}
    for which, season, clock_s, rig, sky in _all(drives, day):
        if found != (season, clock_s):
            found, scene_of = (season, clock_s), _scenes(drives, day, season, clock_s)
        scene = scene_of[rig]
        if isinstance(scene, str):
            yield failed_row(which, scene)
            continue
        try:
            yield rows_of(which, harvest(scene, drives.skies[sky]))
        except Exception as error:  # a drive that fails is a row, not the end
            yield failed_row(which, _why(error))


def _scenes(drives: RouteDrives, day: date, season: str, clock_s: float) -> dict[str, Scene | str]:
    """Return the scene of every rig at a departure, or why there is none."""
    trip = drives.trip
    found: dict[str, Scene | str] = {}
    try:
        leaving = datetime.combine(day, time()) + timedelta(seconds=clock_s)
        trip = replace(
            trip,
            departure=departure_at(leaving, trip.time_zone),
            sources=replace(trip.sources, season=season),
        )
        segments = trip.drive()
    except Exception as error:
        return dict.fromkeys(drives.rigs, _why(error))
    for height_m in dict.fromkeys(rig.roof_height_m for rig in drives.rigs.values()):
        alike = {name: rig for name, rig in drives.rigs.items() if rig.roof_height_m == height_m}
        found |= _behind_trees(drives, trip, segments, alike)
    return found


def _behind_trees(
    drives: RouteDrives, trip: Trip, segments: Segments, rigs: Mapping[str, Rig]
) -> dict[str, Scene | str]:
    """Return the scenes of rigs of one height, or why there are none; one that fails takes no other along."""
    try:
        around = _around(drives, replace(trip, rig=next(iter(rigs.values()))), segments)
        return dict(zip(rigs, scenes(segments, tuple(rigs.values()), around), strict=True))
    except Exception as error:
        if len(rigs) == 1:
            return dict.fromkeys(rigs, _why(error))
    return {
        name: scene
        for one, rig in rigs.items()
        for name, scene in _behind_trees(drives, trip, segments, {one: rig}).items()
    }


@dataclass
class _Known:
    """What stands along the road of the route at hand, for panels of each height."""

    route: str = ""
    roadsides: dict[float, tuple[Segments, Roadside]] = field(default_factory=dict)


_KNOWN = _Known()  # of this process: one route's at a time, so that memory does not grow


def _around(drives: RouteDrives, trip: Trip, segments: Segments) -> Surroundings:
    """Return trees and hills along a drive; what does not depend on the date is read once."""
    route = digest_of(drives.made_of)
    if _KNOWN.route != route:
        _KNOWN.route, _KNOWN.roadsides = route, {}
    height_m = trip.fitted().roof_height_m
    known = _KNOWN.roadsides.get(height_m)
    if known is None or not _same_road(known[0], segments):
        known = segments, roadside_of(trip, segments)
        _KNOWN.roadsides[height_m] = known
    return in_season(known[1], trip, segments)


def _same_road(one: Segments, other: Segments) -> bool:
    """Return whether two drives differ in their times alone."""
    if one.count != other.count:
        return False
    times = {name: getattr(other, name) for name in ("start_utc_s", "duration_s", "departure_utc_s")}
    return replace(one, **times, notes=other.notes, warnings=other.warnings) == other


def _why(error: Exception) -> str:
    """Return an error as it stands in a row."""
    text = printable(" ".join(str(error).split()))
    return text if isinstance(error, RoutesolarError) else f"{type(error).__name__}: {text}"
