"""A typical year is a sample of the days that may come around a date, whichever command asks it."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pvlib
import pytest
from drives import straight_drive, utc
from routes import gpx, point, track
from terminal import run

from routesolar.files.weather import read_weather
from routesolar.model import charge
from routesolar.model.mixing import mixed_moments, mixed_states
from routesolar.model.simulation import simulate
from routesolar.model.sky import day_states
from routesolar.model.sweeping import sweep
from routesolar.physics.bands import EnergyMoments, beta_percentiles
from routesolar.trip.rig import Battery, Load, Panel, Rig
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"  # TMY3, 36.1 N 79.95 W, 273 m
RIG = Rig(panels=(Panel(rated_w=200.0),))


def parked(*moments):
    """Three hours parked there from each moment on."""
    return straight_drive(
        36.1, -79.95, list(moments), segments=36, step_s=300.0, speed_mps=0.0, elevation_m=273.0
    )


def under(sky):
    return Canopy.open(36), Terrain.flat(36), [sky]


@pytest.mark.parametrize("date", ["2026-03-15", "2026-04-15", "2026-10-15"])
def test_mean_and_tenth_percentile_are_those_of_the_days_around_the_date(date):
    # Every day within 15 of the date by itself, on its own date under its own sun, as if the year were 2026.
    year = read_weather(GREENSBORO)
    dated = replace(year, typical=False, time_utc_s=year.time_utc_s + utc("2026-01-01T00:00+00:00"))
    moment = utc(f"{date}T16:00+00:00")
    alone = parked(*(moment + 86_400.0 * np.arange(-15, 16)))
    days_wh = sweep(alone, RIG, *under(Sky(name=dated.name, weather=dated, forecast="known"))).energy_wh[0]
    sample = Sky(name=year.name, weather=year, forecast="climate")
    totals = simulate(parked(moment), RIG, *under(sample)).totals
    mean_wh = days_wh.mean()
    assert abs(days_wh[15] / mean_wh - 1) > 0.1  # the 15th itself is no mean
    assert totals.energy_wh == pytest.approx(mean_wh, rel=0.02)
    # Thirty-one days tell a percentile to about a tenth of the mean.
    assert totals.energy_low_wh == pytest.approx(np.quantile(days_wh, 0.1), abs=0.08 * mean_wh)
    assert totals.energy_high_wh == pytest.approx(np.quantile(days_wh, 0.9), abs=0.08 * mean_wh)


def test_one_departure_is_the_same_alone_and_in_a_sweep():
    sample = Sky(name="year", weather=read_weather(GREENSBORO), forecast="climate")
    moments = [utc(f"2026-{month:02d}-15T16:00+00:00") for month in (1, 7)]
    many = sweep(parked(*moments), RIG, *under(sample))
    one = simulate(parked(moments[1]), RIG, *under(sample)).totals
    assert many.energy_wh[0, 1] == pytest.approx(one.energy_wh, rel=1e-9)
    assert many.energy_low_wh[1] == pytest.approx(one.energy_low_wh, rel=1e-9)


def test_a_mixture_keeps_the_means_of_what_is_linear_in_the_light():
    sample = Sky(name="year", weather=read_weather(GREENSBORO), forecast="climate")
    days = list(day_states(sample, parked(utc("2026-05-15T16:00+00:00")), np.full((1, 36), 40.0)))
    assert len(days) == 31
    mixed = mixed_states(days)

    def light(sky):
        out, hidden = sky.sun_out_prob, 1 - sky.sun_out_prob
        return out * sky.unobscured_index + hidden * sky.obscured_index, out * sky.unobscured_beam_index

    for one, each in zip(light(mixed), zip(*map(light, days), strict=True), strict=True):
        np.testing.assert_allclose(one, np.mean(each, axis=0), rtol=1e-9)
    assert mixed_states(days[:1]) is days[0]


def test_the_variance_of_a_mixture_is_that_within_and_between():
    # Law of total variance: means 0 and 4 with variances 1 and 3 in equal parts have mean 2 and variance 2 + 4.
    days = [EnergyMoments(*map(np.array, values)) for values in ((0.0, 1.0, -9.0, 9.0), (4.0, 3.0, -5.0, 14.0))]
    assert mixed_moments(days, np.array(0.0)) == (2.0, 6.0, -9.0, 14.0)
    assert mixed_moments(days, np.array(1.0)) == (2.0, 4.0, 0.0, 4.0)


def test_days_that_are_all_alike_leave_no_doubt():
    day = EnergyMoments(*(np.array([[value]]) for value in (100.0, 25.0, 60.0, 130.0)))
    p10, p50, p90 = beta_percentiles(*mixed_moments([day, day], np.ones((1, 1))))
    np.testing.assert_allclose([p10, p50, p90], 100.0, rtol=1e-5)


def test_calendar_departures_and_harvest_take_the_same_days(tmp_path):
    road = tmp_path / "road.gpx"
    ends = ((36.1, -79.95), (36.1, -79.85))
    road.write_text(gpx(track(*(point(*end, "<ele>273</ele>") for end in ends))), encoding="utf-8")
    drive = [str(road), "--panel", "200W", "--speed", "60km/h", "--weather", str(GREENSBORO), "--json"]
    noon = ["--from", "12:00", "--to", "12:00", "--date", "2026-04-15"]
    months = run("calendar", *drive, *noon).json["rows"]
    day = run("departures", *drive, *noon).json["rows"][0]
    harvest = run("harvest", *drive, "--depart", "2026-04-15 12:00").json
    assert months[3]["energy_wh"] == pytest.approx(day["energy_wh"], rel=1e-9)
    assert harvest["totals"]["energy_wh"] == pytest.approx(day["energy_wh"], rel=1e-9)
    assert harvest["totals"]["energy_low_wh"] == pytest.approx(day["energy_low_wh"], rel=1e-9)
    assert day["energy_low_wh"] < 0.6 * day["energy_wh"]
    assert any("its days within 15 of the date are a sample" in text for text in harvest["warnings"])


def test_the_battery_runs_through_the_days_of_the_sample(monkeypatch):
    # A battery that can neither give nor take serves only the moment: what its loads miss is the mean over the
    # days, each run by itself as one whose weather is known.
    cold = Battery(
        capacity_wh=100.0, start_soc_frac=0.2, temperature_c=-20.0, self_discharge_frac_per_month=0.0
    )
    rig = replace(RIG, battery=cold, loads=(Load(power_w=100.0),))
    year = read_weather(GREENSBORO)
    dated = replace(year, typical=False, time_utc_s=year.time_utc_s + utc("2026-01-01T00:00+00:00"))
    moment = utc("2026-04-15T16:00+00:00")
    sample = simulate(parked(moment), rig, *under(Sky(name=year.name, weather=year, forecast="climate"))).totals
    known = Sky(name=dated.name, weather=dated, forecast="known")
    # A sky misses 0 to 300 Wh and 44 in the mean, so that it varies by sqrt(44 (300 - 44)) = 106 Wh at most: 31
    # times 200 skies tell the mean to 1.4 Wh, and a tenth of it is asked.
    monkeypatch.setattr(charge, "DAYS", 200)
    alone = [
        simulate(parked(moment + 86_400.0 * day), rig, *under(known)).totals.shortfall_wh
        for day in range(-15, 16)
    ]
    assert np.mean(alone) == pytest.approx(44.0, abs=4.0)
    assert sample.shortfall_wh == pytest.approx(np.mean(alone), rel=0.1)
    served_wh = sample.energy_wh - sample.battery_cold_wh
    assert sample.shortfall_wh + served_wh == pytest.approx(300.0, abs=0.1)
