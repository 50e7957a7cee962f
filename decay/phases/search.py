"""How to find the edges: turning points on log pressure first, then each edge to the reading."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from decay.arrays import FloatArray, IntArray, median
from decay.phases.cuts import Corner, corner_costs, line_cost, misfit

# Most points that enter one search for a corner; longer stretches are averaged first.
CORNER_POINTS = 90
# Settling times that are tried, in distances between readings, and the longest that rig and system take. [-, s]
SETTLING = np.array([0.4, 1.2, 3.0, 8.0])
LONGEST_SETTLING = 12.0
# Lags of gauge and hose that are tried [s], and what the settling's further number must take off the misfit. [-]
LAGS = np.array([1.0, 2.5, 5.0])
ONE_NUMBER_MORE = 6.0
# Closings whose misfit is larger by no more than this are as likely: 95 % of chi-squared with two degrees of freedom
# (any table of it), for the moment and its settling are sought together.
AS_LIKELY = 5.99
# Neighbouring misfits are taken for no more alike than this: a wander that lasts longer is a bend. [-]
MOST_ALIKE = 0.9


def _averaged(time: FloatArray, pressure: FloatArray, block: int) -> tuple[FloatArray, FloatArray]:
    used = len(time) // block * block
    return time[:used].reshape(-1, block).mean(axis=1), pressure[:used].reshape(-1, block).mean(axis=1)


def _settling(spacing: float) -> FloatArray:
    return np.minimum(SETTLING * spacing, max(LONGEST_SETTLING, 2.0 * spacing))


def _best(
    time: FloatArray,
    pressure: FloatArray,
    tries: IntArray,
    spacing: float,
    scale: float,
    pumping_since: float,
    memory: float = 0.0,
) -> tuple[Corner, float]:
    """Return the tried cut that fits best, its gain over the smooth rival in units of ``scale``, and its doubt's unit.

    The unit is the variance of independent readings that would leave the same doubt: what the model leaves, more where
    neighbours leave alike, and ``memory`` at least. [Pa²]
    """
    shapes = _settling(spacing), np.maximum(LAGS, 0.3 * spacing)
    cuts = corner_costs(time, pressure, tries, *shapes, pumping_since)
    weighed = cuts.squares.copy()
    # Where the model leaves more than the noise, one number counts for as much more.
    left_over = max(float(weighed.min()) / max(len(time) - 6, 1), scale)
    weighed[:, : len(shapes[0])] += ONE_NUMBER_MORE * left_over
    at = np.unravel_index(int(np.argmin(weighed)), weighed.shape)
    squares, index = float(cuts.squares[at]), int(tries[at[0]])
    gain = (line_cost(time, pressure) - squares) / scale
    off = misfit(time, pressure, index, int(at[1]), *shapes, pumping_since)
    alike = min(max(float(off[1:] @ off[:-1]) / max(float(off @ off), 1e-300), 0.0), MOST_ALIKE)
    unit = max(left_over * (1.0 + alike) / (1.0 - alike), memory)
    near = np.flatnonzero(weighed.min(axis=1) <= float(weighed.min()) + AS_LIKELY * unit)
    slopes = float(cuts.slope_before[at]), float(cuts.slope_after[at])
    reach = int(tries[near[0]]), int(tries[near[-1]])
    return Corner(index, gain, *slopes, float(cuts.jump[at]), squares / scale, *reach), unit


def find_corner(
    time: FloatArray,
    pressure: FloatArray,
    noise: float,
    left: int,
    right: int,
    pumping_since: float,
    memory: float = 0.0,
) -> Corner:
    """Return the reading of a stretch at which the valve most likely closed.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time. [s]
    pressure : ndarray, shape (n,)
        Pressure. [Pa]
    noise : float
        Standard deviation of one reading. [Pa]
    left, right : int
        First and last reading that is tried. [-]
    pumping_since : float
        When the fall began. [s]
    memory : float, optional
        Variance of a reading that leaves as much doubt as wandering does, where a wider look told it. [Pa²]
    """
    count = len(time)
    sampling = median(np.diff(time))
    block = -(-count // CORNER_POINTS)
    if block > 1:
        times, values = _averaged(time, pressure, block)
        tries = np.arange(max(left // block, 1), min(right // block, len(times) - 3) + 1)
        tries = tries if len(tries) else np.array([max(min(left // block, len(times) - 2), 1)])
        scale = max(noise**2 / block, 1e-300)
        coarse, unit = _best(times, values, tries, sampling * block, scale, pumping_since)
        centre = coarse.index * block + block // 2
        reach = max(2 * block, 25)
        low, high = max(centre - reach - 10, 0), min(centre + reach + 10, count)
        begin, end = max(left - low, 0, centre - reach - low), min(right - low, centre + reach - low)
        inner = find_corner(time[low:high], pressure[low:high], noise, begin, end, pumping_since, unit * block)
        # Where the near look is in doubt up to its ends, the far one tells how far the doubt reaches.
        earliest = low + inner.earliest if inner.earliest > begin else coarse.earliest * block
        latest = low + inner.latest if inner.latest < end else coarse.latest * block + block - 1
        index = low + inner.index
        return replace(
            coarse, index=index, gain=max(coarse.gain, inner.gain), earliest=min(earliest, index),
            latest=max(latest, index),
        )  # fmt: skip
    tries = np.arange(max(left, 0), min(right, count - 2) + 1)
    if not len(tries):
        tries = np.array([max(min(left, count - 2), 0)])
    return _best(time, pressure, tries, sampling, max(noise**2, 1e-300), pumping_since, memory)[0]
