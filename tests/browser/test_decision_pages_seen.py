"""Pages of decisions in a real browser: the slider moves map, chart, values and table together."""

import numpy as np
import pytest
from page_in_browser import DESKTOP, PHONE, painted, pixels, pointed_row, wait_until, written
from sample_decisions import (
    a_year,
    calendar_report,
    compared_report,
    departing_watts,
    departures_report,
    ranked,
    side_by_side,
)
from sample_harvest import sample_ground
from sample_parking import lattice_parking, parking_report

from routesolar.report.calendar_page import calendar_html
from routesolar.report.colours import POWER, classes
from routesolar.report.compare_page import compare_html
from routesolar.report.departures_page import departures_html
from routesolar.report.park_page import park_html
from routesolar.trip.clock import to_local
from routesolar.trip.ground import Ground

pytestmark = pytest.mark.browser


@pytest.fixture(scope="session")
def watts():
    return departing_watts(600, 61)


@pytest.fixture(scope="session")
def result(watts):
    return ranked(watts)


@pytest.fixture(scope="session")
def departures(watts, result, tmp_path_factory):
    html = departures_html(departures_report(result), result, watts, sample_ground())
    return written(html, tmp_path_factory)


def slide_to(page, number):
    page.locator("input.departure").evaluate(
        "(slider, to) => { slider.value = to; slider.dispatchEvent(new Event('input')); }", number
    )
    drawn(page)


def drawn(page):
    """Wait until what was asked for in this frame has been drawn."""
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def values(page, name):
    return dict(
        zip(
            page.locator(f".{name} dt").all_inner_texts(),
            page.locator(f".{name} dd").all_inner_texts(),
            strict=True,
        )
    )


def without_numbers(page):
    page.evaluate("document.querySelectorAll('.leaflet-marker-icon').forEach((one) => one.style.opacity = 0)")


def is_within(inner, outer):
    return outer["y"] <= inner["y"] and inner["y"] + inner["height"] <= outer["y"] + outer["height"] + 1


def road_colours(picture, scale):
    """Which classes the map shows."""
    return {number for number, colour in enumerate(scale.colours) if painted(picture, colour) > 15}


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_slider_moves_map_chart_values_and_table_at_once(opened, departures, watts, result, device, scheme):
    page = opened(departures, color_scheme=scheme, **device)
    scale = classes(float(watts.power_w.max()), POWER)
    for number in (2, 30, 55):
        slide_to(page, number)
        leaves = watts.segments.departure_utc_s[number]
        row = next(row for row in result.ranked if row.depart_utc_s == leaves)
        clock = f"{5 + number // 4:02d}:{number % 4 * 15:02d}"
        assert page.locator(".slide output").inner_text().startswith(f"{clock} gives {row.energy_wh:.0f} Wh")
        told = values(page, "chosen")
        assert told["9 days in 10 at least"] == f"{row.energy_low_wh:.0f} Wh"
        assert told["Rank"] == f"{result.ranked.index(row) + 1} of 61"
        assert page.locator("tr.chosen th").inner_text() == clock
        assert is_within(page.locator("tr.chosen").bounding_box(), page.locator(".scroll").bounding_box())
        moving_w = watts.power_w[number, ~watts.segments.stopped].astype(float)
        kinds, counts = np.unique(scale.of(moving_w[moving_w > 0]), return_counts=True)
        without_numbers(page)  # on a small map they hide the road
        on_map, on_chart = (road_colours(pixels(page, name), scale) for name in ("#map_drive", ".chart"))
        # The mark may hide a class of which there is little.
        assert on_map <= set(kinds)
        assert kinds[counts.argmax()] in on_map
        assert set(kinds[counts > 0.05 * len(moving_w)]) <= on_chart
        page.locator(".chart").press("Home")
        # The middle of the first piece, which takes two minutes; dates stand where a drive ends on another day.
        middle = f"{clock[:3]}{int(clock[3:]) + 1:02d}"
        later = to_local(row.arrive_utc_s, result.time_zone).day != to_local(leaves, result.time_zone).day
        assert values(page, "here")["Time"] == (f"Fri 20 Nov {middle}" if later else middle)


def test_choosing_a_row_or_a_bar_moves_the_slider(opened, departures, result):
    page = opened(departures)
    page.get_by_role("button", name="09:15").click()
    assert page.locator("input.departure").input_value() == "17"
    assert page.locator(".slide output").inner_text().startswith("09:15")
    page.locator(".bars").scroll_into_view_if_needed()
    box = page.locator(".bars").bounding_box()
    page.mouse.click(box["x"] + box["width"] - 13, box["y"] + 60)
    drawn(page)
    assert page.locator("input.departure").input_value() == "60"
    page.get_by_role("button", name="Best").click()
    assert page.locator("tr.chosen th").inner_text() == departures_report(result).cells[0][0]


