"""The running sums of the cut search against plain least squares, and its running median against numpy's."""

from __future__ import annotations

import numpy as np
import pytest

from decay.arrays import running_median
from decay.phases.cuts import corner_costs, line_cost

SETTLING = np.array([0.8, 2.4, 6.0, 12.0])
LAGS = np.array([1.0, 2.5, 5.0])


def invented(seed, *, count=60, interval=2.0, closed=30):
    """Return times with jitter, and pressures that fall, jump and rise."""
    rng = np.random.default_rng(seed)
    time = np.cumsum(interval * rng.uniform(0.8, 1.2, count))
    since = np.maximum(time - time[closed], 0.0)
    pressure = 20.0 + 400.0 / (time + 30.0) + 0.05 * since + 3.0 * (1.0 - np.exp(-since / 4.0))
    return time, pressure + rng.normal(0.0, 0.1, count)


def plain(time, pressure, closed, shapes, since):
    """Return sum of squares and coefficients by least squares of a written-out model, readings less their mean."""
    left, right = np.minimum(time - time[closed], 0.0), np.maximum(time - time[closed], 0.0)
    pumped = time - since
    fading = np.maximum(pumped[closed] / pumped - 1.0, 0.0)
    design = np.column_stack([np.ones(len(time)), left, fading, *shapes(right)])
    solution, *_ = np.linalg.lstsq(design, pressure, rcond=None)
    return float(np.sum((pressure - design @ solution) ** 2)), solution


@pytest.mark.parametrize("seed", range(5))
def test_every_cut_is_the_plain_least_squares(seed):
    time, pressure = invented(seed)
    tries = np.arange(5, 52)
    cuts = corner_costs(time, pressure, tries, SETTLING, LAGS, time[0] - 2.0)
    for row, closed in enumerate(tries):
        for column, tau in enumerate(np.concatenate([SETTLING, LAGS])):
            if column < len(SETTLING):
                squares, solution = plain(
                    time, pressure, closed, lambda t, tau=tau: (t, 1.0 - np.exp(-t / tau)), time[0] - 2.0
                )
                assert cuts.jump[row, column] == pytest.approx(solution[4], rel=1e-3, abs=1e-4)
            else:
                squares, solution = plain(
                    time, pressure, closed, lambda t, tau=tau: (t - tau * (1.0 - np.exp(-t / tau)),), time[0] - 2.0
                )
                assert cuts.jump[row, column] == 0.0
            # The trace of ridge makes the difference.
            assert cuts.squares[row, column] == pytest.approx(squares, rel=1e-5)
            assert cuts.slope_after[row, column] == pytest.approx(solution[3], rel=1e-3, abs=1e-5)
            assert cuts.slope_before[row, column] == pytest.approx(solution[1], rel=1e-2, abs=1e-4)


def test_the_best_cut_is_where_the_valve_closed():
    time, pressure = invented(7)
    tries = np.arange(5, 52)
    squares = corner_costs(time, pressure, tries, SETTLING, LAGS, time[0] - 2.0).squares
    assert abs(int(tries[np.argmin(squares.min(axis=1))]) - 30) <= 1


def test_a_gap_of_many_settling_times_stays_finite():
    time, pressure = invented(1)
    time = time + np.where(np.arange(len(time)) > 40, 1e6, 0.0)
    cuts = corner_costs(time, pressure, np.arange(5, 52), SETTLING, LAGS, time[0] - 2.0)
    assert all(np.isfinite(values).all() for values in (cuts.squares, cuts.slope_before, cuts.slope_after, cuts.jump))


def test_the_smooth_rival_is_a_parabola():
    time, pressure = invented(3)
    fitted = np.polyval(np.polyfit(time, pressure, 2), time)
    assert line_cost(time, pressure) == pytest.approx(float(np.sum((pressure - fitted) ** 2)), rel=1e-9)


@pytest.mark.parametrize("count", [5, 8, 9, 100, 20000])
def test_running_medians_are_numpys(count):
    values = np.random.default_rng(count).normal(size=count).round(1)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(values, 2, mode="edge"), 5)
    np.testing.assert_array_equal(running_median(values), np.median(around, axis=1))
