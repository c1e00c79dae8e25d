"""What decisions say, and the pictures they draw."""

import io
from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc
from hostile_names import HOSTILE
from matplotlib.colors import to_rgb
from matplotlib.image import imread

from routesolar.decisions.calendar import year_calendar
from routesolar.decisions.compare import Candidate, compare_routes
from routesolar.decisions.departures import SURE_FRAC, ranked
from routesolar.decisions.roof import GAP_M, Offer, fit_roof
from routesolar.decisions.size import size_panels
from routesolar.decisions.starts import year_starts_utc_s
from routesolar.decisions.transit import transit_day
from routesolar.model.simulation import simulate
from routesolar.model.sweeping import sweep
from routesolar.report.charts import DRIVE, SUN
from routesolar.report.colours import NOTHING
from routesolar.report.decision_charts import calendar_png, compare_png, departures_png, size_png
from routesolar.report.decision_text import chance, listed, table_text, terminal_text
from routesolar.report.units import IMPERIAL, METRIC
from routesolar.report.words_sizes import roof_sentences, size_words
from routesolar.report.words_when import calendar_words, departures_words, transit_sentences
from routesolar.report.words_which import compare_words
from routesolar.trip.rig import Battery, Controller, Load, Panel, Rig
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

ZONE = "Australia/Hobart"
RIG = Rig(panels=(Panel(rated_w=200.0),), battery=Battery(capacity_wh=600.0), loads=(Load(power_w=60.0),))
SKIES = [Sky(name="broken"), Sky(name="rain")]


def drive(starts, **more):
    return replace(straight_drive(-41.5, 146.5, list(starts), segments=60, step_s=60.0, **more), time_zone=ZONE)


def swept(segments):
    n = segments.count
    return sweep(segments, RIG, Canopy.open(n), Terrain.flat(n), SKIES)


@pytest.fixture(scope="module")
def departures():
    return ranked(swept(drive(utc("2026-11-20T06:00+11:00") + 1800.0 * np.arange(24))))


@pytest.fixture(scope="module")
def calendar():
    return year_calendar(swept(drive(year_starts_utc_s(2026, 0.0, 82_800.0, 3600.0, ZONE))))


@pytest.fixture(scope="module")
def sizing():
    camp = drive([utc("2026-12-20T13:00+11:00")], speed_mps=0.0)
    rig = replace(RIG, controller=Controller(max_input_w=150.0))
    return size_panels(camp, rig, Canopy.open(60), Terrain.flat(60), Sky(name="clear"), [50, 200, 400])


def comparison(names=("Coast", "Forest")):
    start = [utc("2026-11-20T09:00+11:00")]
    sweeps = [swept(drive(start)), swept(drive(start, heading_deg=40.0, speed_mps=10.0))]
    return compare_routes([Candidate(*pair) for pair in zip(names, sweeps, strict=True)], 1)


def painted(png, colour):
    """How many pixels have exactly this colour."""
    picture = np.round(imread(io.BytesIO(png), format="png")[..., :3] * 255).astype(int)
    return int(np.all(picture == np.round(np.array(to_rgb(colour)) * 255), axis=-1).sum())


def test_departures_say_the_best_its_least_and_what_is_as_good(departures):
    words = departures_words(departures)
    assert words.answer.startswith("Leave any time from ") and "on 20 Nov 2026: at 1" in words.answer
    assert f"at least {departures.best.energy_low_wh:.0f} Wh, under broken sky" in words.answer
    said = " ".join(words.remarks)
    assert "Equally good: all from" in said and "Best under other skies: rain" in said
    assert "the battery ends at" in said and "standing" not in said
    assert len(words.cells) == 24 and all(len(row) == len(words.header) for row in words.cells)


def test_an_advantage_that_is_none_is_not_told_as_one():
    result = comparison()
    best, second = result.routes[result.best], result.routes[result.second]
    near = replace(second, energy_wh=0.994 * best.energy_wh)
    routes = tuple(near if route is second else route for route in result.routes)
    words = compare_words(replace(result, routes=routes), METRIC)
    assert words.answer.startswith("It makes no difference: ")


def test_a_single_departure_is_not_compared(departures):
    words = departures_words(replace(departures, ranked=departures.ranked[:1]))
    assert "Equally good" not in " ".join(words.remarks) and "lowest, at" not in " ".join(words.remarks)


def test_the_terminal_shows_the_first_rows_within_its_width(departures):
    for width in (40, 80, 120):
        text = terminal_text(departures_words(departures), ("a warning",), width)
        assert max(map(len, text.splitlines())) <= max(width, 70)
        assert "... and 12 more rows" in text and text.endswith("1 warning was given beside this report.\n")


