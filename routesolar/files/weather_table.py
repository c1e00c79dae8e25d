"""Read our own weather table. Lower than files/weather.py, which alone uses it.

    time,latitude_deg,longitude_deg,elevation_m,cloud_frac,ghi_wm2,dni_wm2,dhi_wm2,air_c,wind_mps,wind_from_deg
    2026-11-20T07:00+11:00,-42.9,147.3,55,0.4,,,,14.5,3.2,310

`time` is the start of the hour (or other step) that the row describes, with its offset from UTC; the step is
the commonest distance between rows. Any of the columns after the third may be left out, any value empty.
Several places along the route stand below each other, in any order. `elevation_m` is the height of the place,
the same in all of its rows or said in one of them.
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import numpy as np

from routesolar.errors import InputError
from routesolar.files.reading import printable
from routesolar.trip.sky import WEATHER_VALUES, WeatherSeries

KEYS = ("time", "latitude_deg", "longitude_deg")
HEIGHT = "elevation_m"
Row = tuple[int, dict[str, str]]
Place = tuple[float, ...]
# Least and most, and what to do about a value beyond them.
RANGES = {
    "latitude_deg": (-90.0, 90.0, ""),
    "longitude_deg": (-180.0, 360.0, ""),
    HEIGHT: (-500.0, 9000.0, "; give metres above sea level"),
    "cloud_frac": (0.0, 1.0, "; write 40 % as 0.40"),
    "ghi_wm2": (-20.0, 1700.0, "; give W/m2"),
    "dni_wm2": (-20.0, 1500.0, "; give W/m2"),
    "dhi_wm2": (-20.0, 1200.0, "; give W/m2"),
    "air_c": (-90.0, 60.0, "; give degrees Celsius"),
    "wind_mps": (0.0, 110.0, "; give metres per second"),
    "wind_from_deg": (0.0, 360.0, ""),
}


def read_table(path: Path | str, text: str) -> WeatherSeries:
    """Return the weather of a table in a file; InputError as read_table_text."""
    return replace(read_table_text(path, text), name=Path(path).name)


def read_table_text(path: Path | str, text: str) -> WeatherSeries:
    """Return the table's weather; `path` names it in messages.

    Raises:
        InputError: a column is not known or missing, a value is not a number, a time has no offset or comes
            twice at one place, or a place has two heights.
    """
    rows = list(_rows(path, text))
    times = np.array([_time_s(path, line, row["time"]) for line, row in rows])
    place_of = [tuple(_number(path, line, row, key) for key in KEYS[1:]) for line, row in rows]
    places = sorted(set(place_of))
    steps = np.unique(times)
    first: dict[tuple[float, Place], int] = {}
    values: dict[str, Any] = {name: np.full((len(steps), len(places)), np.nan) for name in WEATHER_VALUES}
    for (line, row), time, place in zip(rows, times, place_of, strict=True):
        if (time, place) in first:
            raise InputError(
                f"{path}: line {line} repeats the time and place of line {first[time, place]}; keep one"
            )
        first[time, place] = line
        cell = np.searchsorted(steps, time), places.index(place)
        for name in WEATHER_VALUES:
            if row.get(name):
                values[name][cell] = _number(path, line, row, name)
    step_s = _step_s(path, steps)
    latitude, longitude = np.array(places).T
    return WeatherSeries(
        **values,
        name=str(path),
        typical=False,
        latitude_deg=latitude,
        longitude_deg=longitude,
        elevation_m=_heights_m(path, rows, place_of, places),
        time_utc_s=steps + step_s / 2,
        step_s=step_s,
        averaged_s=step_s,
    )


def _heights_m(path: Path | str, rows: list[Row], place_of: list[Place], places: list[Place]) -> np.ndarray:
    """Return the places' heights, NaN where none is said."""
    said: dict[Place, tuple[int, float]] = {}
    for (line, row), place in zip(rows, place_of, strict=True):
        if row.get(HEIGHT):
            height_m = _number(path, line, row, HEIGHT)
            first, before_m = said.setdefault(place, (line, height_m))
            if height_m != before_m:
                raise InputError(
                    f"{path}: line {line}: {HEIGHT} is {height_m:g}, but {before_m:g} in line {first} for the "
                    "same place; give each place one height"
                )
    return np.array([said[place][1] if place in said else np.nan for place in places])


