"""Common weather files, read by pvlib, with their time labels made right. Lower than files/weather.py.

| file | its label | its irradiance | taken for |
|---|---|---|---|
| EPW | the hour's end (1-24); pvlib turns it into the start | mean of the hour | the middle of the hour |
| EPW of PVGIS ("Irradiance Time Offset") | the hour's end, UTC | of the moment that far off it | that moment |
| TMY3 | the hour's end | mean of the hour | the middle of the hour |
| NSRDB PSM | the moment | of the moment | the moment |
| PVGIS hourly | the moment (such as 10 minutes past) | of the moment | the moment |
| PVGIS typical year | the hour; the offset stands in the head | of the moment that far off it | that moment |
| CAMS radiation | from/to | sum over the step | the middle of the step |

The rows of PVGIS' EPW are in UTC whatever time zone its head says: the same hours stand in its other formats.
"""

import io
import re
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pvlib

from routesolar.errors import InputError
from routesolar.trip.arrays import FloatArray
from routesolar.trip.sky import WeatherSeries

YEAR_S = 365 * 86400
_HOUR_S = 3600.0
_OFFSET = re.compile(r"irradiance.time.offset[^:\d]*:\s*(-?[\d.]+)", re.IGNORECASE)
_NAMES = {
    "ghi_wm2": ("ghi", 9999.0),
    "dni_wm2": ("dni", 9999.0),
    "dhi_wm2": ("dhi", 9999.0),
    "air_c": ("temp_air", 99.9),
    "wind_mps": ("wind_speed", 999.0),
    "wind_from_deg": ("wind_direction", 999.0),
}


class _Frame(NamedTuple):
    """A file as read: values under pvlib's names, the place, how far times stand before the steps' middles."""

    data: Any
    place: dict[str, Any]
    to_middle_s: float
    averaged_s: float
    typical: bool


def read_epw(path: Path, text: str) -> WeatherSeries:
    """Return an EPW file's weather; a typical year, as its months come from different years."""
    data, meta = pvlib.iotools.read_epw(io.StringIO(text))
    offset = _OFFSET.search(text[:20_000])
    if offset:
        to_middle_s = _HOUR_S * (meta["TZ"] + 1 + float(offset[1]))
        return _series(path, _Frame(data, meta, to_middle_s, 0.0, True))
    return _series(path, _Frame(data, meta, _HOUR_S / 2, _HOUR_S, True))


def read_tmy3(path: Path, text: str) -> WeatherSeries:
    """Return a TMY3 file's weather, a typical year."""
    data, meta = pvlib.iotools.read_tmy3(io.StringIO(text), map_variables=True)
    return _series(path, _Frame(data, meta, -_HOUR_S / 2, _HOUR_S, True))


def read_nsrdb(path: Path, text: str) -> WeatherSeries:
    """Return the weather of an NSRDB PSM file, of one year or typical (months of different years)."""
    data, meta = pvlib.iotools.read_nsrdb_psm4(io.StringIO(text), map_variables=True)
    return _series(
        path, _Frame(data, meta, 0.0, 0.0, data["Year"].nunique() > 2 or not data.index.is_monotonic_increasing)
    )


def read_pvgis(path: Path, text: str) -> WeatherSeries:
    """Return the weather of a PVGIS file: a typical year, or hours on a level plane.

    Raises:
        InputError: the hours are for a tilted or turning plane.
    """
    offset = _OFFSET.search(text[:20_000])
    kind = "json" if text.startswith("{") else "csv"
    if "time(UTC)" in text:
        table = io.StringIO(text) if kind == "json" else io.BytesIO(text.encode())
        data, meta = pvlib.iotools.read_pvgis_tmy(table, pvgis_format=kind)
        place = meta["inputs"].get("location", meta["inputs"])
        return _series(path, _Frame(data, place, _HOUR_S * float(offset[1]) if offset else 0.0, 0.0, True))
    data, meta = pvlib.iotools.read_pvgis_hourly(io.StringIO(text), pvgis_format=kind)
    slope = re.search(r'slope[":{\svalue]*\s*(-?[\d.]+)', text[:20_000], re.IGNORECASE)
    if slope is None or float(slope[1]) != 0 or "poa_direct" not in data:
        raise InputError(
            f"{path}: these hours are for a tilted plane or without the beam; ask the service for slope 0 with "
            "components, or for a typical year"
        )
    data["dhi"] = data["poa_sky_diffuse"]
    data["ghi"] = data["poa_direct"] + data["poa_sky_diffuse"]
    place = meta.get("inputs", {}).get("location") or meta.get("location") or meta["inputs"]
    return _series(path, _Frame(data, place, 0.0, 0.0, False))


