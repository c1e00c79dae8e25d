"""Read a trip file: the route and everything said about one drive, as the command line would say it."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from routesolar.errors import InputError
from routesolar.files.beside import found_beside
from routesolar.files.stated import Stated
from routesolar.files.toml_checked import read_checked
from routesolar.files.trip_tables import Texts, TripTable, cover_frac_of
from routesolar.trip.surroundings import Trees

# Keys whose value is what is stated, under its own name there.
_AS_STATED = {
    "depart": "depart",
    "until": "until",
    "speed": "speed_mps",
    "legs": "legs",
    "distance": "distance_m",
    "drive_from": "drive_from_s",
    "hours_a_day": "hours_a_day",
    "forecast": "forecast",
    "air": "air_c",
    "air_c": "air_c",
    "wind": "wind_mps",
    "wind_mps": "wind_mps",
    "canopy_cover": "canopy_cover_frac",
    "canopy_height": "canopy_height",
    "canopy_height_m": "canopy_height",
    "road_width": "road_width",
    "road_width_m": "road_width",
    "drive_side": "drive_side",
    "season": "season",
    "step": "step_m",
    "step_m": "step_m",
    "tz": "time_zone",
    "units": "units",
    "also": "also",
    "strict": "strict",
}


def read_trip_file(path: Path) -> Stated:
    """Return what a trip file states, paths resolved; InputError that lists everything wrong with it."""
    table = read_checked(path, TripTable)
    routes = _several(table.route)
    if not routes and table.at is None:
        raise InputError(
            f'{path}: route names no file; write it as route = ["coast.gpx"], or a place as at = "-41.6,146.5"'
        )
    if routes and table.at is not None:
        raise InputError(f"{path}: at and route contradict each other; keep one of them")
    folder = path.parent
    return Stated(
        routes=tuple(folder / name for name in routes),
        route=table.at,
        rig=table.panel if table.rig is None else folder / table.rig,
        paces=tuple(pace.noun() for pace in table.pace),
        stops=tuple(
            replace(stop.noun(), said_in=f"{path}, [[stop]] {number}")
            for number, stop in enumerate(table.stop, 1)
        ),
        stretches=tuple(stretch.noun() for stretch in table.surroundings),
        weather=None if table.weather is None else folder / table.weather,
        **_sky(table),
        **_around(table, folder),
        **_as_stated(table, folder),
    )


def _as_stated(table: TripTable, folder: Path) -> dict[str, Any]:
    """Return what stands in the file as it is stated."""
    values = {name: getattr(table, key) for key, name in _AS_STATED.items() if getattr(table, key) is not None}
    cover_frac = cover_frac_of(table)
    if cover_frac is not None:
        values["canopy_cover_frac"] = cover_frac
    if isinstance(table.canopy_height, str):
        values["canopy_height"] = found_beside(folder, table.canopy_height)
    return values


def _sky(table: TripTable) -> dict[str, Any]:
    if isinstance(table.sky, list):
        rest = [entry.sky for entry in table.sky if entry.from_ is None]
        spans = tuple(entry.noun() for entry in table.sky if entry.from_ is not None)
        return {"sky": rest[0] if rest else _okta(table), "sky_spans": spans}
    return {"sky": _okta(table) if table.sky is None else table.sky}


def _okta(table: TripTable) -> str | None:
    return (
        None if table.cloud_okta is None else f"okta {np.format_float_positional(table.cloud_okta, trim='-')}"
    )


def _around(table: TripTable, folder: Path) -> dict[str, Any]:
    """Return the rasters of trees and hills, and what is said of all trees."""
    said: dict[str, Any] = {
        "map": tuple(found_beside(folder, name) for name in _several(table.map)),
        "canopy": tuple(found_beside(folder, name) for name in _several(table.canopy)),
        "terrain": tuple(found_beside(folder, name) for name in _several(table.terrain)),
        "surface": tuple(found_beside(folder, name) for name in _several(table.surface)),
    }
    if table.trees is not None:
        habit = table.trees.model_dump(exclude={"crown_transmittance_frac", "leaf_type"})
        said |= {
            "trees": Trees(**habit),
            "crown_transmittance_frac": table.trees.crown_transmittance_frac,
            "leaf_type": tuple(found_beside(folder, name) for name in _several(table.trees.leaf_type)),
        }
    return said


def _several(names: Texts | None) -> list[str]:
    return [] if names is None else [names] if isinstance(names, str) else names
