"""The map library as text to put inside a page, and the folium map that starts it."""

import importlib.metadata
import re
from base64 import b64encode
from functools import cache
from pathlib import Path

import folium

from routesolar.errors import RoutesolarError

_PACKAGE = "xstatic-leaflet"
MAP_ID = "drive"  # folium calls the element and the JavaScript variable map_drive


@cache
def leaflet_js() -> str:
    """Return Leaflet's script, without the line that asks for its source map."""
    return "\n".join(line for line in _asset("leaflet.js").splitlines() if "sourceMappingURL" not in line)


@cache
def leaflet_css() -> str:
    """Return Leaflet's style sheet without comments, its pictures inside, so that it asks for no file."""
    css = re.sub(r"/\*.*?\*/", "", _asset("leaflet.css"), flags=re.DOTALL)
    for name in ("layers.png", "layers-2x.png", "marker-icon.png"):
        picture = b64encode(_path(name).read_bytes()).decode()
        css = css.replace(f"url(images/{name})", f"url(data:image/png;base64,{picture})")
    return css


def map_script(latitude_deg: float, longitude_deg: float) -> str:
    """Return the JavaScript that makes the map `map_drive`, on canvas and without tiles."""
    sheet = folium.Map(
        location=(latitude_deg, longitude_deg),
        tiles=None,
        prefer_canvas=True,
        zoom_control=True,
        attribution_control=False,
        zoom_snap=0.25,
        max_zoom=18,
        max_bounds=False,
    )
    sheet._id = MAP_ID  # folium would draw it at random; the page must not change from run to run
    # folium would load these from the network.
    sheet.default_js, sheet.default_css = [], []
    figure = sheet.get_root()
    figure.render()
    return str(figure.script.render())


def _asset(name: str) -> str:
    return _path(name).read_text(encoding="utf-8")


def _path(name: str) -> Path:
    for path in importlib.metadata.files(_PACKAGE) or ():
        if path.name == name:
            return Path(str(path.locate()))
    raise RoutesolarError(f"{_PACKAGE} is installed without {name}; reinstall it to draw pages")
