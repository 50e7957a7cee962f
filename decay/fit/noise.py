"""The noise of a hold's bins: white scatter, wander with a memory, and the gauge's steps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.fit.bins import Bins


@dataclass(frozen=True, slots=True, eq=False)
class Noise:
    """Covariance of the bin means.

    Parameters
    ----------
    covariance : ndarray, shape (k, k)
        Covariance of the bins' mean pressures. [Pa²]
    wander : float
        Standard deviation of the slow part. [Pa]
    memory : float
        Its correlation time. [s]
    """

    covariance: FloatArray
    wander: float
    memory: float


def estimate(bins: Bins) -> Noise:
    """Estimate the noise from the bins by restricted maximum likelihood.

    White scatter is taken from neighbouring readings, the steps from the log; the wander's size and memory are those
    under which the bins are most likely about *any* smooth rise. "Restricted" (Patterson and Thompson 1971) means that
    the smooth rise is projected out first, so that fitting it does not make the noise look smaller.

    Parameters
    ----------
    bins : Bins
        The hold. [Pa, s]

    Returns
    -------
    Noise
        Covariance of the bin means. [Pa²]
    """
    fixed = _fixed_part(bins)
    typical = float(np.mean(np.diag(fixed)))
    span, sampling = bins.length, bins.length / float(np.sum(bins.count))
    smooth = _smooth_rises(bins)
    # Rotate once into the space that no smooth rise reaches: there the bins are noise alone.
    basis, _ = np.linalg.qr(smooth, mode="complete")
    rest = basis[:, smooth.shape[1] :]
    residual = rest.T @ bins.pressure
    fixed_rest = rest.T @ fixed @ rest
    memories = np.geomspace(max(2 * sampling, span / 300), span / 4, 5)
    shapes = [_wander(bins, memory) for memory in memories]
    rotated = np.stack([rest.T @ shape @ rest for shape in shapes])
    scatter = float(np.mean(residual**2)) if len(residual) else 0.0
    largest = max(scatter, typical, np.finfo(float).tiny)
    sizes = largest * np.array([0.01, 0.03, 0.1, 0.3, 1.0, 3.0])
    surprise = _surprise(fixed_rest, np.multiply.outer(sizes, rotated).reshape(-1, *fixed_rest.shape), residual)
    best = int(np.argmin(surprise))
    if best == 0:
        return Noise(fixed, 0.0, 0.0)
    size, memory = divmod(best - 1, len(memories))
    covariance = fixed + sizes[size] * shapes[memory]
    return Noise(covariance, float(np.sqrt(sizes[size])), float(memories[memory]))


def _surprise(fixed: FloatArray, added: FloatArray, residual: FloatArray) -> FloatArray:
    """Return how unlikely the residual is without, and with each of the added covariances, shape (1 + g,). [-]

    One factorisation tells its square and the covariance's determinant: bordered by the residual, the last row of the
    triangle is the whitened residual.
    """
    count, k, _ = added.shape
    bordered = np.empty((1 + count, k + 1, k + 1))
    bordered[:, :k, :k] = fixed
    bordered[1:, :k, :k] += added
    bordered[:, k, :k] = residual  # the factorisation looks at the lower triangle alone
    # The corner has to exceed the whitened residual's square; how far does not touch the rest of the triangle.
    bordered[:, k, k] = 1e12 * max(float(residual @ residual), 1e-300) / float(np.min(bordered[:, 0, 0]))
    factor = np.linalg.cholesky(bordered)
    diagonal = np.diagonal(factor, axis1=1, axis2=2)[:, :k]
    return np.asarray(np.sum(factor[:, k, :k] ** 2, axis=1) + 2 * np.sum(np.log(diagonal), axis=1))


def assumed(bins: Bins, wander: float = 0.0, memory: float = 0.0) -> Noise:
    """Return the noise of bins whose slow part is known or assumed, and not estimated from them.

    Parameters
    ----------
    bins : Bins
        The hold. [Pa, s]
    wander : float
        Standard deviation of the slow part. [Pa]
    memory : float
        Its correlation time. [s]

    Returns
    -------
    Noise
        Covariance of the bin means. [Pa²]
    """
    fixed = _fixed_part(bins)
    if wander <= 0 or memory <= 0:
        return Noise(fixed, 0.0, 0.0)
    return Noise(fixed + wander**2 * _wander(bins, memory), wander, memory)


def _fixed_part(bins: Bins) -> FloatArray:
    """Return the part that the readings themselves tell: white scatter and steps.

    A step's rounding error keeps its value for as long as the reading does, so equal readings do not average it away.
    """
    step_variance = bins.step**2 / 12.0
    rounding = _wander(bins, max(0.5 * bins.level_time, 1e-9)) * np.sqrt(np.outer(step_variance, step_variance))
    # Scatter seen between neighbours contains the rounding that changes from reading to reading already.
    white = np.maximum(bins.reading_noise**2, 1e-4 * step_variance) / bins.count
    floor = 1e-12 * max(float(np.max(np.abs(bins.pressure))), 1e-30) ** 2
    return np.asarray(rounding + np.diag(white + floor))


def _wander(bins: Bins, memory: float) -> FloatArray:
    """Return the correlation of bin means of a process that forgets exponentially, exact for averages over the bins."""
    width = (bins.right - bins.left) / memory
    edge = -np.expm1(-width) / width
    gap = np.maximum((bins.left[None, :] - bins.right[:, None]) / memory, 0.0)
    gap = np.maximum(gap, gap.T)
    corr = np.exp(-gap) * np.outer(edge, edge)
    np.fill_diagonal(corr, 2.0 * (width + np.expm1(-width)) / width**2)
    return np.asarray(corr)


def _smooth_rises(bins: Bins) -> FloatArray:
    """Return a handful of curves that together imitate any rise the model can make, the first jump included."""
    t = (bins.centre - bins.left[0]) / bins.length
    fastest = 1.0 / float(np.sum(bins.count))
    decays = [np.exp(-t / tau) for tau in np.geomspace(1.5 * fastest, 0.4, 6)]
    curves = [np.ones_like(t), t, t**2, *decays[::-1]]
    return np.stack(curves[: max(2, len(t) // 3)], axis=1)
