"""Departures and roads under one sky and among one wood: what is shared of the trees' doubt."""

from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc

from routesolar.decisions.same_sky import best_of_all_frac, best_wins_frac
from routesolar.model.sweeping import sweep
from routesolar.trip.canopy_doubt import CanopyDoubt
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.trip.sweep import Sweep

RIG = Rig(panels=(Panel(rated_w=200.0),))


def road(cover: float, words: str, hours: tuple[str, ...] = ("10:00",)) -> Sweep:
    """A road through a wood under a clear sky, whose clouds leave little open: trees are most of the doubt."""
    starts = [utc(f"2026-04-15T{hour}+00:00") for hour in hours]
    drive = straight_drive(46.0, 8.0, starts, heading_deg=30.0, segments=6, step_s=600.0, speed_mps=1.0)
    canopy = Canopy.uniform(drive.count, cover_frac=cover)
    canopy = replace(canopy, doubt=CanopyDoubt(rests_on=(words, words, "crowns")))
    return sweep(drive, RIG, canopy, Terrain.flat(drive.count), [Sky(name="clear", forecast="known")])


def test_a_road_among_the_same_trees_is_surer_to_win_than_among_others():
    # Four points of cover less are half of the cover's doubt: sure if both are wrong by the same, else not.
    thinner = road(0.46, "one")
    shared = best_of_all_frac([(thinner, 0), (road(0.50, "one"), 0)], 1)
    apart = best_of_all_frac([(thinner, 0), (road(0.50, "another"), 0)], 1)
    assert shared.sum() == pytest.approx(1.0)
    assert apart.sum() == pytest.approx(1.0)
    assert 0.5 < apart[0] < 0.75 < shared[0]


def test_one_road_with_itself_ties():
    one = road(0.5, "one")
    np.testing.assert_array_equal(best_of_all_frac([(one, 0), (one, 0)], 1), [0.5, 0.5])


def test_departures_pass_the_same_trees_whatever_these_are():
    # Two departures a minute apart see the same sun through the same trees: the brighter one wins on most days
    # although the trees leave a fifth of the energy open.
    both = road(0.5, "one", ("09:00", "09:20"))
    best = int(np.argmax(both.energy_wh[0]))
    wins = best_wins_frac(both, best)
    assert wins[best] == 0.5
    assert wins[1 - best] > 0.8
    spread = both.energy_high_wh - both.energy_low_wh
    assert np.all(spread > 3 * np.abs(np.diff(both.energy_wh[0])))
