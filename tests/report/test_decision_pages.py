"""Pages of decisions as text: self-contained, small, true to what was decided."""

import base64
import json
from dataclasses import replace

import numpy as np
import pytest
from hostile_names import HOSTILE
from page_text import Page, assert_policy_is_exact, assert_self_contained, html_text, unpacked
from sample_decisions import (
    a_year,
    calendar_report,
    compared_report,
    departing_segments,
    departing_watts,
    departures_report,
    ranked,
    side_by_side,
)
from sample_harvest import most_outlines, rough_ground, sample_ground

from routesolar.decisions.departures import Departures
from routesolar.report.calendar_page import calendar_html
from routesolar.report.colours import POWER, classes
from routesolar.report.compare_page import compare_html
from routesolar.report.departures_data import LEVELS, MOST_PIECES
from routesolar.report.departures_page import departures_html
from routesolar.report.pieces import piece_ends, piece_seconds, piece_watts, pieces_of
from routesolar.trip.ground import Ground
from routesolar.trip.names import printable


@pytest.fixture(scope="module")
def watts():
    return departing_watts()


@pytest.fixture(scope="module")
def result(watts):
    return ranked(watts)


@pytest.fixture(scope="module")
def report(result):
    return departures_report(result)


@pytest.fixture(scope="module")
def html(watts, result, report):
    return departures_html(report, result, watts, sample_ground())


@pytest.fixture(scope="module")
def page(html):
    return Page(html)


@pytest.fixture(scope="module")
def data(page):
    return json.loads(page.within("script")[0])


def test_nothing_points_outside_and_only_the_pages_own_texts_are_let_in(html, page):
    assert_self_contained(html, page)
    assert_policy_is_exact(page)


def test_a_page_without_script_lets_in_none():
    plain = calendar_html(calendar_report(a_year()), a_year())
    assert_self_contained(plain, Page(plain))
    assert_policy_is_exact(Page(plain))


def test_the_same_departures_give_the_same_page(html):
    again = departing_watts()
    assert departures_html(departures_report(ranked(again)), ranked(again), again, sample_ground()) == html


def test_answer_table_warnings_and_cautions_are_there_without_script(page, report):
    words = html_text(page)
    assert report.answer.replace("\u00a0", " ") in words.replace("\u00a0", " ")
    for row in report.cells:
        assert row[0] in page.shown_in("th")
        assert row[2] in page.shown_in("td")
    assert "A straight line." in words
    assert "Watch the road" in words


def test_a_column_that_says_nothing_is_left_out(result):
    no_battery = replace(result, ranked=tuple(replace(row, soc_end_frac=None) for row in result.ranked))
    shown = [
        Page(calendar_html(departures_report(one), a_year())).shown_in("th") for one in (result, no_battery)
    ]
    assert "battery after" in shown[0]
    assert "battery after" not in shown[1]


@pytest.mark.parametrize(
    ("segments", "departures", "most_bytes"),
    [(2_000, 96, 700_000), (20_000, 96, 3_000_000), (20_000, 480, 3_000_000)],
)
def test_pages_stay_small(segments, departures, most_bytes):
    watts = departing_watts(segments, departures, every_s=86400 / departures, first_s=0.0)
    ranking = ranked(watts)
    ground = replace(rough_ground(), outlines=most_outlines())
    written = departures_html(departures_report(ranking), ranking, watts, ground)
    assert len(written.encode()) < most_bytes


def decoded_w(data):
    """Watts of every departure and piece, in the middle of their bytes' spans."""
    levels = np.frombuffer(base64.b64decode(data["watts"]["bytes"]), dtype=np.uint8).astype(float)
    watts = np.where(levels > 0, (levels - 0.5) * data["watts"]["quantum_w"], 0.0)
    return watts.reshape(len(data["departures"]), -1)


def test_the_watts_in_the_page_are_the_departures_to_half_a_quantum(data, watts):
    shown_w, true_w = decoded_w(data), watts.power_w
    assert shown_w.shape == true_w.shape  # few segments: each is a piece
    assert np.abs(shown_w - true_w).max() <= 0.501 * data["watts"]["quantum_w"]
    assert np.all((shown_w == 0) == (true_w == 0))


def test_every_piece_keeps_its_class_of_colour(data, watts):
    scale = classes(float(watts.power_w.max()), POWER)
    assert data["layers"]["power"]["step"] == scale.step == LEVELS * data["watts"]["quantum_w"]
    assert np.array_equal(scale.of(decoded_w(data)), scale.of(watts.power_w.astype(float)))


def times_s(data, departure):
    """Starts of pieces and the end, as the page's script reckons them: a leg's pieces keep their shares."""
    spans = data["spans"]
    seconds = np.diff(unpacked(spans["end_s"]), prepend=0.0)
    for leg, packed in spans["leg_s"].items():
        rows = slice(data["legs"][int(leg)]["first"], data["legs"][int(leg)]["after"])
        seconds[rows] *= unpacked(packed)[departure] / seconds[rows].sum()
    return unpacked(spans["departs_s"])[departure] + np.concatenate([[0], np.cumsum(seconds)])


