"""Holds made by formula: what gives off gas, how long, through which gauge; none of it is the forward model's.

All of it is synthetic: rises of 500 micron after half an hour of pumping, noise 0.7 micron, steps of 1, readings every
two seconds, unless the kind says otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from decay.fit.hold import fit_hold
from decay.fit.measured import Measured, measure
from decay.fit.results import HoldFit, PumpdownFit

from ..fit.holds import levelling, shown

HEIGHT = 500.0
PUMPED = 1800.0
LENGTHS = (300.0, 900.0, 3600.0, 14400.0)

Rise = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True, slots=True)
class Sort:
    """One sort of hold: its rise for a length, and its gauge.

    Parameters
    ----------
    rise : callable
        From the hold's length [s] and a random generator to the rise over time [s to micron].
    step : callable
        From readings to the gauge's step at each [micron to micron].
    noise : float
        Scatter of a reading. [micron]
    wander, memory : float
        Slow part of the gauge's noise, and how long it lasts. [micron, s]
    start : float
        Pressure at isolation, give or take ten: where on a step of the gauge a hold begins is chance. [micron]
    """

    rise: Callable[[float, np.random.Generator], Rise]
    step: Callable[[np.ndarray], np.ndarray] = np.ones_like
    noise: float = 0.7
    wander: float = 0.0
    memory: float = 60.0
    start: float = 200.0


def _none(length: float, rng: np.random.Generator) -> Rise:
    return np.zeros_like


def _pool(share: float) -> Callable[[float, np.random.Generator], Rise]:
    return lambda length, rng: levelling(HEIGHT, share * length)


def _three(length: float, rng: np.random.Generator) -> Rise:
    parts = [levelling(HEIGHT / 3, share * length) for share in (0.02, 0.07, 0.25)]
    return lambda t: sum((part(t) for part in parts), np.zeros_like(t))


def _walls(length: float, rng: np.random.Generator) -> Rise:
    """Walls whose rate falls with the time under vacuum, t^-1: they rise by HEIGHT in an hour."""
    scale = HEIGHT / np.log1p(3600.0 / PUMPED)
    return lambda t: scale * np.log1p(t / PUMPED)


def two_digits(pressure: np.ndarray) -> np.ndarray:
    """Return the step of a gauge that shows two significant digits. [micron]"""
    return 10.0 ** (np.floor(np.log10(np.maximum(pressure, 1.0))) - 1.0)


SORTS = {
    "dry": Sort(_none),
    "damp": Sort(lambda length, rng: levelling(HEIGHT, 600.0)),
    "short": Sort(_pool(0.05)),
    "middling": Sort(_pool(0.25)),
    "slow": Sort(_pool(0.7)),
    "three": Sort(_three),
    "walls": Sort(_walls),
    "coarse dry": Sort(_none, step=lambda p: np.full_like(p, 10.0), noise=2.0),
    "coarse damp": Sort(_pool(0.15), step=two_digits, noise=2.0),
    "wandering": Sort(_none, wander=1.0),
}
"""The sorts by name; `damp` has one time constant of ten minutes at any length."""


def dry_pull() -> PumpdownFit:
    """Return a pull without any sign of water."""
    return PumpdownFit(-PUMPED, 0.0, 20.0, 20.0, None, (), None, (), None, (), water_suspected=False)


def measured(sort: Sort, length: float, rate: float, seed: int, noise_seed: int = 0) -> Measured:
    """Make one hold with a steady rise [micron/min], and measure it; the second seed draws other noise over it."""
    start = sort.start + np.random.default_rng(seed).uniform(-10.0, 10.0)
    rng = np.random.default_rng([seed, noise_seed])
    time = np.arange(0.0, length + 1.0, 2.0)
    true = start + sort.rise(length, rng)(time) + rate * time / 60.0
    true = true + _slow(sort, len(time), rng) + rng.normal(0.0, sort.noise, len(time))
    log, phase = shown(time, true, sort.step(true))
    return measure(log, phase, 296.0, 3.0)


def _slow(sort: Sort, n: int, rng: np.random.Generator) -> np.ndarray:
    from scipy.signal import lfilter

    if sort.wander == 0.0:
        return np.zeros(n)
    kept = np.exp(-2.0 / sort.memory)
    drawn = sort.wander * rng.standard_normal(n)
    drawn[1:] *= (1.0 - kept**2) ** 0.5
    return np.asarray(lfilter([1.0], [1.0, -kept], drawn))


def fit(hold: Measured) -> HoldFit:
    """Fit a hold as the pipeline does, half an hour of dry pumping before it."""
    return fit_hold(hold, under_vacuum=PUMPED, pull=dry_pull())
