"""The page as text: self-contained, the same every time, and safe whatever names it carries."""

import hashlib
import io
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hostile_names import HOSTILE
from matplotlib.colors import to_rgb
from matplotlib.image import imread
from page_text import Page, assert_policy_is_exact, assert_self_contained, html_text, unpacked
from pyproj import Transformer
from sample_harvest import (
    RATED_W,
    canopy_picture,
    full_report,
    most_outlines,
    relief_picture,
    renamed,
    rough_ground,
    winding_report,
)

from routesolar.report.colours import NOTHING
from routesolar.report.hour_bars import hours_svg
from routesolar.report.loss_bars import losses_svg
from routesolar.report.page import page_html
from routesolar.report.page_data import drive_data, page_json
from routesolar.report.png import canopy_png, relief_png, relief_rgba
from routesolar.report.still_map import map_svg
from routesolar.report.units import IMPERIAL, METRIC
from routesolar.trip.ground import Ground
from routesolar.trip.names import printable

SVG = "{http://www.w3.org/2000/svg}"
WEB_MERCATOR = Transformer.from_crs(4326, 3857, always_xy=True)


@pytest.fixture(scope="module")
def report():
    return winding_report()


@pytest.fixture(scope="module")
def html(report):
    return page_html(report)


@pytest.fixture(scope="module")
def page(html):
    return Page(html)


def test_the_answer_stands_on_top(page, report):
    words = html_text(page)
    assert words.index("should deliver") < words.index("Legs")
    assert page.shown_in("strong")[0] == f"{report.harvest.totals.energy_wh:.0f}\u00a0Wh"


def test_nothing_in_the_page_points_outside(html, page):
    assert_self_contained(html, page)


def test_the_policy_lets_in_exactly_the_texts_of_this_page(page):
    assert_policy_is_exact(page)


def test_the_page_is_small():
    for count, most_bytes in ((2000, 700_000), (20_000, 3_000_000)):
        report = replace(winding_report(count), ground=replace(rough_ground(), outlines=most_outlines()))
        assert len(page_html(report).encode()) < most_bytes


def test_the_same_report_gives_the_same_page_in_another_process(html):
    program = (
        "import hashlib, sample_harvest; from routesolar.report.page import page_html; "
        "print(hashlib.sha256(page_html(sample_harvest.winding_report()).encode()).hexdigest())"
    )
    root = Path(__file__).parents[2]
    environment = os.environ | {
        "PYTHONHASHSEED": "12345",
        "PYTHONPATH": os.pathsep.join([str(root), str(root / "tests")]),
    }
    other = subprocess.run([sys.executable, "-c", program], env=environment, capture_output=True, check=True)
    assert other.stdout.decode().strip() == hashlib.sha256(html.encode()).hexdigest()


def test_legs_totals_assumptions_and_warnings_are_there_without_script(page, report):
    words = html_text(page)
    for leg in report.harvest.legs:
        assert leg.name in words
        assert f"{leg.energy_wh:.0f}" in page.shown_in("td")
    for needed in ("What was assumed", "cover.tif", "straight lines over 2", "roof load", "electrical code"):
        assert needed in words
    for caution in ("below freezing", "Watch the road", "registered", "licensed electrician"):
        assert caution in words


def test_percentiles_are_shown_only_where_known(report):
    assert "9 days in 10 at least" not in Page(page_html(report)).shown_in("th")
    legs = tuple(replace(leg, energy_low_wh=11.0) for leg in report.harvest.legs)
    totals = replace(report.harvest.totals, energy_low_wh=77.0)
    known = Page(page_html(replace(report, harvest=replace(report.harvest, legs=legs, totals=totals))))
    assert "9 days in 10 at least" in known.shown_in("th")
    assert "77" in known.shown_in("td")
    assert "nine days in ten at least 77" in html_text(known)


