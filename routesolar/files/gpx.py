"""Read GPX files into one route: checked positions, metres, UTC seconds."""

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from os import PathLike
from pathlib import Path
from typing import NamedTuple

import gpxpy
import gpxpy.gpx
import numpy as np

from routesolar.errors import InputError, UsageError
from routesolar.files.gpx_scan import ScannedPoint, plain_gpx, scan
from routesolar.files.reading import PathText, printable, read_whole, source_file
from routesolar.limits import limit_of
from routesolar.timetable.departure import KNOWN_YEARS
from routesolar.trip.route import Route, SourceFile, Waypoint

# Land lies between -430 m (Dead Sea shore) and 8849 m; beyond this an <ele> is a device's "unknown".
ELEVATION_RANGE_M = (-500.0, 9000.0)
INVENTED = "invented"  # a keyword of a file's metadata, for demonstrations
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)


class _Track(NamedTuple):
    """One file's line: rows of latitude, longitude, elevation, time; the stroke of each; its waypoints."""

    rows: list[tuple[float, float, float, float]]
    strokes: list[int]
    waypoints: list[Waypoint]
    source: SourceFile
    warnings: list[str]


def read_route(paths: PathText | Sequence[PathText]) -> Route:
    """Return the files' lines, in the order given, as one route; WGS 84 degrees, metres, UTC seconds.

    Tracks are used where a file has both tracks and routes. Missing or unreadable elevations and times are
    NaN; unreadable ones are counted in the warnings. Files without offset in their times are UTC, as the
    format says. Raises InputError naming the file and line where a file is not GPX, has no line, or has a
    position off the globe.
    """
    if isinstance(paths, str | PathLike):
        paths = [paths]
    if not paths:
        raise UsageError('no route given; name a GPX file, such as drive.gpx, or a place: --at "-41.6,146.5"')
    if len(paths) > limit_of("route files"):
        raise UsageError(
            f"{len(paths):,} route files are more than {limit_of('route files')}; join them, or split"
        )
    left, tracks = limit_of("route points"), []
    for path in paths:
        tracks.append(_read_track(Path(path), left))
        left -= len(tracks[-1].rows)
    rows = np.array([row for track in tracks for row in track.rows])
    strokes = np.array([(index, stroke) for index, track in enumerate(tracks) for stroke in track.strokes])
    lifted = np.any(np.diff(strokes, axis=0) != 0, axis=1)
    return Route(
        name=" + ".join(printable(Path(path).stem) for path in paths),
        files=tuple(track.source for track in tracks),
        latitude_deg=rows[:, 0],
        longitude_deg=rows[:, 1],
        elevation_m=rows[:, 2],
        time_utc_s=rows[:, 3],
        file_index=strokes[:, 0],
        piece=np.concatenate([[0], np.cumsum(lifted)]),
        waypoints=tuple(waypoint for track in tracks for waypoint in track.waypoints),
        warnings=tuple(warning for track in tracks for warning in track.warnings),
    )


def _read_track(path: Path, most_points: int) -> _Track:
    content = read_whole(path, limit_of("route file"))
    scanned = scan(content, path, most_points)
    points = scanned.points
    kinds = {kind: [point for point in points if point.kind == kind] for kind in ("trkpt", "rtept", "wpt")}
    line = kinds["trkpt"] or kinds["rtept"]
    if not line and len(kinds["wpt"]) == 1:
        line = [replace(kinds["wpt"][0], kind="rtept")]  # a place where one stays
    if not line:
        what = f"only waypoints ({len(kinds['wpt'])})" if kinds["wpt"] else "no track and no route"
        raise InputError(
            f"{path}: holds {what}, so there is no line to drive; export a track or a route, or one waypoint "
            "for a place where you stay"
        )
    warnings = []
    invented = INVENTED in scanned.keywords
    if invented:
        warnings.append(f"{path.name} says that it is invented: there is no such road")
    named = [point for point in line if point.kind == "rtept" and point.texts.get("name")]
    if kinds["trkpt"] and kinds["rtept"]:
        warnings.append(f"{path.name} holds a track and a route; the track is used")
    left_out = {"elevation": 0, "time": 0}
    for kind in (line, kinds["wpt"]):
        for number, point in enumerate(kind, 1):
            _check_position(point, number, path)
            if kind is line:
                _drop_unusable(point, left_out)
    for what, bad in left_out.items():
        if bad:
            warnings.append(
                f"{path.name}: the {what} of {bad} of {len(line)} points is unusable and was left out"
            )
    gpx = gpxpy.parse(plain_gpx([*kinds["wpt"], *line]))
    strokes = [segment.points for track in gpx.tracks for segment in track.segments]
    return _Track(
        rows=[_row(point) for stroke in strokes for point in stroke],
        strokes=[number for number, stroke in enumerate(strokes) for _ in stroke],
        waypoints=_waypoints(gpx, named),
        source=replace(
            source_file(path, content),
            title=scanned.title("trk" if kinds["trkpt"] else "rte"),
            invented=invented,
        ),
        warnings=warnings,
    )


