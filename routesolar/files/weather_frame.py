"""Weather from a pandas table: the columns of our own weather table, times as its index."""

from typing import Any

import numpy as np

from routesolar.errors import UsageError
from routesolar.files.tables_csv import csv_cells
from routesolar.files.weather import checked_weather
from routesolar.files.weather_table import HEIGHT, KEYS, read_table_text
from routesolar.trip.sky import WEATHER_VALUES, WeatherSeries


def weather_from_frame(
    frame: Any,
    *,
    latitude_deg: float | None = None,
    longitude_deg: float | None = None,
    name: str = "weather table.csv",
) -> WeatherSeries:
    """Return the weather in a pandas table whose index holds the start of each step, with its time zone.

    Columns are those of a weather file: cloud_frac, ghi_wm2, dni_wm2, dhi_wm2, air_c, wind_mps, wind_from_deg,
    elevation_m, and latitude_deg and longitude_deg unless one place is given for all rows. NaN says nothing.

    Raises:
        UsageError: the index bears no time zone, or the place is not said.
        InputError: a column is not known, or a value cannot be right; the message counts rows as lines.
    """
    if getattr(frame.index, "tz", None) is None:
        raise UsageError('the weather\'s index has no time zone; set it with frame.tz_localize("Europe/Oslo")')
    columns = {str(column): frame[column].to_numpy() for column in frame.columns}
    for key, value in (("latitude_deg", latitude_deg), ("longitude_deg", longitude_deg)):
        if value is not None:
            columns[key] = np.full(len(frame), float(value))
        if key not in columns:
            raise UsageError(
                f"the weather has no {key}; add the column, or use weather_from_frame(..., {key}=47.1)"
            )
    first = [*KEYS[1:], *(column for column in (HEIGHT, *WEATHER_VALUES) if column in columns)]
    header = [*first, *(column for column in columns if column not in first)]
    times = [moment.isoformat() for moment in frame.index]
    rows = zip(times, *(columns[column].tolist() for column in header), strict=True)
    text = csv_cells(["time", *header], rows)
    return checked_weather(name, read_table_text(name, text))
