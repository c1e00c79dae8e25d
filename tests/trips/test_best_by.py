"""One criterion for all decisions: what gets in, charge at one end, loads that last."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from routes import straight

import routesolar as rs
from routesolar.decisions.criterion import BestBy, LoadLasts, Outcome, is_alike, rank_of
from routesolar.errors import UsageError
from routesolar.report.units import METRIC
from routesolar.report.words_best import short_words
from routesolar.trips.harvesting import harvest_trip
from routesolar.trips.presenting import decision_words

# By hand are told means, which the days keep however many they are, and what all of them have in common.
pytestmark = pytest.mark.usefixtures("few_days")

SAID: dict[str, Any] = {"sky": "clear", "step": "500m", "depart": "2026-11-20 10:00", "air": "20C"}
ENDS_M = np.array([0.0, 15_000.0, 30_000.0])


def van(
    capacity_wh: float, start_soc_frac: float = 0.5, load_w: float = 0.0, reserve_frac: float = 0.0
) -> rs.Rig:
    battery = rs.Battery(
        capacity_wh=capacity_wh,
        start_soc_frac=start_soc_frac,
        reserve_soc_frac=0.0,
        max_charge_w=500.0,
        self_discharge_frac_per_month=0.0,
        parasitic_w=0.0,
    )
    loads = (rs.Load(name="fridge", power_w=load_w),) if load_w else ()
    return rs.Rig(panels=(rs.Panel(name="roof", rated_w=200.0),), battery=battery, loads=loads)


def trip(rig: rs.Rig, speed: str = "60km/h", **words: Any) -> rs.Trip:
    return rs.Trip.along(rs.route_from_arrays(*straight(ENDS_M)), rig=rig, speed=speed, **(SAID | words))


def asked(rig: rs.Rig, best_by: str = "energy", **words: Any) -> Any:
    return rs.rank_departures(trip(rig, **words), first="10:00", last="14:00", every="2h", best_by=best_by)


def test_what_a_full_battery_turns_away_does_not_count() -> None:
    """Half an hour of sun is more than the 5 Wh of room: all departures bring as much, and so are equal."""
    result = asked(van(capacity_wh=10.0))
    assert len(result.alike) == 3
    for row in result.ranked:
        assert row.energy_wh > 20
        assert 4.5 <= row.outcome.taken_wh < 6.5  # the room, all but filled, and what charging loses
    assert "to get into loads and battery, of" in decision_words(result, METRIC).answer


def test_departures_are_counted_from_the_first_to_one_end() -> None:
    """Each is a drive that begins with a stop at its start, left at its own time: harvest's energy for that."""
    result = asked(van(capacity_wh=50_000.0), until="18:00")
    assert result.from_utc_s == min(row.depart_utc_s for row in result.ranked)
    by_time = sorted(result.ranked, key=lambda one: one.depart_utc_s)
    for row, clock in zip(by_time, ("10:00", "12:00", "14:00"), strict=True):
        stop = None if clock == "10:00" else rs.Stop(at="0km", at_m=0.0, until=clock)
        whole = harvest_trip(trip(van(capacity_wh=50_000.0), until="18:00", stop=stop))
        assert row.outcome.offered_wh == pytest.approx(whole.totals.energy_wh, rel=2e-3)
        assert row.outcome.end_utc_s == pytest.approx(whole.segments.arrival_utc_s[0])


def test_charge_is_that_of_sun_less_loads_at_one_end() -> None:
    """By hand, no limit met: the start, plus nine tenths or more of the sun, less 20 W for 8 h."""
    result = asked(van(capacity_wh=20_000.0, load_w=20.0), "charge", until="18:00")
    for row in result.ranked:
        gained_wh = (row.outcome.soc_end_frac - 0.5) * 20_000.0
        assert 0.9 * row.outcome.offered_wh <= gained_wh + 20.0 * 8 <= row.outcome.offered_wh
    assert [row.outcome.soc_end_frac for row in result.ranked] == sorted(
        (row.outcome.soc_end_frac for row in result.ranked), reverse=True
    )
    assert "the battery ends fullest, at" in decision_words(result, METRIC).answer


