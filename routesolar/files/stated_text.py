"""What was said of a trip, as the text of a trip file, for results: files by their names alone."""

from collections.abc import Iterable
from dataclasses import replace

from routesolar.files.rigfile import panel_only_rig
from routesolar.files.stated import Stated
from routesolar.files.toml_text import rig_text, trip_text
from routesolar.files.wording import is_place
from routesolar.trip.names import printable
from routesolar.trip.rig import Rig
from routesolar.trip.route import Route
from routesolar.trip.sky import WeatherSeries


def as_trip_file(stated: Stated, route: Route, rig: Rig | None) -> str:
    """Return a trip file's text of all that is stated; a rig that came from no file follows it.

    Skies of one's own choice, which only Python can say, are left out, and so is what changes words alone:
    units to show, further formats.
    """
    stated = replace(stated, units=None, also=())
    height, weather = stated.canopy_height, stated.weather
    at = not route.files and is_place(route.name)
    files = {
        "at" if at else "route": route.name
        if at
        else _names(file.name for file in route.files) or (route.name,),
        "rig": _name(rig.file.name) if rig is not None and rig.file is not None else None,
        "weather": _name(weather.name) if isinstance(weather, WeatherSeries) and weather.sha256 else None,
        "map": _names(stated.map),
        "canopy": _names(stated.canopy),
        "canopy_height": _name(height) if isinstance(height, str) else None,
        "terrain": _names(stated.terrain),
        "surface": _names(stated.surface),
        "leaf_type": _names(stated.leaf_type),
    }
    if rig is None or rig.file is not None:
        return trip_text(stated, files)
    if rig == panel_only_rig(rig.panels[0].rated_w):
        return trip_text(stated, files | {"panel": f"{rig.panels[0].rated_w:g}W"})
    return f"{trip_text(stated, files)}\n{rig_text(rig)}"


def _names(sources: Iterable[str]) -> tuple[str, ...]:
    return tuple(map(_name, sources))


def _name(source: str) -> str:
    """Return a file's name without its folder, and without what an address asks for."""
    return printable(source.replace("\\", "/").partition("?")[0].rstrip("/").rpartition("/")[2])
