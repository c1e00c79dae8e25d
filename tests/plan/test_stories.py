"""Whole stories of people who plan in a browser, in a real one."""

import random
import tomllib
from http.server import BaseHTTPRequestHandler, HTTPServer
from threading import Thread

import pytest
from geometry import flaws
from page_in_browser import PHONE, wait_until
from plan_page import DEMO, dropped, energy_wh, settled
from terminal import run

from routesolar.errors import InputError
from routesolar.limits import limit_of

pytestmark = pytest.mark.browser
SAID = ("--panel", "200W", "--depart", "2026-11-20 08:00", "--speed", "70km/h", "--sky", "broken")
# Asks, and returns what stands beside the bar of progress at once.
ASKED_AND_TOLD = """() => {
  document.querySelector("#panel-departures .put").click();
  return document.querySelector("#panel-departures .doing").innerText;
}"""


def on_command_line(*words):
    ran = run("harvest", *words, "--json")
    assert ran.code == 0, ran.err
    return ran.json["totals"]["energy_wh"]


def drag(page, selector, share):
    """Drag a slider to a share of its width with the mouse."""
    page.locator(selector).scroll_into_view_if_needed()
    box = page.locator(selector).bounding_box()
    y = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + box["width"] / 2, y)
    page.mouse.down()
    for step in range(1, 6):
        page.mouse.move(box["x"] + box["width"] * (0.5 + (share - 0.5) * step / 5), y)
    page.mouse.up()


# An answer that comes puts new marks on the map, or lays a new one: places are looked up all at once.
PLACES = """(marks) => {
  const found = () => [...document.querySelectorAll(marks)];
  if (!found().length) document.querySelector(".whole-route").click();
  document.querySelector(".map-place").scrollIntoView({ block: "center" });
  const boxes = found().map((mark) => mark.getBoundingClientRect());
  return boxes.map((box) => [box.x + box.width / 2, box.y + box.height / 2]);
}"""
END_MARKS = ".signs:has(.end-start):has(.end-finish) circle[class^=end-]"  # none while one is out of sight


def click_road(page, share):
    """Click the road on the map, at about this share of the picture's width from the start to the end."""
    (x, y), (right, foot) = page.evaluate(PLACES, END_MARKS)
    page.mouse.click(x + share * (right - x), y + share * (foot - y))


def places_on_map(page, *presses):
    """Walk along the chart by so many keys from its start, and return where the map then has its mark."""
    page.locator(".chart").focus()
    page.keyboard.press("Home")
    found = []
    for count in presses:
        for _ in range(count):
            page.keyboard.press("ArrowRight")
        found += page.evaluate(PLACES, ".leaflet-mark-pane path")
    return found


def drag_road(page, first, further):
    """Drag along the road on the map."""
    (x, y), (right, foot) = places_on_map(page, first, further)
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 7):
        page.mouse.move(x + (right - x) * step / 6, y + (foot - y) * step / 6)
    page.mouse.up()


def test_a_track_and_a_panel_give_what_the_command_line_gives_to_the_last_digit(planner):
    page = planner()
    dropped(page, "coast.gpx")
    page.locator("#date").fill("2026-11-20")
    page.locator("#clock").fill("08:00")
    page.locator(".skies input[value=broken]").check(force=True)
    settled(page)
    assert energy_wh(page) == on_command_line(DEMO / "coast.gpx", *SAID)
    assert page.locator(".answer-place h1 strong").inner_text().split() == [f"{energy_wh(page):.0f}", "Wh"]


