"""What the command line says, turned into values once, and the trip that it makes with its files."""

from collections.abc import Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from routesolar.cli.options import DayOptions, TripOptions
from routesolar.errors import UsageError
from routesolar.files import values, wording
from routesolar.files.stated import Stated, overridden
from routesolar.files.tripfile import read_trip_file
from routesolar.trips.trip import Trip

# Options whose values are stated under another name; the rest go by their own.
_STATED_AS = {
    "panel": "rig",
    "speed": "speed_mps",
    "distance": "distance_m",
    "drive_from": "drive_from_s",
    "stop": "stops",
    "cloud_okta": "sky",
    "air": "air_c",
    "wind": "wind_mps",
    "canopy_cover": "canopy_cover_frac",
    "step": "step_m",
    "tz": "time_zone",
}


def trip_asked_for(paths: Sequence[Path], options: TripOptions, at: str | None = None) -> Trip:
    """Return the trip that files and options make together; the command line overrides a trip file.

    Raises:
        UsageError: options that clash or lack a unit. InputError: a file cannot be used.
    """
    return Trip.of(stated(paths, options, at))


def stated(paths: Sequence[Path], options: TripOptions, at: str | None = None) -> Stated:
    """Return what files and options state together; a place takes that of a trip file's route."""
    files = _files(paths)
    if at is None:
        return overridden(files, _options(options))
    if any(path.suffix.lower() != ".toml" for path in paths):
        raise UsageError(f"--at and {paths[0]} contradict each other; give a place or a route")
    return overridden(files, replace(_options(options), route=wording.place_of(at)))


def clock_range(given: DayOptions) -> dict[str, float]:
    """Return the clock times to try, in seconds: first, last and every."""
    try:
        first_s, last_s = wording.clock_s(given.from_), wording.clock_s(given.to)
    except ValueError as error:
        raise UsageError(f"--from and --to: {error}") from None
    return {"first": first_s, "last": last_s, "every": values.duration_s(given.every, "every")}


def _files(paths: Sequence[Path]) -> Stated:
    """Return what a trip file states, or the GPX files."""
    tomls = [path for path in paths if path.suffix.lower() == ".toml"]
    if not tomls:
        return Stated(routes=tuple(paths))
    if len(paths) > 1:
        raise UsageError(f"{tomls[0]} is a trip file and names its own routes; give it on its own")
    return read_trip_file(tomls[0])


def _options(options: TripOptions) -> Stated:
    """Return what the options state; UsageError where two say one thing or a value cannot be read."""
    given = {field.name: getattr(options, field.name) for field in fields(options)}
    given = {name: value for name, value in given.items() if value not in (None, [], False)}
    for group in wording.ALTERNATIVES:
        both = [f"--{name.replace('_', '-')}" for name in group if name in given]
        if len(both) > 1:
            raise UsageError(f"{' and '.join(both)} contradict each other; give one of them")
    return replace(
        Stated(), **{_STATED_AS.get(name, name): _value(name, given[name]) for name in sorted(given)}
    )


def _value(name: str, given: Any) -> Any:
    """Return the value of one option."""
    if isinstance(given, str):
        return wording.read_text(name, given)
    if isinstance(given, list):
        return tuple(wording.stop_of(text) for text in given) if name == "stop" else tuple(given)
    return given
