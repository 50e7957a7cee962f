"""Several holds of one system: one leak for all of them, and sources that only ever shrink from hold to hold.

One rate for all, sources that may vanish but never come from nowhere. A pool that is slower than a hold runs down by
its own time constant; one that levels off within a hold or so may repeat itself, and grow by a tenth; walls fade as a
power of their time under vacuum, of which a sweep may take up to half; what settles in seconds is free. Holds whose
sources were filled up by air share the rate only. `TAKEN_UP_TOGETHER` is 10 % here.

A homogeneity test (1 %) and a bound on the joint misfit name holds that cannot share one leak; then the deciding hold
stands alone, and finding J02 blocks a pass.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from decay.arrays import FloatArray
from decay.fit.bins import power_column
from decay.fit.chances import chi_squared_tail
from decay.fit.hold import KAPPA
from decay.fit.measured import Measured
from decay.fit.mixture import Mixture, Parts, Solution, settling_time
from decay.fit.profile import characteristic_limits, leak_interval, profile_interval, threshold, widened
from decay.fit.results import JointFit
from decay.interval import Interval
from decay.several import few_holds
from decay.several.chain import Chain, Link
from decay.several.few_holds import FewHolds

HOMOGENEOUS = 0.01
"""Probability below which holds contradict one leak. [-]"""
WORST_MISFIT = 4.0
"""Misfit per degree of freedom beyond which sources that fade do not describe a hold, or one leak and sources that
shrink the holds together. [-]"""
SHARED_POOLS = 72
"""Time constants of the shared sources, on one grid for all holds. [-]"""
MOST_SPLIT = 8
"""Most holds of which each one's share in the answer is worked out, by a fit without it. [-]"""
SAME_GRID = 0.05
"""Difference of the time constants, as a share, with which holds that one is left out of are as all were. [-]"""
TAKEN_UP_TOGETHER = 0.10
"""Share of what levels off that pools may take up again unseen, or that a gauge's curvature may hide. [-]

Of 586 simulated jobs of two or three holds 5 % of it missed the leak in 8, three times by half of it; 10 % in 6, never
by so much.
"""
REPEATING = 1.5
"""Longest time constant, in holds, of a source that a sweep or the rest of a pool may fill again. [-]"""
GROWTH = 1.1
"""Factor by which such a source may be larger in a later hold: 1.5 K more over water. [-]"""
EXPONENTS = (0.5, 0.65, 0.8, 1.0, 1.2)
"""Powers of the time under vacuum with which walls fade; 1/2 is diffusion out of a thick layer, the slowest. [-]"""
KEPT = (1.0, 0.75, 0.5)
"""Shares of their age under vacuum that walls keep when nitrogen is let in. [-]"""
SETTLING = 0.15
"""Longest time constant, in holds, of what may come from nowhere: rig and system equalise through a thin hose. [-]"""
_ONSET = 30.0
_SHORTEST_PULL = 60.0
_MOST_DEPLETION = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class Member:
    """One hold among several."""

    hold: Measured  # its readings
    isolated: float | None  # isolation on a clock that all members share; ``None`` where the logs do not tell it [s]
    inflation: float = 1.0  # factor that its own residual tests put on the squared misfit [-]
    # Whether air came in since the hold before it: sources may then have been filled up again
    is_refreshed: bool = False
    # Time since pumping began, at isolation; ``None`` where the logs do not show it [s]
    under_vacuum: float | None = None