def test_two_departures_are_compared_and_a_link_opens_on_the_chosen_one(opened, departures, watts, result):
    page = opened(f"{departures}#09:15")
    assert page.locator("input.departure").input_value() == "17"
    page.get_by_role("button", name="Pin to compare").click()
    slide_to(page, 30)
    wait_until(page, "location.hash === '#12:30'")
    energies = {row.depart_utc_s: row.energy_wh for row in result.ranked}
    pinned, chosen = (energies[watts.segments.departure_utc_s[number]] for number in (17, 30))
    less = "less" if chosen < pinned else "more"
    shown = page.locator(".slide output").inner_text()
    assert shown.endswith(f"Wh {less} than 09:15")
    assert float(shown.split(", ")[1].split()[0]) == pytest.approx(abs(chosen - pinned), abs=1.0)
    row = pointed_row(page)
    there_w = float(values(page, "here")["Leaving at 09:15"].split()[0])
    assert there_w == pytest.approx(watts.power_w[17, row], abs=0.5 * 25 / 36 + 0.5)


def test_the_table_can_be_in_the_order_of_time(opened, departures):
    page = opened(departures)
    page.locator("input[value=time]").check(force=True)
    leaves = page.locator(".rows tbody th").all_inner_texts()
    assert leaves == sorted(leaves)
    page.get_by_role("button", name="09:15").click()
    assert page.locator("tr.chosen th").inner_text() == "09:15"
    assert page.locator("input.departure").input_value() == "17"


def test_the_keyboard_moves_the_slider(opened, departures):
    page = opened(departures)
    page.locator("input.departure").focus()
    page.keyboard.press("Home")
    drawn(page)
    assert page.locator("tr.chosen th").inner_text() == "05:00"
    page.keyboard.press("ArrowRight")
    drawn(page)
    assert page.locator("tr.chosen th").inner_text() == "05:15"
    assert page.locator("input.departure").get_attribute("aria-valuetext").startswith("05:15, ")


def test_a_place_keeps_marked_while_the_departure_changes(opened, departures, watts):
    page = opened(departures)
    page.locator(".chart").focus()
    page.keyboard.press("PageUp")
    page.keyboard.press("ArrowRight")
    row = pointed_row(page)
    for number in (8, 40):
        slide_to(page, number)
        assert pointed_row(page) == row
        shown_w = float(values(page, "here")["Expected here"].split()[0])
        # A byte's span, and the last digit shown.
        assert shown_w == pytest.approx(watts.power_w[number, row], abs=0.5 * 25 / 36 + 0.5)


def test_so_far_ends_at_the_departures_energy(opened, departures, result):
    page = opened(departures)
    page.locator(".chart").focus()
    page.keyboard.press("End")
    assert values(page, "here")["So far"] == f"{result.best.energy_wh:.0f} Wh"


@pytest.fixture(scope="session")
def compared():
    return side_by_side(count=600)


@pytest.fixture(scope="session")
def comparison(compared, tmp_path_factory):
    result, drives = compared
    return written(compare_html(compared_report(result), result, drives, sample_ground()), tmp_path_factory)


@pytest.fixture(scope="session")
def parking(tmp_path_factory):
    result = lattice_parking()
    return written(park_html(parking_report(result), result), tmp_path_factory)


@pytest.fixture(scope="session")
def plain(tmp_path_factory):
    """A page without script."""
    return written(calendar_html(calendar_report(a_year()), a_year()), tmp_path_factory)


@pytest.fixture(params=["departures", "comparison", "parking", "plain"])
def address(request):
    return request.getfixturevalue(request.param)


