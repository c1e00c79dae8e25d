"""The battery's days go past the segments together: the memory they take is not that of days times segments."""

import tracemalloc
from collections.abc import Callable

import numpy as np
import pytest

from routesolar.model.battery import Draw, draw_along, ledger_of, run_over_days
from routesolar.model.engine import engine_need
from routesolar.physics.battery import TERMS
from routesolar.physics.on_lit import OnLit
from routesolar.trip.arrays import FloatArray
from routesolar.trip.rig import Alternator, Battery, Load, Panel, Rig

DAYS = 1000
RIG = Rig(
    panels=(Panel(rated_w=200.0),),
    battery=Battery(capacity_wh=1000.0, start_soc_frac=0.5),
    alternator=Alternator(charge_w=30.0),
    loads=(Load(power_w=120.0),),
)


def drive(segments: int, days: int = DAYS) -> tuple[Draw, FloatArray, FloatArray]:
    """Ten hours in so many segments, under days some of which are dark and some bright."""
    lasts_s = np.full((1, segments), 36_000.0 / segments)
    starts_s = np.cumsum(lasts_s, axis=1) - lasts_s
    draw = draw_along(starts_s, lasts_s, np.arange(segments) % 3 == 0, np.array(15.0), RIG, "UTC")
    solar_w = (
        np.random.default_rng(1).uniform(0.0, 1.0, (days, segments)) * np.linspace(0.0, 600.0, days)[:, None]
    )
    return draw, solar_w, np.full(days, 1 / days)


def whole(draw: Draw, solar_w: FloatArray, chance: FloatArray) -> object:
    return run_over_days(draw, OnLit.everywhere(solar_w), chance, RIG)


def need(draw: Draw, solar_w: FloatArray, chance: FloatArray) -> object:
    return engine_need(draw, OnLit.everywhere(solar_w), chance, RIG, 0.1)


def most_bytes(job: Callable[..., object], segments: int) -> int:
    """Return the most memory that a job takes beside what it is given."""
    given = drive(segments)
    tracemalloc.start()
    job(*given)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return most


@pytest.mark.parametrize("job", [whole, need])
def test_five_times_the_segments_do_not_take_twice_the_memory(job: Callable[..., object]) -> None:
    # Charges of 1,000 days past 2,560 segments are 20 MB, those looked at together 2 MB.
    job(*drive(16, 4))
    assert most_bytes(job, 2560) < 2 * most_bytes(job, 512)


def test_days_seen_some_segments_at_a_time_are_those_of_the_ledger() -> None:
    draw, solar_w, chance = drive(700, 20)
    seen: dict[int, FloatArray] = {}
    days = run_over_days(
        draw, OnLit.everywhere(solar_w), chance, RIG, seen=lambda first, soc: seen.update({first: soc.copy()})
    )
    ledger = ledger_of(draw, solar_w, RIG)
    assert len(seen) > 2 and 0 < np.isnan(days.first_short_s).sum() < 20
    np.testing.assert_array_equal(np.hstack([seen[first] for first in sorted(seen)]), ledger.soc_frac)
    np.testing.assert_array_equal(days.first_full_s, ledger.first_full_utc_s)
    np.testing.assert_array_equal(days.first_short_s, ledger.first_short_utc_s)
    assert days.shortfall_wh == pytest.approx(ledger.shortfall_wh.sum(axis=1))
    assert days.mean[TERMS.index("stored_wh")] == pytest.approx(ledger.stored_wh.mean(axis=0))


def test_a_day_not_followed_leaves_no_trace() -> None:
    draw, solar_w, chance = drive(700, 20)
    odd = np.arange(20) % 2 == 1
    alone = run_over_days(draw, OnLit.everywhere(solar_w[odd]), chance[odd], RIG)
    among = run_over_days(draw, OnLit.everywhere(solar_w), chance, RIG, followed=odd)
    np.testing.assert_array_equal(among.shortfall_wh[odd], alone.shortfall_wh)
    np.testing.assert_array_equal(among.mean, alone.mean)
    assert not among.shortfall_wh[~odd].any() and alone.shortfall_wh.any()
