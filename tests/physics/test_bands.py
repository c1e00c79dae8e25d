"""Percentiles of energy: exact sums, and a seeded simulation of the same process."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import beta

from routesolar.errors import UsageError
from routesolar.physics import bands
from routesolar.physics.bands import (
    EnergyBands,
    Passage,
    StateEnergy,
    beta_percentiles,
    energy_bands_wh,
    trip_parts,
)
from routesolar.physics.clouds import energy_share_bands, sun_out_states

WHOLE = np.zeros((1, 1), dtype=np.int64)
DAYLIGHT_MIN = 660.0


def drive(prob, minutes, clear_wh=1.0, speed_mps=0.0, start_min=None):
    """Return the inputs of one drive past segments of a level panel, (1, n)."""
    minutes = np.atleast_2d(np.asarray(minutes, dtype=float))
    states = sun_out_states(np.broadcast_to(prob, minutes.shape))
    energy = StateEnergy(
        unobscured_wh=states.unobscured_index * clear_wh,
        obscured_wh=states.obscured_index * clear_wh,
        sun_out_prob=states.sun_out_prob,
        unobscured_index=states.unobscured_index,
        obscured_index=states.obscured_index,
        unobscured_sd=states.unobscured_sd,
        obscured_sd=states.obscured_sd,
    )
    starts = np.cumsum(minutes, axis=1) - minutes if start_min is None else np.atleast_2d(start_min)
    around = np.zeros(minutes.shape[1])
    passage = Passage(60.0 * starts, 60.0 * minutes, np.asarray(speed_mps), around, around + DAYLIGHT_MIN)
    return energy, passage


def whole(energy, passage, forecast="tomorrow"):
    parts = np.zeros((1, energy.unobscured_wh.shape[1]), dtype=np.int64)
    return np.array(energy_bands_wh(energy, passage, parts, forecast))[:, 0, 0]


def kernel_mean(tau_min, minutes):
    """Variance of the mean over a window of a stationary process exp(-t/tau) of variance 1 (exact)."""
    x = minutes / tau_min
    return 2 / x * (1 - (1 - np.exp(-x)) / x)


def variance_of_sums(energy, passage, parts, unsure=0.0):
    on, when = bands.plain_arrays(energy, passage)
    most = np.full(energy.unobscured_wh.shape, np.inf)
    return bands._sums(on, most, when, parts, unsure)[..., 6]


def test_average_of_a_zero_one_process_has_the_exact_variance():
    # p = 0.5, one time constant of 5 min: published closed form, standard deviations computed from it.
    minutes = np.array([1.0, 10.0, 60.0, 240.0])
    sd = np.sqrt(0.25 * kernel_mean(5.0, minutes))
    assert_allclose(sd, [0.4839, 0.3767, 0.1954, 0.1010], atol=1e-4)
    # The recurrence with a sun that swings between 0 and 1, one term of the memory 15 min, nothing else.
    ours, rates = np.empty(4), np.zeros(3)
    for k, window in enumerate(minutes):
        kept, variance = np.zeros(5), np.zeros(2)
        amplitude = np.array([0, 0, 0.5, 0, 0])
        rates[1] = window / 15.0
        bands._advance(amplitude, rates, np.zeros(3), np.zeros(3), kept, variance)
        ours[k] = variance.sum()
    assert_allclose(ours, 0.25 * kernel_mean(15.0, minutes), rtol=1e-12)


@pytest.mark.parametrize("forecast", bands.UNSURE)
@pytest.mark.parametrize("speed_mps", [0.0, 25.0])
def test_twelve_five_minute_segments_equal_one_hour(forecast, speed_mps):
    twelve = whole(*drive(0.5, np.full(12, 5.0), clear_wh=1 / 12, speed_mps=speed_mps), forecast)
    one = whole(*drive(0.5, 60.0, speed_mps=speed_mps), forecast)
    assert_allclose(twelve, one, rtol=1e-9)


@pytest.mark.parametrize("forecast", ["known", "tomorrow"])
@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
@pytest.mark.parametrize("minutes", [20.0, 180.0, 720.0])
def test_a_level_panels_bands_are_those_of_the_drive(minutes, share, forecast):
    # Before noon of a day with the sun above 5 degrees for 12 hours; its height's sine is a constant plus the
    # hour angle's cosine, and clear light goes as that to the power of 1.15 (Adnot et al. 1979, from memory).
    after_dawn = (720.0 - minutes) / 6 + minutes / 144 * np.arange(144)
    light = (np.sin(np.pi * (after_dawn + minutes / 288) / 720) + 0.116) ** 1.15
    energy, passage = drive(share, np.full(144, minutes / 144), light / light.sum(), start_min=360 + after_dawn)
    passage = passage._replace(daylight_min=np.full(144, 720.0))
    assert_allclose(whole(energy, passage, forecast), energy_share_bands(share, minutes, forecast), rtol=2e-3)


def test_variance_agrees_with_a_simulation_of_the_same_process():
    # Gaussian processes with the module's kernels, drawn at one-minute steps from their covariance matrix:
    # three legs with a gap, changing weight and speed, correlated across them. Seeded; 40,000 draws give
    # the variance within 0.7 % (one standard error).
    minutes = np.array([20.0, 35.0, 50.0])
    starts = 500.0 + np.array([0.0, 50.0, 85.0])
    prob, speeds, clear = np.array([0.3, 0.6, 0.8]), np.array([0.0, 20.0, 5.0]), np.array([3.0, 5.0, 9.0])
    energy, passage = drive(prob, minutes, clear, speeds, start_min=starts)
    ours = variance_of_sums(energy, passage, np.zeros((1, 3), dtype=np.int64), 0.17)[0, 0]

    step = np.repeat(np.arange(3), minutes.astype(int))
    pace = (np.hypot(speeds, 10) / 10)[step]
    slow_rate = (pace - 1) / 200 + 1 / 100
    gap_before = np.where(np.diff(step, prepend=0) > 0, np.array([0.0, 30.0, 0.0])[step], 0.0)

    def covariance(rate, tau):
        clock = np.cumsum(rate + gap_before / tau)
        return np.exp(-np.abs(clock[:, None] - clock[None, :]))

    fast, mid, slow = covariance(pace / 2.5, 2.5), covariance(pace / 15, 15), covariance(slow_rate, 100)
    ones = np.ones_like(fast)
    out, hidden = energy.unobscured_wh[0] / minutes, energy.obscured_wh[0] / minutes
    both = prob * (1 - prob)
    sun = np.sqrt(both * (1 - 0.17))
    thinner = 0.52 * (1 - prob) * clear / minutes  # clouds.sun_out_states: hidden = 0.285 + 0.52 p of clear
    dull = 0.165 * clear / minutes
    bright = (0.12 - 0.08 * prob) * clear / minutes
    lasting, dulls, hazy = 0.17, 0.45 * (1 - prob), bands.HAZE_SD
    # What a day's mean tells of each minute: its covariances with all minutes of a day of 11 hours.
    day_min = np.arange(390.0, 1050.0) + 0.5
    minute = (np.repeat(starts, minutes.astype(int)) + np.concatenate([np.arange(m) for m in minutes])) + 0.5
    with_day = np.exp(-np.abs(minute[:, None] - day_min) / 100).mean(axis=1)
    of_day = np.exp(-np.abs(day_min[:, None] - day_min) / 100).mean()
    known = np.outer(with_day, with_day) / of_day
    processes = [
        (sun * (out - hidden) * np.sqrt(0.13), fast),
        (sun * (out - hidden + 0.5 * thinner) * np.sqrt(0.87), slow - known),
        (dull * np.sqrt((1 - prob) * (1 - dulls)), mid),
        (dull * (1 - prob) * np.sqrt(dulls), ones),
        (bright * np.sqrt(prob * 0.3), fast),
        (bright * np.sqrt(prob * 0.7), mid),
        (hazy * (prob * out + (1 - prob) * hidden), ones),
        (np.sqrt((both + bands.UNSURE_AT_ENDS) * lasting) * (out - hidden + thinner), ones),
    ]
    total = sum(np.outer(u[step], u[step]) * kernel for u, kernel in processes)
    values, vectors = np.linalg.eigh(total)
    draws = np.random.default_rng(7).standard_normal((40_000, len(step)))
    sums = (draws * np.sqrt(np.clip(values, 0, None))) @ vectors.sum(axis=0)
    # The steps of one minute blur the fast memory by under 0.5 %.
    assert ours == pytest.approx(sums.var(), rel=0.03)


def test_mean_and_variance_of_the_percentiles_distribution_are_those_asked_for():
    low, high, mean, variance = 2.0, 10.0, 7.0, 2.5
    y, s = (mean - low) / 8, variance / 64
    n = y * (1 - y) / s - 1
    expected = beta(y * n, (1 - y) * n, loc=low, scale=8)
    assert expected.var() == pytest.approx(variance)
    arrays = (np.array([value]) for value in (mean, variance, low, high))
    assert_allclose(np.array(beta_percentiles(*arrays))[:, 0], expected.ppf([0.1, 0.5, 0.9]), rtol=1e-10)


def test_parts_are_legs_the_whole_trip_and_driving_and_stopped():
    parts = trip_parts([0, 0, 1, 2], [False, False, True, False])
    assert parts.tolist() == [[0, 0, 1, 2], [3, 3, 3, 3], [4, 4, 5, 4]]
    energy, passage = drive([0.2, 0.4, 0.5, 0.7], np.full(4, 30.0), speed_mps=[20.0, 20.0, 0.0, 20.0])
    all_parts = np.array(energy_bands_wh(energy, passage, parts, "tomorrow"))
    assert all_parts.shape == (3, 1, 6)
    leg_0 = StateEnergy(*(np.asarray(a)[..., :2] if np.ndim(a) else a for a in energy))
    passage_0 = Passage(*(np.asarray(a)[..., :2] for a in passage))
    assert_allclose(
        all_parts[:, :, 0], np.array(energy_bands_wh(leg_0, passage_0, parts[:1, :2], "tomorrow"))[:, :, 0]
    )


def test_a_stop_between_two_driving_legs_still_counts_as_time_passed():
    # The middle segment belongs to no part: the same as an idle time of its length.
    energy, passage = drive(0.5, [30.0, 40.0, 30.0])
    skipped = energy_bands_wh(energy, passage, np.array([[0, -1, 0]]), "tomorrow")
    gap_energy, gap_passage = drive(0.5, [30.0, 30.0], start_min=[0.0, 70.0])
    assert_allclose(np.array(skipped)[:, 0, 0], whole(gap_energy, gap_passage), rtol=1e-12)


def test_legs_are_correlated_so_that_percentiles_do_not_add():
    energy, passage = drive(0.5, [60.0, 60.0])
    legs = energy_bands_wh(energy, passage, np.array([[0, 1]]), "tomorrow")
    trip = whole(energy, passage)
    assert legs.p10.sum() < trip[0] < trip[2] < legs.p90.sum()
    far = drive(0.5, [60.0, 60.0], start_min=[0.0, 6 * 60.0])
    assert np.ptp(whole(*far)) < np.ptp(trip)


def test_two_whole_days_share_three_tenths_of_what_lasts_all_day():
    # 16 hours apart the slow memory of 100 min keeps exp(-9.6) < 1e-4; the rest is the closed form.
    prob, unsure = 0.5, 0.17
    one = variance_of_sums(*drive(prob, 480.0, start_min=480.0), WHOLE, unsure)[0, 0]
    days = drive(prob, [480.0, 480.0], start_min=[480.0, 480.0 + 1440.0])
    two = variance_of_sums(*days, np.zeros((1, 2), dtype=np.int64), unsure)[0, 0]
    states = sun_out_states(prob)
    slope = states.unobscured_index - states.obscured_index + (1 - prob) * bands.HIDDEN_RISE
    lasting = (
        unsure * (prob * (1 - prob) + bands.UNSURE_AT_ENDS) * slope**2
        + bands.HIDDEN_LASTING * (1 - prob) * (states.obscured_sd * (1 - prob)) ** 2
        + (bands.HAZE_SD * (prob * states.unobscured_index + (1 - prob) * states.obscured_index)) ** 2
    )
    assert two == pytest.approx(2 * one + 2 * 0.3 * lasting, rel=1e-4)


def test_night_gives_exactly_nothing_and_adds_nothing():
    energy, passage = drive(0.5, [60.0, 60.0], clear_wh=0.0)
    assert np.all(whole(energy, passage) == 0)
    mixed, passage = drive(0.5, [60.0, 60.0], clear_wh=np.array([1.0, 0.0]))
    assert_allclose(whole(mixed, passage), whole(*drive(0.5, 60.0)), rtol=1e-12)


def test_what_is_not_known_stays_not_known_in_its_own_part():
    energy, passage = drive(0.5, [60.0, 60.0], clear_wh=np.array([1.0, np.nan]))
    legs = energy_bands_wh(energy, passage, np.array([[0, 1]]), "tomorrow")
    assert np.all(np.isfinite(np.array(legs)[:, 0, 0])) and np.all(np.isnan(np.array(legs)[:, 0, 1]))


@pytest.mark.parametrize("minutes", [5.0, 60.0, 180.0])
def test_in_deep_shade_where_clouds_brighten_the_dome_the_mean_lies_within_the_bands(minutes):
    # No beam reaches the panel: with the sun out only the clear sky's diffuse tenth, hidden the clouds' own.
    energy, passage = drive(0.5, minutes)
    shaded = energy._replace(unobscured_wh=0.12 * np.ones((1, 1)), obscured_wh=energy.obscured_wh)
    mean = float(energy.sun_out_prob[0, 0] * 0.12 + (1 - energy.sun_out_prob[0, 0]) * energy.obscured_wh[0, 0])
    p10, p50, p90 = whole(shaded, passage)
    assert p10 < 0.9 * mean and p10 < p50 < p90 and p90 > 1.1 * mean


def test_a_controllers_limit_caps_the_top():
    energy, passage = drive(0.9, 60.0)
    capped = whole(energy._replace(most_wh=np.array([[0.95]])), passage)
    free = whole(energy, passage)
    assert capped[2] <= 0.95 < free[2]


def test_twice_the_panel_gives_twice_the_bands():
    energy, passage = drive(0.4, [20.0, 70.0])
    double = energy._replace(unobscured_wh=2 * energy.unobscured_wh, obscured_wh=2 * energy.obscured_wh)
    assert_allclose(whole(double, passage), 2 * whole(energy, passage), rtol=1e-12)


@pytest.mark.parametrize("share", [0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0])
def test_bands_widen_with_doubt_and_shrink_with_time_and_speed(share):
    def width(*arguments):
        low, _, high = energy_share_bands(share, *arguments)
        return high - low

    doubt = [width(180, word) for word in ("known", "today", "tomorrow", "week", "climate")]
    assert doubt == sorted(doubt)
    times = [width(minutes, "tomorrow") for minutes in (10, 30, 60, 180, 600)]
    assert times == sorted(times, reverse=True)
    assert width(60, "tomorrow", 25.0) < width(60, "tomorrow")


def test_more_sunshine_means_more_energy_except_for_the_brightest_minutes_between_clouds():
    low, middle, high = energy_share_bands(np.linspace(0, 1, 21), 60, "tomorrow")
    # Between no sunshine and a tenth the doubt grows as fast as the energy: the low side stays, within 0.02.
    assert np.all(np.diff(low[:3]) > -0.02) and np.all(np.diff(low[2:]) > 0)
    assert np.all(np.diff(middle) > -0.01)
    assert np.all(high < 1.1)


def test_arguments_broadcast_and_missing_stays_missing():
    bands_ = energy_share_bands(np.array([[0.2], [np.nan]]), [30.0, 60.0, 90.0], "today")
    assert isinstance(bands_, EnergyBands) and bands_.p10.shape == (2, 3)
    assert np.all(np.isfinite(bands_.p50[0])) and np.all(np.isnan(bands_.p50[1]))


def test_nonsense_is_refused():
    with pytest.raises(UsageError, match="known, today, tomorrow, week, climate"):
        energy_share_bands(0.5, 60, "soon")
    with pytest.raises(UsageError, match="0-1"):
        energy_share_bands(50, 60, "today")
    with pytest.raises(UsageError, match="minutes"):
        energy_share_bands(0.5, 0, "today")
