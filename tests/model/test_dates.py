"""A row a day: local calendar days that add up to the trip, through changed clocks and dates left out."""

from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc

from routesolar.model.dates import dates_of
from routesolar.model.simulation import simulate
from routesolar.trip.clock import iso_local, midnights_utc_s
from routesolar.trip.harvest import DayResult, Harvest
from routesolar.trip.rig import Alternator, Battery, Load, Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

HOBART = "Australia/Hobart"
FREEZER = Rig(
    panels=(Panel(rated_w=200.0),),
    battery=Battery(capacity_wh=1000.0, parasitic_w=2.0, temperature_c=15.0),
    alternator=Alternator(charge_w=200.0),
    loads=(Load(power_w=45.0),),
)


def parked(start: str, hours: float, zone: str = HOBART, step_s: float = 400.0) -> Segments:
    count = round(hours * 3600 / step_s)
    stay = straight_drive(-42.9, 147.3, [utc(start)], segments=count, step_s=step_s, speed_mps=0.0)
    return replace(stay, time_zone=zone)


def harvested(segments: Segments, rig: Rig = FREEZER) -> Harvest:
    n = segments.count
    return simulate(segments, rig, Canopy.open(n), Terrain.flat(n), [Sky(name="broken")])


@pytest.mark.parametrize(
    "first, last, zone, starts",
    [
        ("2026-11-20T08:00+11:00", "2026-11-20T23:59+11:00", HOBART, []),
        ("2026-11-20T00:00+11:00", "2026-11-21T00:00+11:00", HOBART, []),
        ("2026-11-20T08:00+11:00", "2026-11-21T00:01+11:00", HOBART, ["2026-11-21T00:00:00+11:00"]),
        # Clocks go on by an hour at 02:00: that day has 23 hours.
        (
            "2026-10-03T12:00+10:00",
            "2026-10-05T12:00+11:00",
            HOBART,
            ["2026-10-04T00:00:00+10:00", "2026-10-05T00:00:00+11:00"],
        ),
        # Chile's clocks go from 24:00 to 01:00 (IANA tz database): the day begins at one.
        ("2026-09-05T12:00-04:00", "2026-09-06T12:00-03:00", "America/Santiago", ["2026-09-06T01:00:00-03:00"]),
        # And from 24:00 back to 23:00: the day begins after the second 23 o'clock.
        ("2026-04-04T12:00-03:00", "2026-04-05T12:00-04:00", "America/Santiago", ["2026-04-05T00:00:00-04:00"]),
        # Samoa went over the date line and had no 30 December 2011 (IANA tz database).
        ("2011-12-29T12:00-10:00", "2011-12-31T12:00+14:00", "Pacific/Apia", ["2011-12-31T00:00:00+14:00"]),
    ],
)
def test_days_begin_with_the_calendar_of_the_zone(first: str, last: str, zone: str, starts: list[str]):
    assert [iso_local(at, zone) for at in midnights_utc_s(utc(first), utc(last), zone)] == starts


@pytest.mark.parametrize(
    "start, zone, hours",
    [
        ("2026-10-03T12:00+10:00", HOBART, [12, 23, 13]),
        ("2026-04-04T12:00+11:00", HOBART, [12, 25, 11]),
        ("2011-12-29T12:00-10:00", "Pacific/Apia", [12, 24, 12]),
    ],
)
def test_a_day_is_as_long_as_its_clock_says(start: str, zone: str, hours: list[int]):
    dates = dates_of(parked(start, sum(hours), zone=zone))
    assert np.diff(dates.bounds_utc_s) / 3600 == pytest.approx(hours)
    assert dates.share_frac.sum(axis=0) == pytest.approx(1.0, abs=1e-12)
    lasting_s = dates.share_frac @ parked(start, sum(hours), zone=zone).duration_s[0]
    assert lasting_s / 3600 == pytest.approx(hours, abs=1e-9)


SUMS = (
    "energy_wh alternator_wh load_wh shortfall_wh idle_wh charge_loss_wh battery_cold_wh battery_full_wh"
).split()


