"""The chain as it is usually written first: pvlib called once for each point and departure."""

import time

import numpy as np
import pandas as pd
import pvlib

from routesolar.trip.segments import Segments


def seconds_a_point(drive: Segments, count: int = 40) -> float:
    """Return the processor seconds of one point, departure and sky: the mean of a sample by day."""
    d, n = drive.duration_s.shape
    rng = np.random.default_rng(1)
    picks = list(zip(rng.integers(d // 3, 2 * d // 3, count), rng.integers(0, n, count), strict=True))
    _point_w(drive, *picks[0])
    start = time.process_time()
    for i, j in picks:
        _point_w(drive, i, j)
    return (time.process_time() - start) / count


def _point_w(drive: Segments, i: int, j: int) -> float:
    """Return the watts of a panel of 200 W, level but for the grade, under a clear sky."""
    when = pd.DatetimeIndex(pd.to_datetime([drive.middle_utc_s[i, j]], unit="s", utc=True))
    place = drive.middle_latitude_deg[j], drive.middle_longitude_deg[j], drive.middle_elevation_m[j]
    sun = pvlib.solarposition.get_solarposition(when, *place)
    extra = pvlib.irradiance.get_extra_radiation(when)
    relative = pvlib.atmosphere.get_relative_airmass(sun["apparent_zenith"])
    absolute = pvlib.atmosphere.get_absolute_airmass(relative, pvlib.atmosphere.alt2pres(place[2]))
    clear = pvlib.clearsky.ineichen(sun["apparent_zenith"], absolute, 3.0, place[2], extra)
    tilt, facing = np.degrees(np.arctan(drive.grade_frac[j])), drive.heading_deg[j]
    plane = pvlib.irradiance.get_total_irradiance(
        abs(tilt), facing, sun["apparent_zenith"], sun["azimuth"], clear["dni"], clear["ghi"], clear["dhi"],
        dni_extra=extra, model="haydavies",
    )  # fmt: skip
    incidence = pvlib.irradiance.aoi(abs(tilt), facing, sun["apparent_zenith"], sun["azimuth"])
    light = plane["poa_direct"] * pvlib.iam.physical(incidence) + plane["poa_diffuse"]
    cell = pvlib.temperature.faiman(light, 15.0, drive.speed_mps[j])
    return float(pvlib.pvsystem.pvwatts_dc(light, cell, 200.0, -0.0035).iloc[0])
