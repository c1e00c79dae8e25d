"""The page in a real browser: what it asks for, what it paints, on every screen and on paper."""

from dataclasses import replace

import numpy as np
import pytest
from hostile_names import HOSTILE
from page_in_browser import DESKTOP, PHONE, painted, pixels, reading, wait_until, written
from sample_harvest import full_report, renamed, winding_report

from routesolar.report.colours import LOSS, POWER, classes
from routesolar.report.page import page_html

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_map_is_painted_in_its_classes(opened, address, report, device, scheme):
    page = opened(address, color_scheme=scheme, **device)
    box = page.locator("#map_drive").bounding_box()
    assert box["height"] >= (200 if device is PHONE else 280)  # a phone has the chart in sight with it
    assert box["width"] >= 340
    scale = classes(float(report.harvest.power_w.max()), POWER)
    driven = scale.of(report.harvest.power_w[~report.harvest.segments.stopped])
    picture = pixels(page, "#map_drive")
    for number in np.unique(driven[driven >= 0]):
        assert painted(picture, scale.colours[number]) > 15
    assert page.locator(".still").is_hidden()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_trees_and_hills_lie_in_their_places_beneath_the_road(opened, address, report, scheme):
    page = opened(address, color_scheme=scheme)
    for kind, picture in (("trees", report.ground.trees), ("relief", report.ground.relief)):
        box = page.locator(f".live img.{kind}").bounding_box()
        corners = [[picture.north_deg, picture.west_deg], [picture.south_deg, picture.east_deg]]
        frame = page.locator("#map_drive").bounding_box()
        left, top, right, bottom = page.evaluate(
            "(corners) => corners.flatMap((corner) => Object.values(map_drive.latLngToContainerPoint(corner)))",
            corners,
        )
        # The map rounds to whole pixels, and its frame is inside the element's border.
        assert [box["x"] - frame["x"], box["y"] - frame["y"]] == pytest.approx([left, top], abs=2)
        assert [box["width"], box["height"]] == pytest.approx([right - left, bottom - top], abs=2)
        assert page.locator(f".live img.{kind}").evaluate("(picture) => picture.naturalWidth") > 100
    with_hills = pixels(page, "#map_drive")
    page.locator(".live img.relief").evaluate("(picture) => picture.remove()")
    changed = np.abs(pixels(page, "#map_drive") - with_hills).max(axis=-1)
    assert np.mean(changed > 4) > 0.1
    assert page.locator(".key .hills").is_visible()


def test_each_layer_paints_its_own_classes_and_key(opened, address, report):
    page = opened(address)
    page.locator("input[value=loss]").check(force=True)
    assert "Lost to shade" in page.locator(".key").inner_text()
    assert "80 to 100 %" in page.locator(".key").inner_text()
    assert painted(pixels(page, "#map_drive"), LOSS.colours(5)[0]) > 50
    assert painted(pixels(page, ".chart"), LOSS.colours(5)[1]) > 50
    page.locator("input[value=open]").check(force=True)
    scale = classes(float(report.harvest.open_sky_w.max()), POWER)
    assert painted(pixels(page, "#map_drive"), scale.colours[-1]) > 50


