"""What the page says, as a trip states it; and what a trip states, as the page shows it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from routesolar.errors import RoutesolarError, UsageError
from routesolar.files import wording
from routesolar.files.reading import printable
from routesolar.files.rigfile import panel_only_rig
from routesolar.files.stated import Stated
from routesolar.plan.stretches import stretch_shown, stretches_stated
from routesolar.plan.uses import files_shown, files_stated
from routesolar.trip.loads import Load
from routesolar.trip.rig import Alternator, Battery, Rig
from routesolar.trip.route import Stop
from routesolar.trips.trip import Trip
from routesolar.trips.words import stated_in

# What the page may say in the words of the command line, and as what a trip states it.
WORDS = {
    "depart": "depart",
    "until": "until",
    "speed": "speed_mps",
    "forecast": "forecast",
    "canopy_cover": "canopy_cover_frac",
    "canopy_height": "canopy_height",
    "road_width": "road_width",
    "drive_side": "drive_side",
}


class WrongError(UsageError):
    """What is wrong, by the field of the page that says it."""

    def __init__(self, wrong: Mapping[str, str]) -> None:
        """Take a message for each field."""
        super().__init__("; ".join(wrong.values()))
        self.wrong = dict(wrong)


class _Gathered:
    """Messages by field: all that is wrong is told at once."""

    def __init__(self) -> None:
        self.wrong: dict[str, str] = {}

    def read(self, field: str, read: Any) -> Any:
        """Return what is read; where it makes no sense, note the message and return None."""
        try:
            return read()
        except RoutesolarError as error:
            self.wrong[field] = str(error)
            return None


def stated_by(said: Mapping[str, Any], base: Stated, path: Callable[[str], Path]) -> Stated:
    """Return what a base file states with what the page says in its place; fields not touched stay the base's.

    `said` has "words" by name, "" for what is no longer said; "sky", "weather", "stops", "stretches", "files"
    and "rig". `path` tells where a file of the session's folder lies.

    Raises:
        WrongError: something makes no sense; a message for each field.
    """
    gathered = _Gathered()
    changes: dict[str, Any] = {}
    for name, text in table(said.get("words")).items():
        if name not in WORDS or not isinstance(text, str):
            raise UsageError(f"{printable(str(name), 60)} is not a field of this page")
        changes[WORDS[name]] = gathered.read(
            name, lambda name=name, text=text: _stated(name, text, WORDS[name])
        )
    if said.get("files") is not None:
        heights = changes.get("canopy_height")
        changes |= gathered.read("files", lambda: files_stated(said["files"], path)) or {}
        changes["canopy_cover_frac"] = changes.get("canopy_cover_frac")
        changes["canopy_height"] = changes.get("canopy_height") or heights
    if changes.get("canopy_cover_frac") is not None:
        changes["canopy"] = ()
    changes |= _sky(said, gathered)
    if said.get("stops") is not None:
        changes["stops"] = gathered.read("stops", lambda: _stops(said["stops"], base.stops))
    if said.get("stretches") is not None:
        read = gathered.read("stretches", lambda: stretches_stated(said["stretches"], base.stretches))
        changes["stretches"] = read
    if said.get("rig") is not None:
        changes["rig"] = _rig(table(said["rig"]), gathered)
    if gathered.wrong:
        raise WrongError(gathered.wrong)
    return replace(base, **changes)


def table(value: Any) -> Mapping[str, Any]:
    """Return a table of what the page sent, empty for none; UsageError for anything else."""
    if value is None:
        return {}
    if not isinstance(value, dict):
        raise UsageError("the page sent something else than a table")
    return value


def _stated(name: str, text: str, stated_as: str) -> Any:
    return getattr(stated_in({name: text}) if text.strip() else Stated(), stated_as)


def _sky(said: Mapping[str, Any], gathered: _Gathered) -> dict[str, Any]:
    """Return the sky where the page says one; the weather file's path stands for itself."""
    sky, weather = said.get("sky"), said.get("weather")
    if weather is not None:
        return {"sky": None, "weather": weather, "sky_spans": ()}
    if sky is None:
        return {}
    read = gathered.read("sky", lambda: _stated("sky", str(sky), "sky"))
    return {"sky": read, "weather": None, "sky_spans": ()}


