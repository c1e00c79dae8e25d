"""Beside scipy.special, a general reference library; the least levels are those that percentiles ask for."""

import numpy as np
import pytest
from scipy import special

from routesolar.physics.distributions import beta_cdf, beta_inverse, dawson, normal_cdf, normal_quantile

CHANCES = np.concatenate([10.0 ** -np.arange(1, 13), np.linspace(0.01, 0.99, 99)])


def test_the_normal_distribution_is_that_of_the_reference():
    deviations = np.linspace(-8, 8, 161)
    np.testing.assert_allclose(normal_cdf(deviations), special.ndtr(deviations), rtol=1e-12)
    np.testing.assert_allclose(normal_quantile(CHANCES), special.ndtri(CHANCES), rtol=1e-12, atol=1e-15)
    np.testing.assert_allclose(normal_quantile([0.0, 1.0]), [-np.inf, np.inf])


@pytest.mark.parametrize(("most", "near"), [(1.0, 1e-12), (1e3, 1e-12), (1e5, 1e-9)])
def test_the_beta_distribution_is_that_of_the_reference(most, near):
    a, b = np.exp(np.random.default_rng(1).uniform(np.log(0.2), np.log(most), (2, 300, 1)))
    levels = np.array([1e-3, 0.1, 0.5, 0.9, 0.999])
    quantile = special.betaincinv(a, b, levels)
    told = (quantile > 1e-280) & (quantile < 1 - 1e-9)  # beyond, the share itself is rounded
    found = beta_inverse(a, b, levels)
    np.testing.assert_allclose(found[told], quantile[told], rtol=near)
    np.testing.assert_allclose(beta_cdf(a, b, quantile)[told], special.betainc(a, b, quantile)[told], rtol=near)


def test_a_beta_number_of_two_equal_exponents_of_one_is_even():
    levels = np.linspace(0, 1, 11)
    np.testing.assert_allclose(beta_inverse(1.0, 1.0, levels), levels, rtol=1e-12)
    np.testing.assert_allclose(beta_cdf(1.0, 1.0, levels), levels, rtol=1e-12)


def test_dawsons_integral_is_that_of_the_reference():
    x = np.linspace(1e-3, 3, 60)
    np.testing.assert_allclose(dawson(x), special.dawsn(x), rtol=1e-12)


def test_what_is_not_known_stays_so():
    assert np.isnan(beta_inverse([np.nan, 2.0], [1.0, np.nan], 0.5)).all()
    assert np.isnan(beta_cdf(2.0, 1.0, np.nan))
    assert np.isnan(normal_quantile(np.nan))
    assert np.isnan(normal_cdf(np.nan))
