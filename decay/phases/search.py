"""How to find the edges: turning points on log pressure first, then each edge to the reading."""

from __future__ import annotations

import numpy as np

from decay.arrays import BoolArray, FloatArray
from decay.phases.costs import Corner, corner_costs, line_cost

# Most points that enter one search for a corner; longer stretches are averaged first.
CORNER_POINTS = 90
# Settling times that are tried, in distances between readings, and the longest that rig and system take. [-, s]
SETTLING = np.array([0.4, 1.2, 3.0, 8.0])
LONGEST_SETTLING = 12.0
# Lags of gauge and hose that are tried [s], and what the settling's further number must take off the misfit. [-]
LAGS = np.array([1.0, 2.5, 5.0])
ONE_NUMBER_MORE = 6.0


def running_median(values: FloatArray, width: int = 5) -> FloatArray:
    """Return the running median over an odd number of readings, ends repeated."""
    if len(values) < width:
        return values.copy()
    padded = np.pad(values, width // 2, mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1))


def turning_points(values: FloatArray, hysteresis: FloatArray) -> list[int]:
    """Return the readings at which a series turns, ends included.

    A turn counts once the series has come back by more than the hysteresis.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Logarithm of pressure. [-]
    hysteresis : ndarray, shape (n,)
        What a turn must exceed at each reading. [-]

    Returns
    -------
    list of int
        Indices, the first 0 and the last n - 1. [-]
    """
    series = values.tolist()
    band = hysteresis.tolist()
    turns = [0]
    low = high = series[0]
    low_at = high_at = 0
    direction = 0
    for i, value in enumerate(series):
        if direction >= 0 and value > high:
            high, high_at = value, i
        elif direction <= 0 and value < low:
            low, low_at = value, i
        if direction == 0:
            if value > high:
                high, high_at = value, i
            if value < low:
                low, low_at = value, i
            if high - value > band[i] and high_at < i:
                direction = -1
                if high_at > 0:
                    turns.append(high_at)
                low, low_at = value, i
            elif value - low > band[i] and low_at < i:
                direction = 1
                if low_at > 0:
                    turns.append(low_at)
                high, high_at = value, i
        elif direction > 0:
            if high - value > band[i]:
                turns.append(high_at)
                direction = -1
                low, low_at = value, i
        elif value - low > band[i]:
            turns.append(low_at)
            direction = 1
            high, high_at = value, i
    if turns[-1] != len(series) - 1:
        turns.append(len(series) - 1)
    return turns


def _averaged(time: FloatArray, pressure: FloatArray, block: int) -> tuple[FloatArray, FloatArray]:
    used = len(time) // block * block
    return time[:used].reshape(-1, block).mean(axis=1), pressure[:used].reshape(-1, block).mean(axis=1)


def _settling(spacing: float) -> FloatArray:
    return np.minimum(SETTLING * spacing, max(LONGEST_SETTLING, 2.0 * spacing))


def _best(
    time: FloatArray, pressure: FloatArray, tries: FloatArray, spacing: float, scale: float, pumping_since: float
) -> tuple[int, FloatArray]:
    """Return which of the tried moments fits best, and that fit's row of numbers."""
    settling = _settling(spacing)
    costs = corner_costs(time, pressure, tries, settling, np.maximum(LAGS, 0.3 * spacing), pumping_since)
    weighed = costs[..., 0].copy()
    # Where the model leaves more than the noise, one number counts for as much more.
    left_over = max(float(weighed.min()) / max(len(time) - 6, 1), scale)
    weighed[:, : len(settling)] += ONE_NUMBER_MORE * left_over
    at, which = np.unravel_index(int(np.argmin(weighed)), weighed.shape)
    return int(at), costs[at, which]


def find_corner(
    time: FloatArray, pressure: FloatArray, noise: float, left: int, right: int, pumping_since: float
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

    Returns
    -------
    Corner
        The best cut and how much it explains.
    """
    count = len(time)
    sampling = float(np.median(np.diff(time)))
    block = -(-count // CORNER_POINTS)
    if block > 1:
        times, values = _averaged(time, pressure, block)
        tries = np.arange(max(left // block, 1), min(right // block, len(times) - 3) + 1)
        tries = tries if len(tries) else np.array([max(min(left // block, len(times) - 2), 1)])
        scale = max(noise**2 / block, 1e-300)
        best, row = _best(times, values, times[tries], sampling * block, scale, pumping_since)
        centre = int(tries[best]) * block + block // 2
        reach = max(2 * block, 25)
        low, high = max(centre - reach - 10, 0), min(centre + reach + 10, count)
        inner = find_corner(
            time[low:high],
            pressure[low:high],
            noise,
            max(left - low, 0, centre - reach - low),
            min(right - low, centre + reach - low),
            pumping_since,
        )
        smooth = line_cost(times, values)
        gain = max((smooth - float(row[0])) / scale, inner.gain)
        return Corner(low + inner.index, gain, float(row[2]), float(row[3]), float(row[4]), float(row[0]) / scale)
    tries = np.arange(max(left, 0), min(right, count - 2) + 1)
    if not len(tries):
        tries = np.array([max(min(left, count - 2), 0)])
    scale = max(noise**2, 1e-300)
    at, row = _best(time, pressure, time[tries], sampling, scale, pumping_since)
    gain = (line_cost(time, pressure) - float(row[0])) / scale
    return Corner(int(tries[at]), gain, float(row[2]), float(row[3]), float(row[4]), float(row[0]) / scale)


def last_before(is_disturbed: BoolArray) -> int:
    """Return the last reading before the final unbroken run of disturbed ones; -1 where all are."""
    quiet = np.flatnonzero(~is_disturbed)
    return int(quiet[-1]) if len(quiet) else -1
