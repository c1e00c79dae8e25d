"""The page in a real browser: map and chart mark the same place, by mouse, finger and keyboard."""

from datetime import datetime

import numpy as np
import pytest
from page_in_browser import (
    DESKTOP,
    PHONE,
    mark_on_map,
    painted,
    pixels,
    place_on_map,
    pointed_row,
    reading,
    wait_until,
    written,
)
from routes import gpx, point, straight, track
from sample_harvest import winding_report
from terminal import asked, run

from routesolar.report.colours import POWER, classes
from routesolar.report.page import page_html

pytestmark = pytest.mark.browser


def test_pointing_at_the_chart_marks_the_same_place_on_the_map_with_its_values(opened, address, report):
    page = opened(address)
    box = page.locator(".chart").bounding_box()
    page.mouse.move(box["x"] + 0.4 * box["width"], box["y"] + 0.5 * box["height"])
    row = pointed_row(page)
    harvest = report.harvest
    assert mark_on_map(page) == pytest.approx(place_on_map(page, row, report), abs=2)
    shown = reading(page)
    assert shown["expected"] == f"{harvest.power_w[row]:.0f} W"
    assert shown["open"] == f"{harvest.open_sky_w[row]:.0f} W"
    assert shown["sun"] == f"{harvest.sun_elevation_deg[row]:.0f}°"
    assert float(shown["along"]) == pytest.approx(harvest.segments.along_m[row] / 1000, abs=0.51)
    assert shown["leg"].endswith(harvest.legs[harvest.segments.leg[row]].name)
    # The chart runs from 07:30 for 14 h between its margins (44 and 10 pixels).
    hour = 7.5 + 14 * (0.4 * box["width"] - 44) / (box["width"] - 54)
    clock = datetime.strptime(shown["time"], "%H:%M")
    assert clock.hour + clock.minute / 60 == pytest.approx(hour, abs=0.05)
    assert float(shown["so far"].split()[0]) == pytest.approx(harvest.energy_wh[: row + 1].sum(), abs=0.51)


def test_pointing_at_the_map_marks_the_same_place_on_the_chart(opened, address, report):
    page = opened(address)
    row = 70
    x, y = place_on_map(page, row, report)
    page.mouse.move(x, y)
    assert pointed_row(page) == row
    assert float(reading(page)["along"]) == pytest.approx(report.harvest.segments.along_m[row] / 1000, abs=0.51)
    box, mark = page.locator(".chart").bounding_box(), page.locator(".chart .mark").bounding_box()
    share = (row + 0.5) * (4 / 14) / 120  # leg 1 takes 4 of 14 hours in 120 segments
    assert mark["x"] - box["x"] == pytest.approx(44 + share * (box["width"] - 54), abs=2)


def test_pointing_away_from_the_road_marks_nothing_new(opened, address):
    page = opened(address)
    before = pointed_row(page)
    box = page.locator("#map_drive").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] - 4)
    assert pointed_row(page) == before


def test_the_keyboard_reaches_every_place(opened, address, report):
    page = opened(address)
    page.locator(".chart").focus()
    press = page.keyboard.press
    press("Home")
    assert pointed_row(page) == 0
    press("ArrowRight")
    first = pointed_row(page)
    assert first > 0
    press("ArrowLeft")
    assert pointed_row(page) == 0
    press("PageUp")
    assert pointed_row(page) == 120  # the second of five equal legs
    press("PageUp")
    press("PageDown")
    assert pointed_row(page) == 120
    press("End")
    assert pointed_row(page) == report.harvest.segments.count - 1
    spoken = page.locator(".chart").get_attribute("aria-valuetext")
    assert "Dam to Depot" in spoken
    assert " W" in spoken


