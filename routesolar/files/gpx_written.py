"""A route written as GPX that reads back the same."""

from datetime import UTC, datetime, timedelta
from xml.sax.saxutils import escape

import numpy as np

from routesolar.trip.route import Route

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def gpx_text(route: Route) -> str:
    """Return points and waypoints as GPX 1.1, every number to its last digit, times to the microsecond."""
    lines = ['<?xml version="1.0" encoding="UTF-8"?>']
    lines.append('<gpx version="1.1" creator="routesolar" xmlns="http://www.topografix.com/GPX/1/1">')
    for waypoint in route.waypoints:
        place = _place(waypoint.latitude_deg, waypoint.longitude_deg)
        lines.append(f"<wpt {place}><name>{escape(waypoint.name)}</name></wpt>")
    named = f"<name>{escape(route.title)}</name>" if route.title != route.name else ""
    lines.append(f"<trk>{named}")
    for piece in np.unique(route.piece):
        rows = np.flatnonzero(route.piece == piece)
        lines += ["<trkseg>", *(_point(route, int(row)) for row in rows), "</trkseg>"]
    return "\n".join([*lines, "</trk>", "</gpx>", ""])


def _point(route: Route, row: int) -> str:
    inner = ""
    if not np.isnan(route.elevation_m[row]):
        inner += f"<ele>{float(route.elevation_m[row])!r}</ele>"
    if not np.isnan(route.time_utc_s[row]):
        moment = _EPOCH + timedelta(microseconds=round(float(route.time_utc_s[row]) * 1e6))
        inner += f"<time>{moment.replace(tzinfo=None).isoformat(timespec='microseconds')}Z</time>"
    return f"<trkpt {_place(route.latitude_deg[row], route.longitude_deg[row])}>{inner}</trkpt>"


def _place(latitude_deg: float, longitude_deg: float) -> str:
    return f'lat="{float(latitude_deg)!r}" lon="{float(longitude_deg)!r}"'