def test_what_is_dragged_clicked_and_saved_runs_on_the_command_line(planner, session):
    page = planner()
    dropped(page, "coast.gpx")
    page.locator("#date").fill("2026-11-20")
    before_wh = energy_wh(page)
    drag(page, "#minute", 0.6)
    settled(page)
    assert page.locator("#clock").input_value() > "13:00"
    drag(page, "#cover", 0.6)
    drag(page, "#width", 0.4)
    settled(page)
    assert page.locator(".section .crown").count() > 2
    click_road(page, 0.55)
    page.locator(".add-stop").click()
    settled(page)
    page.locator("#battery").evaluate("(field) => (field.closest('details').open = true)")
    page.locator("#battery").fill("1280")
    page.locator(".add-load").click()
    page.locator(".loads .name input").fill("fridge")
    page.locator(".loads .watts input").fill("40")
    settled(page)
    page.locator("#name").fill("noon")
    page.locator(".save").click()
    wait_until(page, "document.querySelector('.taken').textContent.startsWith('Written: noon.toml')", 30)
    saved = session.folder.root / "noon.toml"
    said = tomllib.loads(saved.read_text(encoding="utf-8"))
    assert (said["route"], said["rig"], len(said["stop"])) == (["coast.gpx"], "noon_rig.toml", 1)
    assert said["canopy_cover_pct"] == float(page.locator("#cover").input_value())
    assert energy_wh(page) != before_wh
    assert energy_wh(page) == on_command_line(saved)
    # Opened again, the page shows and says the same.
    shown_wh, stop = energy_wh(page), page.locator(".stops").inner_text()
    page.reload()
    page.locator("#saved").select_option("noon.toml")
    settled(page)
    assert (energy_wh(page), page.locator(".stops").inner_text()) == (shown_wh, stop)
    assert page.locator("#battery").input_value() == "1280"


def test_the_best_departure_is_the_command_lines_and_a_click_leaves_then(planner):
    page = planner()
    dropped(page, "coast.gpx")
    page.locator("#date").fill("2026-11-20")
    settled(page)
    page.locator("#tab-departures").click()
    told = page.evaluate(ASKED_AND_TOLD)
    assert told.endswith("…")
    wait_until(page, "document.querySelectorAll('.departures .best').length === 1", 120)
    ran = run("departures", DEMO / "coast.gpx", *SAID, "--every", "30min", "--json")
    best = ran.json["rows"][0]
    assert page.locator(".departures .best .label").inner_text() == best["depart"][11:16]
    assert page.locator(".departures li").count() == len(ran.json["rows"])
    assert page.locator("#panel-departures .doing").is_hidden()
    page.locator(".departures .best").click()
    settled(page)
    assert energy_wh(page) == best["energy_wh"]
    assert page.locator(".departures .best").get_attribute("aria-pressed") == "true"
    page.locator("#panel").fill("300")
    settled(page)
    assert page.locator(".departures li").count() == 0


def test_a_stretch_is_dragged_along_the_road_and_saved_for_the_command_line(planner, session):
    page = planner()
    dropped(page, "coast.gpx")
    page.locator("#date").fill("2026-11-20")
    settled(page)
    open_wh = energy_wh(page)
    drag_road(page, 20, 20)
    page.locator(".stretches .cover input").fill("70")
    page.locator(".stretches .width input").fill("9")
    settled(page)
    ends_km = [float(page.locator(f".stretches .{end} input").input_value()) for end in ("from", "to")]
    assert ends_km == pytest.approx([41 / 6, 41 / 3], abs=1.0)  # 20 and 40 of 120 steps along 41 km
    assert page.locator(".live path.stretch").count() == 1
    assert page.locator(".stretch-letter").all_inner_texts() == ["A"]
    assert energy_wh(page) < open_wh - 1
    page.locator("#name").fill("wooded")
    page.locator(".save").click()
    wait_until(page, "document.querySelector('.taken').textContent.startsWith('Written: wooded.toml')", 30)
    saved = session.folder.root / "wooded.toml"
    (said,) = tomllib.loads(saved.read_text(encoding="utf-8"))["surroundings"]
    assert (said["canopy_cover_pct"], said["road_width_m"]) == (70, 9)
    assert energy_wh(page) == on_command_line(saved)
    page.locator(".stretches .remove").click()
    settled(page)
    assert energy_wh(page) == open_wh


