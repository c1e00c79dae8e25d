"""Which road."""

import json

import numpy as np
import pytest
from drives import straight_drive, utc

from routesolar.decisions.compare import (
    Candidate,
    Progress,
    _parting,
    compare_across_days,
    compare_dict,
    compare_routes,
    compare_rows,
)
from routesolar.errors import UsageError
from routesolar.model.sweeping import sweep
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.trip.sweep import Sweep

MORNING = utc("2026-11-20T09:00+11:00")


def swept(segments: Segments, cover_frac: object = 0.0, sky: str = "broken") -> Sweep:
    n = segments.count
    canopy = Canopy.open(n)
    if np.any(np.asarray(cover_frac) > 0):
        from dataclasses import replace

        canopy = replace(Canopy.uniform(n, cover_frac=0.1), uniform_cover_frac=np.broadcast_to(cover_frac, n))
    return sweep(segments, Rig(panels=(Panel(rated_w=200.0),)), canopy, Terrain.flat(n), [Sky(name=sky)])


def road(start: float = MORNING, heading_deg: float = 90.0, **more) -> Segments:
    return straight_drive(-41.5, 146.5, [start], heading_deg=heading_deg, segments=90, step_s=60.0, **more)


def test_a_route_compared_with_itself_ties_exactly():
    same = swept(road())
    result = compare_routes([Candidate("one", same), Candidate("other", same)], 1)
    assert [route.win_prob for route in result.routes] == [0.5, 0.5]
    assert result.routes[0].energy_wh == result.routes[1].energy_wh
    assert result.parting is None


def test_the_order_of_the_routes_does_not_matter():
    east, forest = swept(road()), swept(road(heading_deg=60.0), 0.3)
    ways = [
        compare_routes(candidates, 1)
        for candidates in (
            [Candidate("east", east), Candidate("forest", forest)],
            [Candidate("forest", forest), Candidate("east", east)],
        )
    ]
    assert ways[0].routes[0].energy_wh == ways[1].routes[1].energy_wh
    # Drawn in another order: twice the standard error of 16 384 draws.
    assert ways[0].routes[0].win_prob == pytest.approx(ways[1].routes[1].win_prob, abs=0.01)
    assert ways[0].best == 0 and ways[1].best == 1


def test_chances_add_up_and_shade_under_one_sky_is_sure_to_lose():
    candidates = [
        Candidate("open", swept(road())),
        Candidate("some trees", swept(road(), 0.2)),
        Candidate("forest", swept(road(), 0.7)),
    ]
    result = compare_routes(candidates, 1)
    chances = [route.win_prob for route in result.routes]
    assert sum(chances) == pytest.approx(1.0, abs=1e-12)
    assert chances[0] > 0.9 and chances[2] < 0.02
    assert [route.name for route in result.routes] == ["open", "some trees", "forest"]


def test_where_the_routes_part_is_found():
    n = 90
    trees = np.where((np.arange(n) >= 30) & (np.arange(n) < 60), 0.7, 0.0)
    result = compare_routes([Candidate("wooded", swept(road(), trees)), Candidate("open", swept(road()))], 1)
    assert result.best == 1 and result.parting is not None
    assert result.parting.from_s == pytest.approx(1800, abs=300)
    assert result.parting.to_s == pytest.approx(3600, abs=300)
    assert result.parting.from_km == pytest.approx(36.0, abs=6.0)  # 20 m/s
    open_wh, wooded_wh = result.routes[1].energy_wh, result.routes[0].energy_wh
    assert result.parting.gain_wh == pytest.approx(open_wh - wooded_wh, rel=0.02)


def test_a_lead_lost_and_won_again_ends_after_it_begins():
    # The first 40 Wh are gained early, lost again, and 60 Wh gained late: the end of the second gain counts,
    # though the lead was as high before.
    at_s = np.arange(0.0, 40_000.0, 1000.0)
    lead_wh = np.interp(at_s, [0, 6000, 14_000, 30_000, 39_000], [0, 40, -20, 40, 40])
    best = Progress(elapsed_s=at_s, along_km=at_s / 100, energy_wh=lead_wh + at_s / 100)
    second = Progress(elapsed_s=at_s, along_km=at_s / 100, energy_wh=at_s / 100)
    parting = _parting(best, second)
    assert parting is not None
    assert parting.from_s == pytest.approx(14_000, abs=300)
    assert parting.to_s == pytest.approx(30_000, abs=300)
    assert parting.from_km < parting.to_km
    assert parting.gain_wh == pytest.approx(60.0, rel=0.02)


def test_energy_per_hour_counts_until_arrival():
    result = compare_routes([Candidate("a", swept(road())), Candidate("b", swept(road(speed_mps=15.0)))], 1)
    for route in result.routes:
        assert route.duration_s == 5400.0
        assert route.energy_per_hour_wh == pytest.approx(route.energy_wh / 1.5)


def test_other_days_are_refused_unless_asked_for():
    # The drives' clock is UTC.
    friday, sunday = swept(road(utc("2026-11-20T01:00+00:00"))), swept(road(utc("2026-11-22T01:00+00:00")))
    both = [Candidate("coast", friday), Candidate("hills", sunday)]
    with pytest.raises(UsageError, match=r"coast on 2026-11-20; hills on 2026-11-22\); give them all one day"):
        compare_routes(both, 1)
    result = compare_across_days(both, 1)
    assert not result.same_day


@pytest.mark.parametrize("count", [0, 1])
def test_one_route_is_no_comparison(count):
    with pytest.raises(UsageError, match=f"{count} route to compare; give two or more"):
        compare_routes([Candidate("a", swept(road()))] * count, 1)


def test_a_night_is_refused():
    night = swept(road(utc("2026-11-20T13:00+00:00")))
    with pytest.raises(UsageError, match="none of the routes sees the sun"):
        compare_routes([Candidate("a", night), Candidate("b", night)], 1)


def test_rows_have_the_keys_of_the_contract_and_are_json():
    result = compare_routes([Candidate("a", swept(road())), Candidate("b", swept(road(), 0.5))], 1)
    assert (
        list(compare_rows(result)[0])
        == (
            "route depart arrive distance_km duration_s energy_wh energy_low_wh energy_high_wh waiting_wh "
            "shade_loss_frac energy_per_hour_wh win_prob soc_end_frac taken_wh lowest_soc_frac shortfall_wh"
        ).split()
    )
    assert json.loads(json.dumps(compare_dict(result), allow_nan=False))["schema"] == "routesolar.compare/2"
