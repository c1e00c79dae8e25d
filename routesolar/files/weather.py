"""Read a weather file, whatever its kind, and refuse what cannot be right."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from routesolar.errors import InputError
from routesolar.files.reading import PathText, printable, read_whole, source_file
from routesolar.files.weather_table import RANGES, misfit, read_table
from routesolar.limits import limit_of
from routesolar.trip.sky import WEATHER_VALUES, WeatherSeries

# What the readers raise on a file that only begins like its kind.
_BROKEN = (ArithmeticError, AttributeError, LookupError, RecursionError, StopIteration, TypeError, ValueError)
_LIGHT = ("ghi_wm2", "dni_wm2", "dhi_wm2")


def read_weather(path: PathText) -> WeatherSeries:
    """Return the weather in a file: our own table, EPW, TMY3, NSRDB PSM, PVGIS or CAMS radiation.

    A typical year (EPW, TMY3, a typical year of PVGIS or NSRDB) is marked so: its year does not count.

    Raises:
        InputError: the file is missing or not of a known kind, holds a value that cannot be right, or has
            beam or diffuse irradiance alone.
    """
    path = Path(path)
    content = read_whole(path, limit_of("weather file"))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    weather = _read(path, text.replace("\r\n", "\n").replace("\r", "\n").lstrip())
    return replace(checked_weather(path, weather), path=str(path), sha256=source_file(path, content).sha256)


def checked_weather(path: Path | str, weather: WeatherSeries) -> WeatherSeries:
    """Return weather whose values can be right, light below zero as none; `path` names it in messages.

    Raises:
        InputError: a value cannot be right, or beam or diffuse irradiance stand alone.
    """
    _check_ranges(path, weather)
    _check_light(path, weather)
    return replace(weather, **{name: np.maximum(getattr(weather, name), 0.0) for name in _LIGHT})


def _read(path: Path, text: str) -> WeatherSeries:
    """Return what the reader of this kind of file makes of it."""
    reader = _reader(path, text[:5000])
    if reader is read_table:
        return read_table(path, text)
    longest = max(map(len, text.splitlines()))
    if not text.startswith("{") and longest > limit_of("weather line"):
        raise InputError(f"{path}: has a line of {longest:,} letters, which no weather file has; get it again")
    try:
        return reader(path, text)
    except InputError:
        raise
    except _BROKEN as error:
        kind = reader.__name__.removeprefix("read_").upper()
        raise InputError(
            f"{path}: looks like a {kind} file, but cannot be read as one ({printable(str(error))})"
        ) from None


def _reader(path: Path, text: str) -> Callable[[Path, str], WeatherSeries]:
    """Return the reader for a file, known by its first lines."""
    lines = text.splitlines() or [""]  # a file may hold nothing but separators
    first, second = lines[0], lines[1] if len(lines) > 1 else ""
    if {"time", "latitude_deg"} & set(re.split(r"[,;]\s*", first)):
        return read_table
    # pvlib and pandas take a second to load, and our own table needs neither.
    from routesolar.files import weather_formats as formats

    if first.startswith("LOCATION,"):
        return formats.read_epw
    if second.startswith("Date (MM/DD/YYYY)"):
        return formats.read_tmy3
    if first.startswith("Source,Location ID"):
        return formats.read_nsrdb
    if first.startswith("Latitude (decimal degrees)") or (first.startswith("{") and "PVGIS" in text):
        return formats.read_pvgis
    if first.startswith("#") and "CAMS" in text:
        return formats.read_cams
    raise InputError(
        f'{path}: begins with "{printable(first, 60)}", which is not a known weather format; give a table '
        "that begins with time,latitude_deg,longitude_deg, or EPW, TMY3 or hourly satellite data"
    )


def _check_ranges(path: Path | str, weather: WeatherSeries) -> None:
    """Raise InputError for the first value outside its range."""
    for name, (least, most, _) in RANGES.items():
        values = getattr(weather, name)
        wrong = np.argwhere((values < least) | (values > most))
        if len(wrong):
            place = tuple(wrong[0])
            when = (
                "" if values.ndim == 1 else f" around {np.datetime64(int(weather.time_utc_s[place[0]]), 's')}Z"
            )
            raise InputError(f"{path}{when}: {misfit(name, values[place])}")


def _check_light(path: Path | str, weather: WeatherSeries) -> None:
    """Raise InputError where the sky's light is said in a way from which it does not follow."""
    ghi, dni, dhi = (np.isfinite(getattr(weather, name)).any() for name in _LIGHT)
    if (dni or dhi) and not ghi and not (dni and dhi):
        raise InputError(
            f"{path}: dni_wm2 or dhi_wm2 alone does not say how bright it is; add ghi_wm2 or the other"
        )
    if not any(np.isfinite(getattr(weather, name)).any() for name in WEATHER_VALUES):
        raise InputError(f"{path}: it holds no values")
