"""What the estimator would say of a hold that has not been made yet, with no luck either way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError
from decay.fit import noise as noise_model
from decay.fit.bins import FEWEST_READINGS, Bins, bin_readings
from decay.fit.hold import longest_time_constant
from decay.fit.looks import is_as_good, with_hidden_sinks
from decay.fit.measured import LAGGING, LAGGING_SHARE, UNNOTICED_DRIFT, feigned_rise
from decay.fit.mixture import Mixture, rise_shapes
from decay.fit.parts import settling_time
from decay.fit.profile import characteristic_limits, leak_interval, limits_beneath, threshold, widened
from decay.fit.whitening import Whitening
from decay.interval import Interval
from decay.plan.pump_and_gauge import GaugeKind

_SEED = 1  # of the readings by which steps and scatter are told apart; their mean is taken out again
_MOST_READINGS = 20_000  # a longer hold is given fewer readings, each with as much less noise
_ROOM = 293.15


@dataclass(frozen=True, slots=True)
class Levelling:
    """A rise that levels off.

    Parameters
    ----------
    rise : float
        Its height. [Pa]
    time_constant : float
        Its time constant. [s]
    """

    rise: float
    time_constant: float

    def __post_init__(self) -> None:
        if self.rise < 0 or self.time_constant <= 0:
            raise RangeError('a rise that levels off has a height and a time: "600 micron" and "10 min"')


@dataclass(frozen=True, slots=True)
class ExpectedHold:
    """What the estimator says of a hold of given length, with no luck either way.

    Parameters
    ----------
    duration : float
        Length of the hold. [s]
    leak : Interval
        The steady rise that it would report. [Pa/s]
    decision_threshold, detection_limit : float
        Smallest steady rise that would count as seen, and smallest leak seen in 95 % of such holds. [Pa/s]
    """

    duration: float
    leak: Interval
    decision_threshold: float
    detection_limit: float


def expected_hold(
    duration: float,
    gauge: GaugeKind,
    *,
    leak: float = 0.0,
    levelling: Sequence[Levelling] = (),
    start: float = 0.0,
    ambient: float | None = None,
    level: float = 0.95,
    under_vacuum: float | None = None,
) -> ExpectedHold:
    """Put a hold without luck to the estimator.

    The truth is taken as the readings' means, and the noise, the steps and the wander of the gauge as their
    uncertainty: the same problem, profile and limits as for a hold that was made (`decay.fit.hold`).

    Parameters
    ----------
    duration : float
        Length of the hold. [s]
    gauge : GaugeKind
        Noise, steps and time between readings.
    leak : float
        True steady rise. [Pa/s]
    levelling : sequence of Levelling
        True rises that level off.
    start : float
        Pressure at isolation. [Pa]
    ambient : float, optional
        Temperature; it sets how much an unnoticed drift of it may feign. [K]
    level : float
        Of the interval. [-]
    under_vacuum : float, optional
        Time under vacuum at isolation. [s]

    Returns
    -------
    ExpectedHold
        Interval and limits.

    Raises
    ------
    FitError
        If the hold has fewer than eight readings.

    Notes
    -----
    Valid for: a noise that stays as stated, a temperature that drifts by less than 1 K in an hour, no free water.
    Half of the real holds do better and half worse than an expected one.
    """
    bins = _bins(duration, gauge, leak, levelling, start)
    noise = Whitening(noise_model.assumed(bins, gauge.wander, gauge.wander_time).covariance)
    span = bins.length
    drift = unnoticed_drift(float(bins.pressure[-1]), ambient)
    problem = Mixture(bins, noise, longest_time_constant(span, under_vacuum))
    best = problem.best()
    growth = threshold(level=level)
    found = widened(leak_interval(problem, best, growth, level), drift)
    found = with_hidden_sinks(found, problem, best)
    straight = Mixture(bins, noise, settling_time(span))
    straight_best = straight.best()
    if is_as_good(straight_best, best):
        decision, detection = characteristic_limits(straight, straight_best, 1.0, drift)
    else:
        short = Mixture(bins, noise, span)
        short_best = short.best()
        high = leak_interval(short, short_best, growth, level).high + drift
        decision, detection = limits_beneath(short, short_best, high, 1.0, drift)
    return ExpectedHold(duration, found, decision, detection)


def unnoticed_drift(pressure: float, ambient: float | None) -> float:
    """Return the rate that a temperature drift nobody notices feigns at a pressure [Pa] and temperature [K]. [Pa/s]"""
    return feigned_rise(pressure, UNNOTICED_DRIFT, ambient if ambient is not None else _ROOM)


def shortest_hold(duration_of_interval: float) -> float:
    """Return the shortest hold that gives enough readings at a time between readings. [s]"""
    return (FEWEST_READINGS + 2) * duration_of_interval / (1 - LAGGING_SHARE)


def _bins(duration: float, gauge: GaugeKind, leak: float, levelling: Sequence[Levelling], start: float) -> Bins:
    interval = max(gauge.interval, duration / _MOST_READINGS)
    noise = gauge.noise * (gauge.interval / interval) ** 0.5
    time: FloatArray = np.arange(1, int(duration / interval) + 1, dtype=np.float64) * interval
    time = time[time > min(LAGGING, LAGGING_SHARE * duration)]
    true = start + leak * time + _levelled(time, levelling)
    readings: FloatArray = true + np.random.default_rng(_SEED).normal(0.0, noise, len(time))
    if gauge.step > 0:
        readings = np.round(readings / gauge.step) * gauge.step
    seen = bin_readings(time, readings, np.full(len(time), gauge.step))
    return replace(seen, pressure=bin_readings(time, true, np.full(len(time), gauge.step)).pressure)


def _levelled(time: FloatArray, levelling: Sequence[Levelling]) -> FloatArray:
    if not levelling:
        return np.zeros_like(time)
    shapes = rise_shapes(time, np.array([pool.time_constant for pool in levelling]))
    return np.asarray(shapes @ np.array([pool.rise for pool in levelling]))
