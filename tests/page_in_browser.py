"""What the browser tests share: opening a written page and reading what it shows."""

import io
from time import monotonic

import numpy as np
from matplotlib.colors import to_rgb
from matplotlib.image import imread

DESKTOP = {"viewport": {"width": 1280, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
READING = ("time", "leg", "along", "expected", "band", "open", "shade", "sun", "so far")


def written(html, tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "page.html"
    path.write_text(html, encoding="utf-8")
    return path.as_uri()


def reading(page):
    return dict(zip(READING, page.locator(".reading dd").all_inner_texts(), strict=True))


def pixels(page, selector):
    """An element as whole red, green and blue."""
    picture = imread(io.BytesIO(page.locator(selector).screenshot()), format="png")
    return np.round(picture[..., :3] * 255)


def painted(picture, colour):
    """How many pixels have exactly this colour."""
    return int(np.all(picture == np.round(np.array(to_rgb(colour)) * 255), axis=-1).sum())


def place_on_map(page, row, report):
    """Where the segment's start lies in the window, by the map library's own reckoning."""
    segments = report.harvest.segments
    return page.evaluate(
        """([latitude, longitude]) => {
          const at = map_drive.latLngToContainerPoint([latitude, longitude]);
          const box = map_drive.getContainer().getBoundingClientRect();
          return [box.left + at.x, box.top + at.y];
        }""",
        [float(segments.latitude_deg[row]), float(segments.longitude_deg[row])],
    )


def mark_on_map(page):
    box = page.locator(".leaflet-mark-pane path").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def pointed_row(page):
    return int(page.locator(".chart").get_attribute("aria-valuenow"))


def wait_until(page, expression, most_s=10.0):
    """Wait until an expression holds on the page; its policy forbids the browser's own waiting."""
    ends_s = monotonic() + most_s
    while not page.evaluate(expression):
        assert monotonic() < ends_s, f"{expression} never held"
        page.wait_for_timeout(20)