def fit_joint(
    members: Sequence[Member], *, under_vacuum: float | None = None, kappa: float = KAPPA, is_split: bool = True
) -> JointFit:
    r"""Fit several holds with one leak.

    A leak does not shrink from hold to hold. A source does, and each kind in its own way:

    - A pool that is slower than a hold runs down by its own time constant across the whole job:
      :math:`a_{later} \le a_{earlier} \exp(-\Delta t/\tau)`.
    - A pool that levels off within a hold or so may be in equilibrium with the gas above it. It then repeats itself
      in every hold, and may grow a little with the temperature, but does not go on.
    - Walls fade as a power of their time under vacuum, :math:`t^{-n}` with n from 1/2 on, and may lose up to half of
      that time when nitrogen is let in.
    - What settles within seconds belongs to rig and fittings, and is free.

    Parameters
    ----------
    members : sequence of Member
        At least two holds in order of time.
    under_vacuum : float, optional
        Time since pumping began, at the last isolation; for members that carry none of their own. [s]
    kappa : float
        Longest time constant let in, in lengths of the longest hold. [-]
    is_split : bool
        Fit once more without each hold in turn, which shows what it adds; of many holds each adds little.

    Returns
    -------
    JointFit
        The shared steady rise with its interval, what each hold gives alone, and whether they agree.
    """
    is_asked = is_split and len(members) <= MOST_SPLIT
    members = _aged(members, under_vacuum)
    grid = _time_constants(members, kappa)
    holds = [_alone(m, grid) for m in members]
    leak, misfit, growth = _shared(holds, grid)
    leak = no_tighter_than_chance(leak, [hold.leak for hold in holds])
    homogeneity_p = chi_squared_tail(len(members) - 1, _growth_of_one_rate(holds))
    decision, detection = _limits_together(holds)
    if leak.low <= 0.0:
        # What the interval does not exclude cannot have been sure to show.
        detection = max(detection, leak.high)
    return JointFit(
        leak=leak,
        holds_used=tuple(range(len(members))),
        each=tuple(hold.leak for hold in holds),
        homogeneity_p=homogeneity_p,
        is_homogeneous=homogeneity_p > HOMOGENEOUS and misfit < WORST_MISFIT and _is_allowed_by_each(leak, holds),
        is_leak_seen=leak.low > 0.0,
        decision_threshold=decision,
        detection_limit=detection,
        without=tuple(_without(holds, i, grid, kappa) for i in range(len(members))) if is_asked else (),
        misfit=misfit,
        growth=growth,
        remarks=(f"What each of more than {MOST_SPLIT} holds adds is not worked out.",) if is_split > is_asked else (),
    )


def _is_allowed_by_each(leak: Interval, holds: Sequence[_Alone]) -> bool:
    """Tell whether every hold by itself allows something of what all say together; else what they share is wrong."""
    return all(hold.leak.low <= leak.high and leak.low <= hold.leak.high for hold in holds)


def no_tighter_than_chance(leak: Interval, each: Sequence[Interval]) -> Interval:
    """Return an upper end that excludes no more than as many holds, each with its own, can by chance alone.

    That pools repeat, and walls fade, from hold to hold is what the holds together assume beyond each of them; where no
    leak is seen, a limit far below every single one would rest on that alone.
    """
    least = min(alone.high for alone in each) / len(each) ** 0.5
    return Interval(leak.value, leak.low, least, leak.level) if leak.low <= 0.0 and leak.high < least else leak


@dataclass(frozen=True, slots=True, eq=False)
class _Alone:
    """One hold as it is put to the model, its own best fit, and the steady rise that it gives alone."""

    member: Member
    problem: Mixture
    best: Solution
    leak: Interval


def _alone(member: Member, grid: FloatArray) -> _Alone:
    # Residual misfit of a member lowers its weight, so that the shared threshold needs no further factor for it.
    problem = Mixture(member.hold.bins, member.hold.noise.covariance * member.inflation, grid)
    best = problem.best()
    return _Alone(member, problem, best, widened(leak_interval(problem, best, threshold()), member.hold.air_drift))


def _shared(holds: Sequence[_Alone], grid: FloatArray) -> tuple[Interval, float, float]:
    """Return the shared rate's interval [Pa/s], the misfit per degree of freedom, and its growth by sharing [-]."""
    chain = chain_of([hold.member for hold in holds], [hold.problem for hold in holds], grid)
    best = chain.best()
    used = int(np.count_nonzero(best.amplitudes > 0))
    misfit = best.misfit / max(1, chain.freedom - used)
    line_error = float(np.sum([hold.problem.line_error**-2 for hold in holds]) ** -0.5)
    # Holds that the shared sources describe worse than noise allows widen the interval; they never narrow it.
    growth = threshold() * max(1.0, misfit)
    leak = widened(profile_interval(chain.misfit, best, growth, line_error), _drift(holds))
    return _above_what_hides(leak, holds), misfit, best.misfit - sum(hold.best.misfit for hold in holds)


