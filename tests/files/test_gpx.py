import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from unittest import mock

import gpxpy
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from routes import gpx, point, saved, track
from samples import sample

from routesolar.errors import InputError, UsageError
from routesolar.files.gpx import read_route
from routesolar.files.gpx_scan import MAX_DEPTH
from routesolar.limits import limit_of
from routesolar.trip.route import Route

TWO = (point(1, 2), point(1.001, 2))


def read(folder: Path, text: str | bytes) -> Route:
    return read_route([saved(folder, text)])


def complaint(folder: Path, text: str | bytes) -> str:
    with pytest.raises(InputError) as caught:
        read(folder, text)
    message = str(caught.value)
    assert "drive.gpx" in message
    assert "\n" not in message
    return message


# --- against gpxpy, an independent reader -------------------------------------------------------

OTHERS_FILES = [
    "around-visnjan-with-car.gpx",
    "Mojstrovka.gpx",
    "cerknicko-jezero.gpx",
    "cerknicko-without-times.gpx",
    "cerknicko-jezero-without-elevations.gpx",
    "gpx-with-node-with-comments.gpx",
    "gpx1.0_with_all_fields.gpx",
    "gpx1.1_with_all_fields.gpx",
    "korita-zbevnica.gpx",
    "route.gpx",
    "track-with-empty-segment.gpx",
    "track-with-less-sec-time.gpx",
    "track-with-small-floats.gpx",
    "track_with_speed.gpx",
    "validation_gpx10.gpx",
    "validation_gpx11.gpx",
]


def _seconds(moment: datetime | None) -> float:
    if moment is None:
        return np.nan
    # Its own time zone class breaks comparisons and timestamp().
    return (moment.replace(tzinfo=UTC) - (moment.utcoffset() or timedelta())).timestamp()


@pytest.mark.download
@pytest.mark.parametrize("name", OTHERS_FILES)
def test_real_files_read_as_gpxpy_reads_them(name: str) -> None:
    path = sample("gpxpy", f"test_files/{name}")
    theirs = gpxpy.parse(path.read_text(encoding="utf-8-sig"))
    pieces = [segment.points for each in theirs.tracks for segment in each.segments if segment.points]
    pieces = pieces or [each.points for each in theirs.routes if each.points]
    points = [each for piece in pieces for each in piece]
    ours = read_route([path])
    np.testing.assert_array_equal(ours.latitude_deg, [each.latitude for each in points])
    np.testing.assert_array_equal(ours.longitude_deg, [each.longitude for each in points])
    heights = [np.nan if each.elevation is None else each.elevation for each in points]
    np.testing.assert_array_equal(ours.elevation_m, heights)
    # gpxpy cuts fractions of a second to microseconds.
    np.testing.assert_allclose(ours.time_utc_s, [_seconds(each.time) for each in points], rtol=0, atol=2e-6)
    assert np.bincount(ours.piece).tolist() == [len(piece) for piece in pieces]
    named = [each.name for each in ours.waypoints if not each.on_route]
    assert named == [each.name for each in theirs.waypoints if each.name]


@pytest.mark.download
def test_a_recorded_car_drive_has_its_points_times_and_climb() -> None:
    # gpxpy 1.6.2 sdist; the figures were read in the file: 104 points, up 51.42 m, down 51.90 m.
    route = read_route([sample("gpxpy", "test_files/around-visnjan-with-car.gpx")])
    assert len(route.latitude_deg) == 104
    assert route.time_utc_s[0] == datetime(2020, 12, 18, 6, 15, 50, tzinfo=UTC).timestamp()
    assert route.time_utc_s[-1] == datetime(2020, 12, 18, 6, 24, 24, tzinfo=UTC).timestamp()
    rise_m = np.diff(route.elevation_m)
    assert rise_m[rise_m > 0].sum() == pytest.approx(51.42, abs=0.005)
    assert rise_m[rise_m < 0].sum() == pytest.approx(-51.90, abs=0.005)


# --- what a file may hold ------------------------------------------------------------------------


def test_offsets_fractions_and_bare_times_become_utc_seconds(tmp_path: Path) -> None:
    texts = ["2026-11-20T07:30:00+11:00", "2026-11-19T20:30:00.25Z", "2026-11-19T20:30:01"]
    route = read(tmp_path, gpx(track(*(point(1, 2, f"<time>{text}</time>") for text in texts))))
    start = datetime(2026, 11, 19, 20, 30, tzinfo=UTC).timestamp()
    assert route.time_utc_s.tolist() == [start, start + 0.25, start + 1]


def test_what_cannot_be_a_height_or_a_time_is_missing_and_counted(tmp_path: Path) -> None:
    inner = ["<ele>-32768</ele>", "<ele>high</ele>", "<ele>nan</ele>", "<time>yesterday</time>", "<ele/>"]
    route = read(tmp_path, gpx(track(*(point(1, 2, text) for text in inner))))
    assert np.isnan(route.elevation_m).all()
    assert np.isnan(route.time_utc_s).all()
    assert [warning.split(": ")[1] for warning in route.warnings] == [
        "the elevation of 3 of 5 points is unusable and was left out",
        "the time of 1 of 5 points is unusable and was left out",
    ]


