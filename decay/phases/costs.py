"""What a good piece of a log is: its noise, and how well a valve closing at one reading explains a stretch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray

# Standard deviation of an evenly spread error of one step: step / sqrt(12).
STEP_NOISE = 12.0**-0.5
# A normal law's standard deviation is this many times its median absolute value.
MAD = 1.4826
# Readings in a block over which the noise is taken as constant.
NOISE_BLOCK = 24


def reading_noise(pressure: FloatArray, step: FloatArray) -> FloatArray:
    """Return the standard deviation of each reading, from second differences and the step of the gauge.

    Second differences let a straight line go; their median lets single jumps go.

    Parameters
    ----------
    pressure : ndarray, shape (n,)
        Pressure, finite. [Pa]
    step : ndarray, shape (n,)
        Smallest change the log can show. [Pa]

    Returns
    -------
    ndarray, shape (n,)
        Noise of one reading; never below that of the step. [Pa]
    """
    count = len(pressure)
    floor = np.maximum(step * STEP_NOISE, 1e-9 * np.abs(pressure))
    if count < 5:
        return floor
    second = np.abs(pressure[:-2] - 2.0 * pressure[1:-1] + pressure[2:]) * (MAD / 6.0**0.5)
    blocks = max(len(second) // NOISE_BLOCK, 1)
    used = blocks * (len(second) // blocks)
    by_block = np.median(second[:used].reshape(blocks, -1), axis=1)
    centres = (np.arange(blocks) + 0.5) * (len(second) // blocks) + 1.0
    return np.asarray(np.maximum(floor, np.interp(np.arange(count), centres, by_block)))


@dataclass(frozen=True, slots=True)
class Corner:
    """Where a stretch is best cut into pumping and holding.

    Parameters
    ----------
    index : int
        Reading at which the valve closed, counted in the stretch. [-]
    gain : float
        Misfit that the cut takes away, relative to the noise's variance. [-]
    slope_before, slope_after : float
        Slopes of the two sides, the right one after its first settling. [Pa/s]
    jump : float
        Height of the settling. [Pa]
    misfit : float
        Sum of squares that is left, relative to the noise's variance. [-]
    """

    index: int
    gain: float
    slope_before: float
    slope_after: float
    jump: float
    misfit: float


def corner_costs(
    time: FloatArray,
    pressure: FloatArray,
    candidates: FloatArray,
    settling: FloatArray,
    lags: FloatArray,
    pumping_since: float,
) -> FloatArray:
    """Return the least squares of every pair of closing moment and settling time or lag.

    The model is continuous: a line plus ``1 / t`` before the closing, as a tail falls; after it another line plus one
    settling step ``A (1 - exp(-s / tau))`` of either sign, as rig and system equalise.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time. [s]
    pressure : ndarray, shape (n,)
        Pressure. [Pa]
    candidates : ndarray, shape (m,)
        Closing moments to try. [s]
    settling : ndarray, shape (q,)
        Settling times to try. [s]
    lags : ndarray, shape (l,)
        Lags to try. [s]
    pumping_since : float
        When the fall began, before the first reading. [s]

    Returns
    -------
    ndarray, shape (m, q + l, 5)
        Sum of squares [Pa²], then level [Pa], slope before, slope after [Pa/s] and settling height [Pa].
    """
    since = time[None, :] - candidates[:, None]
    before = np.minimum(since, 0.0)
    after = np.maximum(since, 0.0)
    length = max(float(time[-1] - time[0]), 1e-9)
    both = np.concatenate([settling, lags])
    settled = 1.0 - np.exp(-after[:, None, :] / both[None, :, None])
    shape = settled.shape
    kinds = len(settling)
    design = np.empty((*shape, 5))
    design[..., 0] = 1.0
    design[..., 1] = before[:, None, :] / length
    design[..., 2] = after[:, None, :] / length
    design[..., 3] = settled
    design[:, kinds:, :, 2] -= settled[:, kinds:] * (lags / length)[None, :, None]
    design[:, kinds:, :, 3] = 0.0
    pumped = np.maximum(time - pumping_since, 1e-9 * length)
    pumped_then = np.maximum(candidates - pumping_since, 1e-9 * length)
    fading = np.maximum(length / pumped[None, :] - length / pumped_then[:, None], 0.0)
    design[..., 4] = fading[:, None, :] * (pumped_then / length)[:, None, None]
    centred = pressure - pressure.mean()
    gram = np.swapaxes(design, -1, -2) @ design
    # A trace of ridge keeps a side with one reading from making the matrix singular.
    gram += 1e-9 * len(time) * np.eye(5)
    right = np.swapaxes(design, -1, -2) @ centred
    solution = np.linalg.solve(gram, right[..., None])[..., 0]
    squares = float(centred @ centred) - np.sum(solution * right, axis=-1)
    out = np.empty((shape[0], shape[1], 5))
    out[..., 0] = np.maximum(squares, 0.0)
    out[..., 1] = solution[..., 0] + pressure.mean()
    out[..., 2] = solution[..., 1] / length
    out[..., 3] = solution[..., 2] / length
    out[..., 4] = solution[..., 3]
    return out


def line_cost(time: FloatArray, pressure: FloatArray, degree: int = 2) -> float:
    """Return the sum of squares about one smooth curve, the rival of a cut. [Pa²]"""
    if len(time) <= degree + 1:
        return 0.0
    length = max(float(time[-1] - time[0]), 1e-9)
    design = np.vander((time - time[0]) / length, degree + 1)
    solution, *_ = np.linalg.lstsq(design, pressure, rcond=None)
    return float(np.sum((pressure - design @ solution) ** 2))