def _above_what_hides(leak: Interval, holds: Sequence[_Alone]) -> Interval:
    """Raise the upper end by what gas taken up again may hide, each hold weighed by what it tells. [Pa/s]

    No hold allows more than its own upper end: where one is quiet, the damp ones before it do not count against it.
    """
    parts = [Parts(h.problem, h.best).outgassing(h.leak).high / h.problem.bins.length for h in holds]
    hidden = TAKEN_UP_TOGETHER * np.array(parts)
    weight = np.array([h.problem.line_error**-2 for h in holds])
    together = leak.high + float(np.average(hidden, weights=weight))
    singly = min(h.leak.high + float(more) for h, more in zip(holds, hidden, strict=True))
    return Interval(leak.value, leak.low, max(min(together, singly), leak.value), leak.level)


def _limits_together(holds: Sequence[_Alone]) -> tuple[float, float]:
    """Return decision threshold and detection limit of a steady rise that all holds show as a line. [Pa/s]"""
    bins = [hold.problem.bins for hold in holds]
    straight = [Mixture(b, h.problem.noise, settling_time(b.length)) for b, h in zip(bins, holds, strict=True)]
    limits = [characteristic_limits(q, q.best(), 1.0, 0.0) for q in straight]
    decision, detection = (float(np.sum([limit[i] ** -2 for limit in limits]) ** -0.5) for i in (0, 1))
    return decision + _drift(holds), detection + _drift(holds)


def _without(holds: Sequence[_Alone], index: int, grid: FloatArray, kappa: float) -> Interval:
    """Return what the other holds give together. [Pa/s]"""
    rest = [hold for i, hold in enumerate(holds) if i != index]
    if len(rest) == 1:
        return rest[0].leak
    if index < len(rest) and holds[index].member.is_refreshed:
        rest[index] = replace(rest[index], member=replace(rest[index].member, is_refreshed=True))
    members = [hold.member for hold in rest]
    theirs = _time_constants(members, kappa)
    if not np.allclose(theirs, grid, rtol=SAME_GRID):
        rest, grid = [_alone(member, theirs) for member in members], theirs
    return _shared(rest, grid)[0]


def _aged(members: Sequence[Member], under_vacuum: float | None) -> list[Member]:
    """Give each member without one its time under vacuum, where the last one's and a common clock tell it."""
    last = members[-1].isolated
    aged: list[Member] = []
    for m in members:
        age = m.under_vacuum
        if age is None and under_vacuum is not None and last is not None and m.isolated is not None:
            age = under_vacuum - (last - m.isolated)
        aged.append(replace(m, under_vacuum=age if age is not None and age > 0.0 else None))
    return aged


def _time_constants(members: Sequence[Member], kappa: float) -> FloatArray:
    spans = [m.hold.bins.length for m in members]
    shortest = min(max(s / float(np.sum(m.hold.bins.count)), s / 3000.0)
                   for m, s in zip(members, spans, strict=True))
    return np.geomspace(shortest, kappa * max(spans), SHARED_POOLS)


def _drift(holds: Sequence[_Alone]) -> float:
    return float(np.mean([hold.member.hold.air_drift for hold in holds]))


def _growth_of_one_rate(holds: Sequence[_Alone]) -> float:
    """Return by how much the misfit grows when holds with sources of their own must share one rate. [-]"""
    def shared(rate: float) -> float:
        return sum(hold.problem.misfit(rate) for hold in holds)

    high = max(hold.best.rate for hold in holds)
    least = shared(0.0)
    if high > 0:
        from scipy.optimize import minimize_scalar  # here: most logs have one hold

        least = min(least, float(minimize_scalar(shared, bounds=(0.0, high), method="bounded").fun))
    return max(0.0, least - sum(hold.best.misfit for hold in holds))


