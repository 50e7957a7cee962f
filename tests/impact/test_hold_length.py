"""The hold length that would show a leak: against simulated straight holds, and at its limits."""

from __future__ import annotations

import math

import numpy as np
import pytest

from decay.errors import RangeError
from decay.fit.limits import critical_value
from decay.fit.line import straight_line
from decay.impact.hold_length import hold_needed, smallest_shown


def test_the_limit_is_seen_in_95_percent_of_simulated_holds() -> None:
    """Currie's definition, tried out: white noise, straight rise of the stated limit, ordinary line."""
    generator = np.random.default_rng(8)
    duration, noise, sampling, runs = 600.0, 0.2, 2.0, 2000
    time = np.arange(0.0, duration, sampling)
    limit = smallest_shown(duration, noise, sampling)
    threshold = critical_value(noise * math.sqrt(12.0 * sampling / duration) / duration)
    seen = sum(
        straight_line(time, limit * time + noise * generator.standard_normal(time.size)).slope > threshold
        for _ in range(runs)
    )
    assert 0.93 < seen / runs < 0.97


def test_it_falls_as_length_to_the_three_halves() -> None:
    assert smallest_shown(400.0, 0.1, 1.0) / smallest_shown(1600.0, 0.1, 1.0) == pytest.approx(8.0)


def test_correlated_noise_steps_and_outgassing_make_it_worse() -> None:
    clean = smallest_shown(900.0, 0.1, 1.0)
    assert smallest_shown(900.0, 0.1, 1.0, correlation=0.5) == pytest.approx(clean * math.sqrt(3.0))
    assert smallest_shown(900.0, 0.1, 1.0, step=0.13) > clean
    assert smallest_shown(900.0, 0.1, 1.0, outgassing=10.0, time_constant=300.0) > 1.5 * clean


def test_line_beside_an_exponential_is_widened_as_the_linear_fit_says() -> None:
    """The factor on the slope's variance from the normal equations of offset, line and exponential."""
    duration, sampling, tau, noise = 1200.0, 1.0, 400.0, 0.1
    time = np.arange(0.0, duration, sampling)
    design = np.column_stack([np.ones_like(time), time, -np.expm1(-time / tau)])
    u0 = noise * math.sqrt(np.linalg.inv(design.T @ design)[1, 1])
    source = 1e-12
    assert smallest_shown(duration, noise, sampling, outgassing=source, time_constant=tau) == pytest.approx(
        3.29 * u0, rel=0.02
    )


def test_hold_needed_is_the_inverse() -> None:
    settings = {"step": 0.02, "outgassing": 20.0, "time_constant": 400.0}
    length = hold_needed(2e-3, 0.1, 1.0, **settings)
    assert smallest_shown(length, 0.1, 1.0, **settings) == pytest.approx(2e-3, rel=0.01)
    assert hold_needed(2e-3, 0.1, 1.0) < length


def test_what_a_week_would_not_show() -> None:
    assert hold_needed(1e-12, 0.1, 1.0) == math.inf


def test_nonsense_is_an_error() -> None:
    for call in (
        lambda: hold_needed(0.0, 0.1, 1.0),
        lambda: smallest_shown(0.0, 0.1, 1.0),
        lambda: smallest_shown(1.0, 0.1, 1.0, outgassing=1.0),
        lambda: smallest_shown(1.0, 0.1, 1.0, correlation=1.0),
    ):
        with pytest.raises(RangeError):
            call()
