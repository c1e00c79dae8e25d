"""route.kml and route.gpx: the drive with its values, for maps and navigators."""

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from routesolar.files.geojson import segment_geometries
from routesolar.files.results import leg_rows
from routesolar.files.segment_rows import Cell, leg_slices, segment_columns, within_180
from routesolar.trip.clock import iso_utc
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable
from routesolar.trip.route import Waypoint

VALUES_NAMESPACE = "urn:routesolar:harvest:1"
# What a point of the track carries besides its place and time.
_CARRIED = "power_w energy_wh plane_wm2 sun_azimuth_deg sun_elevation_deg beam_transmittance_frac".split()

_SEGMENT_VALUES = ("segment", "kind", *_CARRIED)
_KML_TYPES = {"segment": "int", "leg": "int", "kind": "string", "start": "string", "end": "string"}


def route_gpx(report: HarvestReport) -> str:
    """Return route.gpx (GPX 1.1): waypoints at stops and named places, a point of the track at every start.

    The values of the segment that begins at a point stand in its extensions, under our own namespace.
    """
    segments = report.harvest.segments
    columns = segment_columns(report.harvest)
    points = [_gpx_point(columns, row) for row in range(segments.count)]
    breaks = set((~segments.driven_on).nonzero()[0].tolist()) | {segments.count - 1}
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx xmlns="http://www.topografix.com/GPX/1/1" '
        f'xmlns:harvest="{VALUES_NAMESPACE}" version="1.1" creator={_attribute(report.software)}>',
        f"<metadata><name>{_text(report.title)}</name></metadata>",
        *_gpx_stops(report, columns),
        f"<trk><name>{_text(report.title)}</name>",
    ]
    first = 0
    for last in sorted(breaks):
        lines += ["<trkseg>", *points[first : last + 1], _gpx_end(report, last), "</trkseg>"]
        first = last + 1
    return "\n".join([*lines, "</trk>", "</gpx>", ""])


def route_kml(report: HarvestReport, colours: Sequence[str]) -> str:
    """Return route.kml (OGC KML 2.2): a folder a leg with the leg's values, a placemark a segment.

    `colours` holds each segment's as "#rrggbb".
    """
    segments = report.harvest.segments
    columns = segment_columns(report.harvest)
    ends_utc_s = (segments.start_utc_s[0] + segments.duration_s[0]).tolist()
    placemarks = [
        _kml_placemark(columns, geometry, end_utc_s, row, colours[row])
        for row, (geometry, end_utc_s) in enumerate(zip(segment_geometries(report), ends_utc_s, strict=True))
    ]
    legs = leg_rows(report)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<kml xmlns="http://www.opengis.net/kml/2.2">',
        f"<Document><name>{_text(report.title)}</name><description>{_text(report.rests_on)}</description>",
        *map(_kml_style, dict.fromkeys(colours)),
        _kml_schema("leg", [name for name in legs[0] if name != "name"]),
        _kml_schema("segment", _SEGMENT_VALUES),
    ]
    for leg, rows in zip(legs, leg_slices(report.harvest), strict=True):
        lines += [
            f"<Folder><name>{_text(leg['name'])}</name>",
            _kml_values("leg", ((name, leg[name]) for name in leg if name != "name")),
            *placemarks[rows],
            "</Folder>",
        ]
    lines += [
        f"<Placemark><name>{_text(one.name)}</name><Point><coordinates>"
        f"{_kml_places([[one.longitude_deg, one.latitude_deg]])}</coordinates></Point></Placemark>"
        for one in _named(report)
    ]
    return "\n".join([*lines, "</Document>", "</kml>", ""])


def _gpx_stops(report: HarvestReport, columns: dict[str, list[Cell]]) -> Iterator[str]:
    for leg, rows in zip(report.harvest.legs, leg_slices(report.harvest), strict=True):
        if leg.kind == "stop":
            place = _gpx_place(columns["latitude_deg"][rows.start], columns["longitude_deg"][rows.start])
            yield f"<wpt {place}><name>{_text(leg.name)}</name></wpt>"
    for waypoint in _named(report):
        place = _gpx_place(waypoint.latitude_deg, waypoint.longitude_deg)
        yield f"<wpt {place}><name>{_text(waypoint.name)}</name></wpt>"


def _named(report: HarvestReport) -> list[Waypoint]:
    """Return the route file's named places that are no stops."""
    stops = {leg.name for leg in report.harvest.legs if leg.kind == "stop"}
    return [one for one in report.harvest.segments.waypoints if one.name and one.name not in stops]


