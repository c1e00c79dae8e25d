"""A drag on the page to plan in: departures of 2,000 points, open and in woods, and of the demo's rasters.

First a step's energy must be that of the drive computed whole, within 1 % where trees are dragged; then steps
are timed as the server does them, down to the JSON, by the clock and in processor time. While one drags, steps
are quick. `--browser` times steps of the first two in Chromium instead, until they are painted.
"""

import json
import shutil
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from routesolar.physics.geodesy import destination
from routesolar.plan.answering import Desk
from routesolar.plan.folder import Folder

POINTS, STEPS, RASTER_STEPS = 2000, 102, 22  # of which the first two warm up
BROWSER_STEPS = 100
DEMO = Path(__file__).parents[1] / "demo_routes"
WORDS = {"speed": "70km/h"}
RIG = {"panel": "200W"}


def winding_gpx() -> str:
    """Return a winding road of 80 km as a GPX track."""
    along_m = np.arange(POINTS) * 40.0
    north, east = destination(47.0, 8.0, 70.0 + 4.0 * np.sin(along_m / 1500.0), along_m)
    points = "".join(f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}"/>' for lat, lon in zip(north, east, strict=True))
    return f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{points}</trkseg></trk></gpx>'


def at(minute: int) -> str:
    """Return a departure so many minutes after seven."""
    return f"2026-06-20 {7 + minute // 60:02}:{minute % 60:02}"


def timed(desk: Desk, name: str, said: dict[str, object], word: str, values: list[str]) -> None:
    """Print how long steps take that change one word of what is said, after one whole answer."""
    words = dict(said.get("words") or {})

    def step(value: str, *, quick: bool = True) -> dict[str, object]:
        return desk.answer({**said, "words": {**words, word: value}, "quick": quick})

    whole = step(values[0], quick=False)["energy_wh"]
    if word == "depart":
        assert step(values[0])["energy_wh"] == whole
    assert abs(step(values[1])["energy_wh"] / step(values[1], quick=False)["energy_wh"] - 1) < 0.01
    spent_s, worked_s = [], []
    for value in values[2:]:
        began, worked = time.perf_counter(), time.process_time()
        sent = json.dumps(answer := step(value))
        spent_s.append(time.perf_counter() - began)
        worked_s.append(time.process_time() - worked)
    median, most = 1000 * np.percentile(spent_s, [50, 95])
    rows = len(answer["data"]["rows"]["power_w"]["steps"])
    print(
        f"plan, {name}: {rows} segments, a step takes {median:.0f} ms, {most:.0f} ms in 95 of 100; "
        f"{1000 * np.median(worked_s):.0f} ms of a processor, {len(sent) / 1000:.0f} kB sent"
    )


# One step of a drag, from the field's event to the frame that shows its answer: ms in all, and until it came.
STEP = """([id, value]) => new Promise((done) => {
  const [field, answered] = [document.getElementById(id), document.querySelector(".answered")];
  const [before, began] = [answered.dataset.energy, performance.now()];
  performance.clearResourceTimings();
  field.value = value;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  const look = () => {
    if (answered.dataset.energy === before) return setTimeout(look, 1);
    const asked = performance.getEntriesByType("resource").find((one) => one.name.endsWith("/answer"));
    const painted = () => done([performance.now() - began, asked.responseEnd - began]);
    requestAnimationFrame(() => requestAnimationFrame(painted));
  };
  look();
})"""


def in_browser() -> None:
    """Print how long a step takes in a browser, until it is painted."""
    sys.path.insert(0, str(DEMO.parent / "tests"))
    from plan_page import served, settled
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        track = Path(scratch) / "winding.gpx"
        track.write_text(winding_gpx(), encoding="utf-8")
        with served(Path(scratch) / "session") as session:
            page = playwright.chromium.launch(executable_path=shutil.which("chromium")).new_page()
            page.goto(session.address)
            page.set_input_files(".drop input", track)
            settled(page)
            page.locator("#date").fill("2026-06-20")
            settled(page)
            through_day = range(485, 485 + 5 * BROWSER_STEPS, 5)  # a step to where one is would change nothing
            timed_in(page, "departure on an open road", "minute", through_day)
            settled(page)
            page.locator("#cover").fill("60")
            settled(page)
            timed_in(page, "departure in woods", "minute", through_day)
            settled(page)
            # The slider's steps are 5 %: up and down it goes.
            covers = [95 - 5 * abs(18 - step % 36) for step in range(1, BROWSER_STEPS + 1)]
            timed_in(page, "cover of the woods", "cover", covers)


def timed_in(page: Any, name: str, field: str, values: Sequence[int]) -> None:
    """Print how long steps of a drag take in a browser: until painted, and until the answer was there."""
    steps = [page.evaluate(STEP, [field, str(value)]) for value in values]
    whole, came = np.median(steps, axis=0)
    most = np.percentile([step[0] for step in steps], 95)
    print(
        f"plan in a browser, {name}: painted after {whole:.0f} ms, {most:.0f} in 95 of 100; "
        f"the answer came after {came:.0f}; {len(steps)} steps"
    )


if "--browser" in sys.argv:
    in_browser()
    sys.exit()

with tempfile.TemporaryDirectory() as scratch:
    folder = Folder(Path(scratch))
    (folder.root / "winding.gpx").write_text(winding_gpx(), encoding="utf-8")
    for file in ("forest.toml", "forest.gpx", "van.toml", "cover.tif", "height.tif", "terrain.tif"):
        shutil.copy(DEMO / file, folder.root / file)
    desk = Desk(folder)
    winding = {"base": ["winding.gpx"], "words": {**WORDS, "depart": at(0)}, "rig": RIG, "sky": "broken"}
    wooded = {**winding, "words": {**winding["words"], "canopy_cover": "60"}}
    rasters = {"base": ["forest.toml"]}
    through_day = [at(5 * step) for step in range(STEPS)]
    covers = [f"{20 + 0.5 * step:g}" for step in range(STEPS)]
    heights = [f"{10 + step / 5:g}m" for step in range(STEPS)]
    widths = [f"{8 + step}m" for step in range(RASTER_STEPS)]
    timed(desk, "departure on an open road", winding, "depart", through_day)
    timed(desk, "departure in woods", wooded, "depart", through_day)
    timed(desk, "cover of the woods", wooded, "canopy_cover", covers)
    timed(desk, "height of the woods", wooded, "canopy_height", heights)
    timed(desk, "departure over rasters", rasters, "depart", through_day[:RASTER_STEPS])
    timed(desk, "width of the road over rasters", rasters, "road_width", widths)
