"""Files written by a harvest: contents against the harvest itself, formats against their standards."""

import csv
import io
import json
import math
from dataclasses import replace
from datetime import datetime
from xml.etree import ElementTree

import gpxpy
import numpy as np
import pytest
from hostile_names import HOSTILE
from sample_harvest import full_report, renamed, winding_report

from routesolar.errors import UsageError
from routesolar.files.exports import write_harvest
from routesolar.files.geojson import line_geometry, route_geojson
from routesolar.files.results import result_json
from routesolar.files.route_xml import route_gpx, route_kml
from routesolar.files.tables_csv import legs_csv, segments_csv
from routesolar.report.colours import watt_colours
from routesolar.trip.route import Waypoint

DRAWN = {"page.html": b"<!doctype html>", "map.png": b"PNG"}
# The contract for programs that read these files.
SEGMENT_COLUMNS = (
    "segment,leg,kind,start_utc,duration_s,latitude_deg,longitude_deg,elevation_m,heading_deg,grade_frac,"
    "speed_mps,sun_azimuth_deg,sun_elevation_deg,incidence_deg,ghi_wm2,dni_wm2,dhi_wm2,"
    "beam_transmittance_frac,sky_view_frac,plane_wm2,cell_c,power_w,energy_wh"
)
ALL_LEG_KEYS = (
    "leg name kind start end distance_km duration_s mean_w peak_w energy_wh energy_low_wh energy_mid_wh "
    "energy_high_wh open_sky_wh clear_sky_wh shade_loss_frac cloud_loss_frac alternator_wh load_wh "
    "shortfall_wh idle_wh charge_loss_wh battery_cold_wh battery_full_wh soc_start_frac soc_end_frac"
).split()
FEATURE_KEYS = (
    "energy_low_wh energy_mid_wh energy_high_wh alternator_wh load_wh shortfall_wh idle_wh charge_loss_wh "
    "battery_cold_wh battery_full_wh soc_start_frac soc_end_frac"
)


@pytest.fixture(scope="module")
def report():
    return winding_report()


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_the_folder_holds_exactly_the_promised_files(tmp_path, report):
    write_harvest(tmp_path / "out", report, drawn=DRAWN)
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert names == {
        "page.html",
        "map.png",
        "csv-metadata.json",
        "legs.csv",
        "segments.csv",
        "route.geojson",
        "result.json",
    }
    # W3C, Metadata Vocabulary for Tabular Data (2015): a table group's tables, by url and columns.
    beside = json.loads((tmp_path / "out/csv-metadata.json").read_text())
    assert beside["@context"] == "http://www.w3.org/ns/csvw"
    assert beside["dc:description"] == report.rests_on
    for table in beside["tables"]:
        columns = [one["name"] for one in table["tableSchema"]["columns"]]
        assert (tmp_path / "out" / table["url"]).read_text().splitlines()[0] == ",".join(columns)
    write_harvest(
        tmp_path / "more",
        report,
        drawn=DRAWN,
        colours=watt_colours(report.harvest.power_w),
        also=("kml", "gpx"),
    )
    assert {path.name for path in (tmp_path / "more").iterdir()} == names | {"route.kml", "route.gpx"}


def test_an_unknown_extra_format_is_refused_before_anything_is_written(tmp_path, report):
    with pytest.raises(UsageError, match="shp"):
        write_harvest(tmp_path / "out", report, drawn=DRAWN, also=("shp",))
    assert not list(tmp_path.iterdir())


def test_the_result_on_stdout_equals_the_file(tmp_path, report):
    write_harvest(tmp_path / "out", report, drawn=DRAWN)
    assert (tmp_path / "out" / "result.json").read_text() == result_json(report)


