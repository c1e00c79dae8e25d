"""A timed route in words and as JSON, before any sun is computed."""

import json
from collections.abc import Sequence
from typing import Any

from routesolar.report.basis_words import route_rests_on
from routesolar.report.clock_words import LocalClock, day, offset
from routesolar.report.text import warned
from routesolar.report.units import Units, distance, duration, height, speed
from routesolar.report.words_road import road_words
from routesolar.trip.clock import iso_local
from routesolar.trip.mapped_road import MappedRoad
from routesolar.trip.names import printable
from routesolar.trip.route import Route, SourceFile
from routesolar.trip.segments import Segments
from routesolar.trip.stretches_used import UsedStretch, used_along
from routesolar.version import SOFTWARE

MOST_STRETCHES = 40


def route_text(
    route: Route, segments: Segments, units: Units, road: MappedRoad | None = None, attribution: str = ""
) -> str:
    """Return the legs with their local times and lengths, a map's road, and what was noted while reading."""
    start_utc_s, zone = float(segments.departure_utc_s[0]), segments.time_zone
    count, files = len(route.latitude_deg), len(route.files)
    points = f"{count} point{'s' * (count > 1)}" + f" in {files} file{'s' * (files > 1)}" * (files > 0)
    lines = [
        f"{printable(route.title) or 'Unnamed route'}: {points}, {segments.count} segments, "
        f"{distance(float(segments.length_m.sum()) / 1000, units)}",
        f"{day(start_utc_s, zone)}, times of {zone} ({offset(start_utc_s, zone)})",
        route_rests_on(segments, SOFTWARE),
        "",
    ]
    local = LocalClock(start_utc_s, float(segments.arrival_utc_s[0]), zone)
    for row in leg_rows(segments):
        place = "stop" if row["kind"] == "stop" else distance(row["distance_km"], units)
        when = local.at(row["start_utc_s"])
        lines.append(f"{row['leg']:3}  {when}  {duration(row['duration_s']):>10}  {place:>8}  {row['name']}")
    climbs_m = _climb_m(segments)
    if segments.has_elevation:
        lines += ["", f"climbs {climbs_m:.0f} m in all"]
    if road is not None:
        lines += ["", f"Road: {road_words(segments, road, attribution, units)}"]
        lines += _stretches(used_along(segments, road, None), units)
    lines += [f"Note: {printable(note)}" for note in segments.notes]
    lines += [line for line in [warned(len(segments.warnings))] if line]
    return "\n".join(lines) + "\n"


def _stretches(stretches: Sequence[UsedStretch], units: Units) -> list[str]:
    """Return a row a stretch of a map's road: its kilometres, kind, carriageway and speed."""
    rows = []
    for stretch in stretches[:MOST_STRETCHES]:
        span = [f"{km * units.distance_per_km:.1f}" for km in (stretch.from_km, stretch.to_km)]
        signs = " tunnel or roof" * stretch.roofed + " bridge" * stretch.bridge
        wide = "" if stretch.carriageway_m != stretch.carriageway_m else height(stretch.carriageway_m, units)
        fast = "" if stretch.speed_kmh != stretch.speed_kmh else speed(stretch.speed_kmh / 3.6, units)
        kind = printable(stretch.road) or "no road of the map"
        rows.append(
            f"  {span[0]:>6} to {span[1]:>6} {units.distance}  {kind:<20} {wide:>7} {fast:>9} {signs}".rstrip()
        )
    if len(stretches) > MOST_STRETCHES:
        rows.append(f"  and {len(stretches) - MOST_STRETCHES} more stretches (all with --json)")
    return rows


def route_json(
    route: Route,
    segments: Segments,
    road: MappedRoad | None = None,
    maps: Sequence[SourceFile] = (),
    attribution: str = "",
) -> str:
    """Return the same as JSON, schema routesolar.route/1."""
    zone = segments.time_zone
    rows = [
        {
            "leg": row["leg"],
            "name": row["name"],
            "kind": row["kind"],
            "start": iso_local(row["start_utc_s"], zone),
            "end": iso_local(row["start_utc_s"] + row["duration_s"], zone),
            "distance_km": row["distance_km"],
            "duration_s": row["duration_s"],
        }
        for row in leg_rows(segments)
    ]
    content = {
        "schema": "routesolar.route/1",
        "software": SOFTWARE,
        "rests_on": route_rests_on(segments, SOFTWARE),
        "name": printable(route.name),
        "files": [{"name": file.name, "sha256": file.sha256} for file in route.files],
        "points": len(route.latitude_deg),
        "segments": segments.count,
        "distance_km": float(segments.length_m.sum()) / 1000,
        "climb_m": _climb_m(segments) if segments.has_elevation else None,
        "time_zone": zone,
        "legs": rows,
        "maps": [{"name": file.name, "sha256": file.sha256} for file in maps],
        "attribution": printable(attribution),
        "surroundings": _road_rows(segments, road),
        "notes": [printable(note) for note in segments.notes],
        "warnings": [printable(warning) for warning in segments.warnings],
    }
    return json.dumps(content, indent=1, allow_nan=False) + "\n"


def _road_rows(segments: Segments, road: MappedRoad | None) -> list[dict[str, Any]]:
    """Return the road by stretch, as far as a map knows it; without trees, which are not looked at here."""
    return [dict(list(stretch.row().items())[:7]) for stretch in used_along(segments, road, None)]


def leg_rows(segments: Segments) -> list[dict[str, Any]]:
    """Return one mapping a leg, of the first departure."""
    rows = []
    for number, leg in enumerate(segments.legs):
        of_leg = segments.leg == number
        rows.append(
            {
                "leg": number + 1,
                "name": printable(leg.name) or "unnamed",
                "kind": leg.kind,
                "start_utc_s": float(segments.start_utc_s[0][of_leg][0]),
                "duration_s": float(segments.duration_s[0][of_leg].sum()),
                "distance_km": float(segments.length_m[of_leg].sum()) / 1000,
            }
        )
    return rows


def _climb_m(segments: Segments) -> float:
    """Return the metres climbed, from the smoothed grade."""
    rise_m = segments.grade_frac * segments.length_m
    return float(rise_m[rise_m > 0].sum())