def test_a_stretch_is_marked_by_keys_and_by_a_finger(planner):
    page = planner()
    dropped(page, "coast.gpx")
    page.locator(".chart").focus()
    page.keyboard.press("Home")
    page.keyboard.down("Shift")
    for _ in range(30):
        page.keyboard.press("ArrowRight")
    page.keyboard.up("Shift")
    settled(page)
    assert page.locator(".stretches .from input").input_value() == "0.00"
    assert float(page.locator(".stretches .to input").input_value()) == pytest.approx(41 / 4, abs=1.0)
    assert page.evaluate("document.activeElement.closest('span').className") == "cover"
    hand = planner(**PHONE)
    dropped(hand, "coast.gpx")
    places = places_on_map(hand, 30, 10, 10, 10)
    before = hand.locator(".map-place").bounding_box()
    hand.locator(".mark-stretch").click()
    hand.locator(".map-place").scroll_into_view_if_needed()
    shift = hand.locator(".map-place").bounding_box()["y"] - before["y"]
    touch = hand.context.new_cdp_session(hand)
    for kind, (x, y) in zip(("touchStart", *["touchMove"] * 3), places, strict=True):
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y + shift}]})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    settled(hand)
    assert hand.locator(".stretches li").count() == 1
    assert hand.locator(".mark-stretch").get_attribute("aria-pressed") == "false"


def test_rasters_and_maps_are_dropped_beside_a_track_and_used(planner):
    page = planner()
    dropped(page, "forest.gpx", "cover.tif")
    page.locator("#date").fill("2026-11-20")
    settled(page)
    assert page.locator(".files select").input_value() == "cover"
    assert energy_wh(page) == on_command_line(DEMO / "forest.gpx", *SAID, "--canopy", DEMO / "cover.tif")
    drag(page, "#cover", 0.4)  # what a slider says takes the place of a raster
    settled(page)
    assert page.locator(".files select").input_value() == ""
    dropped(page, "coast.gpx", "land.osm")
    page.locator("#speed").fill("map")
    settled(page)
    said = ("--panel", "200W", "--depart", "2026-11-20 08:00", "--speed", "map", "--sky", "broken")
    assert energy_wh(page) == on_command_line(DEMO / "coast.gpx", *said, "--map", DEMO / "land.osm")


def test_tabs_are_walked_by_keys_and_answer_as_their_commands(planner):
    page = planner()
    dropped(page, "coast.gpx")
    page.locator("#date").fill("2026-11-20")
    settled(page)
    page.locator("#tab-figures").focus()
    for name in ("departures", "compare", "size"):
        page.keyboard.press("ArrowRight")
        assert page.locator(f"#panel-{name}").is_visible()
    page.locator("#panel-size .put").click()
    wait_until(page, "document.querySelectorAll('#panel-size .bars li').length === 4", 120)
    page.locator("#panel-size button.bar-row").last.click()
    settled(page)
    assert page.locator("#panel").input_value() == "400"
    assert page.locator("#panel-size .bars li").count() == 0
    page.locator("#tab-compare").click()
    page.set_input_files("#other-road", DEMO / "forest.gpx")
    wait_until(page, "document.querySelectorAll('#panel-compare .best').length === 1", 120)
    ran = run("compare", DEMO / "coast.gpx", DEMO / "forest.gpx", *SAID[2:], "--panel", "400W", "--json")
    shown = [float(bar.get_attribute("data-energy")) for bar in page.locator("#panel-compare .bar-row").all()]
    assert shown == [row["energy_wh"] for row in ran.json["rows"]]


def test_spots_to_park_stand_on_the_map_and_are_chosen_there_or_in_their_rows(planner):
    page = planner()
    dropped(page, "coast.gpx")
    page.locator("#tab-park").click()
    page.locator("#panel-park .put").click()
    wait_until(page, "document.querySelectorAll('#panel-park .bars li').length === 12", 120)
    signs, rows = page.locator(".spot"), page.locator("#panel-park button.bar-row")
    assert signs.all_inner_texts() == [str(number + 1) for number in range(12)]
    pressed = "[...document.querySelectorAll('{0}')].findIndex((one) => one.ariaPressed === 'true')"
    assert page.evaluate(pressed.format(".spot")) == -1
    rows.nth(1).click()
    assert [page.evaluate(pressed.format(one)) for one in (".spot", "#panel-park .bar-row")] == [1, 1]
    signs.nth(4).focus()
    page.keyboard.press("Enter")
    assert [page.evaluate(pressed.format(one)) for one in (".spot", "#panel-park .bar-row")] == [4, 4]
    words = signs.nth(4).get_attribute("aria-label")
    label, energy = (rows.nth(4).locator(part).inner_text() for part in (".label", "strong"))
    assert words == f"Parking {label}: {energy}"
    boxes = [signs.nth(number).bounding_box() for number in range(12)]
    seen = page.locator(".map-place").bounding_box()
    assert all(seen["x"] < box["x"] < seen["x"] + seen["width"] for box in boxes)
    assert len({(round(box["x"]), round(box["y"])) for box in boxes}) == 12
    page.locator("#panel").fill("300")
    settled(page)
    assert signs.count() == 0


