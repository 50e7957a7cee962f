"""What a gauge makes of the true pressure: gas dependence, gain, lag, noise, steps, range and sampling."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log10

import numpy as np

from decay.arrays import BoolArray, FloatArray
from decay.quantities import PRESSURE_UNITS
from decay.simulation.apparatus import Gauge


@dataclass(frozen=True, slots=True, eq=False)
class GaugeRecord:
    """What the logger wrote down."""

    time: FloatArray  # when, shape (n,) [s]
    pressure: FloatArray  # what it showed, whole steps; ``nan`` over range, shape (n,) [Pa]
    step: FloatArray  # the smallest change it could show there, shape (n,) [Pa]
    is_over_range: BoolArray  # true where it showed its over-range word, shape (n,) [-]


def lagged(time: FloatArray, value: FloatArray, lag: float) -> FloatArray:
    """Return a first-order follower, exact for straight lines between the given times.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Times, not falling. [s]
    value : ndarray, shape (n,)
        What is followed, in any unit.
    lag : float
        Time constant. [s]

    Returns
    -------
    ndarray, shape (n,)
        The follower, which starts at the first value.
    """
    if lag == 0.0:
        return value.copy()
    out = np.empty_like(value)
    state = out[0] = float(value[0])
    times, values = time.tolist(), value.tolist()
    for i in range(1, len(times)):
        h = times[i] - times[i - 1]
        if h > 0.0:
            slope = (values[i] - values[i - 1]) / h
            follow = values[i] - slope * lag
            state = follow + (state - values[i - 1] + slope * lag) * exp(-h / lag)
        out[i] = state
    return out


def quantised(pressure: FloatArray, gauge: Gauge) -> tuple[FloatArray, FloatArray]:
    """Return the pressures in whole steps of the display.

    Parameters
    ----------
    pressure : ndarray, shape (n,)
        What the gauge would show with endless digits. [Pa]
    gauge : Gauge
        The gauge.

    Returns
    -------
    tuple of ndarray, shape (n,)
        What it shows, and the step there. [Pa]
    """
    if gauge.digits is not None:
        unit = PRESSURE_UNITS[gauge.unit]
        size = np.maximum(np.abs(pressure) / unit, 1e-12)
        step: FloatArray = unit * 10.0 ** (np.floor(np.log10(size)) - gauge.digits + 1)
    else:
        limits = np.array([limit for limit, _ in gauge.steps[:-1]])
        step = np.asarray([s for _, s in gauge.steps])[np.searchsorted(limits, pressure, side="right")]
    shown: FloatArray = np.round(pressure / step) * step
    return shown, step


def sample_times(end: float, gauge: Gauge, rng: np.random.Generator) -> FloatArray:
    """Return the times of the readings.

    Parameters
    ----------
    end : float
        End of the job. [s]
    gauge : Gauge
        The gauge.
    rng : Generator
        Source of the jitter.

    Returns
    -------
    ndarray, shape (n,)
        Times from 0 on, strictly rising. [s]
    """
    n = int(end / gauge.interval + 1e-9) + 1
    times: FloatArray = np.arange(n, dtype=np.float64) * gauge.interval
    if gauge.jitter > 0.0:
        shift = rng.uniform(-gauge.jitter, gauge.jitter, n) * gauge.interval
        shift[0] = 0.0
        times = np.clip(times + shift, 0.0, end)
    return times


def noise(n: int, pressure: FloatArray, gauge: Gauge, rng: np.random.Generator) -> FloatArray:
    """Return white noise plus a wander that is correlated in time.

    Parameters
    ----------
    n : int
        How many readings. [-]
    pressure : ndarray, shape (n,)
        Pressure, to which part of the noise is in proportion. [Pa]
    gauge : Gauge
        The gauge; its interval sets the memory from reading to reading.
    rng : Generator
        Source of everything random.

    Returns
    -------
    ndarray, shape (n,)
        What is added to the readings. [Pa]
    """
    white: FloatArray = rng.standard_normal(n) * np.hypot(gauge.noise, gauge.relative_noise * pressure)
    if gauge.wander == 0.0:
        return white
    keep = exp(-gauge.interval / gauge.wander_time)
    kicks = (rng.standard_normal(n) * gauge.wander * np.sqrt(1.0 - keep * keep)).tolist()
    state = gauge.wander * float(rng.standard_normal())
    wander = np.empty(n)
    for i in range(n):
        state = keep * state + kicks[i]
        wander[i] = state
    return white + wander


def observe(time: FloatArray, seen: FloatArray, gauge: Gauge, rng: np.random.Generator) -> GaugeRecord:
    """Return what the logger writes of a pressure as the sensor sees it, gas dependence included.

    Parameters
    ----------
    time : ndarray, shape (m,)
        Times of the integration, not falling. [s]
    seen : ndarray, shape (m,)
        Sum of the partial pressures, each weighed with the gauge's response, times the gain. [Pa]
    gauge : Gauge
        The gauge.
    rng : Generator
        Source of everything random.
    """
    moments = sample_times(float(time[-1]), gauge, rng)
    smooth = np.interp(moments, time, lagged(time, seen, gauge.lag))
    # A display does not go below nothing.
    shown, step = quantised(np.maximum(smooth + noise(len(moments), smooth, gauge, rng), 0.0), gauge)
    over = shown > gauge.upper
    shown[over] = np.nan
    return GaugeRecord(moments, shown, step, over)


def decimals(step: float, unit: float) -> int:
    """Return how many decimals show a step whole.

    Parameters
    ----------
    step : float
        The step. [Pa]
    unit : float
        Size of the unit it is shown in. [Pa]

    Returns
    -------
    int
        Decimals. [-]

    Examples
    --------
    >>> decimals(1.0, 100.0)
    2
    """
    return max(0, -int(np.floor(log10(step / unit) + 1e-9)))
