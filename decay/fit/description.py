"""The picture an instructor draws: a line plus one exponential through the hold, with its intervals.

It describes and does not decide: with one time constant the curve names a leak wherever a slower source is at work.
"""

from __future__ import annotations

import numpy as np
from scipy.special import fdtri

from decay.arrays import FloatArray
from decay.fit.results import Description
from decay.interval import Interval

_COARSE = 40
_FINE = 60
_CLOSER_LOOKS = 1


def describe(
    time: FloatArray, pressure: FloatArray, weight: FloatArray, within: float, readings: int, level: float = 0.95
) -> Description | None:
    """Fit `p0 + r t + a (1 - exp(-t/tau))` by least squares with profile intervals.

    With `tau` held the rest is linear, so the misfit over (r, tau) is a family of parabolas in `r`, one for each
    `tau`; an interval is the union of what each parabola lets in below the level (F test on one parameter).

    Parameters
    ----------
    time : ndarray, shape (k,)
        Times, from the start of the curve. [s]
    pressure : ndarray, shape (k,)
        Readings or means of readings. [Pa]
    weight : ndarray, shape (k,)
        Readings behind each value. [-]
    within : float
        Sum of squares of the readings about these means; 0 for single readings. [Pa²]
    readings : int
        Readings in all. [-]
    level : float
        Level of the intervals. [-]

    Returns
    -------
    Description or None
        None where four parameters leave no degree of freedom or the readings are all alike.
    """
    freedom = readings - 4
    span = float(time[-1] - time[0])
    if freedom < 2 or np.ptp(pressure) == 0:
        return None
    shortest = max(span / 500, 0.5 * float(np.min(np.diff(time))))
    grid = np.geomspace(shortest, 20 * span, _COARSE)
    misfit = _misfits(time, pressure, weight, grid)[0] + within
    growth = 1 + fdtri(1, freedom, level) / freedom
    # Once more, finely, over the stretch of time constants that the interval can reach.
    reached = np.flatnonzero(misfit <= float(np.min(misfit)) * growth)
    ends = grid[max(reached[0] - 1, 0)], grid[min(reached[-1] + 1, _COARSE - 1)]
    grid = np.geomspace(*ends, _FINE)
    grid = np.sort(np.append(grid, _lowest(time, pressure, weight, grid)))
    misfit, parameters, variance = _misfits(time, pressure, weight, grid)
    misfit = misfit + within
    best = int(np.argmin(misfit))
    least = misfit[best]
    ceiling = least * growth
    inside = misfit <= ceiling
    start, _, amplitude = (float(x) for x in parameters[best])

    def union(column: int) -> Interval:
        reach = np.sqrt(np.maximum(ceiling - misfit[inside], 0.0) * variance[inside, column])
        centre = parameters[inside, column]
        value = float(parameters[best, column])
        return Interval(
            value, min(float(np.min(centre - reach)), value), max(float(np.max(centre + reach)), value), level
        )

    return Description(
        rate=union(1),
        amplitude=union(2),
        time_constant=Interval(float(grid[best]), *_ends(grid, misfit, ceiling), level),
        start=start,
        plateau=start + amplitude,
    )


def _lowest(time: FloatArray, pressure: FloatArray, weight: FloatArray, grid: FloatArray) -> float:
    """Return the best time constant: a closer look at the grid's lowest stretch, then a parabola's vertex."""
    for _ in range(_CLOSER_LOOKS):
        misfit = _misfits(time, pressure, weight, grid)[0]
        best = int(np.clip(np.argmin(misfit), 1, len(grid) - 2))
        grid = np.geomspace(grid[best - 1], grid[best + 1], _FINE)
    misfit = _misfits(time, pressure, weight, grid)[0]
    best = int(np.argmin(misfit))
    if not 0 < best < len(grid) - 1:
        return float(grid[best])
    before, here, after = misfit[best - 1 : best + 2]
    bend = before - 2 * here + after
    shift = 0.5 * (before - after) / bend if bend > 0 else 0.0
    return float(grid[best] * (grid[best + 1] / grid[best]) ** shift)


def _ends(grid: FloatArray, misfit: FloatArray, ceiling: float) -> tuple[float, float]:
    """Return where the misfit crosses the ceiling, between the grid's points; its end where it never does."""
    inside = np.flatnonzero(misfit <= ceiling)
    first, last = int(inside[0]), int(inside[-1])
    low, high = float(grid[first]), float(grid[last])
    if first > 0:
        low = float(np.interp(ceiling, misfit[[first, first - 1]], grid[[first, first - 1]]))
    if last < len(grid) - 1:
        high = float(np.interp(ceiling, misfit[[last, last + 1]], grid[[last, last + 1]]))
    return low, high


def _misfits(
    time: FloatArray, pressure: FloatArray, weight: FloatArray, tau: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return, for each time constant, the misfit (g,), the parameters (g, 3) and their unscaled variances (g, 3).

    Constant and line are the same for all time constants: with them projected out, each exponential is one column.
    """
    t = (time - time[0]) / (time[-1] - time[0])
    span = float(time[-1] - time[0])
    root = np.sqrt(weight)
    basis, triangle = np.linalg.qr(np.column_stack((root, root * t)))
    inverse = np.linalg.inv(triangle)
    target = root * pressure
    shapes = root[:, None] * -np.expm1(-t[:, None] * span / tau[None, :])
    line_target, line_shapes = basis.T @ target, basis.T @ shapes
    rest = target - basis @ line_target
    free = shapes - basis @ line_shapes
    size = np.maximum(np.sum(free**2, axis=0), 1e-300)
    overlap = rest @ free
    amplitude = overlap / size
    misfit = np.maximum(rest @ rest - overlap * amplitude, 0.0)
    line = inverse @ (line_target[:, None] - amplitude * line_shapes)
    # An uncertain amplitude drags the line along by its own regression on constant and line.
    line_variance = np.sum(inverse**2, axis=1)[:, None] + (inverse @ line_shapes) ** 2 / size
    parameters = np.stack((line[0], line[1] / span, amplitude), axis=1)
    variance = np.stack((line_variance[0], line_variance[1] / span**2, 1.0 / size), axis=1)
    return misfit, parameters, variance
