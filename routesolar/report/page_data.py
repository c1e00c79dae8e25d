"""What a page's script needs to know of a drive, as small JSON."""

import json
from typing import Any

import numpy as np

from routesolar.report.clock_words import clock_after
from routesolar.report.colours import LOSS, NOTHING, POWER, Classes, classes
from routesolar.report.plane import leg_middles, lines, picture_bounds
from routesolar.report.units import Units
from routesolar.trip.arrays import FloatArray
from routesolar.trip.clock import to_local
from routesolar.trip.harvest import Harvest
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable

# Whole numbers are stored, each as the step from the one before: small, and exact to these digits.
_PLACE_SCALE = 1e6
_TENTHS = 10


def page_json(report: HarvestReport, units: Units) -> str:
    """Return the drive as JSON that may stand inside an HTML script element."""
    written = json.dumps(drive_data(report, units), separators=(",", ":"), allow_nan=False)
    # Inside a script element only "<" could end it or open a comment.
    return written.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def drive_data(report: HarvestReport, units: Units) -> dict[str, Any]:
    """Return the drive as plain values: rows a segment, legs, layers, clock and units."""
    harvest = report.harvest
    start_utc_s = float(harvest.segments.departure_utc_s[0])
    return {
        "departs_utc_s": round(start_utc_s, 3),
        "utc_offsets_min": utc_offsets(harvest),
        "distance": units.distance,
        "distance_per_km": units.distance_per_km,
        "rows": _rows(harvest),
        "breaks": _breaks(harvest),
        "legs": _legs(harvest),
        "layers": _layers(harvest),
        "nothing": NOTHING,
        "trees": _trees(report),
    }


def utc_offsets(harvest: Harvest) -> list[tuple[float, int]]:
    """Return (seconds since departure, minutes ahead of UTC), a pair at the start and at each change."""
    segments = harvest.segments
    start_utc_s = float(segments.departure_utc_s[0])
    changes: list[tuple[float, int]] = []
    # Clocks change on a quarter of an hour and on none other.
    quarters = np.arange(start_utc_s // 900 * 900 + 900, segments.arrival_utc_s[0], 900)
    for utc_s in np.append(start_utc_s, quarters):
        offset = to_local(float(utc_s), segments.time_zone).utcoffset()
        minutes = round(offset.total_seconds() / 60) if offset else 0
        if not changes or changes[-1][1] != minutes:
            changes.append((float(utc_s) - start_utc_s, minutes))
    return changes


def _rows(harvest: Harvest) -> dict[str, Any]:
    segments = harvest.segments
    plane = lines(segments)
    start_s = segments.start_utc_s[0] - segments.departure_utc_s[0]
    end_s = start_s[-1] + segments.duration_s[0, -1]
    return {
        "longitude_deg": _steps(plane.ends[:, 0, 0], _PLACE_SCALE),
        "latitude_deg": _steps(segments.latitude_deg, _PLACE_SCALE),
        "start_s": _steps(np.append(start_s, end_s), _TENTHS),
        "along_m": _steps(segments.along_m, 1),
        "power_w": _steps(harvest.power_w, _TENTHS),
        "low_w": _steps(harvest.state_power_w.min(axis=0), _TENTHS),
        "high_w": _steps(harvest.state_power_w.max(axis=0), _TENTHS),
        "open_w": _steps(harvest.open_sky_w, _TENTHS),
        "sun_deg": _steps(harvest.sun_elevation_deg, _TENTHS),
    } | _battery(harvest)


def _battery(harvest: Harvest) -> dict[str, Any]:
    if harvest.charge is None:
        return {}
    return {
        "soc_pct": _steps(100 * harvest.charge.soc_frac, _TENTHS),
        "soc_poor_pct": _steps(100 * harvest.charge.soc_p10_frac, _TENTHS),
    }


def _steps(values: FloatArray, scale: float) -> dict[str, Any]:
    whole = np.round(values * scale).astype(np.int64)
    return {"scale": scale, "steps": np.diff(whole, prepend=0).tolist()}


def _breaks(harvest: Harvest) -> list[tuple[int, float, float]]:
    """Return where a line ends instead of running into the next row: row, latitude, longitude."""
    segments = harvest.segments
    last = np.append(~segments.driven_on[:-1], True)
    east_deg = lines(segments).ends[:, 1, 0]
    return [
        (int(row), round(float(segments.end_latitude_deg[row]), 6), round(float(east_deg[row]), 6))
        for row in np.flatnonzero(last)
    ]


def _legs(harvest: Harvest) -> list[dict[str, Any]]:
    segments = harvest.segments
    return [
        {
            "leg": leg.leg,
            "name": printable(leg.name) or "unnamed",
            "stop": leg.kind == "stop",
            "first": int(np.searchsorted(segments.leg, number)),
            "after": int(np.searchsorted(segments.leg, number, side="right")),
            "start": clock_after(harvest.legs[0].start_utc_s, leg.start_utc_s, segments.time_zone),
            "middle": middle,
        }
        for number, (leg, middle) in enumerate(zip(harvest.legs, leg_middles(harvest), strict=True))
    ]


def _layers(harvest: Harvest) -> dict[str, Any]:
    return {
        "power": _layer(classes(float(harvest.power_w.max(initial=0)), POWER), "W"),
        "loss": _layer(Classes(step=20.0, colours=tuple(LOSS.colours(5))), "%"),
        "open": _layer(classes(float(harvest.open_sky_w.max(initial=0)), POWER), "W"),
    }


def _layer(scale: Classes, unit: str) -> dict[str, Any]:
    return {"step": scale.step, "colours": scale.colours, "unit": unit}


def _trees(report: HarvestReport) -> list[float] | None:
    picture = report.canopy_picture
    if picture is None:
        return None
    west, _, east, _ = picture_bounds(picture, float(lines(report.harvest.segments).middles[:, 0].mean()))
    return [picture.south_deg, west, picture.north_deg, east]