def test_times_are_those_of_every_departure(data, watts):
    segments = watts.segments
    assert data["departs_utc_s"] == segments.departure_utc_s[0]
    assert data["spans"]["leg_s"] == {}
    for departure in (0, 11, 23):
        starts_s = segments.start_utc_s[departure] - segments.departure_utc_s[0]
        assert np.abs(times_s(data, departure)[:-1] - starts_s).max() <= 0.101


def test_a_stop_until_a_clock_time_is_as_long_as_each_departure_makes_it():
    segments = departing_segments(240, 5, every_s=3600.0)
    standing = segments.leg == 1
    stop_s = np.array([4.0, 3.0, 2.0, 1.0, 0.0]) * 3600  # the last comes too late for it
    duration_s = segments.duration_s.copy()
    duration_s[:, standing] = stop_s[:, None] / np.count_nonzero(standing)
    start_s = segments.departure_utc_s[:, None] + np.cumsum(duration_s, axis=1) - duration_s
    waiting = replace(
        departing_watts(240, 5, every_s=3600.0),
        segments=replace(segments, duration_s=duration_s, start_utc_s=start_s),
    )
    result = ranked(waiting)
    data = json.loads(
        Page(departures_html(departures_report(result), result, waiting, Ground())).within("script")[0]
    )
    assert list(data["spans"]["leg_s"]) == ["1"]
    for departure in range(5):
        expected_s = start_s[departure] - segments.departure_utc_s[0]
        assert np.abs(times_s(data, departure)[:-1] - expected_s).max() <= 0.101


def test_departures_are_told_in_the_order_they_leave_and_the_table_points_at_them(data, result, report):
    assert [one["leave"] for one in data["departures"]][:2] == ["05:00", "05:15"]
    told = [data["departures"][place]["leave"] for place in data["order"]]
    assert told == [row[0] for row in report.cells]
    assert data["departures"][data["best"]]["rank"] == 1
    assert sum(one["alike"] for one in data["departures"]) == len(result.alike)


def test_watts_of_other_departures_are_refused(watts, result, report):
    fewer = Departures(ranked=result.ranked[1:], time_zone=result.time_zone, sky="broken", best_by_sky=())
    with pytest.raises(ValueError, match="in the order they leave"):
        departures_html(report, fewer, watts, Ground())


def test_pieces_cover_every_segment_once_and_stay_within_legs_stops_and_gaps():
    segments = departing_segments(20_000, 1)
    driven_on = segments.driven_on.copy()
    driven_on[777] = False
    segments = replace(segments, driven_on=driven_on)
    pieces = pieces_of(segments, MOST_PIECES)
    assert 0.9 * MOST_PIECES < pieces.count <= MOST_PIECES
    assert pieces.first[0] == 0
    assert np.array_equal(pieces.first[1:], pieces.after[:-1])
    assert pieces.after[-1] == segments.count
    assert 778 in pieces.first
    for first, after in zip(pieces.first, pieces.after, strict=True):
        assert len(set(segments.leg[first:after])) == 1
        assert len(set(segments.stopped[first:after])) == 1


def test_merged_pieces_keep_the_energy():
    watts = departing_watts(3_000, 4)
    pieces = pieces_of(watts.segments, 100)
    merged_wh = piece_watts(watts, pieces) * piece_seconds(watts.segments, pieces) / 3600
    true_wh = watts.power_w * watts.segments.duration_s / 3600
    # Sums of single precision numbers.
    assert merged_wh.sum(axis=1) == pytest.approx(true_wh.sum(axis=1), rel=1e-5)


def test_merged_pieces_follow_each_other_along_the_road():
    segments = departing_segments(3_000, 1)
    ends = piece_ends(segments, pieces_of(segments, 100))
    assert np.array_equal(ends[1:, 0], ends[:-1, 1])


PICTURED = ("circle", "path", "text", "g")


def outside_pictures(page):
    return [element for element in page.skeleton if element[0] not in PICTURED]


def kinds_of(page):
    return {(tag, *attributes) for tag, attributes in page.skeleton}


@pytest.mark.parametrize("name", [name for name in HOSTILE.values() if name], ids=filter(HOSTILE.get, HOSTILE))
def test_hostile_names_change_no_element(watts, result, report, page, name):
    legs = tuple(replace(leg, name=name) for leg in watts.segments.legs)
    named = replace(watts, segments=replace(watts.segments, legs=legs))
    named_result = replace(result, warnings=(name,))
    named_report = departures_report(named_result, title=name, chart_png=report.chart_png)
    hostile = Page(departures_html(named_report, named_result, named, sample_ground()))
    # Labels of the still map find room by the length of their words; all else is as with plain names.
    assert outside_pictures(hostile) == outside_pictures(page)
    assert kinds_of(hostile) <= kinds_of(page)
    assert hostile.within("script")[1] == page.within("script")[1]
    told = {leg["name"] for leg in json.loads(hostile.within("script")[0])["legs"]}
    assert told == {printable(name)}


