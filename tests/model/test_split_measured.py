"""Hours of global irradiance from a file, split into beam and diffuse by our two states, against measurements.

Payerne, June 2016: Baseline Surface Radiation Network, one-minute data in the pvlib source package; gaps of the
beam are (global - diffuse) / cos z. The limits are those of the documentation's section on decomposition, which
measured Erbs et al. 1982 and DISC there: 56 and 101 W/m2.
"""

import numpy as np
import pvlib
import pytest
from drives import straight_drive, utc
from mixed_sky import expected_wm2
from samples import sample

from routesolar.model.clear_sky import sun_on
from routesolar.model.sky import sky_states
from routesolar.trip.sky import WEATHER_VALUES, Sky, WeatherSeries

pytestmark = pytest.mark.download

PAYERNE = {"latitude_deg": 46.815, "longitude_deg": 6.944, "elevation_m": 491.0}
JUNE = utc("2016-06-01T00:00+00:00")


@pytest.fixture(scope="module")
def hours():
    """Hourly means of global, beam and diffuse irradiance, (720,) each."""
    frame, _ = pvlib.iotools.read_bsrn(sample("pvlib", "tests/data/bsrn-pay0616.dat.gz"))
    zenith = pvlib.solarposition.get_solarposition(frame.index.shift(30, freq="s"), 46.815, 6.944, 491).zenith
    cosine = np.cos(np.radians(zenith.to_numpy()))
    ghi, dni, dhi = (frame[name].to_numpy() for name in ("ghi", "dni", "dhi"))
    dni = np.where(np.isnan(dni) & (cosine > 0.05), (ghi - dhi) / cosine, dni)
    return [np.nanmean(np.reshape(values, (720, 60)), axis=1) for values in (ghi, dni, dhi)]


def split(ghi_wm2):
    """Our mean beam and diffuse irradiance of each hour, and the sun's height in its middle, (720,) each."""
    unknown = {name: np.full((720, 1), np.nan) for name in WEATHER_VALUES}
    weather = WeatherSeries(
        name="hours",
        typical=False,
        latitude_deg=np.array([PAYERNE["latitude_deg"]]),
        longitude_deg=np.array([PAYERNE["longitude_deg"]]),
        elevation_m=np.array([PAYERNE["elevation_m"]]),
        time_utc_s=JUNE + 3600.0 * np.arange(720) + 1800,
        step_s=3600.0,
        averaged_s=3600.0,
        **{**unknown, "ghi_wm2": ghi_wm2[:, None]},
    )
    days = [JUNE + 86_400.0 * day for day in range(30)]
    drive = straight_drive(
        PAYERNE["latitude_deg"],
        PAYERNE["longitude_deg"],
        days,
        elevation_m=PAYERNE["elevation_m"],
        segments=288,
        step_s=300.0,
        speed_mps=0.0,
    )
    height_deg = sun_on(drive).apparent_elevation_deg
    states = sky_states(Sky(name="none", weather=weather), drive, height_deg)
    _, dni, dhi = expected_wm2(states, drive)
    hourly = [values.reshape(720, 12).mean(axis=1) for values in (dni, dhi)]
    return (*hourly, height_deg.reshape(720, 12)[:, 6])


def test_hours_are_split_as_well_as_published_formulas_do(hours):
    ghi, dni, dhi = hours
    our_dni, our_dhi, height_deg = split(ghi)
    lit = (height_deg > 5) & np.isfinite(dni) & np.isfinite(dhi)
    assert lit.sum() > 400
    # Found: 50 and 80 W/m2, of means of 179 and 256.
    assert np.sqrt(np.mean((our_dhi - dhi)[lit] ** 2)) <= 70
    assert np.sqrt(np.mean((our_dni - dni)[lit] ** 2)) <= 125