def read_cams(path: Path, text: str) -> WeatherSeries:
    """Return the irradiance of a CAMS radiation file (it has no air temperature or wind)."""
    if "\n# Observation period" not in text:  # pvlib would look for this line for ever
        raise InputError(f'{path}: has no line "# Observation period", so it was cut short; download it again')
    data, meta = pvlib.iotools.read_cams(io.StringIO(text), label="left")
    step_s = _step_s(path, _utc_s(data))
    return _series(path, _Frame(data, meta, step_s / 2, step_s, False))


def _series(path: Path, frame: _Frame) -> WeatherSeries:
    """Return the noun of a frame, its values in the order of time."""
    time_s = _utc_s(frame.data) + frame.to_middle_s
    if frame.typical:
        time_s = _within_year_s(time_s)
    order = np.argsort(time_s, kind="stable")
    time_s = time_s[order]
    if np.any(np.diff(time_s) == 0):
        raise InputError(f"{path}: the same time appears twice; give a file with one place and one year")
    step_s = _step_s(path, time_s)
    if frame.typical and len(time_s) * step_s < YEAR_S:
        raise InputError(
            f"{path}: a typical year must be complete; this one has {len(time_s)} of {YEAR_S / step_s:.0f}"
        )
    height = frame.place.get("altitude", frame.place.get("elevation"))
    values: dict[str, Any] = {
        name: _column(frame.data, *source)[order, None] for name, source in _NAMES.items()
    }
    return WeatherSeries(
        name=path.name,
        typical=frame.typical,
        latitude_deg=np.array([float(frame.place["latitude"])]),
        longitude_deg=np.array([float(frame.place["longitude"])]),
        elevation_m=np.array([np.nan if height is None else float(height)]),
        time_utc_s=time_s,
        step_s=step_s,
        averaged_s=frame.averaged_s,
        cloud_frac=np.full((len(time_s), 1), np.nan),
        warnings=(
            f"{path.name} is a typical year, not a forecast: its days within 15 of the date are a sample of "
            "what may come",
        )
        if frame.typical
        else (),
        **values,
    )


def _column(data: Any, name: str, missing: float) -> FloatArray:
    """Return a column as numbers; NaN where it is not there or holds the mark of a missing value."""
    if name not in data:
        return np.full(len(data), np.nan)
    values = data[name].to_numpy(dtype=np.float64)
    return np.where((values == missing) | (values <= -999), np.nan, values)


def _utc_s(data: Any) -> FloatArray:
    """Return the index as UTC seconds."""
    utc_s: FloatArray = data.index.tz_convert("UTC").as_unit("ms").asi8 / 1000.0
    return utc_s


def _within_year_s(utc_s: FloatArray) -> FloatArray:
    """Return seconds from the start of an ordinary year, whatever the years were."""
    days = np.floor(utc_s / 86400).astype("datetime64[D]")
    months = days.astype("datetime64[M]")
    before = np.array([0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334])[months.astype(int) % 12]
    within: FloatArray = (before + (days - months).astype(int)) * 86400.0 + utc_s % 86400
    return within


def _step_s(path: Path, time_s: FloatArray) -> float:
    """Return the commonest distance between times."""
    if len(time_s) < 2:
        raise InputError(f"{path}: holds weather for {len(time_s)} times; give at least two")
    distances, counts = np.unique(np.diff(time_s), return_counts=True)
    return float(distances[np.argmax(counts)])
