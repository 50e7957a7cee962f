"""Lines and detection limits against published calibrations and Currie's numbers, by the estimator of the holds."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import linregress

from decay.arrays import FloatArray
from decay.errors import RangeError
from decay.fit.bins import Bins
from decay.fit.limits import critical_value, minimum_detectable_value
from decay.fit.mixture import Mixture
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


def test_limits_of_the_calibration_standard() -> None:
    """DIN 32645 at 1 %: critical value 0.0698 (Dintest), minimum detectable value twice that, 0.14."""
    x, y = points("din")
    fitted = linregress(x, y)
    freedom = x.size - 2
    deviation = float(np.sqrt(np.sum((y - fitted.intercept - fitted.slope * x) ** 2) / freedom))
    u0 = float(np.hypot(deviation, fitted.intercept_stderr)) / fitted.slope
    assert critical_value(u0, 0.01, freedom) == pytest.approx(0.0698, abs=5e-5)
    assert minimum_detectable_value(u0, 0.01, 0.01, freedom) == pytest.approx(0.14, abs=5e-3)


def test_currie() -> None:
    """Currie 1968, paired blank of B counts: L_C = 2.33 sqrt(B), and 4.65 sqrt(B) of L_D; 3.29 for a known blank."""
    u0 = float(np.sqrt(2.0 * 100.0))
    assert critical_value(u0) == pytest.approx(23.3, abs=0.05)
    assert minimum_detectable_value(u0) == pytest.approx(46.5, abs=0.05)
    assert minimum_detectable_value(1.0) == pytest.approx(3.29, abs=5e-3)


def test_nonsense_is_an_error() -> None:
    for limit in (
        lambda: critical_value(-1.0),
        lambda: critical_value(1.0, 0.7),
        lambda: critical_value(1.0, 0.05, 0),
    ):
        with pytest.raises(RangeError):
            limit()
