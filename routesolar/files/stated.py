"""What is said of a trip, in a trip file or on the command line: read once, and put together."""

from dataclasses import dataclass, fields, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from routesolar.trip.rig import Rig
from routesolar.trip.route import LegsBy, LegsEvery, Pace, Route, Stop, Stretch
from routesolar.trip.sky import Sky, SkySpan, WeatherSeries
from routesolar.trip.surroundings import Trees

# Ways to say the same thing: what says one of them leaves nothing of the others.
_ONE_OF = (("sky", "weather", "skies"), ("canopy", "canopy_cover_frac"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What is said, in SI units and shares; None, empty or False where nothing is.

    `route` is that of the files, where it has been read; `skies` stand for all that is said of the sky.
    `until` is how long one stays where the route ends, a clock time or a date with its time.
    `depart` is local at the route's start unless it has an offset. `rig` and `weather` are files, or what is in
    them. `canopy_height` is metres or a raster, `road_width` metres or "fit", `speed_mps`
    a number or "map". `also` are further formats.
    """

    routes: tuple[Path, ...] = ()
    route: Route | None = None
    depart: datetime | None = None
    rig: Rig | Path | None = None
    speed_mps: float | str | None = None
    paces: tuple[Pace, ...] = ()
    stops: tuple[Stop, ...] = ()
    until: str | None = None
    distance_m: float | None = None
    drive_from_s: float | None = None
    hours_a_day: float | None = None
    stretches: tuple[Stretch, ...] = ()
    legs: LegsBy | LegsEvery | None = None
    step_m: float | None = None
    time_zone: str | None = None
    sky: str | None = None
    weather: Path | WeatherSeries | None = None
    skies: tuple[Sky, ...] = ()
    sky_spans: tuple[SkySpan, ...] = ()
    forecast: str | None = None
    air_c: float | None = None
    wind_mps: float | None = None
    map: tuple[str, ...] = ()
    canopy: tuple[str, ...] = ()
    canopy_cover_frac: float | None = None
    canopy_height: float | str | None = None
    road_width: float | str | None = None
    drive_side: str | None = None
    season: str | None = None
    trees: Trees | None = None
    crown_transmittance_frac: float | None = None
    leaf_type: tuple[str, ...] = ()
    terrain: tuple[str, ...] = ()
    surface: tuple[str, ...] = ()
    strict: bool = False
    units: str | None = None
    also: tuple[str, ...] = ()


def overridden(below: Stated, above: Stated) -> Stated:
    """Return what is said below with what is said above in its place.

    Of two ways to say the same thing, such as a cover and a raster of it, a way above drops the other below; a
    sky above also drops the skies for some hours of the day. Stops come together.
    """
    said = _said(above)
    dropped = {name: _EMPTY[name] for group in _ONE_OF if said.keys() & set(group) for name in group}
    if said.keys() & {"sky", "weather", "skies"}:
        dropped["sky_spans"] = ()
    if above.routes:
        dropped["route"] = None
    if above.route is not None:
        dropped["routes"] = ()
    return replace(below, **{**dropped, **said, "stops": (*below.stops, *above.stops)})


def _said(stated: Stated) -> dict[str, Any]:
    values = {field.name: getattr(stated, field.name) for field in fields(stated)}
    return {name: value for name, value in values.items() if value != _EMPTY[name]}


_EMPTY = {field.name: field.default for field in fields(Stated)}