def _stops(said: Any, kept: Sequence[Stop]) -> tuple[Stop, ...]:
    """Return stops: those of the base by number, perhaps with another length, and new ones."""
    if not isinstance(said, list) or len(said) > 200:
        raise UsageError("the page sent something else than a list of stops")
    return tuple(_stop(table(one), kept) for one in said)


def _stop(said: Mapping[str, Any], kept: Sequence[Stop]) -> Stop:
    minutes = said.get("minutes")
    if said.get("keep") is None:
        return wording.stop_of(f"{said.get('at')}:{minutes}min")
    number = said["keep"]
    if not isinstance(number, int) or not 0 <= number < len(kept):
        raise UsageError("the page named a stop that is not there")
    stop = kept[number]
    if minutes is None:
        return stop
    return replace(stop, duration_s=wording.stop_of(f"{stop.at}:{minutes}min").duration_s, until=None)


def _rig(said: Mapping[str, Any], gathered: _Gathered) -> Rig | None:
    """Return the rig of the short form; without a battery it is the command line's flat panel."""
    plain = gathered.read("panel", lambda: wording.read_text("panel", str(said.get("panel", ""))))
    battery = gathered.read("battery", lambda: _battery(said)) if said.get("battery") else None
    engine = gathered.read("engine", lambda: _engine(said)) if said.get("engine") else None
    loads = gathered.read("loads", lambda: _loads(said.get("loads") or [])) or ()
    if not said.get("battery") and (said.get("engine") or loads):
        gathered.wrong["battery"] = "loads and engine without a battery; give its capacity in Wh"
    if plain is None or gathered.wrong.keys() & {"battery", "engine", "loads"}:
        return None
    if battery is None:
        return panel_only_rig(plain.panels[0].rated_w)
    made = gathered.read(
        "loads", lambda: Rig(panels=plain.panels, battery=battery, alternator=engine, loads=loads)
    )
    return made if isinstance(made, Rig) else None


def _battery(said: Mapping[str, Any]) -> Battery:
    battery = Battery(
        capacity_wh=_number(said["battery"], "watt-hours, such as 1280"),
        kind=str(said.get("kind") or "lithium"),
    )
    if not said.get("start"):
        return battery
    return replace(battery, start_soc_frac=_number(said["start"], "percent, such as 60") / 100)


def _engine(said: Mapping[str, Any]) -> Alternator:
    return Alternator(charge_w=_number(said["engine"], "watts, such as 300"))


def _loads(said: Any) -> tuple[Load, ...]:
    if not isinstance(said, list) or len(said) > 50:
        raise UsageError("the page sent something else than a list of loads")
    return tuple(_load(table(one), number) for number, one in enumerate(said, 1))


def _load(said: Mapping[str, Any], number: int) -> Load:
    name = printable(str(said.get("name") or f"load {number}"), 60)
    try:
        return Load(
            name=name,
            power_w=_number(said.get("watts"), "watts, such as 40"),
            when=str(said.get("when") or "always").strip(),
        )
    except ValueError as error:
        raise UsageError(f"{name}: {error}") from None


def _number(text: Any, wanted: str) -> float:
    try:
        value = float(str(text).strip().replace(",", "."))
    except ValueError:
        value = np.nan
    if not np.isfinite(value):
        raise UsageError(f'"{printable(str(text), 40)}" is not a number; give {wanted}')
    return value