@pytest.mark.parametrize("width", [320, 390, 768, 1280, 2200])
def test_no_page_scrolls_sideways(opened, address, width):
    page = opened(address, viewport={"width": width, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_without_javascript_map_chart_and_table_remain(opened, address, device):
    page = opened(address, java_script_enabled=False, **device)
    pictures = page.locator(".sheet, .decision-chart img, .charted > svg:visible").all()
    assert pictures
    for picture in pictures:
        assert picture.bounding_box()["height"] > 100
    assert page.locator(".rows tbody tr").count() >= 2
    assert not any(part.is_visible() for part in page.locator("[data-script]").all())


def test_paper_gets_every_row(opened, address):
    page = opened(address)
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    rows = page.locator(".rows tbody tr").all()
    assert all(row.is_visible() for row in rows)
    boxes = [row.bounding_box() for row in rows]
    assert len({box["y"] for box in boxes}) == len(rows)


@pytest.mark.parametrize(("width", "shown"), [(390, "chart-narrow"), (1280, "chart-wide")])
def test_a_chart_is_laid_out_for_the_screen_it_is_seen_on(opened, plain, width, shown):
    page = opened(plain, viewport={"width": width, "height": 844})
    charts = page.locator(".charted > svg")
    seen = [chart for chart in charts.all() if chart.is_visible()]
    assert [chart.get_attribute("class") for chart in seen] == [shown]
    assert page.locator(".charted").evaluate("(box) => box.scrollWidth <= box.clientWidth")
    page.emulate_media(media="print")
    assert page.locator(".chart-wide").is_visible()


def test_paper_gets_the_best_departure(opened, departures):
    page = opened(departures, color_scheme="dark")
    slide_to(page, 3)
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator(".still").is_visible()
    assert page.locator(".decision-chart img").is_visible()
    assert page.locator(".slide").is_hidden()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    page.emulate_media(media="screen")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert page.locator("input.departure").input_value() == "3"


@pytest.mark.parametrize(("device", "scheme"), [(DESKTOP, "light"), (PHONE, "dark")], ids=["day", "night"])
def test_no_barrier_is_found_by_the_accessibility_checker(opened, address, axe, device, scheme):
    page = opened(address, color_scheme=scheme, **device)
    page.evaluate(axe)
    found = page.evaluate("axe.run().then((result) => result.violations)")
    assert [(rule["id"], [node["html"][:120] for node in rule["nodes"]]) for rule in found] == []


@pytest.mark.parametrize("count", [1, 2])
def test_few_departures_open_without_complaint(opened, tmp_path_factory, count):
    few = departing_watts(60, count, first_s=10 * 3600.0)
    html = departures_html(departures_report(ranked(few)), ranked(few), few, Ground())
    page = opened(written(html, tmp_path_factory))
    assert page.locator(".bar").count() == count


def test_a_long_route_with_many_departures_still_follows(opened, tmp_path_factory):
    many = departing_watts(20_000, 96)
    page = opened(
        written(
            departures_html(departures_report(ranked(many)), ranked(many), many, sample_ground()),
            tmp_path_factory,
        )
    )
    slide_to(page, 50)
    assert painted(pixels(page, "#map_drive"), POWER.colours(7)[0]) > 15
    assert len(page.locator(".chart .power").get_attribute("d")) < 60_000


CHOOSE = """async (choices) => {
  const slider = document.querySelector("input.departure");
  for (let number = 0; number < choices; number += 1) {
    slider.value = 10 + ((number * 7) % 40);
    slider.dispatchEvent(new Event("input"));
    await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  }
}"""


def test_a_choice_on_the_slider_lays_the_page_out_no_more_often_than_it_is_shown(opened, departures):
    # Each choice waits for two frames. Reading places after writing anything would lay it out again at once.
    page = opened(departures)
    tools = page.context.new_cdp_session(page)
    tools.send("Performance.enable")

    def layouts():
        told = tools.send("Performance.getMetrics")["metrics"]
        return next(one["value"] for one in told if one["name"] == "LayoutCount")

    page.evaluate(CHOOSE, 3)
    before = layouts()
    page.evaluate(CHOOSE, 20)
    assert (layouts() - before) / 20 <= 2.5


def paper_lines(page):
    """The colours of the two routes as the page has them."""
    return [
        page.evaluate(f"getComputedStyle(document.documentElement).getPropertyValue('--route-{number}').trim()")
        for number in (1, 2)
    ]


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_both_routes_are_on_map_and_chart(opened, comparison, device, scheme):
    page = opened(comparison, color_scheme=scheme, **device)
    for colour in paper_lines(page):
        assert painted(pixels(page, "#map_drive"), colour) > 40
        assert painted(pixels(page, ".chart"), colour) > 40
    assert page.locator(".badge").all_inner_texts().count("B") == 2  # on the map and in the table


def test_a_comparison_can_be_coloured_by_watts(opened, comparison, compared):
    page = opened(comparison)
    assert page.locator(".key .watts").is_hidden()
    page.locator("input[value=power]").check(force=True)
    assert page.locator(".key .watts").is_visible()
    drives = compared[1]
    scale = classes(max(float(drive.power_w.max()) for drive in drives), POWER)
    moving_w = np.concatenate([drive.power_w[0, ~drive.segments.stopped] for drive in drives]).astype(float)
    kinds, counts = np.unique(scale.of(moving_w[moving_w > 0]), return_counts=True)
    assert kinds[counts.argmax()] in road_colours(pixels(page, "#map_drive"), scale)


def test_pointing_at_the_chart_tells_what_each_route_has_gathered_by_then(opened, comparison, compared):
    page = opened(comparison)
    result, _ = compared
    box = page.locator(".chart").bounding_box()
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 100)
    at_s = int(page.locator(".chart").get_attribute("aria-valuenow"))
    told = values(page, "here")
    by_then = [np.interp(at_s, route.progress.elapsed_s, route.progress.energy_wh) for route in result.routes]
    for letter, route, wh in zip("AB", result.routes, by_then, strict=True):
        assert float(told[f"{letter} {route.name}"].split()[0]) == pytest.approx(wh, abs=1.0)
    assert told["Ahead"].startswith("A by ")
    assert float(told["Ahead"].split()[2]) == pytest.approx(by_then[0] - by_then[1], abs=1.0)
    minutes = 9 * 60 + round(at_s / 60)
    assert told["Time"] == f"{minutes // 60:02d}:{minutes % 60:02d}"


def test_the_keyboard_moves_along_the_time_of_a_comparison(opened, comparison, compared):
    page = opened(comparison)
    page.locator(".chart").focus()
    page.keyboard.press("Home")
    assert page.locator(".chart").get_attribute("aria-valuenow") == "0"
    page.keyboard.press("ArrowRight")
    assert int(page.locator(".chart").get_attribute("aria-valuenow")) > 0
    page.keyboard.press("End")
    told = values(page, "here")
    assert told["A Coast road"] == f"{compared[0].routes[0].energy_wh:.0f} Wh, arrived"


def test_pointing_at_a_route_on_the_map_tells_its_time(opened, comparison, compared):
    page = opened(comparison)
    segments = compared[1][1].segments
    row = 100
    x, y = page.evaluate(
        """([latitude, longitude]) => {
          const at = map_drive.latLngToContainerPoint([latitude, longitude]);
          const box = map_drive.getContainer().getBoundingClientRect();
          return [box.left + at.x, box.top + at.y];
        }""",
        [float(segments.latitude_deg[row]), float(segments.longitude_deg[row])],
    )
    page.mouse.move(x, y)
    at_s = int(page.locator(".chart").get_attribute("aria-valuenow"))
    # Some segments share a pixel.
    assert at_s == pytest.approx(segments.start_utc_s[0, row] - segments.departure_utc_s[0], abs=600)


def test_routes_that_leave_at_different_times_share_the_time_since(opened, tmp_path_factory):
    result, drives = side_by_side(count=60, later_s=3600.0)
    html = compare_html(compared_report(result), result, drives, Ground())
    page = opened(written(html, tmp_path_factory))
    page.locator(".chart").focus()
    page.keyboard.press("Home")
    assert values(page, "here")["Since leaving"] == "0:00 h"
    assert "2:00 h" in page.locator(".chart text").all_text_contents()


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_pointing_at_a_spot_tells_of_it_and_finds_it_in_the_table(opened, parking, device):
    page = opened(parking, **device)
    spot = page.locator(".spot").nth(20)
    spot.scroll_into_view_if_needed()
    box = spot.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    if device is PHONE:
        page.touchscreen.tap(x, y)
    else:
        page.mouse.move(x, y)
    assert values(page, "here")["Rank"] == "21"
    row = page.locator("tr.chosen td").all_inner_texts()
    assert list(values(page, "here").values())[1:] == [cell.strip() for cell in row]
    assert is_within(page.locator("tr.chosen").bounding_box(), page.locator(".scroll").bounding_box())
    ring = page.locator(".pointed .ring").last.bounding_box()
    assert ring["x"] < x < ring["x"] + ring["width"]


def test_the_keyboard_reaches_every_spot_and_rows_choose(opened, parking):
    page = opened(parking)
    page.locator(".place").focus()
    page.keyboard.press("End")
    assert values(page, "here")["Rank"] == "72"
    page.keyboard.press("ArrowLeft")
    assert values(page, "here")["Rank"] == "71"
    page.keyboard.press("Home")
    assert "rank 1," in page.locator(".place").get_attribute("aria-valuetext")
    page.get_by_role("button", name="5", exact=True).click()
    assert values(page, "here")["Rank"] == "5"