def test_segments_csv_has_the_promised_columns_and_every_segment(report):
    text = segments_csv(report)
    assert text.splitlines()[0] == SEGMENT_COLUMNS
    rows = rows_of(text)
    assert [int(row["segment"]) for row in rows] == list(range(1, report.harvest.segments.count + 1))
    assert {row["kind"] for row in rows} == {"drive", "stop"}
    assert {int(row["leg"]) for row in rows} == {1, 2, 3, 4, 5}


def test_segments_csv_carries_nine_significant_digits(report):
    rows = rows_of(segments_csv(report))
    for name in ("power_w", "longitude_deg", "sun_azimuth_deg", "duration_s"):
        values = np.array([float(row[name]) for row in rows])
        source = {
            "power_w": report.harvest.power_w,
            "longitude_deg": report.harvest.segments.longitude_deg,
            "sun_azimuth_deg": report.harvest.sun_azimuth_deg,
            "duration_s": report.harvest.segments.duration_s[0],
        }[name]
        # Half a unit in the ninth digit is at most 5e-9 of the value.
        np.testing.assert_allclose(values, source, rtol=5.1e-9, atol=0)
        assert max(len(row[name].replace(".", "").lstrip("-0").split("e")[0]) for row in rows) <= 9


def test_segment_power_is_its_energy_over_its_time(report):
    for row in rows_of(segments_csv(report)):
        power_w = float(row["energy_wh"]) * 3600 / float(row["duration_s"])
        assert power_w == pytest.approx(float(row["power_w"]), rel=2e-8)


def test_segment_starts_are_utc_with_milliseconds_and_follow_each_other(report):
    rows = rows_of(segments_csv(report))
    starts = [datetime.strptime(row["start_utc"], "%Y-%m-%dT%H:%M:%S.%fZ") for row in rows]
    assert all(len(row["start_utc"]) == len("2026-11-19T20:30:00.000Z") for row in rows)
    assert starts[0] == datetime(2026, 11, 19, 20, 30)  # 07:30 in Hobart, 11 hours ahead
    for row, start, following in zip(rows, starts, starts[1:], strict=False):
        assert (following - start).total_seconds() == pytest.approx(float(row["duration_s"]), abs=1.1e-3)


def test_undefined_is_empty_in_csv_and_null_in_json_never_zero(report):
    rows = rows_of(segments_csv(report))
    night = [row for row in rows if float(row["sun_elevation_deg"]) <= 0]
    assert night
    assert {row["incidence_deg"] for row in night} == {""}
    assert {row["power_w"] for row in night} == {"0"}
    features = json.loads(route_geojson(report))["features"]
    dark = [feature["properties"] for feature in features if feature["properties"]["sun_elevation_deg"] <= 0]
    assert {row["incidence_deg"] for row in dark} == {None}
    assert {row["power_w"] for row in dark} == {0.0}


def test_a_route_without_elevation_leaves_it_empty(report):
    segments = replace(report.harvest.segments, has_elevation=False)
    flat = replace(report, harvest=replace(report.harvest, segments=segments))
    assert {row["elevation_m"] for row in rows_of(segments_csv(flat))} == {""}
    assert "<ele>" not in route_gpx(flat)


def test_legs_csv_has_the_same_keys_and_values_as_the_result(report):
    for one in (report, full_report()):
        legs = json.loads(result_json(one))["legs"]
        rows = rows_of(legs_csv(one))
        assert [list(row) for row in rows] == [list(leg) for leg in legs]
        for row, leg in zip(rows, legs, strict=True):
            for key, value in leg.items():
                if isinstance(value, float):
                    assert float(row[key]) == pytest.approx(value, rel=5.1e-9)
                else:
                    assert row[key] == ("" if value is None else str(value))


def test_keys_of_features_that_were_not_asked_for_are_absent(report):
    features = set(FEATURE_KEYS.split())
    plain = json.loads(result_json(report))
    assert list(plain["legs"][0]) == [key for key in ALL_LEG_KEYS if key not in features]
    assert not features & set(plain["totals"])
    assert not {"losses", "rated_clear_wh", "battery_wh"} & set(plain["totals"])
    full = json.loads(result_json(full_report()))
    assert list(full["legs"][0]) == ALL_LEG_KEYS
    assert features <= set(full["totals"])