def chain_of(members: Sequence[Member], problems: Sequence[Mixture], grid: FloatArray) -> Chain | FewHolds:
    """Put holds in a row, with what they share.

    Parameters
    ----------
    members : sequence of Member
        In order of time.
    problems : sequence of Mixture
        One a member, all with the same time constants. [Pa, s]
    grid : ndarray, shape (m,)
        Those time constants. [s]

    Returns
    -------
    Chain or FewHolds
        The least-squares problem, in the form that is quicker.
        What a model lets in beside the shared pools (gas taken up) is of one hold alone.
    """
    walls = _walls_of(members, problems)
    beside = max(p.whitened[1].shape[1] for p in problems) - len(grid)
    links = []
    for i, (problem, fading) in enumerate(zip(problems, walls, strict=True)):
        line, pools, target = problem.whitened
        alone = np.zeros((len(pools), beside))
        alone[:, : pools.shape[1] - len(grid)] = pools[:, len(grid) :]
        own = np.hstack((pools[:, : len(grid)], alone, fading))
        kept = np.zeros(own.shape[1])
        if i > 0 and not members[i].is_refreshed:
            kept[: len(grid)] = _at_least(members[i - 1], members[i], grid)
            # A column without a part in this hold, its age unknown, does not go on to the one before.
            kept[len(grid) + beside :] = np.any(fading != 0.0, axis=0)
        links.append(Link(line, target, own, kept))
    return FewHolds(links) if len(links) <= few_holds.MOST else Chain(links)


def _walls_of(members: Sequence[Member], problems: Sequence[Mixture]) -> list[FloatArray]:
    """Return what walls give in each hold, by the share of their age that sweeps leave and the power of their law."""
    tables = [np.zeros((len(p.whitened[0]), len(KEPT) * len(EXPONENTS))) for p in problems]
    for k, share in enumerate(KEPT):
        for i, age in enumerate(_ages(members, share)):
            if age is None:
                continue
            for e, exponent in enumerate(EXPONENTS):
                shape = power_column(problems[i].bins, age + _ONSET, exponent)
                tables[i][:, k * len(EXPONENTS) + e] = problems[i].whiten(shape)
    return tables


def _at_least(earlier: Member, later: Member, grid: FloatArray) -> FloatArray:
    """Return how much each pool held in the earlier hold for every one that it holds in the later one. [-]

    The slow ones have run down since, by their own time constant. Those that level off within a hold or so may be in
    equilibrium with the gas above them: they repeat, and grow only as the surroundings warm. The quickest belong to rig
    and fittings, which every sweep fills anew, and to the hose: they are free.
    """
    span = max(earlier.hold.bins.length, later.hold.bins.length)
    depletion = np.exp(np.minimum(_elapsed(earlier, later) / grid, _MOST_DEPLETION))
    settling = grid <= max(settling_time(span), SETTLING * span)
    return np.where(grid >= REPEATING * span, depletion, np.where(settling, 0.0, 1.0 / GROWTH))


def _elapsed(earlier: Member, later: Member) -> float:
    """Return the time between two isolations; where no clock tells it, the earlier hold's own length at least. [s]"""
    if earlier.isolated is not None and later.isolated is not None:
        return max(later.isolated - earlier.isolated, 0.0)
    return earlier.hold.bins.length


def _ages(members: Sequence[Member], kept: float) -> list[float | None]:
    """Return the walls' age under vacuum at each isolation, where sweeps take a share of it; None where unknown. [s]"""
    ages: list[float | None] = []
    for member in members:
        age = member.under_vacuum
        if ages and not member.is_refreshed and age is not None:
            before, previous = ages[-1], members[len(ages) - 1]
            if before is not None and previous.under_vacuum is not None:
                span = previous.hold.bins.length
                pulled = max(age - previous.under_vacuum - span, _SHORTEST_PULL)
                age = kept * (before + span) + pulled
        ages.append(age)
    return ages
