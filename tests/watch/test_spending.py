"""The error rate that looks share, against another integrator and against drawn sequences."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtri
from scipy.stats import multivariate_normal

from decay.errors import RangeError
from decay.watch.spending import ALPHA, GROWTH, level_of, spent, students_level

GAIN = 5.0  # information on a leak over the hold's length, as a power


def boundaries(count):
    """Return the quantiles of the first looks. [-]"""
    return ndtri(0.5 + 0.5 * np.array([level_of(k) for k in range(1, count + 1)]))


def test_no_more_is_spent_than_there_is():
    shares = [spent(k) for k in range(200)]
    assert shares[0] == 0.0
    assert np.all(np.diff(shares) > 0)
    assert shares[-1] < ALPHA
    assert all(0.95 < level_of(k) < 1.0 for k in (1, 5, 30, 60))
    for wrong in ((0,), (1, 0.0), (1, 0.05, 1.0)):
        with pytest.raises(RangeError):
            level_of(*wrong)


@pytest.mark.parametrize("count", [1, 2, 3, 5])
def test_the_looks_together_err_as_often_as_is_spent(count):
    """Against scipy's integral of the joint normal distribution, statistics of growing information."""
    information = GROWTH ** (GAIN * np.arange(count))
    correlation = np.sqrt(np.minimum.outer(information, information) / np.maximum.outer(information, information))
    within = multivariate_normal(np.zeros(count), correlation).cdf(boundaries(count))
    assert 1.0 - within == pytest.approx(spent(count), abs=2e-4)


def test_many_looks_keep_the_rate_in_drawn_sequences():
    rng = np.random.default_rng(7)
    kept = GROWTH ** (-GAIN / 2)
    z = rng.standard_normal(40_000)
    has_erred = np.zeros(len(z), bool)
    for k, boundary in enumerate(boundaries(26)):
        if k:
            z = kept * z + np.sqrt(1 - kept**2) * rng.standard_normal(len(z))
        has_erred |= z > boundary
    # Of 40,000 at 4.8 %, three standard deviations are 0.32 %.
    assert has_erred.mean() == pytest.approx(spent(26), abs=0.0035)


def test_later_looks_lose_less_than_by_bonferroni():
    """At no look more is lost, and ever less from the second on; no source, but the rule that was before."""
    before = ndtri(1.0 - 0.025 / np.array([k * (k + 1) for k in range(1, 27)]))
    now = boundaries(26)
    assert now[0] == pytest.approx(before[0], abs=2e-3)
    assert np.all(now[1:] < before[1:])
    assert now[4] / before[4] < 0.86  # at twelve minutes


def test_student_s_quantile_widens_young_holds():
    """Student's two-sided 5 % point for 5 degrees of freedom is 2.571, for a normal distribution 1.960 (any table)."""
    quantile = ndtri(0.5 + students_level(0.95, 300.0) / 2)
    assert quantile == pytest.approx(2.571, abs=0.001)
    assert students_level(0.975, 300.0) > students_level(0.975, 3600.0) > 0.975