def test_imperial_pages_speak_miles(report):
    unwarned = replace(report, harvest=replace(report.harvest, warnings=()))
    words = html_text(Page(page_html(unwarned, IMPERIAL)))
    miles = report.harvest.totals.distance_km / 1.609344
    assert f"{miles:.0f}\u00a0mi in" in words
    assert "km" not in words


def test_the_data_is_the_harvest_to_half_its_last_digit(report):
    harvest = report.harvest
    data = json.loads(page_json(report, METRIC))
    rows = {name: unpacked(packed) for name, packed in data["rows"].items()}
    segments = harvest.segments
    for name, values, half_digit in (
        ("power_w", harvest.power_w, 0.05),
        ("low_w", harvest.state_power_w.min(axis=0), 0.05),
        ("high_w", harvest.state_power_w.max(axis=0), 0.05),
        ("open_w", harvest.open_sky_w, 0.05),
        ("sun_deg", harvest.sun_elevation_deg, 0.05),
        ("latitude_deg", segments.latitude_deg, 5e-7),
        ("longitude_deg", segments.longitude_deg, 5e-7),
        ("along_m", segments.along_m, 0.5),
    ):
        assert np.abs(rows[name] - values).max() <= half_digit * (1 + 1e-6)
    ends_s = np.append(segments.start_utc_s[0], segments.arrival_utc_s[0]) - segments.departure_utc_s[0]
    assert np.abs(rows["start_s"] - ends_s).max() <= 0.05 * (1 + 1e-6)


def test_legs_in_the_data_cover_every_row_once(report):
    legs = drive_data(report, METRIC)["legs"]
    assert legs[0]["first"] == 0
    assert [leg["after"] for leg in legs[:-1]] == [leg["first"] for leg in legs[1:]]
    assert legs[-1]["after"] == report.harvest.segments.count
    assert all(leg["first"] <= leg["middle"] < leg["after"] for leg in legs)


def test_a_line_breaks_where_the_road_does_not_go_on(report):
    driven_on = report.harvest.segments.driven_on.copy()
    driven_on[10] = False
    segments = replace(report.harvest.segments, driven_on=driven_on)
    breaks = drive_data(replace(report, harvest=replace(report.harvest, segments=segments)), METRIC)["breaks"]
    assert [row for row, *_ in breaks] == [10, segments.count - 1]
    assert breaks[0][1:] == pytest.approx(
        (segments.end_latitude_deg[10], segments.end_longitude_deg[10]), abs=1e-6
    )


def test_the_clock_follows_its_zone_through_a_change():
    # Tasmania went from UTC+11 to UTC+10 at 03:00 on the first Sunday of April, 4 April 2027: 7 h after 20:00.
    departs = datetime.fromisoformat("2027-04-03T20:00:00+11:00").timestamp()
    data = drive_data(winding_report(depart_utc_s=departs), METRIC)
    assert data["utc_offsets_min"] == [(0.0, 660), (7 * 3600.0, 600)]


@pytest.mark.parametrize("name", [name for name in HOSTILE.values() if name], ids=filter(HOSTILE.get, HOSTILE))
def test_hostile_names_change_no_element_of_the_page(report, page, name):
    hostile = Page(page_html(renamed(report, name)))
    assert hostile.skeleton == page.skeleton
    assert hostile.within("script")[1] == page.within("script")[1]
    data = json.loads(hostile.within("script")[0])
    shown = printable(name)
    assert {leg["name"] for leg in data["legs"]} == {shown}
    assert shown in " ".join(html_text(hostile).split())


def test_what_has_no_name_is_called_so(report):
    nameless = Page(page_html(renamed(report, "")))
    assert "Unnamed route: energy from the roof" in nameless.within("title")
    assert nameless.shown_in("span").count("unnamed") == 5


def test_no_script_text_could_close_its_element(page):
    for text in page.within("script"):
        assert "</script" not in text.lower()
        assert "<!--" not in text


