"""A long day on the road."""

from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc

from routesolar.decisions.transit import BEST_SHARE, hour_wh, transit_day
from routesolar.model.simulation import simulate
from routesolar.trip.rig import Load, Panel, Rig
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

DAWN = utc("2026-11-20T04:00+11:00")


def day(loads: tuple[Load, ...] = (), start: float = DAWN, hours: int = 18):
    n = hours * 12
    segments = straight_drive(-41.5, 146.5, [start], segments=n, step_s=300.0)
    stopped = (np.arange(n) >= 84) & (np.arange(n) < 108)  # two hours after seven
    speed_mps = np.where(stopped, 0.0, segments.speed_mps)
    segments = replace(segments, stopped=stopped, speed_mps=speed_mps)
    rig = Rig(panels=(Panel(rated_w=200.0),), loads=loads)
    return transit_day(simulate(segments, rig, Canopy.open(n), Terrain.flat(n), [Sky(name="clear")]), rig)


def test_driving_and_standing_add_up_to_the_hours():
    found = day()
    assert found.driving_wh + found.stopped_wh == pytest.approx(sum(map(hour_wh, found.hours)))
    assert found.stopped_w == pytest.approx(found.stopped_wh / 2.0)
    assert found.stopped_w > found.driving_w  # it stands at midday
    assert found.shortage is None and found.load_wh == 0.0


def test_the_best_hours_are_those_around_noon():
    found = day()
    best = max(map(hour_wh, found.hours))
    assert all(hour_wh(hour) >= BEST_SHARE * best for hour in found.best_hours)
    noon = utc("2026-11-20T13:00+11:00")  # solar noon is near 13:00 by the summer clock of Tasmania
    assert found.best_hours[0].start_utc_s < noon < found.best_hours[-1].start_utc_s + 3600
    outside = [hour for hour in found.hours if hour not in found.best_hours]
    assert max(map(hour_wh, outside)) < BEST_SHARE * best


def test_the_longest_shortage_is_the_longer_end_of_the_day():
    found = day((Load(power_w=60.0),))
    shortage = found.shortage
    assert shortage is not None
    assert shortage.end_utc_s == DAWN + 18 * 3600.0 or shortage.start_utc_s == DAWN
    hours = (shortage.end_utc_s - shortage.start_utc_s) / 3600
    assert shortage.load_wh == pytest.approx(60.0 * hours)
    assert shortage.missing_wh == pytest.approx(shortage.load_wh - shortage.solar_wh)
    assert 0 < shortage.solar_wh < shortage.load_wh
    assert found.load_wh == pytest.approx(60.0 * 18)


def test_a_small_load_is_always_carried_by_day():
    found = day((Load(power_w=1.0),), start=utc("2026-11-20T10:00+11:00"), hours=4)
    assert (found.shortage is None and found.stopped_w is None) or found.load_wh == pytest.approx(4.0)


def test_a_night_has_no_best_hours():
    assert day(start=utc("2026-11-20T22:00+11:00"), hours=4).best_hours == ()
