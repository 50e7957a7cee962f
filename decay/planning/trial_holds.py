"""Holds that have not been made yet: drawn with noise for the estimator, and as it expects them without luck.

A plan draws four holds of a length, eight where they scatter and twenty where one strays alone, with noise, steps and
wander, and fits them as the pipeline does; what one more hold would exclude, and would call its limit, is bounded by
Student's quantile, a little above the 95 % that are promised, and widened by 5 %. Lengths lie closer where what they
tell changes, and closest about the leak that matters. The forecast of a watch puts one hold without luck to the
estimator instead.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from decay.arrays import FloatArray
from decay.errors import RangeError
from decay.fit.bins import Bins, Whitening, bin_readings, rise_shapes
from decay.fit.hold import excluded_and_shown, fit_hold, longest_time_constant
from decay.fit.measured import LAGGING, LAGGING_SHARE, UNNOTICED_DRIFT, Measured, assumed_noise, feigned_rise, measure
from decay.fit.mixture import Mixture
from decay.fit.profile import leak_interval, threshold, widened
from decay.fit.results import HoldFit, PumpdownFit
from decay.fit.steady_rise import with_hidden_sinks
from decay.interval import Interval
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Kind, Phase
from decay.physics.gas import ROOM
from decay.planning.pump_and_gauge import GaugeKind

_MOST_READINGS = 7_200  # of a long hold: there the drift of the temperature rules, and no noise
_READINGS = 10  # that a hold has at least which is planned
_LIKE_A_DAY = 3.0  # K; half width of the temperature that was stated
# An hour of pull that shows no water and no limit: what the plan takes for granted.
_DRY_PULL = PumpdownFit(-3600.0, 0.0, math.nan, math.nan, None, (), None, (), None, (), water_suspected=False)
_SEED = 1  # of the readings by which steps and scatter are told apart; their mean is taken out again
_MOST_EXPECTED = 20_000  # a longer hold is given fewer readings, each with as much less noise


@dataclass(frozen=True, slots=True)
class Levelling:
    """A rise that levels off."""

    rise: float  # its height [Pa]
    time_constant: float  # its time constant [s]

    def __post_init__(self) -> None:
        if self.rise < 0 or self.time_constant <= 0:
            raise RangeError('a rise that levels off has a height and a time: "600 micron" and "10 min"')


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a hold is going to be made with."""

    gauge: GaugeKind  # noise, steps, wander and time between readings
    levelling: tuple[Levelling, ...] = ()  # what levels off
    start: float = 0.0  # pressure at isolation [Pa]
    ambient: float | None = None  # temperature [K]
    under_vacuum: float | None = None  # time under vacuum at isolation [s]

    @property
    def shortest(self) -> float:
        """Length of the shortest hold that has enough readings. [s]"""
        return _READINGS * self.gauge.interval / (1 - LAGGING_SHARE)

    @property
    def floor(self) -> float:
        """Rate that a temperature drift nobody notices feigns once all has levelled off; no hold tells less. [Pa/s]"""
        last = self.start + sum(pool.rise for pool in self.levelling)
        return feigned_rise(last, UNNOTICED_DRIFT, ROOM if self.ambient is None else self.ambient)


def trial_hold(conditions: Conditions, duration: float, leak: float, seed: int) -> HoldFit:
    """Draw one hold and fit it, as the pipeline fits one that was made.

    Parameters
    ----------
    conditions : Conditions
        What it is made with.
    duration : float
        Length. [s]
    leak : float
        True steady rise. [Pa/s]
    seed : int
        Of the noise. [-]

    Raises
    ------
    FitError
        If it has fewer than eight readings.
    """
    return fit_hold(trial_readings(conditions, duration, leak, seed), under_vacuum=conditions.under_vacuum,
                    pull=_DRY_PULL)


def trial_limits(conditions: Conditions, duration: float, leak: float, seed: int) -> tuple[float, float]:
    """Return of such a hold the leak's upper end and the detection limit alone, which costs less. [Pa/s]"""
    made = trial_readings(conditions, duration, leak, seed)
    return excluded_and_shown(made, under_vacuum=conditions.under_vacuum, pull=_DRY_PULL)


def trial_readings(conditions: Conditions, duration: float, leak: float, seed: int) -> Measured:
    """Draw one hold, and average it into bins.

    Parameters
    ----------
    conditions : Conditions
        What it is made with.
    duration : float
        Length. [s]
    leak : float
        True steady rise. [Pa/s]
    seed : int
        Of the noise. [-]

    Returns
    -------
    Measured
        Its readings and their noise. [s, Pa]

    Raises
    ------
    FitError
        If it has fewer than eight readings.
    """
    rng = np.random.default_rng(seed)
    gauge = conditions.gauge
    interval = max(gauge.interval, duration / _MOST_READINGS)
    time: FloatArray = np.arange(0, int(duration / interval) + 1, dtype=np.float64) * interval
    # Where on a step of the gauge a hold begins is chance.
    start = conditions.start + rng.uniform(-0.5, 0.5) * gauge.step
    true = start + leak * time + levelled(time, conditions.levelling)
    readings = true + rng.normal(0.0, gauge.noise, len(time)) + _wander(gauge, interval, len(time), rng)
    if gauge.step > 0:
        readings = np.round(readings / gauge.step) * gauge.step
    count = len(time)
    log = PressureLog(
        source="a hold not made yet",
        time=time,
        pressure=np.maximum(readings, 0.0),
        line=np.arange(1, count + 1),
        is_over_range=np.zeros(count, bool),
        step=np.full(count, gauge.step),
        gauge="stated",
        unit="micron",
        rows=count,
    )
    phase = Phase(Kind.HOLD, 0, count - 1, 0.0, float(time[-1]), float(readings[0]), float(readings[-1]))
    return measure(log, phase, conditions.ambient, _LIKE_A_DAY)


def levelled(time: FloatArray, levelling: Sequence[Levelling]) -> FloatArray:
    """Return how far rises that level off have come at some times [s]. [Pa]"""
    if not levelling:
        return np.zeros_like(time)
    shapes = rise_shapes(time, np.array([pool.time_constant for pool in levelling]))
    return np.asarray(shapes @ np.array([pool.rise for pool in levelling]))


def _wander(gauge: GaugeKind, interval: float, count: int, rng: np.random.Generator) -> FloatArray:
    """Return the slow part of a gauge's noise: it forgets itself within its correlation time. [Pa]"""
    if gauge.wander == 0.0:
        return np.zeros(count)
    from scipy.signal import lfilter  # it takes longer to load than a plan without it

    kept = math.exp(-interval / gauge.wander_time)
    drawn = gauge.wander * rng.standard_normal(count)
    drawn[1:] *= math.sqrt(1.0 - kept**2)
    return np.asarray(lfilter([1.0], [1.0, -kept], drawn))


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
    interval = max(gauge.interval, duration / _MOST_EXPECTED)
    noise = gauge.noise * (gauge.interval / interval) ** 0.5
    time: FloatArray = np.arange(1, int(duration / interval) + 1, dtype=np.float64) * interval
    time = time[time > min(LAGGING, LAGGING_SHARE * duration)]
    true = start + leak * time + levelled(time, levelling)
    readings: FloatArray = true + np.random.default_rng(_SEED).normal(0.0, noise, len(time))
    if gauge.step > 0:
        readings = np.round(readings / gauge.step) * gauge.step
    seen = bin_readings(time, readings, np.full(len(time), gauge.step))
    return replace(seen, pressure=bin_readings(time, true, np.full(len(time), gauge.step)).pressure)
