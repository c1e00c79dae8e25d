"""The tall picture for phones: who gets it alone knows where, when, with what and how sure."""

import struct
from dataclasses import replace

import pytest
from hostile_names import HOSTILE
from sample_harvest import full_report, renamed, winding_report

from routesolar.report.card import _rows, card_png, facts
from routesolar.report.units import IMPERIAL, METRIC
from routesolar.trip.surroundings import Canopy


def test_it_is_a_phone_wide_and_has_a_size_on_paper():
    png = card_png(winding_report(200))
    assert struct.unpack(">II", png[16:24]) == (1080, 1920)
    at = png.index(b"pHYs")
    assert struct.unpack(">IIB", png[at + 4 : at + 13]) == (9449, 9449, 1)  # 240 to the inch of 25.4 mm


def test_it_tells_the_facts_of_the_line():
    report = winding_report(200)
    told = dict(facts(report, METRIC))
    assert told["When"].startswith("Fri 20 Nov 2026, 07:30 to ")
    assert told["Panel"] == "200 W panel, flat"
    for subject in ("Panel", "Sky", "How sure", "Around"):
        assert told[subject] in report.rests_on


def test_what_is_not_known_comes_first():
    report = winding_report(200)
    bare = replace(report, basis=replace(report.basis, canopy=Canopy.open(report.harvest.segments.count)))
    assert facts(bare, METRIC)[0] == (
        "Around",
        "Trees and hills along the road are not known here and were left out.",
    )


def test_a_battery_is_told_of_where_there_is_one():
    assert "Battery" in dict(facts(full_report(), METRIC))
    assert "Battery" not in dict(facts(winding_report(200), METRIC))


def test_miles_are_miles():
    assert " mi in " in dict(facts(winding_report(200), IMPERIAL))["Way"]


@pytest.mark.parametrize("name", [HOSTILE["mathtext"], HOSTILE["long"], HOSTILE["empty"]])
def test_no_name_breaks_it(name):
    assert card_png(renamed(winding_report(60), name))


def test_long_words_stay_in_two_rows():
    assert [len(row) <= 42 for row in _rows("x" * 200, 42)] == [True, True]
