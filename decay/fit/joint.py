"""Several holds of one system: one leak for all of them, and sources that only ever shrink from hold to hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar, nnls
from scipy.special import chdtrc

from decay.arrays import FloatArray
from decay.fit.hold import KAPPA, SLOWEST
from decay.fit.measured import Measured
from decay.fit.mixture import POOLS, Mixture, Solution
from decay.fit.parts import settling_time
from decay.fit.profile import characteristic_limits, leak_interval, profile_interval, threshold, widened
from decay.fit.results import JointFit

HOMOGENEOUS = 0.01
"""Probability below which holds contradict one leak. [-]"""
_MOST_DEPLETION = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class Member:
    """One hold among several.

    Parameters
    ----------
    hold : Measured
        Its readings.
    isolated : float or None
        Isolation on a clock that all members share; ``None`` where the logs do not tell it. [s]
    inflation : float
        Factor that its own residual tests put on the squared misfit. [-]
    is_refreshed : bool
        Whether air came in since the hold before it: sources may then have been filled up again.
    """

    hold: Measured
    isolated: float | None
    inflation: float = 1.0
    is_refreshed: bool = False


def fit_joint(members: Sequence[Member], *, under_vacuum: float | None = None, kappa: float = KAPPA) -> JointFit:
    r"""Fit several holds with one leak.

    A source that only gives off gas ever more slowly does so across the whole job, not only within one hold: the pool
    with time constant tau that is left at a later isolation is at most what the earlier one left,
    :math:`a_{later} \le a_{earlier} \exp(-\Delta t/\tau)`. A leak does not shrink. That difference is what several
    holds can show and one cannot. Pools faster than the hold itself are left free: rig and fittings fill them again.

    Parameters
    ----------
    members : sequence of Member
        At least two holds in order of time.
    under_vacuum : float, optional
        Time since pumping began, at the last isolation. [s]
    kappa : float
        Longest time constant let in, in lengths of the longest hold. [-]

    Returns
    -------
    JointFit
        The shared steady rise with its interval, what each hold gives alone, and whether they agree.
    """
    spans = [m.hold.bins.length for m in members]
    longest = max(kappa * max(spans), SLOWEST * under_vacuum if under_vacuum is not None else 0.0)
    shortest = min(max(s / float(np.sum(m.hold.bins.count)), s / 3000.0)
                   for m, s in zip(members, spans, strict=True))
    grid = np.geomspace(shortest, longest, POOLS)
    # Residual misfit of a member lowers its weight, so that the shared threshold needs no further factor.
    problems = [Mixture(m.hold.bins, m.hold.noise.covariance * m.inflation, grid) for m in members]
    alone = [p.best() for p in problems]
    each = tuple(
        widened(leak_interval(p, b, threshold()), m.hold.air_drift)
        for p, b, m in zip(problems, alone, members, strict=True)
    )
    stack = _Stack(members, problems, grid)
    best = stack.best()
    drift = float(np.mean([m.hold.air_drift for m in members]))
    line_error = float(np.sum([p.line_error**-2 for p in problems]) ** -0.5)
    leak = widened(profile_interval(lambda r: stack.at(r).misfit, best, threshold(), line_error), drift)
    growth = _growth_of_one_rate(problems, alone)
    homogeneity_p = float(chdtrc(len(members) - 1, growth))
    straight = [Mixture(p.bins, p.covariance, settling_time(s)) for p, s in zip(problems, spans, strict=True)]
    limits = [characteristic_limits(q, q.best(), 1.0, 0.0) for q in straight]
    decision, detection = (float(np.sum([limit[i] ** -2 for limit in limits]) ** -0.5) + drift for i in (0, 1))
    return JointFit(
        leak=leak,
        holds_used=tuple(range(len(members))),
        each=each,
        homogeneity_p=homogeneity_p,
        is_homogeneous=homogeneity_p > HOMOGENEOUS,
        is_leak_seen=leak.low > 0.0,
        decision_threshold=decision,
        detection_limit=detection,
    )


class _Stack:
    """All holds as one non-negative least-squares problem in the shared rate and the pools' decrements."""

    def __init__(self, members: Sequence[Member], problems: Sequence[Mixture], grid: FloatArray) -> None:
        whitened = [p.whitened for p in problems]
        self._line = np.concatenate([line for line, _, _ in whitened])
        self._target = np.concatenate([target for _, _, target in whitened])
        heights = [len(line) for line, _, _ in whitened]
        tops = np.concatenate(([0], np.cumsum(heights)))
        blocks = []
        for last, problem in enumerate(problems):
            pools = whitened[last][1]
            # Decrement `last`: what is there in this hold, and therefore at least so much in every hold before it.
            block = np.zeros((tops[-1], pools.shape[1]))
            block[tops[last] : tops[last + 1]] = pools
            slow = np.flatnonzero(grid >= problem.bins.length)
            factor = np.ones(len(slow))
            for earlier in range(last - 1, -1, -1):
                if members[earlier + 1].is_refreshed:
                    break
                elapsed = _elapsed(members[earlier], members[earlier + 1])
                factor = factor * np.exp(np.minimum(elapsed / grid[slow], _MOST_DEPLETION))
                reach = grid[slow] >= problems[earlier].bins.length
                rows = slice(tops[earlier], tops[earlier + 1])
                block[rows, slow[reach]] = whitened[earlier][1][:, slow[reach]] * factor[reach]
            blocks.append(block)
        table = np.hstack(blocks)
        norms = np.maximum(np.linalg.norm(table, axis=0), 1e-300)
        self._pools = table / norms
        self._line_norm = float(np.linalg.norm(self._line))

    def best(self) -> Solution:
        joint = np.column_stack((self._line / self._line_norm, self._pools))
        x, rest = nnls(joint, self._target, maxiter=20 * joint.shape[1])
        return Solution(float(x[0] / self._line_norm), x[1:], float(rest) ** 2)

    def at(self, rate: float) -> Solution:
        x, rest = nnls(self._pools, self._target - rate * self._line, maxiter=20 * self._pools.shape[1])
        return Solution(rate, x, float(rest) ** 2)


def _elapsed(earlier: Member, later: Member) -> float:
    """Return the time between two isolations; where no clock tells it, the earlier hold's own length at least. [s]"""
    if earlier.isolated is not None and later.isolated is not None:
        return max(later.isolated - earlier.isolated, 0.0)
    return earlier.hold.bins.length


def _growth_of_one_rate(problems: Sequence[Mixture], alone: Sequence[Solution]) -> float:
    """Return by how much the misfit grows when holds with sources of their own must share one rate. [-]"""
    def shared(rate: float) -> float:
        return sum(p.at(rate).misfit for p in problems)

    high = max(b.rate for b in alone)
    least = shared(0.0)
    if high > 0:
        least = min(least, float(minimize_scalar(shared, bounds=(0.0, high), method="bounded").fun))
    return max(0.0, least - sum(b.misfit for b in alone))
