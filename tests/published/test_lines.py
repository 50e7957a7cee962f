"""Straight lines and detection limits against published calibrations, certified data and Currie's numbers."""

from __future__ import annotations

import numpy as np
import pytest

from decay.arrays import FloatArray
from decay.errors import FitError, RangeError
from decay.fit.limits import critical_value, minimum_detectable_value
from decay.fit.line import straight_line
from tests.published.tables import rows


def points(name: str) -> tuple[FloatArray, FloatArray]:
    chosen = [(float(row["x"]), float(row["y"])) for row in rows("lines.csv") if row["set"] == name]
    x, y = np.array(chosen).T
    return x, y


def test_thermometer_of_the_guide() -> None:
    """JCGM 100 H.3.3: -0.1712(29), 0.00218(67), r = -0.930, s = 0.0035; at 30 degC -0.1494(41)."""
    line = straight_line(*points("gum"))
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.intercept_error == pytest.approx(0.0029, abs=5e-5)
    assert line.slope_error == pytest.approx(0.00067, abs=5e-6)
    assert line.covariance / (line.slope_error * line.intercept_error) == pytest.approx(-0.930, abs=5e-4)
    assert line.residual_deviation == pytest.approx(0.0035, abs=5e-5)
    assert line.at(10.0) == pytest.approx(-0.1494, abs=5e-5)
    assert line.error_at(10.0) == pytest.approx(0.0041, abs=5e-5)


def test_certified_line() -> None:
    """NIST StRD Norris: ten digits."""
    data = rows("nist_norris.csv")
    line = straight_line(np.array([float(r["x"]) for r in data]), np.array([float(r["y"]) for r in data]))
    certified = {r["parameter"]: r for r in rows("nist_certified.csv") if r["dataset"] == "Norris"}
    for parameter, value, error in (
        ("b0", line.intercept, line.intercept_error),
        ("b1", line.slope, line.slope_error),
    ):
        assert value == pytest.approx(float(certified[parameter]["certified"]), rel=1e-10)
        assert error == pytest.approx(float(certified[parameter]["standard_deviation"]), rel=1e-10)


def test_limits_of_the_calibration_standard() -> None:
    """DIN 32645 at 1 %: critical value 0.0698 (Dintest), minimum detectable value twice that, 0.14."""
    x, y = points("din")
    line = straight_line(x, y)
    u0 = float(np.hypot(line.residual_deviation, line.intercept_error)) / line.slope
    dof = line.n - 2
    assert critical_value(u0, 0.01, dof) == pytest.approx(0.0698, abs=5e-5)
    assert minimum_detectable_value(u0, 0.01, 0.01, dof) == pytest.approx(0.14, abs=5e-3)


def test_weighted_line() -> None:
    """Massart et al. 1997, example 8: y = 15 and 90 belong to x = 5.9 and 44.1 (5.865367 and 44.06025)."""
    x, y = points("massart")
    weights = np.array([1.984, 1.417, 1.262, 0.372, 0.199, 0.109])
    line = straight_line(x, y, weights**-0.5)
    assert (15.0 - line.intercept) / line.slope == pytest.approx(5.865367, abs=5e-7)
    assert (90.0 - line.intercept) / line.slope == pytest.approx(44.06025, abs=5e-6)
    plain = straight_line(x, y)
    assert (15.0 - plain.intercept) / plain.slope == pytest.approx(6.1, abs=0.05)
    assert (90.0 - plain.intercept) / plain.slope == pytest.approx(43.9, abs=0.05)


def test_currie() -> None:
    """Currie 1968, paired blank of B counts: L_C = 2.33 sqrt(B), and 4.65 sqrt(B) of L_D; 3.29 for a known blank."""
    u0 = float(np.sqrt(2.0 * 100.0))
    assert critical_value(u0) == pytest.approx(23.3, abs=0.05)
    assert minimum_detectable_value(u0) == pytest.approx(46.5, abs=0.05)
    assert minimum_detectable_value(1.0) == pytest.approx(3.29, abs=5e-3)


def test_only_the_ratio_of_weights_counts() -> None:
    x, y = points("massart")
    sigma = np.linspace(1.0, 3.0, x.size)
    one, ten = straight_line(x, y, sigma), straight_line(x, y, 10 * sigma)
    assert ten.slope_error == pytest.approx(one.slope_error)
    assert straight_line(x, y, np.full(x.size, 7.0)).slope_error == pytest.approx(straight_line(x, y).slope_error)


def test_nonsense_is_an_error() -> None:
    two, three = np.array([0.0, 1.0]), np.ones(3)
    for call in (
        lambda: straight_line(two, two),
        lambda: straight_line(three, three),
        lambda: straight_line(np.arange(3.0), three, np.zeros(3)),
    ):
        with pytest.raises(FitError):
            call()
    for limit in (
        lambda: critical_value(-1.0),
        lambda: critical_value(1.0, 0.7),
        lambda: critical_value(1.0, 0.05, 0),
    ):
        with pytest.raises(RangeError):
            limit()