def test_choosing_a_leg_zooms_both_views_and_escape_returns(opened, address, report):
    page = opened(address)
    wide = page.evaluate("map_drive.getZoom()")
    ticks = page.locator(".chart text").all_text_contents()
    page.get_by_role("button", name="Myrtle Bend to Dam").click()
    assert page.evaluate("map_drive.getZoom()") > wide
    assert page.locator(".leg-choice").input_value() == "2"
    zoomed = page.locator(".chart text").all_text_contents()
    assert zoomed != ticks
    assert "13:30" in zoomed
    assert 240 <= pointed_row(page) < 360
    assert page.get_by_role("button", name="Myrtle Bend to Dam").get_attribute("aria-pressed") == "true"
    page.keyboard.press("Escape")
    assert page.evaluate("map_drive.getZoom()") == wide
    assert page.locator(".chart text").all_text_contents() == ticks


def test_a_stop_can_be_chosen_although_it_has_no_length(opened, address):
    page = opened(address)
    page.locator(".leg-choice").select_option("1")
    assert 120 <= pointed_row(page) < 240
    assert "11:30" in " ".join(page.locator(".chart text").all_text_contents())


@pytest.fixture(scope="module")
def many_stops(tmp_path_factory):
    """The page of a road of 30 km out and back with 29 stops, of which each but one shares its place."""
    folder = tmp_path_factory.mktemp("stops")
    there = np.append(np.arange(0, 30_001, 1000), np.arange(29_000, -1, -1000))
    latitude, longitude = straight(there)
    points = [point(*place, "<ele>100</ele>") for place in zip(latitude, longitude, strict=True)]
    (folder / "road.gpx").write_text(gpx(track(*points)), encoding="utf-8")
    stops = [word for km in range(2, 60, 2) for word in ("--stop", f"{km}km:15min")]
    assert (
        run("harvest", *asked(folder / "road.gpx"), *stops, "--sky", "broken", "-o", folder / "out").code == 0
    )
    return (folder / "out" / "page.html").as_uri()


def test_pointing_at_a_stops_number_reads_that_stop(opened, many_stops):
    page = opened(many_stops)
    numbers = page.locator(".leaflet-marker-pane .badge.stop")
    assert numbers.count() == 29
    for number in range(29):
        box = numbers.nth(number).bounding_box()
        for across, down in ((0.5, 0.5), (0.1, 0.15), (0.9, 0.85)):
            page.mouse.move(box["x"] + across * box["width"], box["y"] + down * box["height"])
            assert reading(page)["leg"].split()[0] == numbers.nth(number).inner_text()


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_pointing_at_a_stops_place_reads_that_stop_fifty_times_in_fifty(opened, address, report, device):
    page = opened(address, **device)
    page.locator("#map_drive").scroll_into_view_if_needed()
    segments, drawn = report.harvest.segments, np.random.default_rng(1)
    read = []
    for _ in range(25):
        for leg in (1, 3):
            x, y = place_on_map(page, int(np.flatnonzero(segments.leg == leg)[0]), report)
            east, south = drawn.uniform(-8, 8, 2)
            page.mouse.move(x + east, y + south)
            read.append(reading(page)["leg"].split()[0] == str(leg + 1))
    assert sum(read) == 50


def test_stops_bear_their_watt_hours_in_the_colour_of_their_mean(opened, address, report):
    page = opened(address)
    scale = classes(float(report.harvest.power_w.max()), POWER)
    labels = " ".join(page.locator(".map-label.name").all_text_contents())
    for leg in report.harvest.legs:
        if leg.kind == "stop":
            assert f"{leg.name} {leg.energy_wh:.0f} Wh" in labels
            colour = scale.colours[int(scale.of(np.array([leg.mean_w]))[0])]
            badge = page.locator(".live .badge.stop", has_text=str(leg.leg))
            shown = badge.evaluate("(one) => getComputedStyle(one).backgroundColor")
            assert shown == "rgb({}, {}, {})".format(*(int(colour[at : at + 2], 16) for at in (1, 3, 5)))
    assert {"Start", "Finish"} <= set(labels.split())


