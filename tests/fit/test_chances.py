"""Distributions against `scipy.special`, and Student's quantiles against a printed table."""

from __future__ import annotations

import pytest
from scipy import special

from decay.fit.chances import (
    chi_squared_quantile,
    chi_squared_tail,
    normal_probability,
    normal_quantile,
    students_quantile,
)

LEVELS = (0.6, 0.9, 0.95, 0.975, 0.995, 0.9999, 1 - 1e-9)


def test_the_normal_distribution():
    for p in (*LEVELS, 0.4, 1e-3, 1e-12):
        assert normal_quantile(p) == pytest.approx(special.ndtri(p), rel=1e-12)
        assert normal_probability(special.ndtri(p)) == pytest.approx(p, rel=1e-12)


def test_chi_squared():
    for freedom in (1, 2, 3, 4, 9, 48, 199):
        for x in (0.0, 1e-9, 0.5, 3.84, 50.0, 300.0, 1e4):
            assert chi_squared_tail(freedom, x) == pytest.approx(special.chdtrc(freedom, x), rel=1e-11, abs=1e-200)
    for p in LEVELS:
        for freedom in (1, 2):
            assert chi_squared_quantile(freedom, p) == pytest.approx(special.chdtri(freedom, 1 - p), rel=1e-11)


def test_students_quantile():
    for freedom in (1.0, 1.3, 2.0, 7.7, 40.0, 800.0, 1999.0, 2000.0, 3600.0, 1e7):
        for p in LEVELS:
            assert students_quantile(freedom, p) == pytest.approx(special.stdtrit(freedom, p), rel=1e-9)


@pytest.mark.parametrize(("freedom", "quantile"), [(1, 12.706), (2, 4.303), (5, 2.571), (10, 2.228), (30, 2.042),
                                                   (100, 1.984)])
def test_students_quantile_for_95_percent_as_printed(freedom, quantile):
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, column 0.975."""
    assert students_quantile(freedom, 0.975) == pytest.approx(quantile, abs=5e-4)