def _row(point: gpxpy.gpx.GPXTrackPoint) -> tuple[float, float, float, float]:
    """Return latitude, longitude, elevation and UTC seconds; what is missing is NaN."""
    elevation_m = math.nan if point.elevation is None else point.elevation
    return point.latitude, point.longitude, elevation_m, _utc_s(point.time)


def _utc_s(moment: datetime | None) -> float:
    if moment is None:
        return math.nan
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def _waypoints(gpx: gpxpy.gpx.GPX, named: Sequence[ScannedPoint]) -> list[Waypoint]:
    """Return the named waypoints, then the named points of a route where no waypoint has the name.

    A nameless one marks nothing a traveller could read.
    """
    found = [(printable(point.name or ""), point.latitude, point.longitude, False) for point in gpx.waypoints]
    known = {name.casefold() for name, *_ in found}
    for point in named:
        name = printable(point.texts["name"])
        if name.casefold() not in known:
            found.append((name, _number(point.latitude), _number(point.longitude), True))
    return [
        Waypoint(name=name, latitude_deg=latitude_deg, longitude_deg=longitude_deg, on_route=on_route)
        for name, latitude_deg, longitude_deg, on_route in found
        if name
    ]


def _check_position(point: ScannedPoint, number: int, path: Path) -> None:
    """Raise InputError unless the point lies on the globe."""
    _coordinate(point.latitude, "latitude", 90.0, point, number, path)
    _coordinate(point.longitude, "longitude", 180.0, point, number, path)


def _drop_unusable(point: ScannedPoint, left_out: dict[str, int]) -> None:
    """Take an elevation or time off a point that cannot be one, and count it."""
    for what, tag, usable in (("elevation", "ele", _elevation_m), ("time", "time", _time_utc_s)):
        if point.texts.get(tag) and math.isnan(usable(point)):
            del point.texts[tag]
            left_out[what] += 1


def _coordinate(
    text: str | None, what: str, limit: float, point: ScannedPoint, number: int, path: Path
) -> float:
    value = _number(text)
    if abs(value) <= limit:
        return value
    where = f"{path}, line {point.line}: <{point.kind}> {number} has"
    if text is None:
        raise InputError(f"{where} no {what}; export the track again")
    wrong = (
        "which is not a number (use a decimal point)" if math.isnan(value) else f"beyond {limit:.0f} degrees"
    )
    raise InputError(f'{where} {what} "{printable(text, 40)}", {wrong}; remove or correct the point')


def _number(text: str | None) -> float:
    """Return a decimal number as XML allows it, else NaN; Python's own float() would take 1_0 and nan."""
    return float(text) if text is not None and _NUMBER.fullmatch(text.strip()) else math.nan


def _elevation_m(point: ScannedPoint) -> float:
    value = _number(point.texts.get("ele"))
    lowest, highest = ELEVATION_RANGE_M
    return value if lowest <= value <= highest else math.nan


def _time_utc_s(point: ScannedPoint) -> float:
    text = point.texts.get("time", "")
    try:
        moment = datetime.fromisoformat(text) if "T" in text else None
    except ValueError:
        return math.nan
    return _utc_s(moment) if moment is None or moment.year in KNOWN_YEARS else math.nan