def test_a_track_wins_over_a_route_with_a_warning(tmp_path: Path) -> None:
    planned = f"<rte>{point(5, 6, kind='rtept')}{point(5, 7, kind='rtept')}</rte>"
    route = read(tmp_path, gpx(planned + track(*TWO)))
    assert route.latitude_deg.tolist() == [1, 1.001]
    assert route.warnings == ("drive.gpx holds a track and a route; the track is used",)


def test_tracks_segments_and_files_are_pieces_in_order(tmp_path: Path) -> None:
    first = saved(tmp_path, gpx(track(*TWO) + track(*TWO)), "one.gpx")
    second = saved(tmp_path, gpx(track(point(3, 4))), "two.gpx")
    route = read_route([second, first])
    assert route.name == "two + one"
    assert [source.name for source in route.files] == ["two.gpx", "one.gpx"]
    assert route.latitude_deg.tolist() == [3, 1, 1.001, 1, 1.001]
    assert route.file_index.tolist() == [0, 1, 1, 1, 1]
    assert route.piece.tolist() == [0, 1, 1, 2, 2]


def test_prefixed_names_and_foreign_elements_are_read_past(tmp_path: Path) -> None:
    foreign = '<g:extensions><g:ele>8</g:ele><x:ele>9</x:ele><x:trkpt lat="7" lon="7"/></g:extensions>'
    text = (
        '<g:gpx xmlns:g="http://www.topografix.com/GPX/1/1" xmlns:x="urn:x"><g:trk><g:trkseg>'
        f'<g:trkpt lat="1" lon="2">{foreign}<g:ele>5</g:ele></g:trkpt></g:trkseg></g:trk></g:gpx>'
    )
    route = read(tmp_path, text)
    assert (route.latitude_deg.tolist(), route.elevation_m.tolist()) == ([1.0], [5.0])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "iso-8859-1", "windows-1252"])
def test_names_survive_every_declared_encoding(tmp_path: Path, encoding: str) -> None:
    body = point(1, 2, "<name>Café Höhe</name>", "wpt") + track(*TWO)
    declared = encoding.removesuffix("-sig")
    text = gpx(body).replace('version="1.0"?', f'version="1.0" encoding="{declared}"?')
    assert read(tmp_path, text.encode(encoding)).waypoints[0].name == "Café Höhe"


def test_names_lose_control_characters_and_keep_markup(tmp_path: Path) -> None:
    name = "a&#10;b \u202e<![CDATA[<script>]]> c"
    route = read(tmp_path, gpx(point(1, 2, f"<name>{name}</name>", "wpt") + track(*TWO)))
    assert route.waypoints[0].name == "a b <script> c"


def test_nameless_waypoints_mark_nothing(tmp_path: Path) -> None:
    assert read(tmp_path, gpx(point(1, 2, "<name> </name>", "wpt") + track(*TWO))).waypoints == ()


@given(
    st.lists(
        st.tuples(st.floats(-90, 90, allow_subnormal=False), st.floats(-180, 180, allow_subnormal=False)),
        min_size=1,
        max_size=5,
    )
)
def test_every_position_on_the_globe_is_read_exactly(
    tmp_path_factory: pytest.TempPathFactory, places: list[tuple[float, float]]
) -> None:
    route = read(tmp_path_factory.mktemp("gpx"), gpx(track(*(point(*place) for place in places))))
    assert list(zip(route.latitude_deg, route.longitude_deg, strict=True)) == places


# --- what is refused -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("latitude", "longitude", "wrong"),
    [
        ("nan", 2, 'latitude "nan", which is not a number'),
        ("1,5", 2, 'latitude "1,5", which is not a number (use a decimal point)'),
        ("1_0", 2, 'latitude "1_0", which is not a number'),
        ("", 2, 'latitude "", which is not a number'),
        (999, 2, 'latitude "999", beyond 90 degrees'),
        (1, "inf", 'longitude "inf", which is not a number'),
        (1, 180.001, 'longitude "180.001", beyond 180 degrees'),
        (1, "1e400", 'longitude "1e400", beyond 180 degrees'),
    ],
)
def test_a_position_off_the_globe_names_line_and_point(
    tmp_path: Path, latitude: object, longitude: object, wrong: str
) -> None:
    message = complaint(tmp_path, gpx(track(point(1, 2), point(latitude, longitude))))
    assert f"drive.gpx, line 5: <trkpt> 2 has {wrong}" in message


def test_a_position_without_longitude_is_refused(tmp_path: Path) -> None:
    assert "<trkpt> 1 has no longitude" in complaint(tmp_path, gpx(track('<trkpt lat="1"/>')))


