"""What the estimator would say of a hold that has not been made yet, with no luck either way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from decay.arrays import FloatArray
from decay.fit.bins import Bins, Whitening, bin_readings
from decay.fit.hold import longest_time_constant
from decay.fit.measured import LAGGING, LAGGING_SHARE, UNNOTICED_DRIFT, assumed_noise, feigned_rise
from decay.fit.mixture import Mixture
from decay.fit.profile import leak_interval, threshold, widened
from decay.fit.steady_rise import with_hidden_sinks
from decay.interval import Interval
from decay.physics.gas import ROOM
from decay.planning.pump_and_gauge import GaugeKind
from decay.planning.trial_holds import Levelling, levelled

_SEED = 1  # of the readings by which steps and scatter are told apart; their mean is taken out again
_MOST_READINGS = 20_000  # a longer hold is given fewer readings, each with as much less noise


def expected_leak(
    duration: float,
    gauge: GaugeKind,
    *,
    leak: float = 0.0,
    levelling: Sequence[Levelling] = (),
    start: float = 0.0,
    ambient: float | None = None,
    level: float = 0.95,
    under_vacuum: float | None = None,
) -> Interval:
    """Put a hold without luck to the estimator.

    The truth is taken as the readings' means, and the noise, the steps and the wander of the gauge as their
    uncertainty: the same problem and profile as for a hold that was made (`decay.fit.hold`).

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
    Interval
        The steady rise that it would report. [Pa/s]

    Raises
    ------
    FitError
        If the hold has fewer than eight readings.

    Notes
    -----
    Valid for: a noise that stays as stated, a temperature that drifts by less than 1 K in an hour, no free water.
    Half of the real holds do better and half worse than an expected one; a plan takes `decay.planning.trial_holds`.
    """
    bins = _bins(duration, gauge, leak, levelling, start)
    noise = Whitening(assumed_noise(bins, gauge.wander, gauge.wander_time).covariance)
    drift = feigned_rise(float(bins.pressure[-1]), UNNOTICED_DRIFT, ROOM if ambient is None else ambient)
    problem = Mixture(bins, noise, longest_time_constant(bins.length, under_vacuum))
    best = problem.best()
    found = widened(leak_interval(problem, best, threshold(level=level), level), drift)
    return with_hidden_sinks(found, problem, best)


def _bins(duration: float, gauge: GaugeKind, leak: float, levelling: Sequence[Levelling], start: float) -> Bins:
    interval = max(gauge.interval, duration / _MOST_READINGS)
    noise = gauge.noise * (gauge.interval / interval) ** 0.5
    time: FloatArray = np.arange(1, int(duration / interval) + 1, dtype=np.float64) * interval
    time = time[time > min(LAGGING, LAGGING_SHARE * duration)]
    true = start + leak * time + levelled(time, levelling)
    readings: FloatArray = true + np.random.default_rng(_SEED).normal(0.0, noise, len(time))
    if gauge.step > 0:
        readings = np.round(readings / gauge.step) * gauge.step
    seen = bin_readings(time, readings, np.full(len(time), gauge.step))
    return replace(seen, pressure=bin_readings(time, true, np.full(len(time), gauge.step)).pressure)
