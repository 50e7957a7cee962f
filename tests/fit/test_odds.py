"""The odds of a leak: their integrals against brute force and a worked example, and what they say of invented holds."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import solve_ivp, trapezoid
from scipy.stats import norm

from decay.fit import evidence, odds
from decay.fit.bins import absorbed_power_columns, bin_readings
from decay.fit.evidence import Size
from decay.fit.measured import measure
from decay.fit.odds import Grade, odds_of_leak
from tests.bench.odds_score import graded

from .holds import hold_log, levelling, steady, together

ROWS = 30
SIZE, RATE = Size(1.0, 300.0), Size(0.5, 200.0)


def logs_of(size, points):
    return np.linspace(np.log(size.low), np.log(size.high), points)


def mean_by_brute_force(misfit, *grids):
    """Return the log of the prior's mean of exp(-misfit/2), by trapezoids on a dense grid of logarithms."""
    least = misfit.min()
    total = np.exp(-0.5 * (misfit - least))
    for grid in reversed(grids):
        total = trapezoid(total, grid, axis=-1) / (grid[-1] - grid[0])
    return -0.5 * least + np.log(total)


def invented(seed):
    """Return whitened readings, the column of a source and a line: sizes, slowness and noise by chance."""
    rng = np.random.default_rng(seed)
    time = np.linspace(0.0, 1.0, ROWS)
    column = -np.expm1(-time / np.exp(rng.uniform(np.log(0.1), np.log(15.0))))
    noise = np.exp(rng.uniform(np.log(0.3), np.log(30.0)))
    rate = RATE.at(rng.random()) if rng.random() < 0.5 else 0.0
    readings = SIZE.at(rng.random()) * column + rate * time + rng.normal(0.0, noise, ROWS)
    return tuple((x - x.mean()) / noise for x in (readings, column, time))


@pytest.mark.parametrize("seed", range(12))
def test_one_unknown_size_against_brute_force(seed):
    left, column, _ = invented(seed)
    grid = logs_of(SIZE, 20_001)
    misfit = np.sum((left - np.exp(grid)[:, None] * column) ** 2, axis=1)
    assert evidence.of_one(left[None], column, SIZE)[0] == pytest.approx(mean_by_brute_force(misfit, grid), abs=0.02)


@pytest.mark.parametrize("seed", range(12))
def test_two_unknown_sizes_against_brute_force(seed):
    left, column, line = invented(seed)
    first, second = logs_of(SIZE, 1501), logs_of(RATE, 1501)
    a, b = np.exp(first)[:, None], np.exp(second)[None, :]
    misfit = (
        left @ left - 2 * a * (left @ column) - 2 * b * (left @ line)
        + a**2 * (column @ column) + b**2 * (line @ line) + 2 * a * b * (column @ line)
    )
    found = evidence.of_two(left[None], column[None], SIZE, line, RATE)[0]
    assert found == pytest.approx(mean_by_brute_force(misfit, first, second), abs=0.05)


def test_a_size_that_the_readings_say_nothing_of_leaves_the_evidence_alone():
    left = np.array([[1.0, -2.0, 0.5]])
    for mark in (1e-9, 0.0):
        nothing = np.full(3, mark)
        assert evidence.of_one(left, nothing, SIZE)[0] == pytest.approx(evidence.of_none(left)[0], rel=1e-6)
        with_line = evidence.of_two(left, nothing[None], SIZE, np.arange(3.0), RATE)
        assert with_line[0] == pytest.approx(evidence.of_one(left, np.arange(3.0), RATE)[0], abs=0.05)


def test_lindleys_paradox():
    """49,581 boys among 98,451 births: one half or any share alike? Even odds beforehand become 0.95 for one half.

    Source: "Lindley's paradox", Wikipedia (0.9505 with the binomial law; the normal law for such numbers here). The
    even prior of the share is put together from slices that are narrow enough to be uniform in the logarithm as well.
    """
    births, boys = 98_451, 49_581
    error = np.sqrt(births / 4.0)
    left = np.array([[boys / error]])
    slices = np.linspace(0.48, 0.53, 401)
    logs = np.array([
        evidence.of_one(left, np.array([births / error]), Size(low, high))[0]
        for low, high in pairwise(slices)
    ])
    for_any = evidence.mean_of_exponentials(logs, np.diff(slices))
    for_half = norm.logpdf(boys, births / 2, error) - norm.logpdf(0.0, 0.0, error)
    assert 1.0 / (1.0 + np.exp(for_any - for_half)) == pytest.approx(0.9505, abs=0.001)


