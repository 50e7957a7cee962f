"""Invented holds with known truth, made by formula and not by the forward model: a second opinion on the estimator."""

from __future__ import annotations

from functools import cache

import numpy as np

from decay.fit.hold import fit_hold
from decay.fit.measured import measure
from decay.fit.results import HoldFit, PumpdownFit
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Kind, Phase
from decay.several.joint import Member

MICRON = 0.133322387415
PER_MINUTE = MICRON / 60.0
"""One micron a minute. [Pa/s]"""

DRY_PULL = PumpdownFit(
    start=-1800.0,
    end=0.0,
    lowest=20.0,
    end_pressure=20.0,
    time_constant=None,
    bands=(),
    knee=None,
    plateaus=(),
    tail_exponent=None,
    longer_pull=(),
    water_suspected=False,
)
"""A pull without any sign of water, as the log would show before these holds."""


def hold_log(rise, *, length=1200.0, sampling=2.0, noise=0.7, step=1.0, start=200.0, seed=0):
    """Return a log that is one hold, and its phase; `rise(t)` in microns, noise and step in microns."""
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, length + 0.5 * sampling, sampling)
    readings = start + rise(time) + rng.normal(0.0, noise, len(time))
    return shown(time, readings, np.full(len(time), step))


def shown(time, true, step):
    """Return readings [s, micron] in the gauge's steps [micron] as a log that is one hold, and its phase."""
    readings, n = np.round(true / step) * step * MICRON, len(time)
    log = PressureLog(
        source="invented",
        time=time,
        pressure=readings,
        line=np.arange(1, n + 1),
        is_over_range=np.zeros(n, bool),
        step=step * MICRON,
        gauge="invented",
        unit="micron",
        rows=n,
    )
    return log, Phase(Kind.HOLD, 0, n - 1, 0.0, float(time[-1]), float(readings[0]), float(readings[-1]))


def levelling(height, time_constant):
    """Return a rise that levels off. [micron, s]"""
    return lambda t: height * -np.expm1(-t / time_constant)


@cache
def steady(rate):
    """Return a steady rise. [micron/min]"""
    return lambda t: rate * t / 60.0


def together(*rises):
    """Return the sum of several rises."""
    return lambda t: sum(rise(t) for rise in rises)


def fit_of(log, phase, *, ambient=None, ambient_spread=3.0, **options) -> HoldFit:
    """Measure a hold and fit it, as the pipeline does. [K]"""
    return fit_hold(measure(log, phase, ambient, ambient_spread), **options)


def holds_of_one_job(count):
    """Return so many holds of one job, with a leak, a pool that runs down and one that repeats."""
    made = []
    for i in range(count):
        at = 1800.0 + 3000.0 * i
        rise = together(steady(1.0), fading(6.0, 9000.0, at), levelling(60.0, 120.0))
        log, phase = hold_log(rise, seed=i, length=900.0)
        made.append(Member(measure(log, phase, 296.0, 3.0), at, is_refreshed=i == 3, under_vacuum=at))
    return made


def fading(rate, time_constant, isolated):
    """Return the rise of one source whose rate fades across the whole job. [micron/min, s]"""
    left = rate / 60.0 * time_constant * np.exp(-isolated / time_constant)
    return levelling(left, time_constant)