def test_the_still_map_is_well_formed_and_draws_every_class(report):
    drawing = ElementTree.fromstring(map_svg(report, METRIC).replace("<svg ", f'<svg xmlns="{SVG[1:-1]}" ', 1))
    roads = [path for path in drawing.iter(f"{SVG}path") if path.get("class") == "road"]
    scale = drive_data(report, METRIC)["layers"]["power"]
    moving = report.harvest.power_w[~report.harvest.segments.stopped]
    used = {scale["colours"][int(watts // scale["step"])] for watts in moving[moving > 0]}
    assert {path.get("stroke") for path in roads} == used | {NOTHING}
    numbers = [text.text for text in drawing.findall(f".//{SVG}g/{SVG}text")]
    assert sorted(numbers[:5]) == ["1", "2", "3", "4", "5"]


def test_the_still_road_has_the_shape_of_the_route_in_web_mercator(report):
    casing = re.search(r'class="casing" d="([^"]+)"', map_svg(report, METRIC))[1]
    places, place = [], np.zeros(2)
    for command, x, y in re.findall(r"([Ml])(-?[\d.]+) (-?[\d.]+)", casing):
        step = np.array([float(x), float(y)])
        place = step if command == "M" else place + step
        places.append(place)
    drawn = np.ptp(np.array(places), axis=0)
    segments = report.harvest.segments
    true_m = WEB_MERCATOR.transform(
        np.append(segments.longitude_deg, segments.end_longitude_deg),
        np.append(segments.latitude_deg, segments.end_latitude_deg),
    )
    # Drawn to a tenth of a unit, some 400 units high.
    assert drawn[0] / drawn[1] == pytest.approx(np.ptp(true_m[0]) / np.ptp(true_m[1]), rel=1e-3)
    # 6 % of the width lies left and right.
    assert drawn[0] / 450 == pytest.approx(1 / 1.12, rel=1e-3)


def test_trees_are_as_opaque_as_they_are_dense():
    picture = canopy_picture()
    shown = imread(io.BytesIO(canopy_png(picture, (10, 20, 30))), format="png")
    assert shown.shape[:2] == picture.values.shape
    expected = np.nan_to_num(picture.values) * 190 / 255
    known = np.isfinite(picture.values)
    # Half of one of seven steps.
    assert np.abs(shown[..., 3] - expected)[known].max() < 0.5 / 7 * 190 / 255 + 0.003
    # Not known is hatched, so that it does not look treeless.
    assert 0.15 < np.mean(shown[~known][:, 3] > 0) < 0.25


def test_hills_are_black_in_shadow_white_in_light_and_clear_where_level_or_unknown():
    shade = np.array([[0.0, np.sqrt(0.5) / 2, np.sqrt(0.5), 1.0, np.nan]], dtype=np.float32)
    shown = imread(io.BytesIO(relief_png(replace(relief_picture(), values=shade))), format="png")[0]
    assert shown[:, 3] == pytest.approx([165 / 255, 82.5 / 255, 0, 120 / 255, 0], abs=0.003)
    assert np.all(shown[:2, :3] == 0)
    assert np.all(shown[3, :3] == 1)
    assert np.abs(relief_rgba(shade)[0] / 255 - shown).max() < 0.01


def test_pictures_without_order_are_made_small_and_show_the_same_ground():
    ground = rough_ground()
    left_dense = np.where(np.arange(600) < 300, ground.trees.values, 0 * ground.trees.values)
    pngs = [
        canopy_png(replace(ground.trees, values=left_dense), (10, 20, 30)),
        relief_png(ground.relief),
    ]
    assert max(len(png) for png in pngs) <= 36_000
    trees, relief = (imread(io.BytesIO(png), format="png") for png in pngs)
    assert trees.shape[0] == pytest.approx(trees.shape[1], rel=0.02)
    half = trees.shape[1] // 2
    assert np.all(trees[:, half + 1 :, 3] == 0)
    assert trees[:, : half - 1, 3].mean() == pytest.approx(0.5 * 190 / 255, abs=0.02)
    assert min(relief.shape[:2]) > 150


def test_bars_are_as_high_as_the_hours_energy(report):
    drawing = ElementTree.fromstring(hours_svg(report.harvest))
    total = {"driving": 0.0, "stopped": 0.0}
    for bar in (one for one in drawing.iter("rect") if one.get("class") != "night"):
        total[bar.get("class")] += float(bar.get("height"))
    assert total["driving"] / total["stopped"] == pytest.approx(
        report.harvest.driving_wh / report.harvest.stopped_wh, rel=0.01
    )


def test_loss_bars_lead_from_the_rated_power_down_to_the_battery():
    report = full_report()
    bars = ElementTree.fromstring(losses_svg(report)).findall("rect")
    widths = [float(bar.get("width")) for bar in bars]
    rated_wh = report.harvest.rated_clear_wh
    delivered_wh = report.harvest.totals.energy_wh
    expected = [rated_wh, 300, 120, 20, 8, delivered_wh, 12, report.harvest.battery_wh]
    # Bars are drawn to a tenth of a unit, the longest 276 long.
    assert np.array(widths) / widths[0] == pytest.approx(np.array(expected) / rated_wh, abs=5e-4)
    assert [bar.get("class") for bar in bars] == [
        *("whole", "lost", "lost", "lost", "gain", "whole", "lost", "whole")
    ]
    ends = [float(bar.get("x")) + float(bar.get("width")) for bar in bars]
    assert ends[1] == pytest.approx(ends[0], abs=0.11)  # the first loss is cut off the whole
    assert ends[5] == pytest.approx(ends[4], abs=0.11)  # what the last leaves is what arrives
    assert ends[6] == pytest.approx(ends[5], abs=0.11)  # of it, what the battery turns away


def test_a_battery_adds_its_columns_and_curves():
    report = full_report()
    page = Page(page_html(report))
    assert "Battery after" in page.shown_in("th")
    assert f"{100 * report.harvest.charge.soc_frac[-1]:.0f} %" in page.shown_in("td")
    rows = json.loads(page.within("script")[0])["rows"]
    assert np.abs(unpacked(rows["soc_pct"]) - 100 * report.harvest.charge.soc_frac).max() <= 0.051


def test_a_drive_without_sun_still_makes_a_page(report):
    harvest = report.harvest
    zero = np.zeros(harvest.segments.count)
    dark = replace(
        harvest,
        power_w=zero,
        open_sky_w=zero,
        state_power_w=np.stack([zero, zero]),
        sun_elevation_deg=zero - RATED_W / 10,
    )
    assert "should deliver" in page_html(replace(report, harvest=dark, ground=Ground()))


def themes():
    """The named colours of the light theme, of the dark one over it, and of paper."""
    css = (Path(__file__).parents[2] / "routesolar/report/assets/page.css").read_text()
    blocks = [
        dict(re.findall(r"--([a-z]+): (#[0-9a-f]{3,6});", block))
        for block in re.findall(r":root \{(.*?)\}", css, flags=re.DOTALL)
    ]
    assert len(blocks) == 3
    return [blocks[0] | block for block in blocks]


def luminance(colour):
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in to_rgb(colour)]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def contrast(one, other):
    """WCAG 2.2's contrast ratio of two colours."""
    high, low = sorted([luminance(one), luminance(other)], reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", [0, 1, 2], ids=["light", "dark", "paper"])
def test_words_and_lines_stand_out_from_their_ground(theme):
    colours = themes()[theme]
    # WCAG 2.2, 1.4.3: 4.5 for text; 1.4.11: 3 for what must be seen to be understood.
    for ink in ("ink", "quiet", "accent"):
        assert contrast(colours[ink], colours["paper"]) >= 4.5
        assert contrast(colours[ink], colours["ground"]) >= 4.5
    assert contrast(colours["ink"], colours["badge"]) >= 4.5
    for line in ("casing", "open", "sun", "driving", "stopped", "focus"):
        assert contrast(colours[line], colours["paper"]) >= 3
    assert contrast(colours["casing"], colours["ground"]) >= 3