def test_results_are_written_and_handed_over(planner, session):
    page = planner()
    dropped(page, "coast.gpx")
    page.locator("#name").fill("first plan")
    page.locator(".results").click()
    wait_until(page, "document.querySelectorAll('.taken a').length === 6", 120)
    with page.expect_download() as taken:
        page.get_by_role("link", name="route.kml").click()
    written = session.folder.root / "first plan" / "route.kml"
    assert taken.value.path().read_bytes() == written.read_bytes()
    page.locator(".results").click()
    wait_until(page, "document.querySelector('#take-wrong').textContent.includes('exists already')", 120)


def test_a_wrong_value_says_so_beside_its_field_in_the_command_lines_words(planner):
    page = planner()
    dropped(page, "coast.gpx")
    for field, value, option in (("panel", "0", "--panel"), ("speed", "9000", "--speed")):
        kept = page.locator(f"#{field}").input_value()
        page.locator(f"#{field}").fill(value)
        settled(page)
        words = page.locator(f"#{field}-wrong").inner_text()
        unit = {"panel": "W", "speed": "km/h"}[field]
        said = {"--panel": "200W", "--depart": "2026-11-20 08:00", "--speed": "70km/h"}
        said[option] = f"{value}{unit}"
        ran = run("harvest", DEMO / "coast.gpx", *(word for pair in said.items() for word in pair))
        assert ran.err == f"routesolar: {words}\n"
        assert page.locator(f"#{field}").get_attribute("aria-invalid") == "true"
        page.locator(f"#{field}").fill(kept)
    settled(page)
    assert page.locator("[aria-invalid]").count() == 0


def test_a_file_that_is_refused_says_why_however_large(planner, session, tmp_path):
    page, sent = planner(), []
    page.on("request", lambda asked: sent.append(asked.url) if asked.method == "PUT" else None)
    large, wrong = tmp_path / "large.toml", tmp_path / "heights.tif"
    large.write_bytes(b"#" * (limit_of("trip or rig file") + 1))
    page.set_input_files(".drop input", large)
    wait_until(page, "document.querySelector('#drop-wrong').textContent !== ''", 30)
    with session.folder.receive(large.name) as file, pytest.raises(InputError) as refused:
        file.check_size(large.stat().st_size)
    assert page.locator("#drop-wrong").inner_text() == str(refused.value)
    assert sent == []
    wrong.write_bytes(b"<html>" + bytes(60_000_000))
    page.set_input_files(".drop input", wrong)
    wait_until(page, "document.querySelector('#drop-wrong').textContent.startsWith('heights.tif: inside')", 60)


def test_a_page_elsewhere_can_neither_read_nor_post(planner, session, browser):
    page = planner()
    dropped(page, "coast.gpx")
    before = sorted(session.folder.root.iterdir())
    address = f"http://{session.guard.host}"
    hostile = HTTPServer(("127.0.0.1", 0), _Empty)
    Thread(target=hostile.serve_forever, daemon=True).start()
    other = page.context.new_page()  # in the same browser, with its cookies
    other.goto(f"http://localhost:{hostile.server_port}/")
    tried = other.evaluate(
        """async (address) => {
          const asked = { method: "POST", body: "{}", credentials: "include", mode: "no-cors" };
          const tries = [["/", {}], ["/plan.js", { mode: "no-cors" }], ["/save", asked], ["/alive", asked]];
          const results = [];
          for (const [path, options] of tries) {
            const got = fetch(address + path, options).then((reply) => reply.text());
            results.push(await got.catch(() => "failed"));
          }
          const frame = document.createElement("iframe");
          frame.src = address;
          document.body.append(frame);
          await new Promise((done) => (frame.onload = done));
          try { results.push(frame.contentWindow.document.title); } catch { results.push("failed"); }
          return results;
        }""",
        address,
    )
    hostile.shutdown()
    hostile.server_close()
    assert tried == ["failed"] * 5
    assert sorted(session.folder.root.iterdir()) == before


