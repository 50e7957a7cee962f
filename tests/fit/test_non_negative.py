"""Least squares without negative coefficients against `scipy.optimize.nnls`, from any start, and along a line."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import nnls

from decay.fit.non_negative import Along, NonNegative


def problem(seed, count=40):
    """Return sources that level off as columns, whitened readings of two of them, and a line (synthetic)."""
    rng = np.random.default_rng(seed)
    time = np.linspace(0.0, 1.0, 50)
    columns = -np.expm1(-time / np.geomspace(1e-3, 10.0, count)[:, None])
    columns /= np.linalg.norm(columns, axis=1, keepdims=True)
    target = 10.0 ** rng.uniform(0.0, 4.0) * (columns[rng.integers(count)] + 0.3 * columns[rng.integers(count)])
    return columns, target + rng.normal(size=50), time


@pytest.mark.parametrize("seed", range(12))
def test_it_finds_what_another_solver_finds(seed):
    columns, target, _ = problem(seed)
    wanted, rest = nnls(columns.T, target)
    for start in (None, np.ones(len(columns)), np.roll(wanted, 1)):
        found, left = NonNegative(columns, start).fit(target)
        assert left == pytest.approx(rest, rel=1e-9)
        assert found == pytest.approx(wanted, rel=1e-5, abs=1e-6 * wanted.max())
        assert found.min() >= 0.0


def test_columns_in_use_serve_for_the_next_target():
    columns, target, _ = problem(3)
    solver = NonNegative(columns)
    for factor in (1.0, -1.0, 0.0, 2.0):
        found, left = solver.fit(factor * target)
        wanted, rest = nnls(columns.T, factor * target)
        assert left == pytest.approx(rest, rel=1e-9, abs=1e-9)
        assert found.sum() == pytest.approx(wanted.sum(), rel=1e-6, abs=1e-9)


def test_alike_columns_and_columns_of_nothing_do_no_harm():
    columns = np.array([[1.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    found, left = NonNegative(columns, np.ones(4)).fit(np.array([2.0, -1.0, 3.0]))
    assert found[:2].sum() == pytest.approx(2.0)
    assert found[3] == 0.0
    assert left == pytest.approx(10.0**0.5)


@pytest.mark.parametrize("seed", range(6))
def test_the_misfit_along_a_line_of_targets_is_that_of_each(seed):
    columns, target, line = problem(seed)
    along = Along(NonNegative(columns), target, -line)
    size = float(np.linalg.norm(target))
    for x in np.concatenate((np.linspace(-size, size, 41), [0.0], np.linspace(-1.0, 1.0, 21))):
        assert along(x) == pytest.approx(nnls(columns.T, target - x * line)[1] ** 2, rel=1e-7, abs=1e-9 * size)
