"""The best break is that of trying each as a stop, to the last digit."""

from functools import cache

import numpy as np
import pytest
from routes import straight, waypoint_at

import routesolar as rs
from routesolar.decisions.breaks import Breaks
from routesolar.errors import UsageError
from routesolar.trip.clock import iso_local
from routesolar.trips.harvesting import harvest_trip

WOODS = rs.Stretch(from_m=20_000, to_m=36_000, canopy_cover_frac=0.7, canopy_height_m=20, road_width_m=8)


def trip(**words: object) -> rs.Trip:
    """Return a drive of 60 km by noon, its middle through woods."""
    marked = (waypoint_at(31_000, "ford"), waypoint_at(43_000, "hilltop"))
    road = rs.route_from_arrays(*straight(np.arange(0.0, 60_001, 500.0)), waypoints=marked)
    said = {
        "panel": "200W",
        "depart": "2026-11-20 11:30",
        "speed": "60km/h",
        "sky": "clear",
        "step": "500m",
        "surroundings": WOODS,
    }
    return rs.Trip.along(road, **(said | words))  # type: ignore[arg-type]


@cache
def found() -> Breaks:
    return rs.breaks(trip(), 60, between=("11:45", "12:30"), every="10km")


def test_each_break_is_the_drive_with_that_stop_to_the_last_digit() -> None:
    for one in found().ranked:
        drive = harvest_trip(trip(stop=rs.Stop(at="there", at_m=one.along_m, duration_s=3600.0)))
        assert one.energy_wh == drive.totals.energy_wh
        (leg,) = [leg for leg in drive.legs if leg.kind == "stop"]
        assert (one.start_utc_s, one.end_utc_s) == (leg.start_utc_s, pytest.approx(leg.end_utc_s, abs=1e-3))
        assert one.break_wh == pytest.approx(leg.energy_wh, rel=1e-12)


def test_a_later_break_in_the_open_beats_noon_in_the_woods() -> None:
    """Noon by the clock falls into the woods, at 30 km; the open begins at 36 km."""
    result = found()
    assert {one.name for one in result.ranked} == {"", "ford", "hilltop"}
    assert result.noon.along_m == 30_000
    assert not 20_000 <= result.best.along_m <= 36_000
    assert result.best.energy_wh > 1.2 * result.noon.energy_wh
    assert result.best.energy_wh == max(one.energy_wh for one in result.ranked)


def test_breaks_begin_between_the_clock_times_asked_for() -> None:
    starts = [iso_local(one.start_utc_s, found().time_zone)[11:16] for one in found().ranked]
    assert all("11:45" <= start <= "12:30" for start in starts)
    assert len(starts) == 6  # 20, 30, 40 and 50 km, ford and hilltop


def test_tilted_panels_are_turned_to_the_sun_of_the_break() -> None:
    tilted = rs.Rig(panels=(rs.Panel(name="rack", rated_w=200.0, tilt_deg=40.0),))
    asked = trip(panel=None, rig=tilted, surroundings=None)
    result = rs.breaks(asked, 60, between=("12:05", "12:15"), every="10km")
    best = result.best
    assert best.heading_deg is not None
    turned = rs.Stop(at="there", at_m=best.along_m, duration_s=3600.0, heading_deg=best.heading_deg)
    assert best.energy_wh == harvest_trip(asked.with_(stop=turned)).totals.energy_wh
    # South of the tropics the midday sun stands in the north; panels lean to the nose.
    assert min(best.heading_deg, 360 - best.heading_deg) <= 60


REFUSED = {
    "night": ({"between": ("02:00", "04:00")}, "no place for a break is passed"),
    "backwards": ({"between": ("15:00", "11:00")}, "ends before it begins"),
    "no time": ({"minutes": 0}, "--minutes 90"),
    "every step": ({"every": "1m"}, "--every 5km"),
}


@pytest.mark.parametrize(("words", "why"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_tried_is_refused(words: dict[str, object], why: str) -> None:
    with pytest.raises(UsageError, match=why):
        rs.breaks(trip(), **words)  # type: ignore[arg-type]