class _Empty(BaseHTTPRequestHandler):
    def do_GET(self):
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!doctype html><link rel=icon href='data:,'>")

    def log_message(self, *_):
        pass


def test_fifty_clicks_and_drags_at_random_leave_no_error(planner):
    page = planner()
    dropped(page, "coast.gpx")
    draw = random.Random(17)
    sliders = ("#minute", "#cover", "#height", "#width")
    clicks = (".add-stop", ".remove", ".add-load", ".skies span", ".controls fieldset span", "summary")
    clicks += (".mark-stretch", ".add-stretch", ".tabs button", "#panel-departures .put", "label.tick")
    for _ in range(50):
        if draw.random() < 0.25:
            drag(page, draw.choice(sliders), draw.random())
        elif draw.random() < 0.25:
            click_road(page, draw.random())
        elif draw.random() < 0.15:
            drag_road(page, draw.randrange(0, 60), draw.randrange(1, 30))
        else:
            found = page.locator(draw.choice(clicks)).locator("visible=true")
            count = found.count()
            if count:
                found.nth(draw.randrange(count)).click()
    settled(page)
    assert page.locator(".answer-place h1").inner_text()


@pytest.mark.parametrize(
    "seen",
    [
        {"color_scheme": "light"},
        {"color_scheme": "dark", **PHONE},
        {"forced_colors": "active"},
        {"viewport": {"width": 720, "height": 450}},  # 200 % on a window of 1440 by 900
    ],
    ids=["day", "night on a phone", "forced colours", "twice the size"],
)
def test_no_barrier_is_found_and_nothing_is_cut(planner, axe, seen):
    page = planner(**seen)
    dropped(page, "coast.gpx")
    page.locator("summary").first.click()
    page.locator(".add-stretch").click()
    page.locator("#tab-size").click()
    page.locator("#panel-size .put").click()
    wait_until(page, "document.querySelectorAll('#panel-size .bars li').length === 4", 120)
    page.locator(".all-figures summary").click()
    page.locator("#speed").fill("9000")
    settled(page)
    page.evaluate(axe)
    found = page.evaluate("axe.run().then((result) => result.violations)")
    assert [(rule["id"], [node["html"][:120] for node in rule["nodes"]]) for rule in found] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_nothing_is_cut_broken_or_too_small_at_any_width(planner):
    page = planner()
    dropped(page, "coast.gpx")
    page.locator(".battery-part summary").click()
    page.locator("#battery").fill("1280")
    page.locator(".add-stop").click()
    page.locator(".add-stretch").click()
    settled(page)
    found = {}
    for width in (320, 390, 701, 768, 1000, 1024, 1160, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        page.locator(".whole-route").click()
        for tab in page.locator("[role=tab]").all():
            tab.click()
            page.wait_for_timeout(60)  # until chart and map are drawn anew
            found[width, tab.inner_text()] = flaws(page)
    assert {place: told for place, told in found.items() if told} == {}


def test_keys_alone_walk_the_chart_and_add_a_stop(planner):
    page = planner()
    dropped(page, "coast.gpx")
    page.locator(".chart").focus()
    page.keyboard.press("Home")
    for _ in range(20):
        page.keyboard.press("ArrowRight")
    assert page.locator(".here-words").inner_text().endswith("km from the start:")
    page.locator("#minutes").focus()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    settled(page)
    assert page.locator(".stops li").count() == 1
    assert page.locator(".badge.stop").count() == 1
