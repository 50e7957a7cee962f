"""What many jobs show together: real worsening is told, chance and few jobs are not."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import kendalltau

from decay.audit.trend import CHANCE, FEWEST_JOBS, Jobs, findings, rising_by_chance, trend


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("digits", [0, 6])
def test_probability_agrees_with_a_reference_library(seed, digits):
    # scipy.stats.kendalltau, its asymptotic method, on values against their order: the same statistic, but it leaves
    # out the correction for continuity, which is undone here by taking both at the same z.
    values = np.round(np.random.default_rng(seed).normal(10.0, 1.5, 25) + 0.05 * np.arange(25), digits)
    n = len(values)
    score = sum(np.sign(values[j] - values[i]) for i in range(n) for j in range(i + 1, n))
    reference = kendalltau(np.arange(n), values, method="asymptotic", alternative="greater")
    if score <= 0:
        assert rising_by_chance(values) >= 0.5
        return
    from scipy.special import ndtr, ndtri

    z = -ndtri(reference.pvalue) * (score - 1.0) / score
    assert rising_by_chance(values) == pytest.approx(ndtr(-z), rel=1e-9)


def test_jobs_without_a_trend_seldom_have_one():
    random = np.random.default_rng(7)
    runs = 2000
    # Median and spread as of times to a target in minutes; jobs independent.
    seen = sum(trend(random.lognormal(2.5, 0.4, 20)).is_worse for _ in range(runs))
    # 1 % at most, and three standard errors of the count.
    assert seen <= runs * CHANCE + 3 * np.sqrt(runs * CHANCE)


def test_a_rig_that_gets_half_as_slow_again_is_seen():
    random = np.random.default_rng(8)
    seen = [trend(random.lognormal(2.5, 0.1, 20) * np.linspace(1.0, 1.6, 20)).is_worse for _ in range(100)]
    assert sum(seen) > 90


def test_small_changes_and_few_jobs_are_not_told():
    assert not trend(np.linspace(10.0, 11.0, 40)).is_worse  # certain, and too small to matter
    assert trend(np.linspace(10.0, 20.0, FEWEST_JOBS - 1)) is None
    assert trend(np.full(20, np.nan)) is None
    assert not trend(np.full(20, 3.0)).is_worse
    assert not trend(np.linspace(20.0, 10.0, 20)).is_worse  # it got better


def test_jobs_are_in_the_order_of_their_clocks_where_all_have_one():
    def record(started, value):
        return {"log_started": started, "time_to_target_s": value, "lowest_micron": None}

    jobs = Jobs()
    jobs.add(record("2026-03-02T10:00:00", 2.0), 0)
    jobs.add(record("2026-03-01T10:00:00+02:00", 1.0), 1)
    assert jobs.order == ("clock", [1, 0])
    jobs.add(record(None, 3.0), 2)
    assert jobs.order == ("path", range(3))


def test_findings_name_group_and_numbers():
    worse, fine = trend(np.linspace(600.0, 1200.0, 12)), trend(np.linspace(600.0, 610.0, 12))
    (slower,) = findings("rig 3", worse, fine)
    assert slower[0] == "A05"
    assert "rig 3" in slower[1]
    assert "12 jobs" in slower[1]
    assert [code for code, _ in findings("rig 3", worse, worse)] == ["A05", "A06"]
    assert findings("rig 3", None, fine) == []
