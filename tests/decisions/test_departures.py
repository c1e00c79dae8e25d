"""When to leave."""

import json

import numpy as np
import pytest
from drives import straight_drive, utc
from oracles import published

from routesolar.decisions.departures import departure_rows, departures_dict, ranked
from routesolar.decisions.starts import day_starts_utc_s, year_starts_utc_s
from routesolar.decisions.waiting import parked_until_sunset
from routesolar.errors import UsageError
from routesolar.model.sweeping import sweep
from routesolar.physics.daylight import sunrise_utc_s, sunset_utc_s
from routesolar.trip.rig import Battery, Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.trip.sweep import Sweep

QUARTER_S = 900.0


def swept(segments: Segments, sky: str = "clear", rig: Rig | None = None, air_c: float | None = None) -> Sweep:
    n = segments.count
    rig = rig or Rig(panels=(Panel(rated_w=200.0),))
    skies = [Sky(name=name, air_c=air_c) for name in (sky, "overcast")]
    return sweep(segments, rig, Canopy.open(n), Terrain.flat(n), skies)


def solar_noon_utc_s(day: str, longitude_deg: float, day_of_year: int) -> float:
    """Solar noon by Spencer's equation of time (1971, from memory; within 35 s)."""
    b = 2 * np.pi * (day_of_year - 1) / 365
    equation_min = 229.18 * (
        0.000075
        + 0.001868 * np.cos(b)
        - 0.032077 * np.sin(b)
        - 0.014615 * np.cos(2 * b)
        - 0.04089 * np.sin(2 * b)
    )
    return utc(f"{day}T12:00+00:00") - 240 * longitude_deg - 60 * equation_min


@pytest.mark.parametrize(("latitude_deg", "heading_deg"), [(48.0, 90.0), (-33.0, 270.0), (0.0, 90.0)])
def test_on_a_clear_day_the_best_departure_lies_about_solar_noon(latitude_deg, heading_deg):
    day, hours = "2026-03-20", 3
    starts = [utc(f"{day}T06:00+00:00") + 300.0 * k for k in range(100)]
    segments = straight_drive(
        latitude_deg, 3.0, starts, heading_deg=heading_deg, segments=180, step_s=60.0, speed_mps=5.0
    )
    result = swept(segments, air_c=15.0)  # the usual air is warmer after noon than before
    middle_deg = float(segments.middle_longitude_deg.mean())
    noon = solar_noon_utc_s(day, middle_deg, 79)
    best = ranked(result).best
    # Starts are 5 min apart; the warm cells of the afternoon pull the best a little to the morning.
    assert best.depart_utc_s + hours * 1800 == pytest.approx(noon, abs=600)
    before, after = (
        np.interp(noon - hours * 1800 + side, starts, result.energy_wh[0]) for side in (-7200, 7200)
    )
    assert before == pytest.approx(after, rel=0.01)


def test_departures_come_best_first_and_say_which_are_alike():
    starts = [utc("2026-11-20T04:00+11:00") + 2 * QUARTER_S * k for k in range(36)]
    result = ranked(swept(straight_drive(-41.5, 146.5, starts, segments=60, step_s=60.0), "broken"))
    energies = [row.energy_wh for row in result.ranked]
    assert energies == sorted(energies, reverse=True)
    assert result.best.best_wins_frac == 0.5
    alike = [row.depart_utc_s for row in result.alike]
    assert alike == sorted(alike) and result.best.depart_utc_s in alike
    hours_apart = max(abs(utc_s - result.best.depart_utc_s) / 3600 for utc_s in alike)
    assert 0.5 <= hours_apart <= 6  # broken clouds hide which of the midday hours is the best, not dawn
    assert [sky for sky, *_ in result.best_by_sky] == ["broken", "overcast"]


def test_a_surer_sky_tells_more_departures_apart():
    starts = [utc("2026-11-20T04:00+11:00") + 2 * QUARTER_S * k for k in range(36)]
    segments = straight_drive(-41.5, 146.5, starts, segments=60, step_s=60.0)
    alike = {sky: len(ranked(swept(segments, sky)).alike) for sky in ("clear", "broken")}
    assert alike["clear"] < alike["broken"]


def test_rows_have_the_keys_of_the_contract_and_are_json():
    start = utc("2026-11-20T08:00+11:00")
    rig = Rig(panels=(Panel(rated_w=200.0),), battery=Battery(capacity_wh=1000.0))
    result = ranked(swept(straight_drive(-41.5, 146.5, [start], segments=60), rig=rig))
    keys = (
        "depart arrive energy_wh energy_low_wh energy_high_wh driving_wh stopped_wh shade_loss_frac "
        "soc_end_frac taken_wh lowest_soc_frac shortfall_wh"
    ).split()
    assert list(departure_rows(result)[0]) == keys
    assert departure_rows(result)[0]["depart"] == "2026-11-19T21:00:00+00:00"
    written = json.loads(json.dumps(departures_dict(result), allow_nan=False))
    assert written["schema"] == "routesolar.departures/2" and len(written["rows"]) == 1


