"""The line that a picture or a sheet carries: when, with what, under which sky, how sure, what is not known."""

import json
import struct
from dataclasses import replace

from page_text import Page, html_text
from sample_decisions import RESTS_ON, a_year, calendar_report, departing_watts, departures_report, ranked
from sample_harvest import winding_report
from terminal import asked, road, run

from routesolar.report.basis_words import rests_on
from routesolar.report.calendar_page import calendar_html
from routesolar.report.map_sheet import map_png
from routesolar.report.page import page_html
from routesolar.trip.surroundings import Canopy


def test_the_line_tells_when_with_what_and_how_sure():
    line = winding_report().rests_on
    for said in (
        "Fri 20 Nov 2026, leaving 07:30",
        "200 W panel, flat",
        "broken sky",
        "forecast for tomorrow",
        "trees from cover.tif",
        "hills not known",
        "routesolar 0.1.0",
    ):
        assert said in line


def test_what_is_not_known_comes_first_and_does_not_sound_like_a_finding():
    report = winding_report()
    bare = replace(report, basis=replace(report.basis, canopy=Canopy.open(report.harvest.segments.count)))
    line = rests_on(bare.basis, bare.software)
    assert line.startswith("Trees and hills along the road are not known here and were left out.")


def test_every_page_bears_its_line_and_what_was_assumed():
    report = winding_report()
    assert report.rests_on in html_text(Page(page_html(report))).replace("\u00a0", " ")
    page = html_text(Page(calendar_html(calendar_report(a_year()), a_year()))).replace("\u00a0", " ")
    assert RESTS_ON in page
    assert "What was assumed" in page


def test_pictures_have_a_size_on_paper():
    for png in (map_png(winding_report()), departures_report(ranked(departing_watts())).chart_png):
        at = png.index(b"pHYs")
        across, down, unit = struct.unpack(">IIB", png[at + 4 : at + 13])
        # PNG counts points to the metre; 150 to the inch of 25.4 mm.
        assert (across, down, unit) == (5906, 5906, 1)


def test_files_of_a_decision_and_a_harvest_say_what_they_rest_on(tmp_path):
    route = road(tmp_path)
    for command in ("harvest", "departures"):
        every = ["--every", "3h"] if command == "departures" else []
        assert run(command, *asked(route), *every, "--step", "1km", "-o", tmp_path / command).code == 0
        line = json.loads((tmp_path / command / "result.json").read_text())["rests_on"]
        assert "panel" in line
        assert line in html_text(Page((tmp_path / command / "page.html").read_text())).replace("\u00a0", " ")