LAUGHS = '<!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>'

REFUSED: dict[str, tuple[str | bytes, str]] = {
    "empty": (b"", "the file is empty"),
    "blank": (b" \n ", "the file is empty"),
    "text": ("not a track", "not a GPX file"),
    "json": ('{"type": "FeatureCollection"}', "not a GPX file"),
    "archive": (b"PK\x03\x04\x14\x00", "not a GPX file"),
    "web page": ("<!DOCTYPE html><html><body/></html>", "a web page"),
    "web page without doctype": ("<html><body/></html>", "a web page"),
    "another format": ('<kml xmlns="x"><Placemark/></kml>', "not a GPX file but <kml>"),
    "doctype": (LAUGHS + gpx(track(*TWO)).split("\n", 1)[1], "a DOCTYPE has no place"),
    "cut off": (gpx(track(*TWO))[:-20], "ends in the middle"),
    "cut off in a tag": (gpx(track(*TWO))[:130], "ends in the middle"),
    "two roots": (gpx(track(*TWO)) + "<gpx/>", "not well-formed XML"),
    "crossed tags": (gpx("<trk><trkseg></trk></trkseg>"), "not well-formed XML"),
    "undeclared entity": (gpx(track(point(1, 2, "<name>&b;</name>"))), "not well-formed XML"),
    "wrong encoding": (gpx(point(1, 2, "<name>Höhe</name>", "wpt")).encode("latin-1"), "not in the encoding"),
    "unknown encoding": ('<?xml version="1.0" encoding="klingon"?><gpx/>', "unknown text encoding"),
    "wide encoding": ('<?xml version="1.0" encoding="big5"?><gpx/>', "unknown text encoding"),
    "deep": ("<gpx>" + "<a>" * 100_000, f"more than {MAX_DEPTH} deep"),
    "no points": (gpx(""), "no track and no route"),
    "waypoints only": (gpx(point(1, 2, kind="wpt") * 2), "only waypoints (2)"),
    "points outside lines": (gpx("<trk>" + point(1, 2) + "</trk>"), "no track and no route"),
    "NUL bytes": (gpx(track(*TWO)).replace("</trk>", "\0</trk>"), "not well-formed XML"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_is_no_gpx_track_is_refused_with_one_line(tmp_path: Path, case: str) -> None:
    text, wrong = REFUSED[case]
    assert wrong in complaint(tmp_path, text)


def test_a_file_too_large_is_refused(tmp_path: Path) -> None:
    assert "larger than 50 MB" in complaint(tmp_path, gpx(track(*TWO)) + " " * limit_of("route file"))


def test_more_points_than_fit_are_refused_while_the_file_is_read(tmp_path: Path) -> None:
    (tmp_path / "one.gpx").write_text(gpx(track(*TWO)), encoding="utf-8")
    with mock.patch("routesolar.files.gpx.limit_of", return_value=3), pytest.raises(InputError, match="points"):
        read_route([tmp_path / "one.gpx"] * 2)
    with pytest.raises(UsageError, match="201 route files are more than 200"):
        read_route([tmp_path / "one.gpx"] * 201)


def test_a_missing_file_and_a_folder_are_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"nowhere\.gpx: there is no such file"):
        read_route([tmp_path / "nowhere.gpx"])
    with pytest.raises(InputError, match="this is a folder"):
        read_route([tmp_path])
    with pytest.raises(UsageError, match="no route given"):
        read_route([])


@given(st.binary(max_size=300))
def test_no_bytes_at_all_give_a_traceback(tmp_path_factory: pytest.TempPathFactory, noise: bytes) -> None:
    whole = gpx(track(*TWO)).encode()
    for content in (noise, whole[:150] + noise + whole[150:]):
        try:
            read(tmp_path_factory.mktemp("gpx"), content)
        except InputError as error:
            assert "drive.gpx" in str(error)


# --- what a file says of itself -----------------------------------------------------------------


@pytest.mark.parametrize("prefix", ["", "g:"])
def test_a_file_that_says_it_is_invented_is_told_of(tmp_path: Path, prefix: str) -> None:
    told = "<metadata><desc>drawn</desc><keywords>river, invented , survey</keywords></metadata>"
    text = gpx(told + track(*TWO))
    if prefix:
        text = re.sub(r"(</?)(\w)", r"\1g:\2", text).replace("xmlns=", "xmlns:g=")
    assert read(tmp_path, text).warnings == ("drive.gpx says that it is invented: there is no such road",)


def test_the_word_elsewhere_says_nothing(tmp_path: Path) -> None:
    elsewhere = "<metadata><keywords>river, uninvented</keywords><desc>invented</desc></metadata>"
    waypoint = point(1, 2, "<name>invented</name>", kind="wpt")
    assert read(tmp_path, gpx(elsewhere + waypoint + track(*TWO))).warnings == ()