def test_a_night_is_refused_with_the_days_light():
    night = [utc("2026-11-20T22:00+11:00"), utc("2026-11-20T23:00+11:00")]
    with pytest.raises(UsageError, match=r"see no sun; it is up from 18:4\d to 09:1\d: give --from") as raised:
        ranked(swept(straight_drive(-41.5, 146.5, night, segments=60)))
    assert "11:00 to 12:00 on 2026-11-20" in str(raised.value)  # the drive's clock is UTC
    winter = [utc("2026-12-21T12:00+01:00")]
    with pytest.raises(UsageError, match="does not rise there that day; give another --date"):
        ranked(swept(straight_drive(78.0, 15.0, winter, segments=60)))


@pytest.mark.parametrize(("quantity", "crossing"), [("sunrise", sunrise_utc_s), ("sunset", sunset_utc_s)])
def test_the_sun_rises_and_sets_when_published(quantity, crossing):
    for known in published("sun.csv", quantity):
        that_day_s = known.value + (3600 if quantity == "sunrise" else -3600)  # any instant of the solar day
        place = (
            known.inputs["latitude_deg"],
            known.inputs["longitude_deg"],
            known.inputs.get("elevation_m", 0.0),
        )
        found = crossing(*place, [that_day_s])[0]
        assert found == pytest.approx(known.value, abs=known.tolerance)


def test_polar_day_and_night():
    june, december = utc("2026-06-21T12:00+00:00"), utc("2026-12-21T12:00+00:00")
    assert sunset_utc_s(78.0, 0.0, 0.0, [june])[0] == june + 43_200
    assert sunrise_utc_s(78.0, 0.0, 0.0, [june])[0] == june - 43_200
    assert np.isnan(sunset_utc_s(78.0, 0.0, 0.0, [december])[0])


def test_parked_until_sunset_adds_the_afternoon_and_changes_nothing_before():
    starts = [utc("2026-11-20T08:00+11:00"), utc("2026-11-20T15:00+11:00"), utc("2026-11-20T22:00+11:00")]
    segments = straight_drive(-41.5, 146.5, starts, segments=60, step_s=60.0)
    parked = parked_until_sunset(segments)
    plain, longer = swept(segments), swept(parked)
    assert np.array_equal(longer.driving_wh, plain.driving_wh)
    assert np.array_equal(longer.arrival_utc_s, plain.arrival_utc_s)
    assert longer.stopped_wh[0, 0] > longer.stopped_wh[0, 1] > 0 == longer.stopped_wh[0, 2]
    ends = parked.arrival_utc_s
    place = float(segments.end_latitude_deg[-1]), float(segments.end_longitude_deg[-1]), 100.0
    assert ends[:2] == pytest.approx(sunset_utc_s(*place, starts)[:2], abs=0.01)
    assert ends[2] == segments.arrival_utc_s[2]
    assert parked.legs[-1].kind == "stop" and parked.stopped[-1] and parked.heading_deg[-1] == 90.0


def test_starts_follow_the_clock_over_a_change_of_the_hour():
    from datetime import date

    spring = day_starts_utc_s(date(2026, 3, 29), 0.0, 6 * 3600.0, 1800.0, "Europe/Oslo")
    assert len(spring) == 13 - 2  # 02:00 and 02:30 do not exist
    assert np.diff(spring).tolist() == [1800.0] * 10
    autumn = day_starts_utc_s(date(2026, 10, 25), 0.0, 6 * 3600.0, 3600.0, "Europe/Oslo")
    assert np.diff(autumn).tolist() == [3600.0, 3600.0, 7200.0, 3600.0, 3600.0, 3600.0]
    year = year_starts_utc_s(2026, 8 * 3600.0, 9 * 3600.0, 3600.0, "Europe/Oslo")
    assert len(year) == 24
    assert year[0] == utc("2026-01-15T08:00+01:00") and year[12] == utc("2026-07-15T08:00+02:00")


@pytest.mark.parametrize(
    ("range_s", "message"),
    [
        ((50_000.0, 40_000.0, 900.0), "the last is before the first; give --from 11:07 --to 13:53"),
        ((0.0, 90_000.0, 900.0), "run outside the day"),
        ((0.0, 80_000.0, 0.0), "too close; give at least 1min"),
        ((0.0, 80_000.0, -5.0), "too close"),
        ((0.0, 80_000.0, float("nan")), "too close"),
        ((7200.0, 7200.0, 900.0), "shows none of 02:00 on 2026-03-29"),
    ],
)
def test_an_empty_range_is_refused_with_the_way_out(range_s, message):
    from datetime import date

    with pytest.raises(UsageError, match=message):
        day_starts_utc_s(date(2026, 3, 29), *range_s, "Europe/Oslo")
