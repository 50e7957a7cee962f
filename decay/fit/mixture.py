"""The hold's model: a line and a mixture of sources that level off, as one convex problem with a profile in the line.

`p(t) = p0 + r t + sum_k a_k (1 - exp(-t/tau_k))` with `r >= 0`, `a_k >= 0` and fixed `tau_k`. Any source whose rate
falls, and ever more slowly, is such a mixture (Bernstein's theorem on completely monotone functions), so nothing is
assumed about what gives off gas, only how slow it may be. A rate that falls otherwise, as where two volumes equalise
through a path that opens as they do, is left to the model's own tests. With the rate `r` held, what is left is a
non-negative least-squares problem with one global optimum: its misfit as a function of `r` is the profile, and it is
convex.

The time constants stand on a logarithmic grid, finer about what was found where the first does not fit. The longest is
so many holds (`decay.fit.hold.KAPPA`), or a multiple (`SLOWEST`) of the time under vacuum at isolation where that is
longer: walls that fade as `t^-n` with `n >= 1/2` have a local time constant of `t/n`, and 4 leaves them room.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from decay.arrays import FloatArray
from decay.errors import FitError
from decay.fit.bins import Bins, Whitening, pool_columns, rise_shapes
from decay.fit.non_negative import Along, NonNegative
from decay.fit.results import HoldCurve
from decay.interval import Interval

POOLS = 48
"""Time constants of the first grid. [-]"""
_BETWEEN = 8
"""Intervals that `finer` makes of the two beside a source that was found. [-]"""
_TALL = 1.25
"""Bins for each column from which on a rotation earns its own cost. [-]"""
_ALONE = 24
_CLOSER = 3
"""Time constants that a single source is tried with, and how often around the best of them again. [-]"""
_FALLING_WITHIN = 0.05
"""Share of the hold in which rig and system may equalise downwards. [-]"""
_CURVE_POINTS = 200
_FINE_POINTS = 2001


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """The best fit at one rate."""

    rate: float  # steady rise [Pa/s]
    amplitudes: FloatArray  # non-negative coefficients of the columns beside the line, shape (m,) [Pa]
    misfit: float  # weighted sum of squares [-]


class Mixture:
    """One hold's whitened least-squares problem.

    Parameters
    ----------
    bins : Bins
        The averaged readings. [Pa, s]
    noise : Whitening or ndarray, shape (k, k)
        Covariance of the bin means, factored already where several models are put to the same bins. [Pa²]
    longest : float or ndarray, shape (m,)
        Longest time constant let in, or all of them. [s]
    extra : ndarray, shape (k, e), optional
        Further columns with non-negative coefficients, e.g. an accelerating part; their amplitudes are the last. [Pa]
    taking_up : float, optional
        Time constant with which gas may be taken up again, instead of in the first seconds only. [s]
    """

    def __init__(
        self,
        bins: Bins,
        noise: Whitening | FloatArray,
        longest: float | FloatArray,
        extra: FloatArray | None = None,
        *,
        taking_up: float | None = None,
    ) -> None:
        self.bins = bins
        self.noise = noise if isinstance(noise, Whitening) else Whitening(noise)
        self.origin = float(bins.left[0])
        span = bins.length
        if isinstance(longest, np.ndarray):
            self.time_constants = longest
        else:
            shortest = min(max(span / float(np.sum(bins.count)), span / 3000.0), longest / 4)
            self.time_constants = np.geomspace(shortest, longest, POOLS)
        self.falling = falling_constants(bins, self.covariance) if taking_up is None else np.array([taking_up])
        self.line = bins.time if bins.inflow is None else bins.inflow
        self.taking_up = taking_up
        self._sources = np.column_stack((pool_columns(bins, self.time_constants), -pool_columns(bins, self.falling)))
        # Every bin gets unit variance, and the free constant is projected out.
        self._white = self.noise.free_of_constant(np.column_stack((self._sources, self.line, bins.pressure)))
        self._put(np.empty((len(bins.centre), 0)) if extra is None else extra)

    def beside(self, extra: FloatArray) -> Mixture:
        """Return the same problem with other further columns, shape (k, e); it costs less than a new one. [Pa]"""
        other = copy(self)
        other._put(extra)
        return other

    def _put(self, extra: FloatArray) -> None:
        """Put the further columns in; of many bins keep the triangle alone: later solves are small."""
        self.extra = extra
        self.columns = np.column_stack((self._sources, extra))
        white = np.column_stack((self._white[:, :-2], self.noise.free_of_constant(extra), self._white[:, -2:]))
        is_tall = white.shape[0] > _TALL * white.shape[1]
        rows = white
        self._rotation: FloatArray | None = None
        if is_tall:
            self._rotation, rows = np.linalg.qr(white)
        # Columns of unit length keep the active-set solver's tolerance meaningful in any unit of pressure.
        self._norms = np.maximum(np.linalg.norm(rows[:, :-2], axis=0), 1e-300)
        self._pools = rows[:, :-2] / self._norms
        self._line = rows[:, -2]
        self._target = rows[:, -1]
        self._line_norm = float(np.linalg.norm(self._line))
        self._begun: FloatArray | None = None  # coefficients of line and columns to begin at
        self._known: dict[float, Solution] = {}
        for made in ("misfit", "_solver"):  # of the columns before
            self.__dict__.pop(made, None)
        if self._line_norm == 0.0:
            raise FitError("no leak can show in this hold: at the pressure of the atmosphere nothing flows in")

    def begin(self, model: Mixture, solution: Solution) -> Mixture:
        """Let searches begin at a fit of a model much like this one: the answer is the same up to rounding."""
        ours, theirs = self.time_constants, model.time_constants
        at = np.minimum(np.searchsorted(theirs, ours), len(theirs) - 1)
        amounts = np.zeros(self.columns.shape[1])
        amounts[: len(ours)] = np.where(theirs[at] == ours, solution.amplitudes[at], 0.0)
        count = min(self.extra.shape[1], model.extra.shape[1])
        further = len(theirs) + len(model.falling)
        first = len(ours) + len(self.falling)
        amounts[first : first + count] = solution.amplitudes[further : further + count]
        self._begun = np.append(solution.rate * self._line_norm, amounts * self._norms)
        return self

    @property
    def covariance(self) -> FloatArray:
        """Covariance of the bin means, shape (k, k). [Pa²]"""
        return self.noise.covariance

    @property
    def whitened(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Line (j,), columns (j, m) for unit amplitude, and readings (j,), of unit variance and rotated. [per Pa]"""
        return self._line, self._pools * self._norms, self._target

    def whiten(self, curve: FloatArray) -> FloatArray:
        """Return a curve over the bins, shape (k,), as `whitened` gives the columns, shape (j,).

        What of it reaches outside the model's own columns is left behind.
        """
        return self._rotated(self.noise.free_of_constant(curve))

    def _rotated(self, white: FloatArray) -> FloatArray:
        return white if self._rotation is None else np.asarray(self._rotation.T @ white)

    def best(self) -> Solution:
        """Return the best fit over rate and amplitudes together."""
        joint = np.vstack((self._line / self._line_norm, self._pools.T))
        x, rest = NonNegative(joint, self._begun).fit(self._target)
        self._begun = x
        return Solution(float(x[0] / self._line_norm), x[1:] / self._norms, rest**2)

    def at(self, rate: float, offset: FloatArray | None = None) -> Solution:
        """Return the best fit with the rate held at a value [Pa/s]; ``offset`` [Pa] is taken off the readings first."""
        if offset is None and rate in self._known:
            return self._known[rate]
        target = self._target - rate * self._line
        unreached = 0.0
        if offset is not None:
            white = self.noise.free_of_constant(offset)
            rotated = self._rotated(white)
            target = target - rotated
            unreached = max(0.0, float(white @ white - rotated @ rotated))
        x, rest = self._solver.fit(target)
        found = Solution(rate, x / self._norms, rest**2 + unreached)
        if offset is None:  # the ends of an interval are asked for again and again
            self._known[rate] = found
        return found

    @cached_property
    def misfit(self) -> Along:
        """The least misfit with the rate held at a value [Pa/s], a function of it. [-]"""
        return Along(self._solver, self._target, -self._line)

    @cached_property
    def _solver(self) -> NonNegative:
        return NonNegative(self._pools.T, None if self._begun is None else self._begun[1:])

    def sources(self, solution: Solution) -> FloatArray:
        """Return what a solution has beside the line, whitened, shape (j,). [-]"""
        return np.asarray(self._pools @ (solution.amplitudes * self._norms))

    def excess(self, sources: FloatArray) -> Along:
        """Return by how much a steady rise [Pa/s] over whitened sources, shape (j,), raises a misfit without it.

        Free of noise: what the sources can take over of the rise by giving way to it does not count.
        """
        return Along(self._solver, sources, self._line)

    def single(self) -> tuple[FloatArray, float]:
        """Return the best single source beside the line, whitened, shape (j,), and the misfit: one time constant.

        Its time constant is not tied to the grid: of a large rise two neighbours on it would make two sources.
        """
        line = self._line / self._line_norm
        on_line = float(line @ self._target)
        low, high = float(self.time_constants[0]), float(self.time_constants[-1])
        shape, misfit = self._target * 0.0, np.inf
        for _ in range(_CLOSER):
            tau = np.geomspace(low, high, _ALONE)
            shapes = self.whiten(pool_columns(self.bins, tau))
            overlap, on_shapes = line @ shapes, self._target @ shapes
            size = np.maximum(np.sum(shapes**2, axis=0), 1e-300)
            both = np.maximum(on_shapes - on_line * overlap, 0.0) / np.maximum(size - overlap**2, 1e-12 * size)
            # Where the line would fall, it is left out, and the source carries the rise alone.
            is_falling = on_line - both * overlap < 0.0
            amplitude = np.where(is_falling, np.maximum(on_shapes, 0.0) / size, both)
            rate = np.where(is_falling, 0.0, on_line - both * overlap)
            missed = self._target[:, None] - np.outer(line, rate) - shapes * amplitude
            each = np.sum(missed**2, axis=0)
            at = int(np.argmin(each))
            if each[at] < misfit:
                shape, misfit = amplitude[at] * shapes[:, at], float(each[at])
            low, high = tau[max(at - 1, 0)], tau[min(at + 1, _ALONE - 1)]
        return shape, misfit

    @property
    def line_error(self) -> float:
        """Standard error of the rate if nothing but the line were there. [Pa/s]"""
        return 1.0 / self._line_norm

    def inflow(self, time: FloatArray) -> FloatArray:
        """Return what a steady leak of unit rate has raised at times since the first bin [s], shape (len(time),). [s]

        Time itself, unless the inflow fades.
        """
        if self.bins.inflow is None:
            return time
        at, raised = self.bins.time, self.bins.inflow
        pace = (raised[-1] - raised[-2]) / (at[-1] - at[-2])
        inside = np.interp(time, np.append(0.0, at), np.append(0.0, raised))
        return np.asarray(inside + np.maximum(time - at[-1], 0.0) * pace)

    def rises(self, solutions: Sequence[Solution], time: FloatArray) -> list[FloatArray]:
        """Return each fitted rise at times since the first bin [s], leak and all, shape (len(time),). [Pa]"""
        pools, inflow = len(self.time_constants), self.inflow(time)
        shapes, falls = rise_shapes(time, self.time_constants), rise_shapes(time, self.falling)
        found = []
        for solution in solutions:
            rising, falling, further = np.split(solution.amplitudes, (pools, pools + len(self.falling)))
            rise = solution.rate * inflow + shapes @ rising - falls @ falling
            found.append(rise + np.interp(time, self.bins.time, self.extra @ further))
        return found

    def curve(self, solution: Solution) -> FloatArray:
        """Return the fitted bin means. [Pa]"""
        rise = solution.rate * self.line + self.columns @ solution.amplitudes
        return rise + self.noise.constant_of(self.bins.pressure - rise)

    def residuals(self, solution: Solution) -> FloatArray:
        """Return the whitened residuals: independent and of unit variance where the noise model holds. [-]"""
        return self.noise.white(self.bins.pressure - self.curve(solution))

    def start_pressure(self, solution: Solution) -> float:
        """Return p0, the pressure at the origin without the first jump's share. [Pa]"""
        rise = solution.rate * self.line + self.columns @ solution.amplitudes
        return self.noise.constant_of(self.bins.pressure - rise)


