"""Our elementary functions against numpy's in extended precision (x86's long double: 64 bits for 53)."""

import numpy as np
import pytest

from routesolar.physics import elementary
from routesolar.physics.compiled import compiled

PI = np.longdouble("3.14159265358979323846264338327950288")
LAST_PLACE = 2.0**-52


def spread(low: float, high: float, count: int = 4001) -> np.ndarray:
    return np.random.default_rng(3).uniform(low, high, count)


def off(ours: np.ndarray, exact: np.ndarray) -> float:
    """The largest error in units of the last place of a double."""
    return float(np.max(np.abs(ours - exact) / (np.abs(exact) * LAST_PLACE)))


def each(function, *values) -> np.ndarray:  # type: ignore[no-untyped-def]
    return np.array([function(*one) for one in zip(*values, strict=True)])


@pytest.mark.parametrize("most", [1e-6, 0.34, 0.36, 30.0, 699.0])
def test_exponentials(most):
    x = spread(-most, most)
    long = x.astype(np.longdouble)
    assert off(each(elementary.exponential, x), np.exp(long)) < 2
    assert off(each(elementary.exponential_less_one, x), np.expm1(long)) < 5


@pytest.mark.parametrize("most", [1e-6, 0.3, 1.0, 600.0])
def test_logarithms_near_one_and_far(most):
    x = np.exp(spread(-most, most))
    exact = np.log(x.astype(np.longdouble))
    assert off(each(elementary.logarithm, x), exact) < 2


@pytest.mark.parametrize("exponent", [-1.6364, 0.26, 1.01, 5.25588])
def test_powers(exponent):
    # An error of the logarithm grows by the size of what is raised: some ten units at 1e30.
    base = np.exp(spread(-5.0, 9.0))
    ours = each(elementary.power, base, np.full_like(base, exponent))
    assert off(ours, base.astype(np.longdouble) ** np.longdouble(exponent)) < 50


def test_sine_and_cosine_of_many_turns():
    angle_deg = spread(-1500.0, 1500.0)
    ours = each(elementary.sine_cosine, angle_deg)
    radians = angle_deg.astype(np.longdouble) * PI / 180
    for found, exact in zip(ours.T, (np.sin(radians), np.cos(radians)), strict=True):
        assert np.abs(found - exact).max() < LAST_PLACE


def test_quarters_of_a_turn_are_exact():
    for quarters, known in enumerate([(0, 1), (1, 0), (0, -1), (-1, 0), (0, 1)]):
        assert elementary.sine_cosine(90.0 * quarters) == known
        assert elementary.sine_cosine(-90.0 * quarters) == (-known[0], known[1])


def test_angles_all_around_and_close_to_the_axes():
    for size in (1.0, 1e-9):
        y, x = spread(-size, size), spread(-1.0, 1.0)[::-1]
        exact = np.arctan2(y.astype(np.longdouble), x.astype(np.longdouble)) * 180 / PI
        assert off(each(elementary.angle_deg, y, x), exact) < 5


def test_angles_on_the_axes():
    points = [(0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 0.0)]
    found = [elementary.angle_deg(*point) for point in points]
    assert found == pytest.approx([0.0, 90.0, 180.0, -90.0, 0.0], rel=1e-15)


def test_ends_of_what_is_known():
    assert elementary.exponential(-1e9) < 1e-300
    assert elementary.exponential(0.0) == 1.0
    assert elementary.logarithm(1.0) == 0.0
    assert elementary.power(0.0, 2.5) == 0.0
    assert elementary.power(1.0, 2.5) == 1.0
    for function in (elementary.exponential, elementary.exponential_less_one, elementary.logarithm):
        assert np.isnan(function(np.nan))
    assert np.isnan(elementary.power(np.nan, 2.0))
    assert np.isnan(elementary.sine_cosine(np.nan)).all()
    assert np.isnan([elementary.angle_deg(np.nan, 1.0), elementary.angle_deg(1.0, np.nan)]).all()


@pytest.mark.compiled
def test_a_loop_over_them_gives_the_same_bits_as_one_at_a_time():
    @compiled
    def loop(x, out):  # type: ignore[no-untyped-def]
        for j in range(len(x)):
            out[j] = elementary.power(x[j], 0.84) + elementary.sine_cosine(x[j])[0]

    x = spread(0.1, 80.0)
    out = np.empty_like(x)
    loop(x, out)
    alone = [elementary.power(one, 0.84) + elementary.sine_cosine(one)[0] for one in x]
    assert np.array_equal(out, alone)
