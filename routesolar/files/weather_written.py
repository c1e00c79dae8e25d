"""A weather table written so that it reads back the same."""

from collections.abc import Iterator
from datetime import UTC, datetime

import numpy as np

from routesolar.errors import UsageError
from routesolar.files.tables_csv import csv_cells
from routesolar.files.weather_table import HEIGHT, KEYS
from routesolar.trip.sky import WEATHER_VALUES, WeatherSeries


def weather_csv(weather: WeatherSeries) -> str:
    """Return the weather as a table: a row a step and place, every number to its last digit.

    Raises:
        UsageError: the weather says nothing, so no table could be read back.
    """
    told = [name for name in WEATHER_VALUES if np.isfinite(getattr(weather, name)).any()]
    if not told:
        raise UsageError("the weather tells nothing that the trip does not say itself; leave weather out")
    at = [*KEYS[1:], *([HEIGHT] if np.isfinite(weather.elevation_m).any() else [])]
    return csv_cells([KEYS[0], *at, *told], _rows(weather, at, told))


def _rows(weather: WeatherSeries, at: list[str], told: list[str]) -> Iterator[list[object]]:
    places = np.stack([getattr(weather, name) for name in at], axis=1).tolist()
    values = np.stack([getattr(weather, name) for name in told], axis=-1).tolist()
    for step, start_utc_s in enumerate(weather.time_utc_s - weather.step_s / 2):
        time = datetime.fromtimestamp(start_utc_s, UTC).isoformat()
        here = places[step : step + 1] if weather.moving else places
        for place, said in zip(here, values[step], strict=True):
            yield [time, *place, *said]