def test_no_recommendation_is_silent_about_a_load_that_goes_short() -> None:
    """100 W all night out of 200 Wh: by hand the battery lasts two hours, 20:30 to 08:00 asks for 1,150 Wh."""
    rig = van(capacity_wh=200.0, start_soc_frac=1.0, load_w=100.0)
    for best_by in ("energy", "charge", "lasting"):
        result = asked(rig, best_by, until="tomorrow 08:00")
        assert result.best.outcome.shortfall_wh > 800
        words = decision_words(result, METRIC)
        assert "short" in " ".join((words.answer, *words.remarks)) or "miss" in words.answer
    road = rs.compare([trip(rig, until="tomorrow 08:00"), trip(rig, "30km/h", until="tomorrow 08:00")])
    assert any("loads go short" in remark for remark in decision_words(road, METRIC).remarks)


def test_roads_that_wait_at_one_place_are_counted_to_one_end() -> None:
    """On an open road every place has the same sun; only the wind of driving cools: by hand the same energy."""
    fast, slow = (trip(van(50_000.0), speed, until="tomorrow 08:00") for speed in ("60km/h", "30km/h"))
    result = rs.compare([fast, slow], best_by="charge")
    ends = {round(route.depart_utc_s + result.counted_s) for route in result.routes}
    assert ends == {round(float(fast.drive().arrival_utc_s[0]))}
    socs = [route.outcome.soc_end_frac for route in result.routes]
    assert socs[0] == pytest.approx(socs[1], abs=1e-3)
    assert decision_words(result, METRIC).answer.startswith("On open roads, it makes no difference")
    alone = harvest_trip(fast)
    assert result.routes[0].energy_wh == pytest.approx(alone.totals.energy_wh, rel=1e-2)


def test_who_waits_under_a_roof_gathers_nothing() -> None:
    stop = rs.Stop(at="end", until="12:00", roofed=True)
    result = rs.compare([trip(van(50_000.0), speed, stop=stop) for speed in ("60km/h", "50km/h")])
    assert [route.waiting_wh for route in result.routes] == [0.0, 0.0]
    assert result.counted_s == pytest.approx(2 * 3600)


def test_a_rate_alone_is_not_more_energy() -> None:
    quick, slow = (trip(van(50_000.0), speed, until="18:00") for speed in ("60km/h", "6km/h"))
    words = decision_words(rs.compare([quick, slow]), METRIC)
    assert any(remark.startswith("Only the rate differs") for remark in words.remarks)


def outcome(**values: Any) -> Outcome:
    usual = {"soc_end_frac": 0.5, "lowest_soc_frac": 0.4, "shortfall_wh": 0.0, "capacity_wh": 1000.0}
    return Outcome(**({"taken_wh": 100.0, "offered_wh": 100.0, "end_utc_s": 0.0} | usual | values))


def test_loads_that_fail_come_first_of_all_then_the_charge_kept() -> None:
    hungry, dim, low = (
        outcome(taken_wh=200.0, shortfall_wh=9.0),
        outcome(taken_wh=50.0),
        outcome(lowest_soc_frac=0.3),
    )
    order = sorted((hungry, low, dim), key=lambda one: rank_of(BestBy.LASTING, one))
    assert order == [dim, low, hungry]
    assert not is_alike(BestBy.LASTING, dim, hungry)
    assert is_alike(BestBy.LASTING, dim, outcome(shortfall_wh=0.4, lowest_soc_frac=0.385))
    assert min((hungry, dim, low), key=lambda one: rank_of(BestBy.ENERGY, one)) is hungry


