"""The noise of a hold's bins: white scatter, wander with a memory, and the gauge's steps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray
from decay.fit.bins import Bins
from decay.fit.mixture import pool_columns
from decay.fit.whitening import Whitening

_SOURCES = 48
"""Time constants whose rises are not noise. [-]"""
_UNSEEN = 0.3
"""How far a source may lie outside the smooth rises, in standard deviations of the noise. [-]"""
_SIZES = np.geomspace(0.003, 100.0, 25)
"""Variances of a wander that are tried, in units of the typical bin's variance times its misfit. [-]"""
_EARNED = 2.0
"""Growth of twice the logarithm of the likelihood by which a wander earns its place: a gauge without one has one found
in 4 % of dry holds, and in 41 % without this. [-]"""


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
    white = Whitening(fixed)
    # Rotate once into the whitened space that no smooth rise reaches: there the bins are noise alone, and where
    # nothing wanders of unit variance.
    smooth = _smooth_rises(bins, white)
    basis, _ = np.linalg.qr(smooth, mode="complete")
    rest = basis[:, smooth.shape[1] :].T
    span, sampling = bins.length, bins.length / float(np.sum(bins.count))
    memories = np.geomspace(max(2 * sampling, span / 300), span / 4, 5)
    shapes = [_wander(bins, memory) for memory in memories]
    rotated = np.stack([rest @ white.white(white.white(shape).T) @ rest.T for shape in shapes])
    # Along its own axes each wander is independent, so that any size of it costs a sum and no factorisation.
    strength, axes = np.linalg.eigh(rotated)
    residual = rest @ white.white(bins.pressure)
    square = (residual @ axes) ** 2
    largest = float(np.mean(np.diag(fixed))) * max(float(np.mean(residual**2)) if len(residual) else 0.0, 1.0)
    sizes = largest * _SIZES
    variance = 1.0 + sizes[None, :, None] * np.maximum(strength, 0.0)[:, None, :]
    surprise = np.sum(square[:, None, :] / variance + np.log(variance), axis=2)
    memory, size = (int(i) for i in np.unravel_index(int(np.argmin(surprise)), surprise.shape))
    if surprise[memory, size] > float(residual @ residual) - _EARNED:
        return Noise(fixed, 0.0, 0.0)
    covariance = fixed + sizes[size] * shapes[memory]
    return Noise(covariance, float(np.sqrt(sizes[size])), float(memories[memory]))


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


def _smooth_rises(bins: Bins, white: Whitening) -> FloatArray:
    """Return the fewest curves, whitened and orthonormal, that imitate any rise the model can make, shape (k, m). [-]

    A line, a bend, and of the model's own sources the principal directions. Each source is scaled to rise by as much as
    the hold did: a mixture of them then lies no further outside the curves than the worst of them.
    """
    t = (bins.centre - bins.left[0]) / bins.length
    always, _ = np.linalg.qr(white.white(np.stack([np.ones_like(t), t, t**2], axis=1)))
    time_constants = bins.length * np.geomspace(max(1.0 / float(np.sum(bins.count)), 1.0 / 3000.0), 10.0, _SOURCES)
    rises = pool_columns(bins, time_constants) / -np.expm1(-bins.length / time_constants)
    left = white.white(float(np.ptp(bins.pressure)) * rises)
    left -= always @ (always.T @ left)
    curves, sizes, shares = np.linalg.svd(left, full_matrices=False)
    # Row m: how far each source still lies outside where the first m curves are taken.
    outside = np.cumsum(((sizes[:, None] * shares) ** 2)[::-1], axis=0)[::-1]
    enough = int(np.count_nonzero(np.max(outside, axis=1) > _UNSEEN**2))
    return np.asarray(np.column_stack((always, curves[:, :enough]))[:, : max(2, len(t) // 3)])