def test_a_table_gives_way_from_the_right():
    header, cells = ("name", "much", "more"), (("a", "1", "22"), ("bb", "333", "4"))
    assert table_text(header, cells, 80).splitlines() == [
        "name  much  more",
        "----  ----  ----",
        "a        1    22",
        "bb     333     4",
    ]
    assert table_text(header, cells, 12).splitlines()[0] == "name  much"


def test_a_calendar_says_best_and_worst_month(calendar):
    words = calendar_words(calendar)
    assert words.answer.startswith("The most comes in December, leaving any time from 12:00 to 13:00: ")
    assert words.remarks[0].startswith("June gives at best")
    assert len(words.cells) == 12


def test_a_comparison_says_which_how_sure_and_where():
    result = comparison()
    words = compare_words(result, METRIC)
    best = result.routes[result.best]
    assert words.answer.startswith(f"It makes no difference: {best.name} gathers")
    for win_prob, answer in (
        (0.9, f"{best.name} gathers the most"),
        (SURE_FRAC - 0.01, f"Too close to call: {best.name} gathers"),
    ):
        routes = tuple(
            replace(route, win_prob=win_prob)
            if route is best
            else replace(route, outcome=route.outcome._replace(taken_wh=0.9 * best.energy_wh))
            for route in result.routes
        )
        assert compare_words(replace(result, routes=routes), METRIC).answer.startswith(answer)
    assert "Under the same sky" in words.remarks[0]
    assert compare_words(result, IMPERIAL).header[2] == "mi"


def test_the_same_road_twice_is_said_to_be_the_same():
    same = swept(drive([utc("2026-11-20T09:00+11:00")]))
    words = compare_words(compare_routes([Candidate("a", same), Candidate("b", same)], 1), METRIC)
    assert words.answer.startswith("a and b gather the same: ")
    assert "gathers the most" not in " ".join((words.answer, *words.remarks))


def test_sizes_say_where_more_watts_stop_helping(sizing):
    words = size_words(sizing)
    assert sizing.knee is not None
    assert words.answer.startswith(f"Beyond {sizing.knee.rated_w:g} W, more panel helps little under clear sky")
    single = replace(sizing, sizes=sizing.sizes[:1], knee=None)
    assert size_words(single).answer.startswith("50 W gives")


def test_no_watt_helps_where_no_sun_reaches_the_roof():
    night = drive([utc("2026-11-20T23:00+11:00")])
    dark = size_panels(night, RIG, Canopy.open(60), Terrain.flat(60), Sky(name="clear"), [50, 200])
    assert size_words(dark).answer == "No sun reaches the roof on this drive: no panel gives anything."


def test_a_transit_day_is_told_in_sentences():
    segments = drive([utc("2026-11-20T18:30+11:00")])
    harvest = simulate(segments, RIG, Canopy.open(60), Terrain.flat(60), SKIES)
    said = transit_sentences(transit_day(harvest, RIG))
    assert said[0].endswith("the drive has no stop.")
    assert said[2].startswith(
        "With the expected watts throughout, the longest spell in which the sun gives less than the loads use "
        "is 18:30 to 19:30"
    )
    assert transit_sentences(transit_day(harvest, replace(RIG, loads=())))[-1] == said[1]


def test_a_roof_is_told_in_sentences():
    said = roof_sentences(fit_roof(2.02, 1.01, [Offer(400, 2, 1), Offer(200, 3, 1)], GAP_M), GAP_M)
    assert said[0] == "1 of the 400 W panels, 2 x 1 m each, fit: 400 W in total (1 lengthwise, 0 crosswise)."
    assert said[1] == "None of the 200 W panels, 3 x 1 m each, fits."


def test_chances_never_claim_certainty():
    assert [chance(frac) for frac in (1.0, 0.96, 0.5, 0.0)] == ["over 99 %", "96 %", "50 %", "under 1 %"]
    assert [listed(list(names)) for names in ("a", "ab", "abc")] == ["a", "a and b", "a, b and c"]


def test_charts_are_the_same_bytes_and_show_their_colours(departures, calendar, sizing):
    pictures = {
        "departures": (departures_png, departures, DRIVE),
        "calendar": (calendar_png, calendar, NOTHING),
        "size": (size_png, sizing, SUN),
        "compare": (compare_png, comparison(), "#a8442f"),
    }
    for draw, result, colour in pictures.values():
        png = draw(result)
        assert png == draw(result)
        assert painted(png, colour) > 3000


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_do_no_harm(name):
    result = comparison((name, "Forest"))
    assert compare_png(result).startswith(b"\x89PNG")
    text = terminal_text(compare_words(result, METRIC), (name,), 80)
    assert all(letter == "\n" or letter.isprintable() for letter in text)