def shown(trip: Trip, stated: Stated) -> dict[str, Any]:
    """Return a trip as the page's fields show it; None where nothing is said and the default holds."""
    sources, route = trip.sources, trip.route
    depart = None
    if trip.departure is not None:
        depart = datetime.fromtimestamp(trip.departure.utc_s, ZoneInfo(trip.time_zone))
    return {
        "title": printable(route.title),
        "route": [printable(file.name) for file in route.files] or [printable(route.name)],
        "points": len(route.latitude_deg),
        "is_recorded": bool(np.isfinite(route.time_utc_s).sum() > 1),
        "is_place": len(route.latitude_deg) == 1 or not route.files,
        "time_zone": trip.time_zone,
        "depart": None if depart is None else [depart.date().isoformat(), depart.strftime("%H:%M")],
        "tomorrow": (datetime.now(ZoneInfo(trip.time_zone)) + timedelta(days=1)).date().isoformat(),
        "speed": _speed_shown(trip),
        "until": stated.until,
        "sky": _sky_shown(trip, stated),
        "cover_pct": None if sources.canopy_cover_frac is None else round(100 * sources.canopy_cover_frac, 6),
        "height_m": sources.canopy_height_m,
        "width_m": sources.road_width_m,
        "trees_from": _trees_from(trip),
        "stops": [_stop_shown(stop) for stop in stated.stops],
        "stretches": [stretch_shown(stretch) for stretch in stated.stretches],
        "files": files_shown(stated),
        "rig": _rig_shown(trip.rig),
    }


def _speed_shown(trip: Trip) -> str | float | None:
    if trip.plan.speed_by_map:
        return wording.BY_MAP
    return None if trip.plan.speed_mps is None else round(trip.plan.speed_mps * 3.6, 6)


def _stop_shown(stop: Stop) -> dict[str, Any]:
    minutes = None if stop.duration_s is None else round(stop.duration_s / 60, 3)
    return {"at": printable(stop.at), "minutes": minutes, "until": stop.until and printable(stop.until)}


def _sky_shown(trip: Trip, stated: Stated) -> dict[str, Any]:
    first = trip.skies[0]
    weather = first.weather
    if weather is not None and weather.tells_light and stated.sky is None:
        return {"words": f"weather from {printable(weather.name)}"}
    if first.spans or stated.skies:
        return {"words": "as in the trip file, other skies at some hours"}
    name = stated.sky or ("" if len(trip.skies) > 1 else first.name)
    return {"name": printable(name)}


def _trees_from(trip: Trip) -> str:
    """Return where trees come from if not from the page's three numbers."""
    sources = trip.sources
    sources_of_trees = [*sources.canopy, *sources.canopy_heights, *sources.surface, *sources.map]
    return ", ".join(printable(source.rsplit("/", 1)[-1]) for source in sources_of_trees)


def _rig_shown(rig: Rig | None) -> dict[str, Any] | None:
    """Return the short form's values, or a summary of a rig that says more than these."""
    if rig is None:
        return None
    panel, battery = rig.panels[0], rig.battery
    short: dict[str, Any] = {"panel_w": panel.rated_w}
    plain = Rig(panels=panel_only_rig(panel.rated_w).panels)
    if battery is not None:
        usual = Battery(
            capacity_wh=battery.capacity_wh, kind=battery.kind, start_soc_frac=battery.start_soc_frac
        )
        engine = rig.alternator and Alternator(charge_w=rig.alternator.charge_w)
        loads = tuple(Load(name=load.name, power_w=load.power_w, when=load.when) for load in rig.loads)
        plain = replace(plain, battery=usual, alternator=engine, loads=loads)
        short |= {
            "battery_wh": battery.capacity_wh,
            "kind": battery.kind,
            "start_pct": round(100 * battery.start_soc_frac, 6),
            "engine_w": None if rig.alternator is None else rig.alternator.charge_w,
            "loads": [
                {"name": printable(one.name), "watts": one.power_w, "when": one.when} for one in rig.loads
            ],
        }
    if rig == plain:
        return short
    parts = [f"{printable(rig.name)}: {rig.rated_w:g} W of panels"]
    parts += [f"{battery.capacity_wh:g} Wh battery"] if battery is not None else []
    parts += [f"{len(rig.loads)} loads"] if rig.loads else []
    return {"words": ", ".join(parts), "panel_w": rig.rated_w}