def test_the_numbers_of_driven_legs_leave_the_road_free(opened, address, report):
    page = opened(address, **PHONE)
    middle = report.harvest.segments.legs
    assert len(middle) == page.locator(".live .badge").count()
    for leg in (0, 2, 4):
        box = page.locator(".live .badge").nth(leg).bounding_box()
        rows = np.flatnonzero(report.harvest.segments.leg == leg)[::6]
        places = np.array([place_on_map(page, int(row), report) for row in rows])
        inside = (np.abs(places[:, 0] - box["x"] - 13) < 11) & (np.abs(places[:, 1] - box["y"] - 12) < 10)
        assert not inside.any()


def test_the_whole_route_is_a_button_away(opened, address):
    page = opened(address)
    before = page.evaluate("map_drive.getZoom()")
    page.evaluate("map_drive.setView(map_drive.getCenter(), map_drive.getZoom() + 3, {animate: false})")
    page.get_by_role("button", name="Whole route").click()
    assert page.evaluate("map_drive.getZoom()") == before


def test_a_finger_on_a_stops_number_reads_that_stop(opened, many_stops):
    page = opened(many_stops, **PHONE)
    page.locator("#map_drive").scroll_into_view_if_needed()
    numbers = page.locator(".leaflet-marker-pane .badge.stop")
    for number in range(29):
        box = numbers.nth(number).bounding_box()
        assert min(box["width"], box["height"]) >= 24
        page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.wait_for_timeout(300)  # two taps at once would zoom
        assert reading(page)["leg"].split()[0] == numbers.nth(number).inner_text()


def test_a_finger_on_the_chart_marks_a_place(opened, address):
    page = opened(address, **PHONE)
    box = page.locator(".chart").bounding_box()
    page.locator(".chart").scroll_into_view_if_needed()
    before = pointed_row(page)
    page.locator(".chart").tap(position={"x": box["width"] * 0.2, "y": box["height"] * 0.5})
    assert pointed_row(page) != before
    assert pointed_row(page) < 120


def test_a_finger_on_the_map_marks_a_place(opened, address, report):
    page = opened(address, **PHONE)
    page.locator("#map_drive").scroll_into_view_if_needed()
    x, y = place_on_map(page, 30, report)
    page.touchscreen.tap(x, y)
    wait_until(page, "document.querySelector('.chart').getAttribute('aria-valuenow') < 120")
    assert pointed_row(page) == pytest.approx(30, abs=12)  # several segments share a pixel


def test_clocks_on_the_page_follow_the_change_of_clock(opened, tmp_path_factory):
    # Tasmania goes from UTC+11 to UTC+10 at 03:00 on 4 April 2027: 20:00 and 14 hours is 09:00.
    departs = datetime.fromisoformat("2027-04-03T20:00:00+11:00").timestamp()
    page = opened(written(page_html(winding_report(600, depart_utc_s=departs)), tmp_path_factory))
    page.locator(".chart").focus()
    page.keyboard.press("Home")
    assert reading(page)["time"] == "Sat 3 Apr 20:01"  # the middle of the first two minutes
    page.keyboard.press("End")
    assert reading(page)["time"] == "Sun 4 Apr 08:59"
    assert "Sun 4 Apr" in page.locator(".chart text").all_text_contents()


def test_a_long_route_is_still_followed(opened, tmp_path_factory):
    report = winding_report(20_000)
    page = opened(written(page_html(report), tmp_path_factory))
    assert painted(pixels(page, "#map_drive"), POWER.colours(6)[0]) > 15
    x, y = place_on_map(page, 2000, report)
    page.mouse.move(x, y)
    assert pointed_row(page) == pytest.approx(2000, abs=60)  # a pixel holds some twenty segments
    # Stretches on one pixel are drawn as one: the path does not grow with the route.
    assert len(page.locator(".chart .power").get_attribute("d")) < 60_000
