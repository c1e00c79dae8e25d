"""Clouds that several drives share."""

import numpy as np
import pytest

from routesolar.physics.bands import EnergyMoments
from routesolar.physics.shared_sky import (
    Trace,
    beats_frac,
    correlation,
    correlation_with,
    shared_covariance,
    win_frac,
)

STAGE_MIN = 2.0
SLOW, PASSING, LASTING = 1, 2, 2  # the sun's slow term, the hidden sky's passing one, and its lasting one


def parked(start_min: float, *, north_deg: float = 0.0, stages: int = 60, term: int | None = SLOW) -> Trace:
    """Parked from a minute on, with one kind of doubt of 1 Wh a stage."""
    passing, lasting = np.zeros((stages, 5)), np.zeros((stages, 4))
    if term is None:
        lasting[:, LASTING] = 1.0
    else:
        passing[:, term] = 1.0
    middle = start_min + STAGE_MIN * (np.arange(stages) + 0.5)
    place = np.full(stages, 46.0 + north_deg)
    return Trace(place, np.full(stages, 7.0), middle, np.floor(middle / 1440), passing, lasting)


def shared_by_exponentials(minutes: float, apart_min: float, memory_min: float) -> float:
    """Covariance of two integrals of exp(-|t|/memory) over equal spans that start `apart_min` from each other.

    The closed form of the double integral of the kernel, by its second antiderivative.
    """

    def twice(t: float) -> float:
        return memory_min**2 * np.exp(-abs(t) / memory_min) + memory_min * abs(t)

    return (twice(apart_min + minutes) + twice(apart_min - minutes) - 2 * twice(apart_min)) / STAGE_MIN**2


@pytest.mark.parametrize("apart_min", [0.0, 40.0, 120.0, 300.0])
def test_what_passes_is_shared_as_far_as_its_memory_reaches(apart_min):
    # Slow memory 100 min (physics.bands); stages of 2 min leave 1e-4.
    both = shared_covariance([parked(500.0), parked(500.0 + apart_min)])
    assert both[0, 1] == pytest.approx(shared_by_exponentials(120.0, apart_min, 100.0), rel=3e-4)
    assert both[0, 0] == pytest.approx(shared_by_exponentials(120.0, 0.0, 100.0), rel=3e-4)


def test_distance_counts_as_the_time_the_clouds_take_to_drift_it():
    # 10 m/s: 60 km are 100 min of drift; half of the slow memory fades by drift, half by time alone.
    north_deg = 60.0 / 111.18  # km per degree at 46 N (WGS 84, Snyder's formula: 111.15)
    here, there = parked(500.0, stages=1), parked(500.0, stages=1, north_deg=north_deg)
    shared = shared_covariance([here, there])
    assert shared[0, 1] == pytest.approx(np.exp(-0.5), rel=1e-3)


def test_what_lasts_is_the_same_all_day_and_little_the_next():
    here, later = parked(100.0, term=None), parked(900.0, term=None, north_deg=3.0)
    tomorrow = parked(100.0 + 1440, term=None)
    shared = correlation(shared_covariance([here, later, tomorrow]))
    assert shared[0, 1] == pytest.approx(1.0, abs=1e-12)
    assert shared[0, 2] == pytest.approx(0.3, abs=1e-12)  # bands.NEXT_DAY_CORRELATION; measured 0.36 at Payerne


def test_the_antimeridian_does_not_part_two_drives():
    west, east = (parked(500.0)._replace(longitude_deg=np.full(60, lon)) for lon in (179.999, -179.999))
    assert correlation_with(west, [east])[0] > 0.99


def beta(mean: float, sd: float, low: float = 0.0, high: float = 100.0, count: int = 1) -> list[np.ndarray]:
    return [np.full(count, value) for value in (mean, sd**2, low, high)]


def pair(one: list[np.ndarray], other: list[np.ndarray]) -> EnergyMoments:
    return EnergyMoments(*(np.concatenate(fields) for fields in zip(one, other, strict=True)))


def test_a_drive_compared_with_itself_ties_exactly():
    here = parked(500.0, term=PASSING)
    covariance = shared_covariance([here, here])
    same = pair(beta(50, 15), beta(50, 15))
    assert win_frac(same, correlation(covariance), 1).tolist() == [0.5, 0.5]
    assert beats_frac(same, 0, correlation_with(here, [here, here])).tolist() == [0.5, 0.5]


def test_three_same_drives_share_the_win():
    covariance = shared_covariance([parked(500.0)] * 3)
    same = EnergyMoments(*beta(50, 15, count=3))
    assert win_frac(same, correlation(covariance), 1) == pytest.approx([1 / 3] * 3, abs=1e-12)


def test_nothing_ties_with_nothing_and_loses_to_anything():
    night, day = beta(0, 0, 0, 0), beta(50, 15)
    unshared = np.eye(2)
    assert win_frac(pair(night, night), unshared, 1).tolist() == [0.5, 0.5]
    assert win_frac(pair(night, day), unshared, 1).tolist() == [0.0, 1.0]
    assert beats_frac(pair(day, night), 0, np.array([1.0, 0.0]))[1] == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize("shared", [0.0, 0.6, 0.95])
def test_chances_are_those_of_two_normals_where_the_bounds_are_far(shared):
    # Narrow Beta distributions in the middle of wide bounds are normal; the difference of two normals is too.
    from scipy.special import ndtr

    moments = pair(beta(500, 5, 0, 1000), beta(503, 4, 0, 1000))
    expected = ndtr(-3 / np.sqrt(25 + 16 - 2 * shared * 20))
    matrix = np.array([[1.0, shared], [shared, 1.0]])
    assert beats_frac(moments, 0, np.array([1.0, shared]))[1] == pytest.approx(expected, abs=0.003)
    assert win_frac(moments, matrix, 7)[0] == pytest.approx(expected, abs=0.012)  # three standard errors


def test_a_small_advantage_is_sure_when_the_sky_is_shared():
    # 2 Wh of 50 are nothing between two days, and much between two roads under the same clouds.
    moments = pair(beta(52, 15), beta(50, 15))
    apart, together = (beats_frac(moments, 0, np.array([1.0, shared]))[1] for shared in (0.0, 0.995))
    assert apart < 0.6 < 0.85 < together
