"""The slow tail of a pull: p - p_ultimate falling as a power of time, and where it would have led."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtri

from decay.arrays import FloatArray
from decay.fit.residuals import lag_one_correlation
from decay.interval import Interval

# Bins, evenly spaced in log time, that the tail is averaged into.
BINS = 40
FEWEST_BINS = 8
# The tail must span this factor in pumping time, and fall by this share.
LEAST_SPAN = 1.5
LEAST_FALL = 0.04
# Exponents that are tried; beyond the last the tail is as good as exponential.
EXPONENTS = np.geomspace(0.1, 6.0, 80)
# Extra pumping times that are answered, none longer than so many times the pull itself. [s, -]
EXTRA = (600.0, 1800.0, 3600.0)
FARTHEST = 3.0


@dataclass(frozen=True, slots=True)
class Tail:
    """A fitted tail: exponent with interval [-], ultimate pressure [Pa], height at the reference time [Pa, s]."""

    exponent: Interval
    ultimate: float
    height: float
    reference: float

    def pressure_at(self, pumped: float) -> float:
        """Return the pressure after a pumping time [s] that the tail leads to. [Pa]"""
        return self.ultimate + self.height * float((pumped / self.reference) ** -self.exponent.value)


def fit_tail(pumped: FloatArray, pressure: FloatArray, noise: FloatArray, level: float = 0.95) -> Tail | None:
    r"""Fit :math:`p = p_u + c\,t^{-n}` to a tail; None where the readings do not show one.

    Parameters
    ----------
    pumped : ndarray, shape (n,)
        Time since the pull began, positive. [s]
    pressure : ndarray, shape (n,)
        Pressure. [Pa]
    noise : ndarray, shape (n,)
        Standard deviation of a reading. [Pa]
    level : float
        Level of the interval. [-]

    Returns
    -------
    Tail or None
        For each exponent the ultimate pressure and the height follow by least squares, neither below zero; the
        interval is the profile of the misfit, widened for autocorrelation.
    """
    if len(pumped) < FEWEST_BINS or pumped[-1] < LEAST_SPAN * pumped[0]:
        return None
    edges = np.geomspace(pumped[0], pumped[-1] * (1 + 1e-9), BINS + 1)
    which = np.clip(np.searchsorted(edges, pumped, side="right") - 1, 0, BINS - 1)
    counts = np.bincount(which, minlength=BINS)
    kept = counts > 0
    if int(kept.sum()) < FEWEST_BINS:
        return None

    def mean(values: FloatArray) -> FloatArray:
        return np.bincount(which, weights=values, minlength=BINS)[kept] / counts[kept]

    time, value = mean(pumped), mean(pressure)
    # Readings of a coarse gauge do not average out: a third of one reading's error stays.
    sigma = mean(noise) * np.maximum(1.0 / np.sqrt(counts[kept]), 1.0 / 3.0)
    fallen = value[0] - value[-1]
    if fallen < LEAST_FALL * value[-1] or fallen < 5.0 * float(np.hypot(sigma[0], sigma[-1])):
        return None
    weight = 1.0 / sigma
    shapes = weight * (time / time[0]) ** -EXPONENTS[:, None]
    costs, solutions = _two_terms(weight, shapes, weight * value)
    best = int(np.argmin(costs))
    residuals = (value - solutions[best, 0] - solutions[best, 1] * (time / time[0]) ** -EXPONENTS[best]) * weight
    rho = min(max(lag_one_correlation(residuals), 0.0), 0.9)
    count = len(time)
    freedom = max(count * (1 - rho) / (1 + rho) - 3.0, 1.0)
    scale = max(float(costs[best]) / max(count - 3, 1), 1.0) * (1 + rho) / (1 - rho)
    inside = np.flatnonzero(costs <= costs[best] + scale * float(fdtri(1.0, freedom, level)))
    low = float(EXPONENTS[max(inside[0] - 1, 0)]) if inside[0] > 0 else 0.0
    high = float(EXPONENTS[inside[-1] + 1]) if inside[-1] + 1 < len(EXPONENTS) else float("inf")
    if best == len(EXPONENTS) - 1 or solutions[best, 1] <= 0:
        return None
    interval = Interval(float(EXPONENTS[best]), low, high, level)
    return Tail(interval, float(solutions[best, 0]), float(solutions[best, 1]), float(time[0]))


def _two_terms(ones: FloatArray, shapes: FloatArray, target: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return misfit and the two non-negative coefficients of a constant and each shape, all weighted.

    For shapes of shape (e, k) the misfits have shape (e,) and the coefficients shape (e, 2).
    """
    a, b, c = float(ones @ ones), shapes @ ones, np.einsum("ek,ek->e", shapes, shapes)
    u, v = float(ones @ target), shapes @ target
    determinant = a * c - b * b
    is_told = determinant > 0
    divisor = np.where(is_told, determinant, 1.0)
    constant = np.where(is_told, (c * u - b * v) / divisor, u / a)
    height = np.where(is_told, (a * v - b * u) / divisor, 0.0)
    is_below, is_rising = constant < 0, height < 0
    height = np.where(is_below, np.maximum(v / c, 0.0), np.where(is_rising, 0.0, height))
    constant = np.where(is_below, 0.0, np.where(is_rising, u / a, constant))
    residuals = target - constant[:, None] * ones - height[:, None] * shapes
    return np.einsum("ek,ek->e", residuals, residuals), np.stack([constant, height], axis=1)


def longer_pull(tail: Tail | None, pumped: float, end_pressure: float) -> tuple[tuple[float, float], ...]:
    """Return extra pumping times and the pressures that the tail leads to then.

    Parameters
    ----------
    tail : Tail or None
        The tail.
    pumped : float
        Length of the pull. [s]
    end_pressure : float
        Pressure at its end. [Pa]

    Returns
    -------
    tuple of tuple of float
        Pairs of time and pressure, none farther out than three times the pull; empty where there is no tail. [s, Pa]
    """
    if tail is None:
        return ()
    here = tail.pressure_at(pumped)
    return tuple(
        # Carried on from where the pull ended, so that one noisy last reading is not taken for progress.
        (extra, min(end_pressure * tail.pressure_at(pumped + extra) / here, end_pressure))
        for extra in EXTRA
        if extra <= FARTHEST * pumped
    )