def misfit(name: str, value: float) -> str:
    """Return the words for a value outside its range."""
    least, most, advice = RANGES[name]
    return f"{name} is {value:g}, which is not in {least:g} to {most:g}{advice}"


def _rows(path: Path | str, text: str) -> Iterator[Row]:
    """Yield line numbers and rows, each a dict of stripped text."""
    reader = csv.DictReader(io.StringIO(text), skipinitialspace=True)
    columns = [(name or "").strip() for name in reader.fieldnames or []]
    _check_columns(path, columns)
    reader.fieldnames = columns
    try:
        for row in reader:
            if None in row or None in row.values():
                raise InputError(
                    f"{path}: line {reader.line_num} does not have the {len(columns)} values that the "
                    "first line names; add what is missing (leave an unknown value empty between its commas)"
                )
            yield reader.line_num, {name: value.strip() for name, value in row.items()}
    except csv.Error as error:
        raise InputError(f"{path}: line {reader.line_num + 1} is not valid CSV ({error}); fix it") from None


def _check_columns(path: Path | str, columns: list[str]) -> None:
    """Raise InputError for a column that is missing, twice there or not known."""
    known = (*KEYS, HEIGHT, *WEATHER_VALUES)
    for name in columns:
        if name not in known:
            close = get_close_matches(name, known, 1)
            way = f"did you mean {close[0]}?" if close else f"the columns are {', '.join(known)}"
            if ";" in name:
                way = "separate the columns with commas, and write decimals with a point"
            raise InputError(f'{path}: line 1: column "{printable(name, 60)}" is not known; {way}')
        if columns.count(name) > 1:
            raise InputError(f"{path}: column {name} appears twice; keep one")
    missing = [name for name in KEYS if name not in columns]
    if missing or not set(columns) & set(WEATHER_VALUES):
        raise InputError(
            f"{path}: the first line must name {', '.join(KEYS)} "
            f"and at least one of {', '.join(WEATHER_VALUES)}"
        )


def _time_s(path: Path | str, line: int, text: str) -> float:
    """Return UTC seconds of an ISO 8601 time with an offset."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(
            f'{path}: line {line}: "{printable(text)}" is not a time; write 2026-11-20T07:00+11:00'
        ) from None
    if moment.tzinfo is None:
        raise InputError(f"{path}: line {line}: {text} has no offset from UTC; write {text}+00:00 if it is UTC")
    return moment.timestamp()


def _number(path: Path | str, line: int, row: dict[str, str], name: str) -> float:
    """Return a finite number of a row."""
    try:
        value = float(row[name])
    except ValueError:
        value = np.nan
    if not np.isfinite(value):
        raise InputError(
            f'{path}: line {line}: {name} is "{printable(row[name])}", which is not a number; write it as 0.5, '
            "or leave it empty if it is not known"
        )
    least, most, _ = RANGES[name]
    if not least <= value <= most:
        raise InputError(f"{path}: line {line}: {misfit(name, value)}")
    return value


def _step_s(path: Path | str, starts_s: np.ndarray) -> float:
    """Return the commonest distance between the rows' times."""
    if len(starts_s) < 2:
        raise InputError(
            f"{path}: there is weather for {'one time only' if len(starts_s) else 'no time'}; "
            "give at least two, so that the step is known"
        )
    distances, counts = np.unique(np.diff(starts_s), return_counts=True)
    return float(distances[np.argmax(counts)])