@pytest.mark.usefixtures("few_days")  # sums hold for any number of skies
@pytest.mark.parametrize("start", ["2026-11-17T09:33+11:00", "2026-10-03T23:57+10:00"])
def test_days_add_up_to_the_trip_and_each_closes_its_own_ledger(start: str):
    harvest = harvested(parked(start, 60.0))
    days, totals = harvest.days, harvest.totals
    assert len(days) == 4 if start.startswith("2026-10") else 3
    for name in SUMS:
        assert sum(getattr(day, name) for day in days) == pytest.approx(getattr(totals, name), abs=1e-9)
    assert sum(day.used_wh for day in days) == pytest.approx(totals.load_wh - totals.shortfall_wh, abs=1e-9)
    assert totals.shortfall_wh > 10
    assert [day.soc_start_frac for day in days] == [0.6, *(day.soc_end_frac for day in days[:-1])]
    for day in days:
        assert_closed(day, capacity_wh=1000.0)


def assert_closed(day: DayResult, capacity_wh: float) -> None:
    came_wh = day.energy_wh + day.alternator_wh + day.shortfall_wh
    went_wh = day.load_wh + day.idle_wh + day.charge_loss_wh + day.battery_cold_wh + day.battery_full_wh
    assert (day.soc_end_frac - day.soc_start_frac) * capacity_wh == pytest.approx(came_wh - went_wh, abs=1e-6)


def test_low_and_high_are_those_of_the_day_by_itself_and_do_not_add_up():
    whole = harvested(parked("2026-11-17T00:00+11:00", 48.0))
    alone = harvested(parked("2026-11-18T00:00+11:00", 24.0))
    day = whole.days[1]
    assert day.date == "2026-11-18" and day.weekday == "Wednesday"
    assert day.energy_low_wh == pytest.approx(alone.totals.energy_low_wh, rel=1e-6)
    assert day.energy_high_wh == pytest.approx(alone.totals.energy_high_wh, rel=1e-6)
    # Two days are seldom poor together: the trip's low lies above the sum of the days' lows.
    assert whole.totals.energy_low_wh > 1.02 * sum(row.energy_low_wh for row in whole.days)


def test_dawn_dusk_and_lowest_are_where_the_course_has_them():
    harvest = harvested(parked("2026-11-17T00:00+11:00", 48.0))
    ends_s = harvest.segments.start_utc_s[0] + harvest.segments.duration_s[0]
    for day in harvest.days:
        assert day.dawn_utc_s is not None and day.dusk_utc_s is not None
        at_dawn = np.interp(day.dawn_utc_s, ends_s, harvest.charge.soc_frac)
        assert day.soc_dawn_frac == pytest.approx(at_dawn, abs=1e-9)
        assert day.soc_dawn_frac < day.soc_dusk_frac
        of_day = (ends_s > day.start_utc_s) & (ends_s <= day.end_utc_s)
        assert day.lowest_soc_frac <= harvest.charge.soc_frac[of_day].min() + 1e-12
        assert day.lowest_soc_poor_frac <= day.lowest_soc_frac
        # Hobart, November: sunrise about 05:40, sunset about 20:15 summer time (almanac, from memory).
        for at_s, hour in ((day.dawn_utc_s, 5.7), (day.dusk_utc_s, 20.25)):
            assert (at_s - day.start_utc_s) / 3600 == pytest.approx(hour, abs=0.35)


@pytest.mark.parametrize("parts", [1, 3])
def test_a_trip_within_a_day_is_one_day_with_the_trips_own_figures(parts: int):
    bare = Rig(panels=(Panel(rated_w=200.0),))
    harvest = harvested(parked("2026-11-17T09:30+11:00", 3.0 * parts), bare)
    (day,) = harvest.days
    assert day.energy_wh == pytest.approx(harvest.totals.energy_wh, rel=1e-12)
    assert day.energy_low_wh == pytest.approx(harvest.totals.energy_low_wh, rel=1e-9)
    assert day.soc_end_frac is None and day.used_wh is None