def finer(time_constants: FloatArray, amplitudes: FloatArray) -> FloatArray:
    """Return a grid that is finer about the sources that a fit on it has found.

    Between two time constants of the first grid a source is made of both, and strays by some 0.2 % of its height: a
    quiet gauge sees that.

    Parameters
    ----------
    time_constants : ndarray, shape (m,)
        The grid, rising. [s]
    amplitudes : ndarray, shape (m,)
        What was found on it. [Pa]

    Returns
    -------
    ndarray, shape (n,)
        The grid with further time constants on both sides of every source. [s]
    """
    last = len(time_constants) - 1
    added = [
        np.geomspace(time_constants[max(i - 1, 0)], time_constants[min(i + 1, last)], _BETWEEN + 1)[1:-1]
        for i in np.flatnonzero(amplitudes > 0.0).tolist()
    ]
    grid = np.sort(np.concatenate([time_constants, *added]))
    # Neighbours that were both found add the same ones between them.
    return np.asarray(grid[np.append(True, np.diff(grid) > 1e-6 * grid[1:])])


def falling_constants(bins: Bins, covariance: FloatArray) -> FloatArray:
    """Return time constants for a first fall, none where the pressure does not fall first.

    A gauge on the system's side falls when rig and system equalise. Let in without need, falling and rising parts would
    cancel each other and hide the first minutes.
    """
    early = int(np.searchsorted(bins.right - bins.left[0], _FALLING_WITHIN * bins.length))
    if early < 2:
        return np.empty(0)
    lowest = int(np.argmin(bins.pressure[: early + 1]))
    error = float(np.sqrt(covariance[0, 0] + covariance[lowest, lowest]))
    if lowest == 0 or bins.pressure[0] - bins.pressure[lowest] < 3.0 * error:
        return np.empty(0)
    return _FALLING_WITHIN * bins.length * np.array([0.1, 0.3, 1.0])


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
        # Gas taken up for longer than seconds is part of what levels off: given off and taken up at nearly one pace,
        # the two may each be many times the rise and mean nothing apart.
        self._tau = np.concatenate((problem.time_constants, problem.falling))
        self._settling = self._tau <= settling_time(problem.bins.length)

    def _pools(self, solution: Solution) -> FloatArray:
        given_off, taken_up = np.split(solution.amplitudes[: len(self._tau)], [len(self.problem.time_constants)])
        return np.where(self._settling, 0.0, np.concatenate((given_off, -taken_up)))

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
        if not self.problem.falling.size:
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
        end = self.problem.start_pressure(self.best) + self.problem.rises([self.best], self._end)[0][0]
        return float(end - leak - self._rise(self.best) + pools.sum())

    @property
    def levelled(self) -> float:
        """Rise that levels off less what was taken up again, by the best fit. [Pa]"""
        return max(0.0, self._rise(self.best))

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

        solutions = [self.best, problem.at(leak.low), problem.at(leak.high)]
        best, low, high = (problem.start_pressure(solution) + rise for solution, rise in
                           zip(solutions, problem.rises(solutions, time), strict=True))
        return HoldCurve(
            time=start + float(bins.left[0]) + time,
            model=best,
            low=np.minimum.reduce((best, low, high)),
            high=np.maximum.reduce((best, low, high)),
            leak=self.best.rate * problem.inflow(time),
            outgassing=shapes @ self._pools(self.best),
        )
