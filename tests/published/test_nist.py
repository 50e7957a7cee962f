"""The estimator that judges a hold against NIST's certified regressions: sums of exponentials, and a line.

Source: NIST Statistical Reference Datasets (Misra1a, BoxBOD, MGH17, Lanczos3; Norris), coefficients and residual sums
of squares. The estimator always lets a constant in; where a dataset's model has none, one reading that is known exactly
pins it: the model's own value at zero, or where everything has levelled off. Its time constants stand on a grid; here
they are the certified ones, or are sought as the grid's would be, by the estimator's own misfit.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from decay.arrays import FloatArray
from decay.fit.bins import Bins
from decay.fit.mixture import Mixture
from decay.fit.profile import profile_interval

from .tables import rows

EXACT = 1e-12
"""Variance of a reading that is known exactly."""
HALF = 0.5e-9
"""Half the width of a bin that is one reading."""
LATE = 1e4
"""Where every exponential of these datasets has levelled off."""


def certified(dataset: str) -> dict[str, float]:
    chosen = [row for row in rows("nist_certified.csv") if row["dataset"] == dataset]
    return {row["parameter"]: float(row["certified"]) for row in chosen}


def data(dataset: str) -> tuple[FloatArray, FloatArray]:
    chosen = [(float(row["x"]), float(row["y"])) for row in rows(f"nist_{dataset.lower()}.csv")]
    x, y = np.array(sorted(chosen)).T
    return x, y


def problem(
    x: FloatArray,
    y: FloatArray,
    rates: FloatArray,
    *,
    pinned: tuple[float, float] | None = None,
    falling: float | None = None,
) -> Mixture:
    """Return the estimator's problem for single readings, the clock beginning at zero."""
    variance = np.ones_like(x)
    if pinned is not None:
        at = int(np.searchsorted(x, pinned[0]))
        x, y, variance = np.insert(x, at, pinned[0]), np.insert(y, at, pinned[1]), np.insert(variance, at, EXACT)
    if x[0] > 0.0:
        # The clock begins at the first bin: one at zero that weighs nothing.
        x, y, variance = np.insert(x, 0, 0.0), np.insert(y, 0, y[0]), np.insert(variance, 0, 1e18)
    shape = np.ones_like(x)
    bins = Bins(left=x - HALF, right=x + HALF, pressure=y, count=shape, reading_noise=1.0, step=0.0 * shape)
    return Mixture(bins, np.diag(variance), 1.0 / rates, taking_up=falling)


@pytest.mark.parametrize(("dataset", "squares"), [("Misra1a", 1.2455138894e-01), ("BoxBOD", 1.1680088766e03)])
def test_one_source_that_levels_off(dataset: str, squares: float) -> None:
    truth = certified(dataset)
    x, y = data(dataset)

    def fitted(rate: float) -> Mixture:
        return problem(x, y, np.array([rate]), pinned=(0.0, 0.0), falling=1e12)

    at = fitted(truth["b2"]).at(0.0)
    assert at.amplitudes[0] == pytest.approx(truth["b1"], rel=1e-6)
    assert at.misfit == pytest.approx(squares, rel=1e-6)
    sought = minimize(lambda v: fitted(float(np.exp(v[0]))).at(0.0).misfit, [np.log(1.3 * truth["b2"])],
                      method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-13})  # fmt: skip
    assert float(np.exp(sought.x[0])) == pytest.approx(truth["b2"], rel=1e-4)


def test_a_source_and_gas_that_is_taken_up_again() -> None:
    """MGH17: y = b1 + b2 exp(-x b4) + b3 exp(-x b5), one part falling and one rising."""
    truth = certified("MGH17")
    x, y = data("MGH17")
    found = problem(x, y, np.array([truth["b5"]]), falling=1.0 / truth["b4"])
    best = found.at(0.0)
    rising, falling = best.amplitudes
    assert rising == pytest.approx(-truth["b3"], rel=1e-6)
    assert falling == pytest.approx(truth["b2"], rel=1e-6)
    assert found.start_pressure(best) == pytest.approx(truth["b1"] + truth["b2"] + truth["b3"], rel=1e-6)
    assert best.misfit == pytest.approx(5.4648946975e-05, rel=1e-6)


def test_three_sources_that_can_hardly_be_told_apart() -> None:
    """Lanczos3, turned over: y = b1 exp(-b2 x) + b3 exp(-b4 x) + b5 exp(-b6 x), nought in the end."""
    truth = certified("Lanczos3")
    x, y = data("Lanczos3")
    rates = np.array([truth[name] for name in ("b2", "b4", "b6")])
    best = problem(x, -y, rates, pinned=(LATE, 0.0), falling=1e12).at(0.0)
    assert best.amplitudes[:3] == pytest.approx([truth[name] for name in ("b1", "b3", "b5")], rel=1e-5)
    assert best.misfit == pytest.approx(1.6117193594e-08, rel=1e-4)


def test_the_line_s_slope_and_its_error() -> None:
    """Norris: slope and standard deviation to ten digits; the profile at a growth of one is one standard deviation."""
    chosen = {row["parameter"]: row for row in rows("nist_certified.csv") if row["dataset"] == "Norris"}
    slope, error = (float(chosen["b1"][name]) for name in ("certified", "standard_deviation"))
    x, y = data("Norris")
    # The residual deviation that NIST's error contains: taken from the fit itself, with two parameters less.
    deviation = float(np.sqrt(np.sum((y - np.polyval(np.polyfit(x, y, 1), x)) ** 2) / (len(x) - 2)))
    shape = np.ones_like(x)
    bins = Bins(left=x - HALF, right=x + HALF, pressure=y, count=shape, reading_noise=1.0, step=0.0 * shape)
    # Sources that are over before the first reading ends are a constant, and leave the line alone.
    line = Mixture(bins, np.diag(deviation**2 * shape), np.array([1e-30]), taking_up=1e-30)
    best = line.best()
    assert best.rate == pytest.approx(slope, rel=1e-9)
    assert line.line_error == pytest.approx(error, rel=1e-6)
    found = profile_interval(lambda rate: line.at(rate).misfit, best, 1.0, line.line_error)
    assert best.rate - found.low == pytest.approx(error, rel=0.05)
