"""The descriptive curve against an independent fitting library and against published readings."""

from __future__ import annotations

import lmfit
import numpy as np
import pytest

from decay.fit.alternatives import fit_description


def _line_plus_exponential(t, start, rate, amplitude, tau):
    return start + rate * t + amplitude * -np.expm1(-t / tau)


@pytest.fixture(scope="module")
def hold():
    rng = np.random.default_rng(11)
    t = np.linspace(0.0, 1200.0, 241)
    p = _line_plus_exponential(t, 40.0, 0.02, 30.0, 260.0) + rng.normal(0, 0.25, len(t))
    return t, p


@pytest.fixture(scope="module")
def reference(hold):
    t, p = hold
    model = lmfit.Model(_line_plus_exponential)
    parameters = model.make_params(start=p[0], rate=0.01, amplitude=20.0, tau=200.0)
    return model.fit(p, parameters, t=t)


def test_values_agree_with_an_independent_fit(hold, reference):
    t, p = hold
    ours = fit_description(t, p, np.ones_like(t), 0.0, len(t))
    best = reference.best_values
    assert ours.rate.value == pytest.approx(best["rate"], rel=2e-4)
    assert ours.amplitude.value == pytest.approx(best["amplitude"], rel=2e-4)
    assert ours.time_constant.value == pytest.approx(best["tau"], rel=2e-4)
    assert ours.start == pytest.approx(best["start"], rel=1e-4)


NAMES = [("rate", "rate"), ("amplitude", "amplitude"), ("time_constant", "tau")]


@pytest.mark.parametrize(("ours_name", "theirs"), NAMES)
def test_profile_intervals_agree_with_an_independent_profile(hold, reference, ours_name, theirs):
    t, p = hold
    ours = getattr(fit_description(t, p, np.ones_like(t), 0.0, len(t)), ours_name)
    interval = reference.conf_interval(sigmas=[0.95])[theirs]
    low, high = interval[0][1], interval[-1][1]
    width = high - low
    tolerance = 0.03 * width
    assert ours.low == pytest.approx(low, abs=tolerance)
    assert ours.high == pytest.approx(high, abs=tolerance)


def test_readings_all_alike_carry_no_curve():
    t = np.arange(50.0)
    assert fit_description(t, np.full(50, 30.0), np.ones(50), 0.0, 50) is None


def test_five_readings_cannot_carry_four_parameters():
    # Published training readings (an open technicians' course): 0.20 0.30 0.43 0.50 0.58 mbar at 0 1 3 5 10 min.
    # A line plus an exponential leaves one degree of freedom: nothing could be tested, so nothing is claimed.
    t = np.array([0.0, 1.0, 3.0, 5.0, 10.0]) * 60
    p = np.array([0.20, 0.30, 0.43, 0.50, 0.58]) * 100
    assert fit_description(t, p, np.ones(5), 0.0, 5) is None