def test_losses_lead_from_rated_power_to_the_battery():
    totals = json.loads(result_json(full_report()))["totals"]
    assert list(totals["losses"]) == [
        *("clouds", "terrain", "canopy", "reflection", "temperature", "battery_cold", "battery_full")
    ]
    lost_wh = math.fsum(totals["losses"].values())
    assert totals["rated_clear_wh"] - lost_wh == pytest.approx(totals["battery_wh"], rel=1e-9)


def test_the_battery_has_its_answers_under_its_own_key():
    battery = json.loads(result_json(full_report()))["battery"]
    assert battery["first_full"] is None
    assert battery["first_reserve"] == "2026-11-20T20:30:00+11:00"
    assert battery["first_short_poor"] == "2026-11-20T19:30:00+11:00"
    assert (battery["capacity_wh"], battery["lowest_soc_poor_frac"]) == (1000.0, 0.4)
    assert (battery["alternator_needed_w"], battery["alternator_needed_wh"]) == (80.0, 900.0)


def test_a_value_undefined_for_one_leg_only_is_null_there(report):
    legs = list(report.harvest.legs)
    legs[0] = replace(legs[0], energy_low_wh=12.0, shade_loss_frac=None)
    one = replace(report, harvest=replace(report.harvest, legs=tuple(legs)))
    written = json.loads(result_json(one))["legs"]
    assert [leg["energy_low_wh"] for leg in written] == [12.0, None, None, None, None]
    assert written[0]["shade_loss_frac"] is None


def test_the_result_has_the_promised_keys_in_order(report):
    result = json.loads(result_json(report))
    assert (
        list(result)
        == (
            "schema software rests_on stated inputs route departure arrival time_zone sky skies air canopy "
            "surroundings totals legs days hours notes warnings"
        ).split()
    )
    assert result["schema"] == "routesolar.harvest/2"
    assert list(result["route"]) == ["name", "files", "distance_km", "segments"]
    assert result["route"]["files"] == [{"name": "river.gpx", "sha256": "ab" * 32}]
    assert result["departure"] == "2026-11-20T07:30:00+11:00"
    assert result["arrival"] == "2026-11-20T21:30:00+11:00"
    assert result["canopy"] == {"files": [{"name": "cover.tif", "sha256": "cd" * 32}], "data_frac": 0.97}
    assert list(result["hours"][0]) == ["start", "driving_wh", "stopped_wh"]
    assert result["hours"][0]["start"] == "2026-11-20T07:00:00+11:00"


def test_local_times_follow_the_zone_through_its_change_of_clock():
    # Tasmania's clocks go back at 03:00 (UTC+11) on 4 April 2027, a Sunday (first Sunday of April).
    report = winding_report(depart_utc_s=datetime.fromisoformat("2027-04-03T20:00:00+11:00").timestamp())
    result = json.loads(result_json(report))
    assert result["departure"] == "2027-04-03T20:00:00+11:00"
    assert result["arrival"] == "2027-04-04T09:00:00+10:00"


def test_energies_in_the_result_add_up(report):
    result = json.loads(result_json(report))
    totals = result["totals"]
    for key in ("energy_wh", "open_sky_wh", "clear_sky_wh", "distance_km", "duration_s"):
        assert math.fsum(leg[key] for leg in result["legs"]) == pytest.approx(totals[key], rel=1e-12)
    assert totals["driving_wh"] + totals["stopped_wh"] == pytest.approx(totals["energy_wh"], rel=1e-12)
    hours = math.fsum(hour["driving_wh"] + hour["stopped_wh"] for hour in result["hours"])
    assert hours == pytest.approx(totals["energy_wh"], rel=1e-12)


