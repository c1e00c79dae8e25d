"""Scenarios of the sky: the same expectation and spread as the exact sums, drawn day by day."""

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.testing import assert_allclose

from routesolar.physics.bands import Passage, StateEnergy, energy_bands_wh, energy_moments
from routesolar.physics.clouds import sun_out_states
from routesolar.physics.sky_paths import SkyPaths, draw_paths

COUNT = 400


@dataclass
class Day:
    """Ten hours of half minutes past a level panel of 1 W in the clear."""

    energy: StateEnergy
    passage: Passage

    def drawn(self, forecast: str = "tomorrow", seed: int = 1) -> SkyPaths:
        return draw_paths(self.energy, self.passage, forecast, COUNT, seed)

    def parts(self, first: int, last: int) -> np.ndarray:
        """One part of the day, the rest left out."""
        parts = np.full((1, self.passage.duration_s.shape[1]), -1)
        parts[0, first:last] = 0
        return parts


def day(prob: float, minutes: float = 0.5, hours: float = 10.0, dark_hours: float = 0.0) -> Day:
    count = int(hours * 60 / minutes)
    durations = np.full((1, count), minutes)
    states = sun_out_states(np.full((1, count), prob))
    wh = np.where(np.arange(count) * minutes < dark_hours * 60, 0.0, durations / 60)
    energy = StateEnergy(
        unobscured_wh=states.unobscured_index * wh,
        obscured_wh=states.obscured_index * wh,
        sun_out_prob=states.sun_out_prob,
        unobscured_index=states.unobscured_index,
        obscured_index=states.obscured_index,
        unobscured_sd=states.unobscured_sd,
        obscured_sd=states.obscured_sd,
    )
    passage = Passage(
        60 * (np.cumsum(durations, axis=1) - durations),
        60 * durations,
        np.zeros(1),
        np.zeros(count),
        np.full(count, 660.0),
    )
    return Day(energy, passage)


def expected_wh(of: Day) -> np.ndarray:
    on = of.energy
    return (on.sun_out_prob * on.unobscured_wh + (1 - on.sun_out_prob) * on.obscured_wh)[0]


def test_chances_add_up_and_every_segment_keeps_its_expected_energy():
    some = day(0.5, dark_hours=2.0)
    paths = some.drawn()
    assert paths.chance.sum() == pytest.approx(1.0, abs=1e-12) and paths.chance.min() >= 0
    assert_allclose(paths.chance @ paths.energy_wh.whole(), expected_wh(some), rtol=1e-12, atol=0)
    assert np.all(paths.energy_wh.whole()[:, :240] == 0.0)  # night is night on every day


@pytest.mark.parametrize("forecast", ["known", "tomorrow", "week"])
@pytest.mark.parametrize("prob", [0.03, 0.5, 0.9])
def test_the_days_sums_lie_in_the_percentiles_of_the_exact_sums(prob, forecast):
    # Second way to the same figure: energy_bands_wh sums the process without drawing it.
    some = day(prob)
    paths = some.drawn(forecast)
    total = paths.energy_wh.whole().sum(axis=1)
    order = np.argsort(total)
    reached = np.cumsum(paths.chance[order])
    band = np.array(energy_bands_wh(some.energy, some.passage, some.parts(0, 1200), forecast))[:, 0, 0]
    drawn = [total[order][np.searchsorted(reached, level)] for level in (0.1, 0.5, 0.9)]
    # 400 days: a percentile lies within a few of them; 3 % of the whole is wider than that everywhere.
    assert_allclose(drawn, band, atol=0.03 * expected_wh(some).sum())


@pytest.mark.parametrize("prob", [0.03, 0.2, 0.5, 0.8])
def test_an_hour_and_ten_minutes_vary_as_the_exact_sums_have_it(prob):
    # The days' chances know only whole days. Left out are thin clouds within a day: up to 15 % less.
    some = day(prob)
    paths = some.drawn()
    for first, last in ((480, 600), (480, 500), (100, 220)):
        window = paths.energy_wh.whole()[:, first:last].sum(axis=1)
        spread = np.sqrt(paths.chance @ (window - paths.chance @ window) ** 2)
        exact = energy_moments(some.energy, some.passage, some.parts(first, last), "tomorrow").variance_wh2[
            0, 0
        ]
        assert spread == pytest.approx(np.sqrt(exact), rel=0.2)


def test_long_segments_vary_as_the_short_ones_they_are_made_of():
    spreads = []
    for minutes in (0.5, 20.0):
        paths = day(0.5, minutes).drawn()
        total = paths.energy_wh.whole()[:, : int(120 / minutes)].sum(axis=1)
        spreads.append(np.sqrt(paths.chance @ (total - paths.chance @ total) ** 2))
    assert spreads[0] == pytest.approx(spreads[1], rel=0.1)


def test_the_sun_is_out_for_as_long_at_a_time_as_the_memories_say():
    # Without brightness of its own a state tells itself by its watts. Correlation of the sun's state at lag t:
    # .13 exp(-t / 2.5 min) + .87 exp(-t / 100 min), from bands.py, and what lasts all day.
    some = day(0.5)
    quiet = some.energy._replace(unobscured_sd=np.full((1, 1200), 1e-9), obscured_sd=np.full((1, 1200), 1e-9))
    paths = Day(quiet._replace(obscured_wh=0.1 * quiet.unobscured_wh), some.passage).drawn()
    scaled = paths.energy_wh.whole() - paths.chance @ paths.energy_wh.whole()
    for minutes in (1.0, 5.0, 30.0):
        lag = int(minutes / 0.5)
        both = paths.chance @ (scaled[:, lag:] * scaled[:, :-lag]).mean(axis=1)
        alone = paths.chance @ (scaled**2).mean(axis=1)
        exact = 0.13 * np.exp(-minutes / 2.5) + 0.87 * np.exp(-minutes / 100)
        assert both / alone == pytest.approx(exact, abs=0.07)


def test_the_same_seed_gives_the_same_days_and_another_others():
    some = day(0.5, hours=1.0)
    assert np.array_equal(some.drawn(seed=1).energy_wh.values, some.drawn(seed=1).energy_wh.values)
    assert not np.array_equal(some.drawn(seed=1).energy_wh.values, some.drawn(seed=2).energy_wh.values)


def test_a_night_is_every_day_the_same():
    paths = day(0.5, hours=2.0, dark_hours=2.0).drawn()
    assert np.all(paths.energy_wh.whole() == 0) and np.all(paths.chance == 1 / COUNT)


def test_many_drives_at_once_are_refused():
    some = day(0.5, hours=1.0)
    twice = StateEnergy(*(np.repeat(field, 2, axis=0) for field in some.energy[:7]))
    with pytest.raises(ValueError, match="one drive at a time"):
        draw_paths(twice, some.passage, "tomorrow", COUNT, 1)