def test_each_load_s_own_chance_is_told_and_a_single_one_by_its_name() -> None:
    fridge, lamp = LoadLasts("fridge", 1, 0.97), LoadLasts("lamp", 2, 0.4)
    alone = short_words(BestBy.LASTING, outcome(), 0.97, (fridge,), "day")
    assert alone == "Fridge lasts on 97 % of such days."
    both = short_words(BestBy.LASTING, outcome(), 0.4, (fridge, lamp), "day")
    assert both == "No load goes short on 40 % of such days. Each by itself: Fridge 97 %, Lamp 40 %."


@pytest.mark.parametrize("best_by", ["charge", "lasting"])
def test_what_needs_a_battery_is_refused_without(best_by: str) -> None:
    bare = rs.Rig(panels=(rs.Panel(name="roof", rated_w=200.0),))
    with pytest.raises(UsageError, match="needs a battery"):
        asked(bare, best_by)


def test_an_unknown_criterion_is_refused() -> None:
    with pytest.raises(UsageError, match="give one of energy, charge, lasting"):
        asked(van(100.0), "sun")


def test_a_calendar_goes_by_the_charge_too() -> None:
    result = rs.calendar(
        trip(van(20_000.0, load_w=20.0), until="tomorrow 08:00"),
        2026,
        first="10:00",
        last="14:00",
        every="2h",
        best_by="charge",
    )
    assert result.outcomes[result.best].soc_end_frac == max(one.soc_end_frac for one in result.outcomes)
    assert result.month[result.best] == 12
    ends = {
        round(one.end_utc_s - first) % 60
        for one, first in zip(result.outcomes, result.departure_utc_s, strict=True)
    }
    assert ends == {0}
    assert decision_words(result, METRIC).answer.startswith(
        "On an open road, the battery ends fullest in December"
    )


def test_where_the_battery_fills_anyway_one_stays() -> None:
    """By hand: 5 Wh of room fill in the shade too, so no spot is better; a larger battery gains by turning.

    The panel leans away from the sun of the north.
    """
    said = {"canopy_cover": "70", "canopy_height": "20m", "road_width": "30m"}
    for capacity_wh, stays in ((10.0, True), (1_000.0, False)):
        at = trip(van(capacity_wh), **said)
        tilted = rs.Panel(
            name="roof", rated_w=200.0, tilt_deg=60.0, facing_deg=180.0
        )  # away from the northern sun
        at = at.with_(rig=rs.Rig(panels=(tilted,), battery=van(capacity_wh).battery))
        result = rs.park(at, "end", stay="3h", within="10m", best_by="charge")
        assert decision_words(result, METRIC).answer.startswith("Stay where you are") == stays
        assert result.spots[0].outcome.soc_end_frac is not None


def test_parking_begins_with_the_charge_the_drive_has_left() -> None:
    """By hand: 100 W of load for 30 min of driving without sun leave 50 Wh less than 500 of 1,000 Wh."""
    rig = replace(van(1000.0), loads=(rs.Load(name="pump", power_w=100.0, when="driving"),))
    night = trip(rig, depart="2026-11-20 04:00")
    result = rs.park(night, "end", stay="3h", within="5m", best_by="charge")
    outcome = result.spots[0].outcome
    assert outcome.lowest_soc_frac == pytest.approx(0.45, abs=1e-3)


def test_sizes_go_by_charge_and_loads_too() -> None:
    """By hand: 100 W of load for 8 h out of 500 Wh miss 300 Wh; 200 W bring more."""
    rig = van(1000.0, load_w=100.0)
    at = trip(rig, until="18:00")
    lasting, charge = (rs.size(at, [10.0, 200.0, 400.0], best_by=by) for by in ("lasting", "charge"))
    assert (lasting.best.rated_w, charge.best.rated_w) == (200.0, 400.0)
    assert "with 200 W loads miss nothing" in decision_words(lasting, METRIC).answer
    assert "400 W leaves the battery as full as any size does" in decision_words(charge, METRIC).answer
