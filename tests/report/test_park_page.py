"""The page of parking as text: self-contained, and every spot where it is."""

import json
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from hostile_names import HOSTILE
from page_text import Page, assert_policy_is_exact, assert_self_contained, html_text
from sample_parking import lattice_parking, parking_report

from routesolar.report.colours import POWER, classes
from routesolar.report.park_map import park_plane, park_svg
from routesolar.report.park_page import park_html
from routesolar.report.units import METRIC
from routesolar.trip.names import printable


@pytest.fixture(scope="module")
def result():
    return lattice_parking()


@pytest.fixture(scope="module")
def html(result):
    return park_html(parking_report(result), result)


def drawing(result):
    return ElementTree.fromstring(park_svg(result, park_plane(result), METRIC))


def squares(picture, kind):
    found = [rect for rect in picture.iter("rect") if rect.get("class") == kind]
    corners = np.array([[float(rect.get("x")), float(rect.get("y"))] for rect in found])
    return found, corners + float(found[0].get("width")) / 2


def test_the_page_keeps_to_itself_and_is_the_same_every_time(html, result):
    assert_self_contained(html, Page(html))
    assert_policy_is_exact(Page(html))
    assert park_html(parking_report(result), lattice_parking()) == html


def test_the_driver_is_told_who_judges(html):
    assert "for the driver to judge" in html_text(Page(html))


def test_every_spot_lies_where_it_is_north_up(result):
    found, middles = squares(drawing(result), "spot")
    assert len(found) == len(result.spots) == 72
    # The lattice's corner at the stop's north-east: 48 m both ways; the best column is the easternmost.
    best_column = middles[:8]
    assert np.ptp(best_column[:, 0]) == pytest.approx(0, abs=0.1)
    assert best_column[:, 0].min() == pytest.approx(middles[:, 0].max(), abs=0.1)
    by_north = np.argsort([-spot.latitude_deg for spot in result.spots[:8]])
    assert np.all(np.diff(best_column[by_north, 1]) > 0)
    apart = np.diff(np.unique(np.round(middles[:, 0], 1)))
    # Drawn to a tenth of a unit, both ends.
    assert apart == pytest.approx(apart.mean(), abs=0.21)


def test_spots_have_the_colour_of_their_energy_and_trees_are_apart(result):
    picture = drawing(result)
    scale = classes(max(spot.energy_wh for spot in result.spots), POWER)
    for rect, spot in zip(squares(picture, "spot")[0], result.spots, strict=True):
        assert rect.get("fill") == scale.colours[int(spot.energy_wh // scale.step)]
    taken, middles = squares(picture, "taken")
    assert len(taken) == 9
    assert middles[:, 1].min() > squares(picture, "spot")[1][:, 1].max()


def test_the_arrow_points_where_the_nose_should(result):
    way = next(group for group in drawing(result).findall("g") if group.get("class") == "way")
    assert re.search(r"rotate\((\d+)\)", way.get("transform"))[1] == f"{result.spots[0].heading_deg:.0f}"
    # Unturned, the arrow's tip is up, which is north here.
    assert "V-" in way.find("path").get("d")


def test_the_table_has_an_arrow_wherever_a_heading_matters(html, result):
    page = Page(html)
    turns = [
        int(re.search(r"rotate\((\d+)\)", attributes["transform"])[1])
        for tag, attributes in page.elements
        if tag == "path" and attributes.get("transform", "").startswith("rotate")
    ]
    assert turns == [int(spot.heading_deg) for spot in result.spots if spot.heading_deg is not None]
    assert "any" in page.shown_in("td")


def test_the_data_has_every_spots_place_in_the_picture(html, result):
    spots = json.loads(Page(html).within("script")[0])["spots"]
    _, middles = squares(drawing(result), "spot")
    assert np.array([[spot["x"], spot["y"]] for spot in spots]) == pytest.approx(middles, abs=0.11)


def test_spots_across_the_antimeridian_stay_together():
    picture = drawing(lattice_parking(west_deg=179.9999))
    _, middles = squares(picture, "spot")
    _, elsewhere = squares(drawing(lattice_parking()), "spot")
    assert middles == pytest.approx(elsewhere, abs=0.3)


def test_pages_stay_small():
    result = lattice_parking(20)
    assert len(park_html(parking_report(result), result).encode()) < 300_000


def test_a_single_spot_is_drawn():
    result = lattice_parking(2)
    none = np.zeros(0)
    alone = replace(result, spots=result.spots[:1], occupied_latitude_deg=none, occupied_longitude_deg=none)
    assert len(squares(drawing(alone), "spot")[0]) == 1


@pytest.mark.parametrize("name", [name for name in HOSTILE.values() if name], ids=filter(HOSTILE.get, HOSTILE))
def test_hostile_names_change_no_element(html, name):
    result = lattice_parking(name=name)
    hostile = Page(park_html(parking_report(result, title=name), result))
    assert hostile.skeleton == Page(html).skeleton
    assert printable(name) in " ".join(html_text(hostile).split())


def test_the_road_and_the_suns_way_are_on_the_map():
    result = lattice_parking()
    drawing = park_svg(result, park_plane(result), METRIC)
    assert drawing.count('class="way-in"') == 1
    # 10:00 to 15:00 in summer time: a mark an hour; the sun stands north of a place at 42 degrees south.
    marks = [
        (float(x), float(y)) for x, y in re.findall(r'class="sun-at" cx="([\d.]+)" cy="([\d.]+)"', drawing)
    ]
    assert len(marks) == 6
    assert all(y < 320 for _, y in marks)
    assert marks[0][0] > 320 > marks[-1][0]
    # Solar noon is near 13:00 there (12:00 + 11 h - 147 / 15 h - 14 minutes of the equation of time); the sun's
    # declination is then -19.6 degrees (almanac, from memory): 22.4 from straight above, of 90 at the rim.
    highest = min(np.hypot(x - 320, y - 320) for x, y in marks)
    assert highest / (320 - 34) * 90 == pytest.approx(22.4, abs=0.5)


def test_without_a_road_none_is_drawn():
    result = replace(lattice_parking(), road=None)
    assert "way-in" not in park_svg(result, park_plane(result), METRIC)
