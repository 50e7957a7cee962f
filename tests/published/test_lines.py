"""Lines and detection limits against published calibrations and Currie's numbers, by the estimator of the holds."""

from __future__ import annotations

import numpy as np
import pytest

from decay.arrays import FloatArray
from decay.fit.bins import Bins
from decay.fit.mixture import Mixture
from decay.fit.profile import characteristic_limits
from decay.impact.hold_length import SHOWN
from tests.published.tables import rows


def points(name: str) -> tuple[FloatArray, FloatArray]:
    chosen = [(float(row["x"]), float(row["y"])) for row in rows("lines.csv") if row["set"] == name]
    x, y = np.array(sorted(chosen)).T
    return x, y


def line(x: FloatArray, y: FloatArray, variance: FloatArray) -> Mixture:
    """Return the estimator's problem for single readings without any source that rises later than the first."""
    shape = np.ones_like(x)
    bins = Bins(left=x - 1e-9, right=x + 1e-9, pressure=y, count=shape, reading_noise=1.0, step=0.0 * shape)
    return Mixture(bins, np.diag(variance), np.array([1e-30]), taking_up=1e-30)


def test_thermometer_of_the_guide() -> None:
    """JCGM 100 H.3.3: slope 0.00218(67), s = 0.0035."""
    x, y = points("gum")
    found = line(x, y, np.full(x.size, 0.0035**2))
    assert found.best().rate == pytest.approx(0.00218, abs=5e-6)
    assert found.line_error == pytest.approx(0.00067, abs=5e-6)
    assert (found.best().misfit / (x.size - 2)) ** 0.5 * 0.0035 == pytest.approx(0.0035, abs=5e-5)


def test_weighted_line() -> None:
    """Massart et al. 1997, example 8: y = 15 and 90 belong to x = 5.9 and 44.1 (5.865367 and 44.06025)."""
    x, y = points("massart")
    weights = np.array([1.984, 1.417, 1.262, 0.372, 0.199, 0.109])
    for variance, first, last, tolerance in (
        (1.0 / weights, 5.865367, 44.06025, 5e-6),
        (np.ones(x.size), 6.1, 43.9, 0.05),
    ):
        found = line(x, y, variance)
        best = found.best()
        start = found.start_pressure(best) - best.rate * float(x[0])
        assert (15.0 - start) / best.rate == pytest.approx(first, abs=tolerance)
        assert (90.0 - start) / best.rate == pytest.approx(last, abs=tolerance)


def test_currie() -> None:
    """Currie 1968: L_C = 2.33 and L_D = 4.65 roots of B of a paired blank of B counts; 3.29 for a known blank.

    The estimator of a hold tests from both sides, at 1.96 for 1.645, as its interval has two ends.
    """
    assert pytest.approx(3.29, abs=5e-3) == SHOWN
    assert pytest.approx(46.5, abs=0.05) == SHOWN * 200.0**0.5
    x, y = points("gum")
    found = line(x, y, np.full(x.size, 0.0035**2))
    decision, detection = characteristic_limits(found, found.best(), 1.0, 0.0)
    assert decision == pytest.approx(1.960 * 0.00067, rel=5e-3)
    assert detection == pytest.approx(2.0 * decision, rel=1e-6)
