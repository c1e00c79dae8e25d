"""Read GPX files into one route: checked positions, metres, UTC seconds."""

import math
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np

from routesolar.errors import InputError, UsageError
from routesolar.files.gpx_scan import ScannedPoint, scan
from routesolar.files.reading import printable, read_whole, source_file
from routesolar.trip.route import Route, SourceFile, Waypoint

LIMIT_BYTES = 50_000_000
# Land lies between -430 m (Dead Sea shore) and 8849 m; beyond this an <ele> is a device's "unknown".
ELEVATION_RANGE_M = (-500.0, 9000.0)
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)


class _Track(NamedTuple):
    """One file's line: rows of latitude, longitude, elevation, time; the stroke of each; its waypoints."""

    rows: list[tuple[float, float, float, float]]
    strokes: list[int]
    waypoints: list[Waypoint]
    source: SourceFile
    warnings: list[str]


def read_route(paths: Sequence[Path]) -> Route:
    """Return the files' lines, in the order given, as one route; WGS 84 degrees, metres, UTC seconds.

    Tracks are used where a file has both tracks and routes. Missing or unreadable elevations and times are
    NaN; unreadable ones are counted in the warnings. Files without offset in their times are UTC, as the
    format says. Raises InputError naming the file and line where a file is not GPX, has no line, or has a
    position off the globe.
    """
    if not paths:
        raise UsageError("no route given; name a GPX file, such as: drive.gpx")
    tracks = [_read_track(Path(path)) for path in paths]
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


def _read_track(path: Path) -> _Track:
    content = read_whole(path, LIMIT_BYTES)
    points = scan(content, path)
    kinds = {kind: [point for point in points if point.kind == kind] for kind in ("trkpt", "rtept", "wpt")}
    line = kinds["trkpt"] or kinds["rtept"]
    if not line:
        what = f"only waypoints ({len(kinds['wpt'])})" if kinds["wpt"] else "no track and no route"
        raise InputError(f"{path}: holds {what}, so there is no line to drive; export a track or a route")
    warnings = []
    if kinds["trkpt"] and kinds["rtept"]:
        warnings.append(f"{path.name} holds a track and a route; the track is used")
    places = [_position(point, number, path) for number, point in enumerate(line, 1)]
    elevations = [_elevation_m(point) for point in line]
    times = [_time_utc_s(point) for point in line]
    for what, tag, values in (("elevation", "ele", elevations), ("time", "time", times)):
        bad = sum(
            math.isnan(value) and bool(point.texts.get(tag)) for value, point in zip(values, line, strict=True)
        )
        if bad:
            warnings.append(
                f"{path.name}: the {what} of {bad} of {len(line)} points is unusable and was left out"
            )
    rows = [(*place, up, when) for place, up, when in zip(places, elevations, times, strict=True)]
    strokes = [point.stroke for point in line]
    return _Track(rows, strokes, _waypoints(kinds["wpt"], path), source_file(path, content), warnings)


def _waypoints(points: list[ScannedPoint], path: Path) -> list[Waypoint]:
    """Return the named waypoints; a nameless one marks nothing a traveller could read."""
    named = []
    for number, point in enumerate(points, 1):
        latitude_deg, longitude_deg = _position(point, number, path)
        name = printable(point.texts.get("name", ""))
        if name:
            named.append(Waypoint(name=name, latitude_deg=latitude_deg, longitude_deg=longitude_deg))
    return named


def _position(point: ScannedPoint, number: int, path: Path) -> tuple[float, float]:
    return (
        _coordinate(point.latitude, "latitude", 90.0, point, number, path),
        _coordinate(point.longitude, "longitude", 180.0, point, number, path),
    )


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
    if moment is None:
        return math.nan
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
