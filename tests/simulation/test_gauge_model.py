"""The gauge: lag, gas dependence, steps, range, noise, sampling, and the same log from the same seed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from decay.quantities import MICRON
from decay.simulation import Ambient, Gauge, Job, Leak, Step, StepKind, run
from decay.simulation.gauge_model import decimals, lagged, noise, observe, quantised

STILL = Gauge(noise=0.0, relative_noise=0.0, wander=0.0, lag=0.0, interval=1.0)


def test_lag_answers_a_step_and_follows_a_ramp():
    time = np.linspace(0.0, 40.0, 41)
    step = np.where(time > 0.5, 10.0, 0.0)
    # The step becomes a ramp over one interval; from its end on the answer decays by e in each time constant.
    answer = lagged(time, step, 4.0)
    assert (10.0 - answer[9]) / (10.0 - answer[1]) == pytest.approx(np.exp(-2.0), rel=1e-12)
    ramp = lagged(time, 3.0 * time, 4.0)
    assert ramp[-1] == pytest.approx(3.0 * (40.0 - 4.0), rel=1e-3)
    assert lagged(time, step, 0.0) == pytest.approx(step)


def test_steps_grow_with_pressure():
    shown, step = quantised(np.array([123.4, 1234.0, 12_345.0]) * MICRON, STILL)
    assert shown / MICRON == pytest.approx([123.0, 1230.0, 12_300.0])
    assert step / MICRON == pytest.approx([1.0, 10.0, 100.0])


def test_significant_digits():
    gauge = replace(STILL, unit="Torr", digits=3)
    torr = 101325.0 / 760.0
    shown, step = quantised(np.array([0.12345, 1.2345, 12.345]) * torr, gauge)
    assert shown / torr == pytest.approx([0.123, 1.23, 12.3])
    assert step / torr == pytest.approx([0.001, 0.01, 0.1])


def test_above_its_range_it_shows_no_number():
    time = np.array([0.0, 10.0])
    readings = observe(time, np.array([2000.0, 4700.0]), replace(STILL, upper=3333.0), np.random.default_rng(0))
    assert readings.is_over_range.tolist() == np.isnan(readings.pressure).tolist()
    assert np.flatnonzero(readings.is_over_range).tolist() == [5, 6, 7, 8, 9, 10]  # 2000 + 270 t
    assert np.nanmax(readings.pressure) <= 3333.0


def test_noise_has_the_stated_size_and_memory():
    gauge = replace(STILL, noise=0.2, wander=0.5, wander_time=20.0)
    values = noise(40_000, np.zeros(40_000), gauge, np.random.default_rng(5))
    assert values.std() == pytest.approx(np.hypot(0.2, 0.5), rel=0.05)
    slow = noise(40_000, np.zeros(40_000), replace(gauge, noise=0.0), np.random.default_rng(5))
    memory = float(np.dot(slow[:-1], slow[1:]) / np.dot(slow[:-1], slow[:-1]))
    assert memory == pytest.approx(np.exp(-1.0 / 20.0), abs=0.006)  # four standard errors


def test_gain_and_gas_dependence_act_on_the_partial_pressures():
    job = Job(ambient=Ambient(293.15, humidity=1.0), gauge=replace(STILL, gain=1.05, water_response=1.7, upper=2e5,
                                                                  steps=((1e6, 1e-3),)),
              steps=(Step(StepKind.REST, 10.0),))
    # Saturation pressure at 20 °C 2339.2 Pa, IAPWS.
    expected = 1.05 * (101325.0 - 2339.2 + 1.7 * 2339.2)
    assert run(job).readings.pressure[-1] == pytest.approx(expected, rel=1e-5)


def test_jitter_keeps_the_order_and_the_mean_interval():
    made = run(Job(gauge=replace(STILL, jitter=0.3), steps=(Step(StepKind.PUMP, 600.0),)))
    gaps = np.diff(made.readings.time)
    assert gaps.min() > 0.3
    assert gaps.std() > 0.1
    assert gaps.mean() == pytest.approx(1.0, rel=0.01)


def test_the_same_seed_gives_the_same_log_and_another_seed_another():
    job = Job(leaks=(Leak(0.01),), seed=11, steps=(Step(StepKind.PUMP, 600.0), Step(StepKind.HOLD, 600.0)))
    one, again, other = run(job), run(job), run(replace(job, seed=12))
    assert np.array_equal(one.readings.pressure, again.readings.pressure, equal_nan=True)
    assert not np.array_equal(one.readings.pressure, other.readings.pressure, equal_nan=True)
    assert np.array_equal(one.pressure, other.pressure)


def test_to_log_is_what_the_gauge_showed():
    made = run(Job(steps=(Step(StepKind.PUMP, 300.0), Step(StepKind.HOLD, 300.0))))
    log = made.to_log()
    assert len(log.time) == log.rows == 301
    assert log.sampling == 2.0
    assert log.is_over_range[0]
    assert np.isnan(log.pressure[0])
    assert log.unit == "micron"
    assert "synthetic" in log.source


@pytest.mark.parametrize(("step", "unit", "places"),
                         [(MICRON, MICRON, 0), (1.0, 100.0, 2), (0.1, 1.0, 1), (0.05, 1.0, 2)])
def test_decimals_show_a_step_whole(step, unit, places):
    assert decimals(step, unit) == places