@pytest.mark.parametrize("exponent", [0.5, 1.0, 1.1])
def test_walls_beside_a_pool_in_equilibrium_against_scipys_integration(exponent):
    """p' = t^-n - p/tau from isolation on, and the integral of p by the same solver: bins hold its mean."""
    time, age, times = np.arange(20.0, 1800.0, 2.0), 2400.0, np.array([90.0, 1800.0])
    bins = bin_readings(time, np.zeros_like(time), np.ones_like(time))
    columns = absorbed_power_columns(bins, np.array([age]), np.array([exponent]), times)[:, 0]
    for column, tau in zip(columns.T, times, strict=True):
        def change(t, state, tau=tau):
            return ((age + t) / 3600.0) ** -exponent - state[0] / tau, state[0]

        area = solve_ivp(change, (0.0, 1800.0), (0.0, 0.0), rtol=1e-9, atol=1e-9, dense_output=True).sol
        mean = (area(bins.right)[1] - area(bins.left)[1]) / (bins.right - bins.left)
        assert column == pytest.approx(mean, rel=2e-3, abs=0.1)


def odds_of(rise, **changes):
    """Return the odds of an invented hold after half an hour of pumping."""
    log, phase = hold_log(rise, **changes)
    return odds_of_leak(measure(log, phase, 296.0, 2.0), 1800.0)


def test_a_bend_before_a_long_straight_rise_speaks_for_a_leak():
    found = odds_of(together(levelling(80.0, 120.0), steady(8.0)), length=3600.0)
    assert found.grade is Grade.LIKELY


def test_a_rise_that_levels_off_within_the_hold_speaks_against_one():
    found = odds_of(levelling(120.0, 500.0), length=3600.0)
    assert found.grade is Grade.UNLIKELY


def test_a_straight_rise_that_a_slow_pool_makes_as_well_stays_open():
    found = odds_of(steady(6.0), length=600.0, noise=6.0)
    assert found.grade is Grade.OPEN
    assert 0.2 < found.probability < 0.8


def test_what_takes_up_the_walls_vapour_leaves_a_steady_rise_to_the_leak(monkeypatch):
    log, phase = hold_log(together(levelling(300.0, 200.0), steady(3.0)), length=1800.0)
    hold = measure(log, phase, 296.0, 2.0)
    factors = []
    for share in (0.0, odds.TAKES_UP_SHARE, 1.0):
        monkeypatch.setattr(odds, "TAKES_UP_SHARE", share)
        factors.append(odds_of_leak(hold, 1800.0).log_bayes_factor)
    assert factors[0] + 0.3 < factors[1] < factors[2] - 1.0


def test_three_times_the_shapes_grade_the_same(monkeypatch):
    """Two pools and hardly a leak: boxes about the best of 300 shapes once had 0.98 of such a hold."""
    rise = together(levelling(150.0, 400.0), levelling(40.0, 1500.0), steady(0.2))
    log, phase = hold_log(rise, length=1800.0, noise=0.6)
    hold = measure(log, phase, 296.0, 2.0)
    found = odds_of_leak(hold, 1800.0)
    monkeypatch.setattr(odds, "_SHAPES", {n: 3 * shapes for n, shapes in odds._SHAPES.items()})
    more = odds_of_leak(hold, 1800.0)
    assert found.grade is more.grade is Grade.UNLIKELY
    assert more.log_bayes_factor == pytest.approx(found.log_bayes_factor, abs=1.0)


def test_a_ridge_of_shapes_is_summed_and_not_its_highest_box():
    """Sixteen times the shapes have -0.6 here; boxes about the best one had +5.8."""
    log, phase = hold_log(together(levelling(60.0, 200.0), steady(2.0)))
    found = odds_of_leak(measure(log, phase, 296.0, 2.0), 1800.0)
    assert found.log_bayes_factor == pytest.approx(-0.6, abs=0.8)


def test_a_tight_damp_system_is_not_called_leaking_for_want_of_shapes():
    """Synthetic, drawn from the priors: the usual shapes miss where its walls and pool fit, and say 0.99."""
    found = graded("damp_walls", 96050)
    assert not found.is_leaky
    assert found.odds == pytest.approx(0.19, abs=0.05)


def test_the_same_hold_has_the_same_odds_and_an_unknown_pull_is_less_sure_of_them():
    rise = together(levelling(60.0, 200.0), steady(2.0))
    assert odds_of(rise) == odds_of(rise)
    log, phase = hold_log(together(levelling(150.0, 400.0), levelling(40.0, 1500.0), steady(0.5)),
                          length=1800.0, noise=0.6)
    hold = measure(log, phase, 296.0, 2.0)
    # After a long pull even damp walls fade so slowly that they look straight.
    assert abs(odds_of_leak(hold, None).log_bayes_factor) < abs(odds_of_leak(hold, 1800.0).log_bayes_factor)
