"""Quantiles and tails against printed tables: which tail is meant, and in which order the numbers go."""

from __future__ import annotations

import pytest

from decay.fit.chances import (
    chi_squared_quantile,
    chi_squared_tail,
    normal_probability,
    normal_quantile,
    students_quantile,
)


@pytest.mark.parametrize(("freedom", "quantile"), [(1, 12.706), (2, 4.303), (5, 2.571), (10, 2.228), (30, 2.042),
                                                   (100, 1.984)])
def test_students_quantile_for_95_percent_as_printed(freedom, quantile):
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, column 0.975."""
    assert students_quantile(freedom, 0.975) == pytest.approx(quantile, abs=5e-4)


@pytest.mark.parametrize(("freedom", "quantile"), [(1, 3.841), (2, 5.991), (5, 11.070), (10, 18.307), (50, 67.505)])
def test_chi_squared_for_95_percent_as_printed(freedom, quantile):
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4, upper-tail critical values, column 0.95."""
    assert chi_squared_quantile(freedom, 0.95) == pytest.approx(quantile, abs=5e-4)
    assert chi_squared_tail(freedom, quantile) == pytest.approx(0.05, abs=5e-5)


@pytest.mark.parametrize(("value", "probability"), [(0.0, 0.5), (1.0, 0.84134), (1.96, 0.97500), (2.58, 0.99506)])
def test_the_normal_distribution_as_printed(value, probability):
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.1; the area from zero there, plus one half."""
    assert normal_probability(value) == pytest.approx(probability, abs=5e-6)
    assert normal_quantile(probability) == pytest.approx(value, abs=5e-4)