@pytest.mark.parametrize("width", [320, 390, 768, 1280, 2200])
def test_the_page_never_scrolls_sideways(opened, address, width):
    page = opened(address, viewport={"width": width, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_turning_the_phone_redraws_the_chart(opened, address):
    page = opened(address, **PHONE)
    page.set_viewport_size({"width": 844, "height": 390})
    wait_until(page, "document.querySelector('.chart svg').viewBox.baseVal.width > 700")


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_without_javascript_the_map_and_the_tables_remain(opened, address, report, device):
    page = opened(address, java_script_enabled=False, **device)
    still = page.locator(".still svg")
    assert still.bounding_box()["height"] > 150
    assert painted(pixels(page, ".still"), classes(float(report.harvest.power_w.max()), POWER).colours[-1]) > 15
    assert page.get_by_text("Quay to Myrtle Bend").is_visible()
    assert page.get_by_text("should deliver").is_visible()
    assert page.locator("#map_drive").is_hidden()
    assert page.locator(".controls").is_hidden()


def test_paper_gets_the_still_map_of_the_whole_drive_on_white(opened, address, report):
    page = opened(address, color_scheme="dark")
    page.locator("input[value=loss]").check(force=True)
    page.locator(".leg-choice").select_option("2")
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator(".still").is_visible()
    assert page.locator("#map_drive").is_hidden()
    assert page.locator(".controls").is_hidden()
    assert "Expected watts" in page.locator(".key").inner_text()
    assert painted(pixels(page, ".still"), classes(float(report.harvest.power_w.max()), POWER).colours[-1]) > 15
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    page.emulate_media(media="screen")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert "Lost to shade" in page.locator(".key").inner_text()
    assert page.locator(".leg-choice").input_value() == "2"
    assert page.pdf(format="A4").startswith(b"%PDF")


@pytest.mark.parametrize(("device", "scheme"), [(DESKTOP, "light"), (PHONE, "dark")], ids=["day", "night"])
def test_no_barrier_is_found_by_the_accessibility_checker(opened, address, axe, device, scheme):
    page = opened(address, color_scheme=scheme, **device)
    page.evaluate(axe)
    found = page.evaluate("axe.run().then((result) => result.violations)")
    assert [(rule["id"], [node["html"][:120] for node in rule["nodes"]]) for rule in found] == []


def test_hostile_names_do_nothing(opened, tmp_path_factory):
    report = renamed(winding_report(60, picture=False), "".join(HOSTILE.values()))
    legs = tuple(
        replace(leg, name=name) for leg, name in zip(report.harvest.legs, HOSTILE.values(), strict=False)
    )
    report = replace(report, harvest=replace(report.harvest, legs=legs))
    page = opened(written(page_html(report), tmp_path_factory))
    page.locator(".leg-choice").select_option("2")
    assert page.title().endswith(": energy from the roof")
    assert page.locator(".chart .dot").count() == 1
    assert page.locator("img").count() == 0
    assert page.get_by_text("</script><script>document.title='owned'</script>").first.is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280


def test_a_route_across_the_antimeridian_is_one_line_on_its_trees(opened, tmp_path_factory):
    report = winding_report(300, west_deg=178.6)
    page = opened(written(page_html(report), tmp_path_factory))
    assert page.evaluate("map_drive.getBounds().getEast() - map_drive.getBounds().getWest()") < 15
    assert painted(pixels(page, "#map_drive"), POWER.colours(6)[0]) > 15
    assert {"179° E", "179° W"} <= set(page.locator(".degree").all_inner_texts())


def test_a_drive_in_the_dark_and_a_parked_one_open_without_complaint(opened, tmp_path_factory, report):
    harvest = report.harvest
    zero = np.zeros(harvest.segments.count)
    night = {
        "power_w": zero,
        "open_sky_w": zero,
        "state_power_w": np.stack([zero, zero]),
        "sun_elevation_deg": zero - 20,
    }
    dark = replace(report, harvest=replace(harvest, **night))
    page = opened(written(page_html(dark), tmp_path_factory))
    assert reading(page)["sun"] == "down"
    assert reading(page)["shade"] == "–"
    spot = {
        "longitude_deg": 147.0,
        "end_longitude_deg": 147.0,
        "latitude_deg": -42.0,
        "end_latitude_deg": -42.0,
    }
    segments = replace(harvest.segments, **{name: zero + value for name, value in spot.items()})
    parked = replace(report, harvest=replace(harvest, segments=segments))
    assert opened(written(page_html(parked), tmp_path_factory)).locator("#map_drive").is_visible()


@pytest.mark.parametrize("device", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_a_battery_is_drawn_and_read(opened, axe, tmp_path_factory, device):
    report = full_report()
    page = opened(written(page_html(report), tmp_path_factory), **device)
    page.locator(".chart").focus()
    page.keyboard.press("End")
    soc_pct = 100 * report.harvest.charge.soc_frac[-1]
    assert page.locator(".reading dd").last.inner_text() == f"{soc_pct:.0f} %"
    assert page.locator(".chart .soc").bounding_box()["height"] > 1
    page.evaluate(axe)
    assert page.evaluate("axe.run().then((result) => result.violations.length)") == 0


def test_a_tall_route_has_its_chart_beside_the_map(opened, tmp_path_factory, report):
    segments = report.harvest.segments
    squeezed = {
        name: 147 + 0.2 * (getattr(segments, name) - 147) for name in ("longitude_deg", "end_longitude_deg")
    }
    tall = replace(report, harvest=replace(report.harvest, segments=replace(segments, **squeezed)))
    page = opened(written(page_html(tall), tmp_path_factory))
    drawn, chart = page.locator("#map_drive").bounding_box(), page.locator(".chart").bounding_box()
    assert chart["x"] > drawn["x"] + drawn["width"]
    assert chart["y"] + chart["height"] < drawn["y"] + drawn["height"] + 150
    page.set_viewport_size({"width": 700, "height": 900})
    wait_until(page, "document.querySelector('.chart svg').viewBox.baseVal.width > 600")
    drawn, chart = page.locator("#map_drive").bounding_box(), page.locator(".chart").bounding_box()
    assert chart["y"] > drawn["y"] + drawn["height"]
