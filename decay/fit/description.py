"""The picture an instructor draws: a line plus one exponential through the hold, with its intervals.

It describes and does not decide: with one time constant the curve names a leak wherever a slower source is at work.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import fdtri

from decay.arrays import FloatArray
from decay.fit.results import Description
from decay.interval import Interval

_COARSE = 60
_FINE = 80


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
    best = int(np.argmin(_misfits(time, pressure, weight, grid)[0]))
    log_ends = np.log(grid[max(best - 1, 0)]), np.log(grid[min(best + 1, _FINE - 1)])
    refined = minimize_scalar(
        lambda u: float(_misfits(time, pressure, weight, np.array([np.exp(u)]))[0][0]),
        bounds=log_ends,
        method="bounded",
        options={"xatol": 1e-7},
    )
    grid = np.sort(np.append(grid, np.exp(refined.x)))
    misfit, parameters, variance = _misfits(time, pressure, weight, grid)
    misfit = misfit + within
    best = int(np.argmin(misfit))
    least = misfit[best]
    ceiling = least * growth
    inside = misfit <= ceiling
    start, rate, amplitude = (float(x) for x in parameters[best])

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
    """Return, for each time constant, the misfit (g,), the parameters (g, 3) and their unscaled variances (g, 3)."""
    t = time - time[0]
    root = np.sqrt(weight)
    design = np.empty((len(tau), len(t), 3))
    design[:, :, 0] = root
    design[:, :, 1] = root * t / t[-1]
    design[:, :, 2] = root * -np.expm1(-t[None, :] / tau[:, None])
    q, r = np.linalg.qr(design)
    target = root * (pressure - pressure.mean())
    projected = np.einsum("gki,k->gi", q, target)
    inverse = np.linalg.inv(r)
    parameters = np.einsum("gij,gj->gi", inverse, projected)
    misfit = np.maximum(target @ target - np.sum(projected**2, axis=1), 0.0)
    variance = np.sum(inverse**2, axis=2)
    scale = np.array([1.0, 1.0 / t[-1], 1.0])
    parameters = parameters * scale
    parameters[:, 0] += pressure.mean()
    return misfit, parameters, variance * scale**2