def _gpx_point(columns: dict[str, list[Cell]], row: int) -> str:
    place = _gpx_place(columns["latitude_deg"][row], columns["longitude_deg"][row])
    elevation_m = float(columns["elevation_m"][row])
    values = "".join(
        f"<harvest:{name}>{number}</harvest:{name}>"
        for name in _CARRIED
        if (number := _number(columns[name][row]))
    )
    return (
        f"<trkpt {place}>"
        + ("" if math.isnan(elevation_m) else f"<ele>{elevation_m:.3f}</ele>")
        + f"<time>{columns['start_utc'][row]}</time><extensions>{values}</extensions></trkpt>"
    )


def _gpx_end(report: HarvestReport, row: int) -> str:
    """Return the point where the segment of `row` ends: it begins no segment, so it has no values."""
    segments = report.harvest.segments
    longitude_deg = within_180(segments.end_longitude_deg)[row]
    place = _gpx_place(float(segments.end_latitude_deg[row]), float(longitude_deg))
    end_utc_s = float(segments.start_utc_s[0, row] + segments.duration_s[0, row])
    return f"<trkpt {place}><time>{iso_utc(end_utc_s)}</time></trkpt>"


def _gpx_place(latitude_deg: Cell, longitude_deg: Cell) -> str:
    # GPX 1.1 allows longitudes from -180 to just below 180. Nine decimals, never an exponent.
    east_deg = float(longitude_deg)
    return f'lat="{float(latitude_deg):.9f}" lon="{-180.0 if east_deg == 180 else east_deg:.9f}"'


def _kml_placemark(
    columns: dict[str, list[Cell]], geometry: dict[str, Any], end_utc_s: float, row: int, colour: str
) -> str:
    values = _kml_values("segment", ((name, columns[name][row]) for name in _SEGMENT_VALUES))
    return (
        f"<Placemark><TimeSpan><begin>{columns['start_utc'][row]}</begin><end>{iso_utc(end_utc_s)}</end>"
        f"</TimeSpan><styleUrl>#c{colour[1:]}</styleUrl>{values}{_kml_geometry(geometry)}</Placemark>"
    )


def _kml_style(colour: str) -> str:
    """Return the style of lines and points of a colour, which KML writes as opacity, blue, green, red."""
    red, green, blue = colour[1:3], colour[3:5], colour[5:]
    shade = f"<color>ff{blue}{green}{red}</color>"
    return (
        f'<Style id="c{colour[1:]}"><IconStyle>{shade}</IconStyle>'
        f"<LineStyle>{shade}<width>4</width></LineStyle></Style>"
    )


def _kml_schema(kind: str, names: Iterable[str]) -> str:
    fields = "".join(f'<SimpleField type="{_KML_TYPES.get(name, "double")}" name="{name}"/>' for name in names)
    return f'<Schema name="{kind}" id="{kind}">{fields}</Schema>'


def _kml_values(kind: str, values: Iterable[tuple[str, object]]) -> str:
    shown = "".join(
        f'<SimpleData name="{name}">{text}</SimpleData>'
        for name, value in values
        if (text := _number(value) if isinstance(value, float) else _text(str(value or "")))
    )
    return f'<ExtendedData><SchemaData schemaUrl="#{kind}">{shown}</SchemaData></ExtendedData>'


def _kml_geometry(geometry: dict[str, Any]) -> str:
    kind, coordinates = geometry["type"], geometry["coordinates"]
    if kind == "MultiLineString":
        return f"<MultiGeometry>{''.join(_kml_line(part) for part in coordinates)}</MultiGeometry>"
    if kind == "LineString":
        return _kml_line(coordinates)
    return f"<Point><coordinates>{_kml_places([coordinates])}</coordinates></Point>"


def _kml_line(positions: list[list[float]]) -> str:
    places = _kml_places(positions)
    return f"<LineString><tessellate>1</tessellate><coordinates>{places}</coordinates></LineString>"


def _kml_places(positions: list[list[float]]) -> str:
    return " ".join(f"{east_deg:.9f},{north_deg:.9f}" for east_deg, north_deg in positions)


def _number(value: object) -> str:
    """Return nine significant digits, or nothing where the value is undefined."""
    return f"{value:.9g}" if isinstance(value, float) and math.isfinite(value) else ""


def _text(text: str) -> str:
    return escape(printable(text))


def _attribute(text: str) -> str:
    return quoteattr(printable(text))
