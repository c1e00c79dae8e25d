"""Read our own weather table. Lower than files/weather.py, which alone uses it.

    time,latitude_deg,longitude_deg,elevation_m,cloud_frac,ghi_wm2,dni_wm2,dhi_wm2,air_c,wind_mps,wind_from_deg
    2026-11-20T07:00+11:00,-42.9,147.3,55,0.4,,,,14.5,3.2,310

`time` is the start of the hour (or other step) that the row describes, with its offset from UTC; the step is
the commonest distance between rows. Any of the columns after the third may be left out, any value empty.
Several places along the route stand below each other, in any order. Where each time has one row and the place
moves on from row to row, the table follows the vehicle: a forecast along a route. `elevation_m` is the place's
height, the same in all of its rows or said in one of them.
"""

import csv
import io
from array import array
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import numpy as np

from routesolar.errors import InputError
from routesolar.files.reading import printable
from routesolar.limits import limit_of
from routesolar.trip.sky import WEATHER_VALUES, WeatherSeries

KEYS = ("time", "latitude_deg", "longitude_deg")
HEIGHT = "elevation_m"
Row = tuple[int, dict[str, str]]
# Rows that tell of a vehicle's way hardly ever tell of one place again; those of stations do, time after time.
MOST_ROWS_OF_A_PASSED_PLACE = 3
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
            twice at one place, a place has two heights, or the table is too large.
    """
    rows = _numbers(path, text)
    steps, step = np.unique(rows["time"], return_inverse=True)
    places, place = np.unique(np.stack([rows[key] for key in KEYS[1:]], axis=1), axis=0, return_inverse=True)
    place = place.reshape(-1)
    _check_repeats(path, rows["line"], step, place)
    step_s = _step_s(path, steps)
    height_m = _heights_m(path, rows, place, len(places))
    moving = _is_moving(len(steps), len(places), len(place))
    if moving:
        order = np.argsort(step)
        places, height_m, column = places[place[order]], height_m[place[order]], np.zeros_like(place)
    else:
        _check_size(path, len(steps), len(places))
        column = place
    shape = (len(steps), 1 if moving else len(places))
    values: dict[str, Any] = {name: np.full(shape, np.nan) for name in WEATHER_VALUES}
    for name in values.keys() & rows.keys():
        values[name][step, column] = rows[name]
    return WeatherSeries(
        **values,
        name=str(path),
        typical=False,
        latitude_deg=places[:, 0],
        longitude_deg=places[:, 1],
        elevation_m=height_m,
        time_utc_s=steps + step_s / 2,
        step_s=step_s,
        averaged_s=step_s,
        moving=moving,
    )


def _is_moving(steps: int, places: int, rows: int) -> bool:
    """Tell whether the rows follow a vehicle: each time is told of once, and hardly any place again."""
    return rows == steps and places > 1 and rows <= MOST_ROWS_OF_A_PASSED_PLACE * places


def _check_size(path: Path | str, steps: int, places: int) -> None:
    if places > limit_of("weather places") or steps * places > limit_of("weather table"):
        raise InputError(
            f"{path}: it tells of {places:,} places at {steps:,} times; the most are "
            f"{limit_of('weather places'):,} places, and {limit_of('weather table'):,} places times times; "
            "give fewer, or for a forecast along a route one row for each time, at the place of that time"
        )


def _check_repeats(path: Path | str, line: np.ndarray, step: np.ndarray, place: np.ndarray) -> None:
    """Raise InputError where a time comes twice at a place."""
    cell = step * (place.max() + 1) + place
    order = np.argsort(cell, kind="stable")
    again = np.flatnonzero(np.diff(cell[order]) == 0)
    if len(again):
        first = again[np.argmin(line[order[again + 1]])]
        one, other = line[order[first]], line[order[first + 1]]
        raise InputError(f"{path}: line {other} repeats the time and place of line {one}; keep one")


def _heights_m(path: Path | str, rows: dict[str, np.ndarray], place: np.ndarray, count: int) -> np.ndarray:
    """Return the places' heights, NaN where none is said."""
    height_m = np.full(count, np.nan)
    if HEIGHT not in rows:
        return height_m
    said = np.flatnonzero(np.isfinite(rows[HEIGHT]))
    first = np.full(count, -1)
    first[place[said[::-1]]] = said[::-1]  # the last one written is the first in the file
    height_m[first >= 0] = rows[HEIGHT][first[first >= 0]]
    wrong = said[rows[HEIGHT][said] != height_m[place[said]]]
    if len(wrong):
        row = wrong[0]
        raise InputError(
            f"{path}: line {rows['line'][row]}: {HEIGHT} is {rows[HEIGHT][row]:g}, but "
            f"{height_m[place[row]]:g} in line {rows['line'][first[place[row]]]} for the same place; give each "
            "place one height"
        )
    return height_m


def misfit(name: str, value: float) -> str:
    """Return the words for a value outside its range."""
    least, most, advice = RANGES[name]
    return f"{name} is {value:g}, which is not in {least:g} to {most:g}{advice}"


def _numbers(path: Path | str, text: str) -> dict[str, np.ndarray]:
    """Return the table's columns as numbers, NaN where a value is empty, with the line of each row."""
    said: dict[str, Any] = {}
    line = array("q")
    for number, row in _rows(path, text):
        if not said:
            said = {name: array("d") for name in row}
        if len(line) == limit_of("weather rows"):
            raise InputError(
                f"{path}: it has more than {limit_of('weather rows'):,} rows; cut it to the days of the drive"
            )
        line.append(number)
        for name, value in row.items():
            if name == "time":
                said[name].append(_time_s(path, number, value))
            elif value or name in KEYS:
                said[name].append(_number(path, number, row, name))
            else:
                said[name].append(np.nan)
    if not said:
        _step_s(path, np.empty(0))
    return {name: np.array(values) for name, values in {**said, "line": line}.items()}


def _rows(path: Path | str, text: str) -> Iterator[Row]:
    """Yield line numbers and rows, each a dict of stripped text."""
    reader = csv.DictReader(io.StringIO(text), skipinitialspace=True)
    try:
        columns = [(name or "").strip() for name in reader.fieldnames or []]
        _check_columns(path, columns)
        reader.fieldnames = columns
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
