"""Read a trip file: the route and everything said about one drive, as the command line would say it."""

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from routesolar.errors import InputError
from routesolar.files.toml_checked import read_checked
from routesolar.files.trip_tables import NUMBERS, Texts, TreesTable, TripTable
from routesolar.files.wording import tree_height_m
from routesolar.trip.route import Pace, Stop, Stretch
from routesolar.trip.sky import SkySpan
from routesolar.trip.surroundings import Trees

_NOT_OPTIONS = {"route", "stop", "pace", "surroundings", "trees"}


@dataclass(frozen=True, slots=True, kw_only=True)
class TripFile:
    """What a trip file says. `options` holds the command line's words and texts; paths are resolved.

    `crown_transmittance_frac` None leaves it to the season.
    """

    routes: tuple[Path, ...]
    options: dict[str, Any]
    stops: tuple[Stop, ...] = ()
    paces: tuple[Pace, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    sky_spans: tuple[SkySpan, ...] = ()
    trees: Trees = field(default_factory=Trees)
    crown_transmittance_frac: float | None = None
    leaf_type: tuple[str, ...] = ()


def read_trip(path: Path) -> TripFile:
    """Return a trip file's content; InputError that lists everything wrong with it."""
    table = read_checked(path, TripTable)
    routes = _several(table.route)
    if not routes:
        raise InputError(f'{path}: route names no file; write it as route = ["coast.gpx"]')
    folder = path.parent
    trees = table.trees or TreesTable()
    habit = trees.model_dump(exclude={"crown_transmittance_frac", "leaf_type"})
    return TripFile(
        routes=tuple(folder / name for name in routes),
        options=_options(table, folder),
        stops=tuple(
            replace(stop.noun(), said_in=f"{path}, [[stop]] {number}")
            for number, stop in enumerate(table.stop, 1)
        ),
        paces=tuple(pace.noun() for pace in table.pace),
        stretches=tuple(stretch.noun() for stretch in table.surroundings),
        sky_spans=tuple(span.noun() for span in table.sky) if isinstance(table.sky, list) else (),
        trees=Trees(**habit),
        crown_transmittance_frac=trees.crown_transmittance_frac,
        leaf_type=tuple(_beside(folder, name) for name in _several(trees.leaf_type)),
    )


def _options(table: TripTable, folder: Path) -> dict[str, Any]:
    """Return what the file says in the command line's words; what it does not say is left out."""
    said: dict[str, Any] = {
        name: value
        for name, value in table.model_dump(exclude=_NOT_OPTIONS).items()
        if value is not None and value is not False and name not in NUMBERS
    }
    for key, (option, unit) in NUMBERS.items():
        number = getattr(table, key)
        if number is not None:
            said[option] = f"{np.format_float_positional(number, trim='-')}{unit}"
    if isinstance(table.sky, list):
        del said["sky"]
    for name in ("rig", "weather"):
        if name in said:
            said[name] = folder / said[name]
    for name in ("canopy", "terrain"):
        if name in said:
            said[name] = [_beside(folder, each) for each in _several(said[name])]
    height = said.get("canopy_height")
    if height is not None and tree_height_m(height) is None:
        said["canopy_height"] = _beside(folder, height)
    return said


def _several(names: Texts | None) -> list[str]:
    return [] if names is None else [names] if isinstance(names, str) else names


def _beside(folder: Path, name: str) -> str:
    """Return a path relative to the trip file's folder; a web address stays as it is."""
    return name if "://" in name else str(folder / name)
