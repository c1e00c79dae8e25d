"""Routes for tests, built from arrays or written as GPX text."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from routesolar.physics.geodesy import destination
from routesolar.trip.route import Route, SourceFile, Waypoint

START_UTC_S = 1_800_000_000.0


def route_of(
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    *,
    elevation_m: ArrayLike = np.nan,
    time_utc_s: ArrayLike = np.nan,
    piece: ArrayLike = 0,
    file_index: ArrayLike = 0,
    waypoints: Sequence[Waypoint] = (),
) -> Route:
    """Return a route through these points; what is not given is missing."""
    files = int(np.max(file_index)) + 1
    return Route(
        name="drawn",
        files=tuple(SourceFile(name=f"part{number}.gpx", sha256="0" * 64) for number in range(1, files + 1)),
        latitude_deg=np.asarray(latitude_deg, dtype=float),
        longitude_deg=np.asarray(longitude_deg, dtype=float),
        elevation_m=np.asarray(elevation_m, dtype=float),
        time_utc_s=np.asarray(time_utc_s, dtype=float),
        file_index=np.asarray(file_index),
        piece=np.asarray(piece),
        waypoints=tuple(waypoints),
    )


def straight(
    along_m: ArrayLike, *, latitude_deg: float = -42.0, longitude_deg: float = 147.0, heading_deg: float = 90.0
) -> tuple[np.ndarray, np.ndarray]:
    """Return points at these distances along one geodesic."""
    return destination(latitude_deg, longitude_deg, heading_deg, np.asarray(along_m, dtype=float))


def waypoint_at(along_m: float, name: str, **line: float) -> Waypoint:
    """Return a named place on the same geodesic."""
    latitude_deg, longitude_deg = straight([along_m], **line)
    return Waypoint(name=name, latitude_deg=float(latitude_deg[0]), longitude_deg=float(longitude_deg[0]))


def gpx(body: str, version: str = "1.1") -> str:
    """Return a GPX document around a body."""
    namespace = f"http://www.topografix.com/GPX/{version.replace('.', '/')}"
    return (
        f'<?xml version="1.0"?>\n<gpx version="{version}" creator="test" xmlns="{namespace}">\n{body}\n</gpx>\n'
    )


def track(*points: str) -> str:
    """Return one track of one segment."""
    return f"<trk><trkseg>\n{chr(10).join(points)}\n</trkseg></trk>"


def point(latitude: object, longitude: object, inner: str = "", kind: str = "trkpt") -> str:
    """Return one point's element, its coordinates as they are given."""
    return f'<{kind} lat="{latitude}" lon="{longitude}">{inner}</{kind}>'


def saved(folder: Path, text: str | bytes, name: str = "drive.gpx") -> Path:
    """Write a file and return its path."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path
