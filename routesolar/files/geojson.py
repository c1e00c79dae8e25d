"""route.geojson (RFC 7946): a LineString a driven segment, a Point a stop, columns as properties."""

import json
from typing import Any

import numpy as np

from routesolar.files.results import defined
from routesolar.files.segment_rows import segment_columns, within_180
from routesolar.trip.harvest_report import HarvestReport


def route_geojson(report: HarvestReport) -> str:
    """Return the text of route.geojson; null where undefined. Lines are cut at the antimeridian."""
    columns = segment_columns(report.harvest)
    numbers = [values if name in _WORDS else _defined(values) for name, values in columns.items()]
    rows = zip(*numbers, strict=True)
    features = [
        {"type": "Feature", "geometry": geometry, "properties": dict(zip(columns, row, strict=True))}
        for geometry, row in zip(segment_geometries(report), rows, strict=True)
    ]
    # One feature a line: a million of them can still be read by eye and by line.
    lines = ",\n".join(map(json.JSONEncoder(allow_nan=False).encode, features))
    return f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n'


def line_geometry(longitudes_deg: tuple[float, float], latitudes_deg: tuple[float, float]) -> dict[str, Any]:
    """Return the line between two positions; two lines where it crosses the antimeridian (RFC 7946, 3.1.9)."""
    (west, east), (first, last) = longitudes_deg, latitudes_deg
    if abs(east - west) > 180:  # the short way round
        east += 360 if east < west else -360
    if -180 <= east <= 180:
        return {"type": "LineString", "coordinates": [[west, first], [east, last]]}
    edge = 180.0 if east > 180 else -180.0
    if west == edge:
        return {"type": "LineString", "coordinates": [[-edge, first], [east - 2 * edge, last]]}
    cut = first + (last - first) * (edge - west) / (east - west)
    parts = [[[west, first], [edge, cut]], [[-edge, cut], [east - 2 * edge, last]]]
    return {"type": "MultiLineString", "coordinates": parts}


_WORDS = frozenset({"segment", "leg", "kind", "start_utc"})


def _defined(values: list[Any]) -> list[Any]:
    return [defined(value) for value in values]


def segment_geometries(report: HarvestReport) -> list[dict[str, Any]]:
    """Return the geometry of every segment: a line, or a point where it stands."""
    segments = report.harvest.segments
    starts = np.column_stack([within_180(segments.longitude_deg), segments.latitude_deg]).tolist()
    ends = np.column_stack([within_180(segments.end_longitude_deg), segments.end_latitude_deg]).tolist()
    return [
        {"type": "Point", "coordinates": start}
        if stopped
        else line_geometry((start[0], end[0]), (start[1], end[1]))
        for start, end, stopped in zip(starts, ends, segments.stopped.tolist(), strict=True)
    ]
