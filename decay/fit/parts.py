"""The fitted rise of a hold taken apart: equalisation, outgassing, leak."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.fit.mixture import Mixture, Solution, rise_shapes
from decay.fit.results import HoldCurve
from decay.interval import Interval

_CURVE_POINTS = 200
_FINE_POINTS = 2001


def settling_time(span: float) -> float:
    """Return the longest time constant that counts as rig and system equalising, not as gas given off. [s]"""
    return min(20.0, span / 20)


class Parts:
    """What the best fit's rise is made of.

    Parameters
    ----------
    problem : Mixture
        The hold. [Pa, s]
    best : Solution
        Its best fit. [Pa/s, Pa]
    """

    def __init__(self, problem: Mixture, best: Solution) -> None:
        self.problem = problem
        self.best = best
        self._end = np.array([problem.bins.length])
        self._settling = problem.time_constants <= settling_time(problem.bins.length)
        # Gas taken up through much of the hold is part of what levels off: given off and taken up at nearly one pace,
        # the two may each be many times the rise and mean nothing apart. A fall in the first seconds is equalisation.
        self._taken_up = np.empty(0) if problem.taking_up is None else problem.falling
        self._tau = np.concatenate((problem.time_constants, self._taken_up))

    def _pools(self, solution: Solution) -> FloatArray:
        count = len(self._settling)
        given_off = np.where(self._settling, 0.0, solution.amplitudes[:count])
        return np.concatenate((given_off, -solution.amplitudes[count : count + len(self._taken_up)]))

    def _rise(self, solution: Solution) -> float:
        return float(self._pools(solution) @ -np.expm1(-self.problem.bins.length / self._tau))

    @property
    def time_constant(self) -> float | None:
        """Time constant of the outgassing; None where nothing rose. [s]

        Weighted by what each pool rose in the hold; where gas is taken up again, the time in which 1 - 1/e of the rise
        in the hold was there, which is the same for one source that is faster than the hold.
        """
        pools, span = self._pools(self.best), self.problem.bins.length
        rises = pools * -np.expm1(-span / self._tau)
        if rises.sum() <= 0:
            return None
        if not self._taken_up.size:
            return float(rises @ self._tau / rises.sum())
        time = np.linspace(0.0, span, _FINE_POINTS)
        return float(time[np.argmax(rise_shapes(time, self._tau) @ pools >= (1 - np.exp(-1.0)) * rises.sum())])

    @property
    def plateau(self) -> float | None:
        """Pressure where the outgassing alone would level off; None where there is none. [Pa]"""
        pools = self._pools(self.best)
        if pools.sum() <= 0:
            return None
        leak = self.best.rate * self.problem.inflow(self._end)[0]
        end = self.problem.start_pressure(self.best) + self.problem.rise(self.best, self._end)[0]
        return float(end - leak - self._rise(self.best) + pools.sum())

    def outgassing(self, leak: Interval) -> Interval:
        """Return the rise that levels off less what was taken up again; its ends belong to the leak's ends. [Pa]"""
        value = self._rise(self.best)
        most, least = self._rise(self.problem.at(leak.low)), self._rise(self.problem.at(leak.high))
        return Interval(max(0.0, value), max(0.0, min(value, least)), max(0.0, value, most), leak.level)

    def curve(self, start: float, leak: Interval) -> HoldCurve:
        """Return the fitted curves on the log's clock, which reads `start` at isolation. [s, Pa]"""
        problem, bins = self.problem, self.problem.bins
        time = np.linspace(0.0, bins.length, _CURVE_POINTS)
        shapes = rise_shapes(time, self._tau)

        def model(solution: Solution) -> FloatArray:
            return np.asarray(problem.start_pressure(solution) + problem.rise(solution, time))

        best, low, high = model(self.best), model(problem.at(leak.low)), model(problem.at(leak.high))
        return HoldCurve(
            time=start + float(bins.left[0]) + time,
            model=best,
            low=np.minimum.reduce((best, low, high)),
            high=np.maximum.reduce((best, low, high)),
            leak=self.best.rate * problem.inflow(time),
            outgassing=shapes @ self._pools(self.best),
        )
