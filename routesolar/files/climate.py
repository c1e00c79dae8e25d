"""The usual sky of a place and month, without a file of one's own: `--sky typical`.

Monthly means of daily global irradiance on a 3 degree grid over land, 2011-2015, from the reanalysis MERRA-2
(Gelaro et al. 2017, Journal of Climate 30:5419), as carried by the package gsee-climate-data (Pfenninger &
Staffell 2016, Energy 114:1251), an optional extra of 27 MB. In cloudy climates the reanalysis is too bright:
for Payerne in June it says 6.7 kWh/m2 a day where 5.4 were measured in the wet June of 2016; for Bondville,
Illinois, and Penn State, Pennsylvania, 11 % more of clear than measured in 2018 (ten months, -6 to +22 %).
"""

from importlib.util import find_spec
from pathlib import Path

import numpy as np

from routesolar.errors import InputError
from routesolar.physics.geodesy import earth_centred_m
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.sky import WeatherSeries

_PACKAGE = "gsee_climate_data"
_GRID = "data/merra2_rad3x3_2011-2015_pdfs_land_prox.npz"
_APART_M = 50_000.0
_DAY_S = 86400.0
_MIDDLE_DAY = np.array([15.5, 45.0, 74.5, 105.0, 135.5, 166.0, 196.5, 227.5, 258.0, 288.5, 319.0, 349.5])


def climate_file() -> Path:
    """Return the path of the climate grid.

    Raises:
        InputError: the optional package is not installed.
    """
    found = find_spec(_PACKAGE)
    if found is None or found.origin is None:
        raise InputError(
            "the typical sky needs a package of climate data that is not installed; "
            'install it with: pip install "routesolar[climate]"'
        )
    return Path(found.origin).parent / _GRID


def typical_weather(latitude_deg: FloatArray, longitude_deg: FloatArray, grid: Path) -> WeatherSeries:
    """Return a year of usual days along a route: daily global irradiance, interpolated between months.

    Between the grid's cells over land it is bilinear; between the middles of months linear, which is up to
    1 % below the curve near the solstices. It goes with the forecast word "climate".

    Raises:
        InputError: there is no land within 3 degrees of a point of the route, or the grid cannot be read.
    """
    chosen = _spread_out(latitude_deg, longitude_deg)
    latitude, longitude = latitude_deg[chosen], longitude_deg[chosen]
    monthly = _monthly_wm2(latitude, longitude, grid)
    days: FloatArray = np.arange(365, dtype=np.float64) + 0.5
    daily = np.stack([np.interp(days, _MIDDLE_DAY, month, period=365) for month in monthly], axis=1)
    nothing = np.full(daily.shape, np.nan)
    return WeatherSeries(
        name="typical sky",
        typical=True,
        latitude_deg=latitude,
        longitude_deg=longitude,
        elevation_m=np.full(len(chosen), np.nan),
        time_utc_s=days * _DAY_S,
        step_s=_DAY_S,
        averaged_s=_DAY_S,
        cloud_frac=nothing,
        ghi_wm2=daily,
        dni_wm2=nothing,
        dhi_wm2=nothing,
        air_c=nothing,
        wind_mps=nothing,
        wind_from_deg=nothing,
        warnings=(
            "typical sky: the mean of the days of 2011-2015 in the MERRA-2 reanalysis, 5-15 % too bright in "
            "cloudy climates; not a forecast",
        ),
    )


def _spread_out(latitude_deg: FloatArray, longitude_deg: FloatArray) -> IntArray:
    """Return the indices of points some 50 km apart along the line, with the first."""
    places = earth_centred_m(latitude_deg, longitude_deg)
    step_m = np.linalg.norm(np.diff(places, axis=0), axis=1)
    part = np.floor(np.concatenate([[0.0], np.cumsum(step_m)]) / _APART_M)
    return np.flatnonzero(np.diff(part, prepend=-1.0) > 0)


def _monthly_wm2(latitude_deg: FloatArray, longitude_deg: FloatArray, grid: Path) -> FloatArray:
    """Return the mean irradiance of k places in 12 months, (k, 12) in W/m2 over day and night."""
    try:
        with np.load(grid) as stored:
            value, weight = stored["xk"].astype(np.float64), np.nan_to_num(stored["pk"].astype(np.float64))
            latitudes, longitudes = stored["lat"], stored["lon"]
    except (OSError, KeyError, ValueError) as error:
        raise InputError(f"{grid.name}: the climate grid cannot be read ({error}); install it again") from None
    with np.errstate(invalid="ignore"):
        means = (np.nan_to_num(value) * weight).sum(axis=-1) / weight.sum(axis=-1)
    on_land = np.isfinite(means).any(axis=-1, keepdims=True)
    means = np.where(on_land, np.nan_to_num(means), np.nan)  # a month without any day of light has none
    return np.stack(
        [
            _between_cells(means, latitudes, longitudes, float(lat), float(lon))
            for lat, lon in zip(latitude_deg, longitude_deg, strict=True)
        ]
    )


def _between_cells(
    means: FloatArray, latitudes: FloatArray, longitudes: FloatArray, latitude_deg: float, longitude_deg: float
) -> FloatArray:
    """Return the bilinear mean (12,) of the cells around a place that hold land."""
    step = latitudes[1] - latitudes[0]
    row = (latitude_deg - latitudes[0]) / step
    column = ((longitude_deg - longitudes[0]) % 360) / step
    total, weights = np.zeros(12), 0.0
    for i in (int(np.floor(row)), int(np.floor(row)) + 1):
        for j in (int(np.floor(column)), int(np.floor(column)) + 1):
            weight = (1 - abs(row - i)) * (1 - abs(column - j))
            cell = means[i, j % len(longitudes)] if 0 <= i < len(latitudes) else np.full(12, np.nan)
            if weight > 0 and np.isfinite(cell).all():
                total, weights = total + weight * cell, weights + weight
    if weights == 0:
        raise InputError(
            f"there is no climate on land around {latitude_deg:.1f}, {longitude_deg:.1f} (the grid covers land "
            f"from {latitudes[0]:.0f} to {latitudes[-1]:.0f}); name the sky instead"
        )
    return total / weights
