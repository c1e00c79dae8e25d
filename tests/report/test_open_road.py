"""Where nothing is said of trees, the first words of every answer are those of an open road."""

from collections.abc import Callable
from pathlib import Path

import pytest
from page_text import Page, html_text
from terminal import road

import routesolar as rs
from routesolar.report.units import METRIC
from routesolar.report.words_sizes import size_words
from routesolar.report.words_when import calendar_words, departures_words
from routesolar.report.words_which import compare_words

KNOWN = {"panel": "200W", "depart": "2026-11-20 12:00", "speed": "60km/h"}
HOURS = {"first": "11:00", "last": "12:00", "every": "1h"}
ANSWERS: dict[str, tuple[Callable[[rs.Trip], object], Callable[..., object], str]] = {
    "departures": (
        lambda trip: rs.rank_departures(trip, **HOURS),
        departures_words,
        "On an open road, leave any time from 1",
    ),
    "calendar": (
        lambda trip: rs.calendar(trip, 2026, **HOURS),
        calendar_words,
        "On an open road, the most comes in ",
    ),
    "size": (lambda trip: rs.size(trip, [100, 200]), size_words, "On an open road, "),
    "compare": (
        lambda trip: rs.compare([trip, trip]),
        lambda result: compare_words(result, METRIC),
        "On open roads, ",
    ),
}


@pytest.fixture(scope="module")
def gpx(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return road(tmp_path_factory.mktemp("road"))


@pytest.mark.parametrize("name", ANSWERS)
def test_an_answer_begins_with_the_open_road_only_where_nothing_is_said_of_trees(gpx, name):
    ask, words, first = ANSWERS[name]
    bare = ask(rs.Trip.from_gpx(gpx, **KNOWN))
    assert words(bare).answer.startswith(first)
    assert first in html_text(Page(bare._repr_html_())).replace("\u00a0", " ")
    wooded = ask(rs.Trip.from_gpx(gpx, canopy_cover_pct=50, **KNOWN))
    assert "open road" not in words(wooded).answer
    assert words(wooded).answer[0].isupper() or name == "compare"


def test_a_harvest_shown_in_a_notebook_begins_with_it_too(gpx):
    for trees, first in (({}, "On an open road, expect "), ({"canopy_cover_pct": 50}, "Expect ")):
        trip = rs.Trip.from_gpx(gpx, **KNOWN, **trees)
        drive = trip.drive()
        harvest = rs.harvest(rs.scene(drive, trip.rig, rs.surroundings(trip, drive)), trip.skies)
        words = html_text(Page(harvest._repr_html_())).replace("\u00a0", " ")
        assert first in words
        assert ("open road" in words) == (not trees)
