"""The usual sky of a place and month, without a file of one's own: `--sky typical`.

Monthly means of daily global irradiance on a 3 degree grid over land, 2011-2015, from the reanalysis MERRA-2
(Gelaro et al. 2017, Journal of Climate 30:5419; public domain); benchmarks/climate_tables.py makes the table.
In cloudy climates the reanalysis is too bright: for Payerne in June it says 6.7 kWh/m2 a day where 5.4 were
measured in the wet June of 2016; for Bondville, Illinois, and Penn State, Pennsylvania, 11 % more of clear than
measured in 2018 (ten months, -6 to +22 %).
"""

import numpy as np

from routesolar.errors import InputError
from routesolar.physics.geodesy import earth_centred_m
from routesolar.physics.world_maps import between_nodes, usual_sky
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.sky import WeatherSeries

_APART_M = 50_000.0
_DAY_S = 86400.0
_MIDDLE_DAY = np.array([15.5, 45.0, 74.5, 105.0, 135.5, 166.0, 196.5, 227.5, 258.0, 288.5, 319.0, 349.5])


def typical_weather(latitude_deg: FloatArray, longitude_deg: FloatArray) -> WeatherSeries:
    """Return a year of usual days along a route: daily global irradiance, interpolated between months.

    Between the grid's cells over land it is bilinear; between the middles of months linear, which is up to
    1 % below the curve near the solstices. It goes with the forecast word "climate".

    Raises:
        InputError: there is no land within 3 degrees of a point of the route.
    """
    chosen = _spread_out(latitude_deg, longitude_deg)
    latitude, longitude = latitude_deg[chosen], longitude_deg[chosen]
    monthly = _monthly_wm2(latitude, longitude)
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


def _monthly_wm2(latitude_deg: FloatArray, longitude_deg: FloatArray) -> FloatArray:
    """Return the mean irradiance of k places in 12 months, (k, 12) in W/m2 over day and night."""
    world = usual_sky()
    months = between_nodes(world, latitude_deg, longitude_deg)
    at_sea = np.flatnonzero(np.isnan(months).any(axis=1))
    if len(at_sea):
        latitude, longitude = latitude_deg[at_sea[0]], longitude_deg[at_sea[0]]
        north_deg = world.south_deg + world.step_deg * (len(world.values) - 1)
        raise InputError(
            f"no climate on land is known near {latitude:.1f}, {longitude:.1f} (the table covers land from "
            f"{world.south_deg:.0f} to {north_deg:.0f}); name the sky instead"
        )
    return months
