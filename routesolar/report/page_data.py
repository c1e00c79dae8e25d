"""What a page's script needs to know of a drive, as small JSON."""

from typing import Any

import numpy as np

from routesolar.report.clock_words import clock_of
from routesolar.report.colours import LOSS, NO_LOSS, POWER, Classes, classes
from routesolar.report.line_data import names
from routesolar.report.outlines_drawn import outline_data
from routesolar.report.packing import PLACE_SCALE, TENTHS, layer, script_json, spans, steps, utc_offsets
from routesolar.report.plane import ground_bounds, leg_middles, lines
from routesolar.report.sun_times import dark_on
from routesolar.report.units import Units
from routesolar.trip.harvest import Harvest
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable


def page_json(report: HarvestReport, units: Units) -> str:
    """Return the drive as JSON that may stand inside an HTML script element."""
    return script_json(drive_data(report, units))


def drive_data(report: HarvestReport, units: Units) -> dict[str, Any]:
    """Return the drive as plain values: rows a segment, legs, layers, clock and units."""
    harvest = report.harvest
    start_utc_s = float(harvest.segments.departure_utc_s[0])
    return {
        "departs_utc_s": round(start_utc_s, 3),
        "utc_offsets_min": utc_offsets(
            start_utc_s, float(harvest.segments.arrival_utc_s[0]), harvest.segments.time_zone
        ),
        "dark": spans(dark_on(harvest.segments), start_utc_s),
        "reserve_pct": None if harvest.charge is None else round(100 * harvest.charge.reserve_soc_frac, 1),
        "distance": units.distance,
        "distance_per_km": units.distance_per_km,
        "rows": _rows(harvest),
        "breaks": _breaks(harvest),
        "legs": _legs(harvest),
        "names": names(harvest.segments),
        "layers": _layers(harvest),
        "ground": ground_bounds(report.ground, harvest.segments),
        "outlines": outline_data(report.ground.outlines),
    }


def _rows(harvest: Harvest) -> dict[str, Any]:
    segments = harvest.segments
    plane = lines(segments)
    start_s = segments.start_utc_s[0] - segments.departure_utc_s[0]
    end_s = start_s[-1] + segments.duration_s[0, -1]
    return {
        "longitude_deg": steps(plane.ends[:, 0, 0], PLACE_SCALE),
        "latitude_deg": steps(segments.latitude_deg, PLACE_SCALE),
        "start_s": steps(np.append(start_s, end_s), TENTHS),
        "along_m": steps(segments.along_m, 1),
        "power_w": steps(harvest.power_w, TENTHS),
        "low_w": steps(harvest.state_power_w.min(axis=0), TENTHS),
        "high_w": steps(harvest.state_power_w.max(axis=0), TENTHS),
        "open_w": steps(harvest.open_sky_w, TENTHS),
        "sun_deg": steps(harvest.sun_elevation_deg, TENTHS),
    } | _battery(harvest)


def _battery(harvest: Harvest) -> dict[str, Any]:
    if harvest.charge is None:
        return {}
    return {
        "soc_pct": steps(100 * harvest.charge.soc_frac, TENTHS),
        "soc_poor_pct": steps(100 * harvest.charge.soc_poor_frac, TENTHS),
    }


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
    local = clock_of(harvest)
    return [
        {
            "leg": leg.leg,
            "name": printable(leg.name) or "unnamed",
            "stop": leg.kind == "stop",
            "first": int(np.searchsorted(segments.leg, number)),
            "after": int(np.searchsorted(segments.leg, number, side="right")),
            "start": local.at(leg.start_utc_s),
            "middle": middle,
        }
        for number, (leg, middle) in enumerate(zip(harvest.legs, leg_middles(segments), strict=True))
    ]


def _layers(harvest: Harvest) -> dict[str, Any]:
    return {
        "power": layer(classes(float(harvest.power_w.max(initial=0)), POWER), "W"),
        "loss": layer(Classes(step=20.0, colours=tuple(LOSS.colours(5))), "%", NO_LOSS),
        "open": layer(classes(float(harvest.open_sky_w.max(initial=0)), POWER), "W"),
    }