def test_geojson_keeps_full_floats_and_order_longitude_latitude(report):
    collection = json.loads(route_geojson(report))
    assert collection["type"] == "FeatureCollection"
    segments = report.harvest.segments
    for row in (0, 7, segments.count - 1):
        feature = collection["features"][row]
        assert list(feature["properties"]) == SEGMENT_COLUMNS.split(",")
        assert feature["properties"]["power_w"] == report.harvest.power_w[row]
        assert feature["geometry"]["coordinates"][0] == [
            segments.longitude_deg[row],
            segments.latitude_deg[row],
        ]
    kinds = {(f["properties"]["kind"], f["geometry"]["type"]) for f in collection["features"]}
    assert kinds == {("drive", "LineString"), ("stop", "Point")}


def test_a_line_across_the_antimeridian_is_cut_there():
    # RFC 7946, section 3.1.9: from 45N 170E to 45N 170W becomes two lines that meet at 180.
    geometry = line_geometry((170.0, -170.0), (45.0, 45.0))
    assert geometry == {
        "type": "MultiLineString",
        "coordinates": [[[170.0, 45.0], [180.0, 45.0]], [[-180.0, 45.0], [-170.0, 45.0]]],
    }
    back = line_geometry((-179.0, 178.0), (10.0, 13.0))
    assert back["coordinates"] == [[[-179.0, 10.0], [-180.0, 11.0]], [[180.0, 11.0], [178.0, 13.0]]]


def test_a_line_that_starts_on_the_antimeridian_lies_on_one_side():
    assert line_geometry((180.0, -179.0), (1.0, 2.0)) == {
        "type": "LineString",
        "coordinates": [[-180.0, 1.0], [-179.0, 2.0]],
    }


@pytest.mark.parametrize("west_deg", [179.5, 177.0])
def test_a_route_across_the_antimeridian_stays_within_the_allowed_longitudes(west_deg):
    report = winding_report(west_deg=west_deg)
    features = json.loads(route_geojson(report))["features"]
    assert sum(feature["geometry"]["type"] == "MultiLineString" for feature in features) >= 1
    for feature in features:
        coordinates = np.array(feature["geometry"]["coordinates"]).reshape(-1, 2)
        assert np.abs(coordinates[:, 0]).max() <= 180
        if feature["geometry"]["type"] == "LineString":
            assert np.ptp(coordinates[:, 0]) < 1
    assert all(-180 <= float(row["longitude_deg"]) <= 180 for row in rows_of(segments_csv(report)))


def test_gpx_is_read_back_by_an_independent_reader(report):
    gpx = gpxpy.parse(route_gpx(report))
    assert gpx.version == "1.1"
    points = gpx.tracks[0].segments[0].points
    segments = report.harvest.segments
    assert len(points) == segments.count + 1
    assert points[5].latitude == pytest.approx(segments.latitude_deg[5], abs=1e-9)
    assert points[5].time.timestamp() == pytest.approx(segments.start_utc_s[0, 5], abs=1e-3)
    assert points[5].elevation == pytest.approx(segments.elevation_m[5], abs=1e-3)
    assert [waypoint.name for waypoint in gpx.waypoints] == ["Myrtle Bend", "Dam"]
    values = {element.tag.split("}")[1]: float(element.text) for element in points[5].extensions}
    assert values["power_w"] == pytest.approx(report.harvest.power_w[5], rel=1e-8)


def test_gpx_lifts_the_pen_where_the_road_does_not_go_on(report):
    driven_on = report.harvest.segments.driven_on.copy()
    driven_on[10] = False
    segments = replace(report.harvest.segments, driven_on=driven_on)
    broken = replace(report, harvest=replace(report.harvest, segments=segments))
    pieces = gpxpy.parse(route_gpx(broken)).tracks[0].segments
    assert [len(piece.points) for piece in pieces] == [12, segments.count - 11 + 1]


def kml(report):
    return route_kml(report, watt_colours(report.harvest.power_w))


