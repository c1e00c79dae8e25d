"""Whole stories of people who plan in a browser, in a real one."""

import random
import tomllib
from http.server import BaseHTTPRequestHandler, HTTPServer
from threading import Thread

import pytest
from page_in_browser import PHONE, wait_until
from plan_page import DEMO, dropped, energy_wh, settled
from terminal import run

pytestmark = pytest.mark.browser
SAID = ("--panel", "200W", "--depart", "2026-11-20 08:00", "--speed", "70km/h", "--sky", "broken")


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


def click_road(page, share):
    """Click the road on the map, at about this share of the picture's width from the start to the end."""
    marks = page.locator(".signs circle[class^=end-]")
    marks.first.scroll_into_view_if_needed()
    boxes = [marks.nth(number).bounding_box() for number in (0, 1)]
    (x, y), (right, foot) = ((box["x"] + box["width"] / 2, box["y"] + box["height"] / 2) for box in boxes)
    page.mouse.click(x + share * (right - x), y + share * (foot - y))


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
    page.locator(".try-day").click()
    wait_until(page, "document.querySelectorAll('.departures .best').length === 1", 60)
    ran = run("departures", DEMO / "coast.gpx", *SAID, "--every", "30min", "--json")
    best = ran.json["rows"][0]
    assert page.locator(".departures .best .leave").inner_text() == best["depart"][11:16]
    assert page.locator(".departures li").count() == len(ran.json["rows"])
    page.locator(".departures .best").click()
    settled(page)
    assert energy_wh(page) == best["energy_wh"]
    assert page.locator(".departures .best").get_attribute("aria-pressed") == "true"
    page.locator("#panel").fill("300")
    settled(page)
    assert page.locator(".departures li").count() == 0


def test_results_are_written_and_handed_over(planner, session):
    page = planner()
    dropped(page, "coast.gpx")
    page.locator("#name").fill("first plan")
    page.locator(".results").click()
    wait_until(page, "document.querySelectorAll('.taken a').length === 6", 60)
    with page.expect_download() as taken:
        page.get_by_role("link", name="route.kml").click()
    written = session.folder.root / "first plan" / "route.kml"
    assert taken.value.path().read_bytes() == written.read_bytes()
    page.locator(".results").click()
    wait_until(page, "document.querySelector('#take-wrong').textContent.includes('exists already')", 60)


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


def test_a_page_elsewhere_can_neither_read_nor_post(planner, session, browser):
    page = planner()
    dropped(page, "coast.gpx")
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
    assert sorted(path.name for path in session.folder.root.iterdir()) == ["coast.gpx"]


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
    for _ in range(50):
        if draw.random() < 0.3:
            drag(page, draw.choice(sliders), draw.random())
        elif draw.random() < 0.3:
            click_road(page, draw.random())
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
    page.locator("#panel").fill("0")
    settled(page)
    page.locator("summary").click()
    page.evaluate(axe)
    found = page.evaluate("axe.run().then((result) => result.violations)")
    assert [(rule["id"], [node["html"][:120] for node in rule["nodes"]]) for rule in found] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


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