@pytest.fixture(scope="module")
def compared():
    return side_by_side()


@pytest.fixture(scope="module")
def compared_page(compared):
    result, drives = compared
    return compare_html(compared_report(result), result, drives, sample_ground())


def routes_in(html):
    return json.loads(Page(html).within("script")[0])["routes"]


def test_the_map_of_a_comparison_has_stops_arrows_and_distances_of_both_roads(compared, compared_page):
    _, drives = compared
    stops = sum(leg.kind == "stop" for drive in drives for leg in drive.segments.legs)
    still = compared_page.split('<svg class="sheet"')[1].split("</svg>")[0]
    assert still.count('class="number stop') == stops > 0
    assert still.count('class="arrow"') >= 4
    assert still.count("map-label kilometre") >= 2
    assert all(f">{letter}</text>" in still for letter in "AB")


def test_a_comparison_keeps_to_itself_and_is_the_same_every_time(compared_page):
    assert_self_contained(compared_page, Page(compared_page))
    assert_policy_is_exact(Page(compared_page))
    result, drives = side_by_side()
    assert compare_html(compared_report(result), result, drives, sample_ground()) == compared_page


def test_routes_carry_their_lines_times_and_watts(compared, compared_page):
    result, drives = compared
    for told, route, drive in zip(routes_in(compared_page), result.routes, drives, strict=True):
        segments = drive.segments
        assert told["name"] == route.name
        assert told["energy_wh"] == pytest.approx(route.energy_wh, abs=0.005)
        assert np.abs(unpacked(told["power_w"]) - drive.power_w[0]).max() <= 0.0501
        assert np.abs(unpacked(told["line"]["latitude_deg"]) - segments.latitude_deg).max() <= 5.01e-7
        starts_s = segments.start_utc_s[0] - segments.departure_utc_s[0]
        assert np.abs(unpacked(told["start_s"])[:-1] - starts_s).max() <= 0.0501


def test_a_letter_stands_where_its_route_is_alone(compared, compared_page):
    _, drives = compared
    forest = routes_in(compared_page)[1]["middle"]
    # The second route bows away from the first most in the middle of its way.
    along = drives[1].segments.along_m[forest] / drives[1].segments.along_m[-1]
    assert 0.25 < along < 0.75


def test_routes_beyond_the_antimeridian_lie_on_the_same_turn_of_the_globe():
    result, drives = side_by_side()
    # The same places twice: beyond 180 degrees, and wrapped there.
    moved = [_turned(drives[0], lambda east: east), _turned(drives[1], lambda east: (east + 180) % 360 - 180)]
    first, second = routes_in(compare_html(compared_report(result), result, moved, Ground()))
    starts = [unpacked(route["line"]["longitude_deg"])[0] for route in (first, second)]
    assert starts[0] == pytest.approx(starts[1], abs=1e-5)


def _turned(drive, written):
    segments = drive.segments
    names = ("longitude_deg", "middle_longitude_deg", "end_longitude_deg")
    turned = replace(segments, **{name: written(getattr(segments, name) + 31.6) for name in names})
    return replace(drive, segments=turned)


def test_the_still_map_draws_every_route_in_its_own_kind_of_line(compared_page):
    page = Page(compared_page)
    kinds = [attributes.get("class") for tag, attributes in page.elements if tag == "path"]
    assert "road route-1" in kinds
    assert "road route-2" in kinds
    assert page.shown_in("text").count("A") == page.shown_in("text").count("B") == 1


def test_drives_of_other_routes_are_refused(compared):
    result, drives = compared
    with pytest.raises(ValueError, match="in their order"):
        compare_html(compared_report(result), result, drives[:1], Ground())


def test_many_long_routes_stay_small():
    result, drives = side_by_side(("One", "Two", "Three"), 20_000)
    page = compare_html(compared_report(result), result, drives, rough_ground())
    assert len(page.encode()) < 700_000


@pytest.mark.parametrize("name", [name for name in HOSTILE.values() if name], ids=filter(HOSTILE.get, HOSTILE))
def test_hostile_route_names_change_no_element(compared_page, name):
    result, drives = side_by_side((name, name))
    hostile = Page(compare_html(compared_report(result, title=name), result, drives, sample_ground()))
    assert hostile.skeleton == Page(compared_page).skeleton
    assert {route["name"] for route in json.loads(hostile.within("script")[0])["routes"]} == {printable(name)}