def test_kml_lines_have_the_colours_of_the_page(report):
    space = {"k": "http://www.opengis.net/kml/2.2"}
    document = ElementTree.fromstring(kml(report).encode())
    styles = {
        f"#{one.get('id')}": one.findtext("k:LineStyle/k:color", namespaces=space)
        for one in document.findall(".//k:Style", space)
    }
    drawn = [styles[one.text] for one in document.findall(".//k:Placemark/k:styleUrl", space)]
    # OGC 07-147r2, 16.6: opacity, blue, green, red.
    assert [f"#{one[6:]}{one[4:6]}{one[2:4]}" for one in drawn] == watt_colours(report.harvest.power_w)


def test_kml_has_a_folder_a_leg_and_a_placemark_a_segment(report):
    space = {"k": "http://www.opengis.net/kml/2.2"}
    document = ElementTree.fromstring(kml(report).encode())
    folders = document.findall("k:Document/k:Folder", space)
    assert [folder.findtext("k:name", namespaces=space) for folder in folders] == [
        leg.name for leg in report.harvest.legs
    ]
    placemarks = document.findall(".//k:Placemark", space)
    assert len(placemarks) == report.harvest.segments.count
    first = {data.get("name"): data.text for data in placemarks[0].findall(".//k:SimpleData", space)}
    # OGC 07-147r2, 9.4 and 9.6: a schema's fields have types, so that a number is read as one.
    types = {
        one.get("name"): one.get("type") for one in document.findall(".//k:Schema[@id='segment']/*", space)
    }
    assert set(first) <= set(types)
    assert types["power_w"] == "double"
    assert types["segment"] == "int"
    assert float(first["power_w"]) == pytest.approx(report.harvest.power_w[0], rel=1e-8)


@pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_names_stay_text_in_every_file(report, name):
    hostile = renamed(report, name)
    assert json.loads(result_json(hostile))["route"]["name"] == name  # data for programs: untouched
    result_json(hostile).encode("ascii")
    rows = rows_of(legs_csv(hostile))
    assert len(rows) == 5
    assert len(legs_csv(hostile).splitlines()) == 6
    for row in rows:
        assert row["name"][:1] not in tuple("=+-@＝\t\r\n")
        assert row["name"].isprintable()
    document = ElementTree.fromstring(kml(hostile).encode())
    assert {element.tag.split("}")[1] for element in document.iter()} <= set(
        "kml Document Folder name description Schema SimpleField Style IconStyle LineStyle color width "
        "styleUrl ExtendedData SchemaData SimpleData Placemark TimeSpan begin end LineString tessellate "
        "coordinates Point".split()
    )
    gpx = gpxpy.parse(route_gpx(hostile))
    assert len(gpx.waypoints) == 2


def test_negative_numbers_in_csv_are_left_alone(report):
    assert float(rows_of(segments_csv(report))[0]["latitude_deg"]) < 0


def test_named_places_of_the_route_file_go_into_gpx_and_kml(report):
    places = (
        Waypoint(name="Old mill", latitude_deg=-41.8, longitude_deg=147.5),
        Waypoint(name="Dam", latitude_deg=-41.0, longitude_deg=149.0),
    )
    segments = replace(report.harvest.segments, waypoints=places)
    named = replace(report, harvest=replace(report.harvest, segments=segments))
    gpx = ElementTree.fromstring(route_gpx(named).encode())
    names = [one.findtext("{*}name") for one in gpx.iterfind("{*}wpt")]
    assert names.count("Old mill") == 1
    assert names.count("Dam") == 1  # a stop, which has its own
    drawn = ElementTree.fromstring(kml(named).encode())
    (mill,) = [
        one
        for one in drawn.iter("{http://www.opengis.net/kml/2.2}Placemark")
        if one.findtext("{*}name") == "Old mill"
    ]
    assert mill.findtext("{*}Point/{*}coordinates") == "147.500000000,-41.800000000"
