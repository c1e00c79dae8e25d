"""A trip written as a trip file that reads back to an equal trip."""

from dataclasses import fields
from functools import partial
from typing import Any

from routesolar.errors import UsageError
from routesolar.files.beside import named_beside, remove, write_new
from routesolar.files.gpx_written import gpx_text
from routesolar.files.reading import PathText
from routesolar.files.rigfile import panel_only_rig
from routesolar.files.stated import Stated
from routesolar.files.toml_text import rig_text, trip_text
from routesolar.files.weather_written import weather_csv
from routesolar.files.wording import is_place, place_of
from routesolar.trip.names import printable
from routesolar.trip.rig import Rig
from routesolar.trip.sky import WeatherSeries
from routesolar.trips.trip import Trip, read_trip
from routesolar.trips.words import path_of


def write_trip(trip: Trip, path: PathText, *, force: bool = False) -> None:
    """Write a trip file that reads back to an equal trip.

    Rig, route and weather that came from no file are written beside it. Files that the trip was read from are
    named, not copied.

    Raises:
        UsageError: something of the trip cannot be written in a trip file; the message names it. Nothing
            is left.
        OutputError: a file is there already (`force` replaces it), or the disk refuses.
    """
    file, stated = path_of(path, "path"), trip.stated()
    if stated.skies:
        raise UsageError(
            "these skies cannot be written in a trip file: skies of your own choice, and a clear-sky index of "
            "your own, are said in Python only; name one sky or none, or give the light as a weather table"
        )
    if trip.rig is not None and trip.rig.albedo_frac != Rig.__dataclass_fields__["albedo_frac"].default:
        raise UsageError(
            f"the rig's albedo_frac of {trip.rig.albedo_frac:g} cannot be written in a trip file; other ground "
            "than the usual is said in Python only"
        )
    written: list[Any] = []

    def put(name: str, text: str) -> str:
        write_new(file.parent / name, text, force=force)
        written.append(file.parent / name)
        return name

    try:
        put(file.name, trip_text(stated, _files(trip, stated, file, put)))
        again = read_trip(file)
        differ = [
            field.name for field in fields(trip) if getattr(again, field.name) != getattr(trip, field.name)
        ]
        if differ:
            raise UsageError(f"the trip's {' and '.join(differ)} cannot be written in a trip file as it is")
    except BaseException:
        remove(written)
        raise


def _files(trip: Trip, stated: Stated, file: Any, put: Any) -> dict[str, Any]:
    """Return the keys of a trip file that name files; those that there are none of are written."""
    beside = partial(named_beside, file.parent)
    sources = [source.path for source in trip.route.files]
    route: dict[str, Any] = {"route": [beside(path) for path in sources]}
    if not sources and is_place(trip.route.name) and place_of(trip.route.name) == trip.route:
        route = {"at": trip.route.name}
    elif not sources:
        route = {"route": [put(f"{trip.route.name}.gpx", gpx_text(trip.route))]}
    said: dict[str, Any] = {**route, **_rig(trip.rig, f"{file.stem}_rig.toml", put)}
    weather = stated.weather
    if isinstance(weather, WeatherSeries):
        said |= _weather(weather, beside, put)
    height = stated.canopy_height
    return said | {
        "map": tuple(map(beside, stated.map)),
        "canopy": tuple(map(beside, stated.canopy)),
        "canopy_height": beside(height) if isinstance(height, str) else None,
        "terrain": tuple(map(beside, stated.terrain)),
        "surface": tuple(map(beside, stated.surface)),
        "leaf_type": tuple(map(beside, stated.leaf_type)),
    }


def _rig(rig: Rig | None, name: str, put: Any) -> dict[str, Any]:
    if rig is None:
        return {}
    rated_w = rig.panels[0].rated_w
    if rig == panel_only_rig(rated_w):
        return {"panel": f"{float(rated_w)!r}W"}
    put(name, rig_text(rig))
    return {"rig": name}


def _weather(weather: WeatherSeries, beside: Any, put: Any) -> dict[str, Any]:
    if weather.path:
        return {"weather": beside(weather.path)}
    if weather.name == "typical sky":
        return {"sky": "typical"}
    if not weather.name or set(weather.name) & set("/\\"):
        raise UsageError(
            f'the weather is called "{printable(weather.name)}"; give it the name of the file to write beside '
            'the trip: weather_from_frame(..., name="friday.csv")'
        )
    return {"weather": put(weather.name, weather_csv(weather))}
