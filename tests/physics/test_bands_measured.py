"""Bands against a month of one-minute measurements that nothing was fitted to."""

import numpy as np
import pvlib
import pytest
from samples import sample

from benchmarks.band_coverage import Station, judge, sunshine_share
from routesolar.physics.clouds import OUT_SHARE

pytestmark = pytest.mark.download


@pytest.fixture(scope="module")
def payerne():
    """Payerne, June 2016: BSRN one-minute irradiance (attribution: Baseline Surface Radiation Network).

    Clear sky: Ineichen at 0.75 of the climatological turbidity, times the one factor that puts the month's
    clearest day at the share that the state "sun out" has of clear.
    """
    frame, _ = pvlib.iotools.read_bsrn(sample("pvlib", "tests/data/bsrn-pay0616.dat.gz"))
    times = frame.index.shift(30, freq="s")
    sun = pvlib.solarposition.get_solarposition(times, 46.815, 6.944, 491)
    turbidity = 0.75 * pvlib.clearsky.lookup_linke_turbidity(times, 46.815, 6.944)
    air_mass = pvlib.atmosphere.get_relative_airmass(sun.apparent_zenith)
    pressure_pa = pvlib.atmosphere.alt2pres(491)
    clear = pvlib.clearsky.ineichen(
        sun.apparent_zenith,
        pvlib.atmosphere.get_absolute_airmass(air_mass, pressure_pa),
        turbidity,
        491,
        pvlib.irradiance.get_extra_radiation(times),
    )
    ghi_wm2, clear_wm2 = frame.ghi.to_numpy().reshape(30, 1440), clear.ghi.to_numpy().reshape(30, 1440)
    clear_wm2 = np.where((clear_wm2 > 50) & np.isfinite(ghi_wm2), clear_wm2, np.nan)
    shares = np.nansum(np.where(np.isfinite(clear_wm2), ghi_wm2, 0), axis=1) / np.nansum(clear_wm2, axis=1)
    clearest = np.argmax(sunshine_share(Station("", ghi_wm2, clear_wm2, np.zeros(30), 1)))
    return Station("Payerne", ghi_wm2, clear_wm2 * shares[clearest] / OUT_SHARE, np.full(30, 2), 1)


def test_the_clear_sky_needs_little_correction(payerne):
    # Warning B of the clear-sky notes: 8.34 kWh/m2 measured on the clearest day, 2016-06-23.
    best = np.argmax(sunshine_share(payerne))
    assert best == 22
    lit = np.isfinite(payerne.clear_wm2[best])
    assert payerne.ghi_wm2[best][lit].sum() / 60_000 == pytest.approx(8.34, rel=0.02)


# Asked: 0.80 within 0.06, with nothing known of the clouds but the day's share of sunshine and an error.
@pytest.mark.parametrize("window_min", [10, 30, 60, 180, None])
def test_four_windows_in_five_fall_between_the_tenth_and_ninetieth_percentile(payerne, window_min):
    cases = judge(payerne, window_min, "tomorrow", "raw", rounds=40)
    assert cases.inside().mean() == pytest.approx(0.80, abs=0.06)
    assert abs(np.median(cases.came - cases.p50)) < 0.03


# For the other words, and statements drawn to the month's mean, two standard errors of thirty days (0.07 for
# 80 % of independent days). Found: known .79 to .87, shrunk tomorrow .83 to .88, week up to .90 for the day.
@pytest.mark.parametrize("forecast", ["known", "today", "tomorrow", "week"])
@pytest.mark.parametrize("window_min", [10, 30, 60, 180, None])
def test_no_word_for_the_forecast_is_far_off(payerne, window_min, forecast):
    cases = judge(payerne, window_min, forecast, "shrunk", rounds=20)
    assert 0.66 < cases.inside().mean() < 0.94
    assert abs(np.median(cases.came - cases.p50)) < 0.05
