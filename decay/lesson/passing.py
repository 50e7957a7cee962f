"""How often a hold passes a rule, leak size by leak size, and what the log of the same hold proves: by Monte Carlo."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from decay.arrays import FloatArray, IntArray
from decay.errors import RangeError
from decay.fit.results import PumpdownFit
from decay.interval import Interval
from decay.judge import practice
from decay.judge.criteria import Criterion
from decay.judge.finding import Result
from decay.judge.verdict import NAMED, QUIET
from decay.lesson.terms import EXTRA, LEAST_EXTRA, Terms
from decay.log.pressure_log import Mark, PressureLog, Valve
from decay.phases import hold_between
from decay.pipeline import Ahead, analyze_log
from decay.simulation import SimulatedRun, StepKind, run
from decay.system import System

KINDS = ("named", "unresolved", "unseen", "without", "named_and_met", "passed")
"""What is counted of analysed logs, in the order of `Proof`."""

Told = Callable[[int], None]


@dataclass(frozen=True, slots=True, eq=False)
class RuleCurve:
    """How often holds pass the rule, in one volume and with one length of hold."""

    volume: float  # gas volume behind the closed valve [m³]
    hold: float  # length of the hold [s]
    # Holds that passed at each of the lesson's leak sizes; the first one is without a leak, shape (m,) [-]
    passes: IntArray
    runs: int  # holds tried at each [-]

    def interval(self, index: int) -> Interval:
        """Return the share that passes at one leak size, with its Monte Carlo error."""
        return share(int(self.passes[index]), self.runs)

    def up_to(self, least: float) -> int:
        """Return the index of the largest leak at which at least such a share [-] passes; -1 for none."""
        enough = np.flatnonzero(self.passes >= least * self.runs)
        return int(enough[-1]) if enough.size else -1


@dataclass(frozen=True, slots=True, eq=False)
class Proof:
    """What the full analysis says of the same holds."""

    hold: float  # length of the hold [s]
    indices: IntArray  # which of the lesson's leak sizes were analysed, shape (k,) [-]
    # Holds in which a leak was named; in which the rise could be a leak or another source that goes on; in which no
    # leak was seen; and logs in which no usable hold was found. They add up to ``runs``. shape (k,) [-]
    named: IntArray
    unresolved: IntArray
    unseen: IntArray
    without: IntArray
    named_and_met: IntArray  # those named that met the rule all the same, shape (k,) [-]
    passed: IntArray  # holds that the program passed: rule met and no leak seen, shape (k,) [-]
    # Median detection limit of these holds: half of them would miss a leak of this size more often than one time in
    # twenty, shape (k,) [Pa/s]
    smallest_shown: FloatArray
    runs: int  # holds analysed at each leak size [-]


def share(count: int, runs: int) -> Interval:
    """Return a share with the error of having counted it in so many runs.

    Parameters
    ----------
    count, runs : int
        Successes and trials. [-]

    Returns
    -------
    Interval
        The share and its 95 % score interval. [-]

    Raises
    ------
    RangeError
        If there was no trial, or more successes than trials.

    Examples
    --------
    >>> found = share(9, 10)
    >>> round(found.low, 3), found.value, round(found.high, 3)
    (0.596, 0.9, 0.982)

    References
    ----------
    .. [1] Wilson, *J. Am. Stat. Assoc.* 22 (1927) 209.
    """
    if not 0 <= count <= runs or runs < 1:
        raise RangeError(f"a share needs at least one trial and no more successes than trials, got {count} of {runs}")
    from scipy.stats import binomtest

    p = count / runs
    ends = binomtest(count, runs).proportion_ci(0.95, method="wilson")
    # The last digit of the ends may fall on the wrong side of a share of nothing or of all.
    return Interval(p, min(float(ends.low), p), max(float(ends.high), p))


def is_met(made: SimulatedRun, rule: Criterion, system: System) -> bool:
    """Tell whether an invented job's last hold meets a rule, by its readings and the true moment of isolation.

    A rule that the hold does not answer is not met.
    """
    log, truth = made.to_log(), made.holds[-1]
    try:
        hold = hold_between(log, truth.start, truth.end)
    except RangeError:  # over range as soon as the valve was shut
        return False
    return practice.outcome_of(rule, hold, _pulls(made), log, system).met is True


def _pulls(made: SimulatedRun) -> tuple[PumpdownFit, ...]:
    """Return the pulls of a job as a criterion looks at them: their times and the lowest pressure, nothing fitted."""
    return tuple(
        PumpdownFit(s.start, s.end, s.end_pressure, s.end_pressure, None, (), None, (), None, (), False)
        for s in made.stretches
        if s.kind is StepKind.PUMP
    )


def told_log(made: SimulatedRun) -> PressureLog:
    """Return the log of a job that says when its holds began and ended: who invents a hold need not look for it."""
    log = made.to_log()

    def first_after(moment: float) -> float:
        return float(log.time[min(int(np.searchsorted(log.time, moment, side="right")), len(log.time) - 1)])

    marks = [Mark(first_after(hold.start), Valve.CLOSED) for hold in made.holds]
    marks += [Mark(first_after(hold.end), Valve.OPEN) for hold in made.holds[:-1]]
    return replace(log, marks=tuple(sorted(marks, key=lambda mark: mark.time)))


def up_to_length(made: SimulatedRun, hold: float) -> PressureLog:
    """Return the log of a job as if its last hold had been ended after such a length [s], and a little."""
    log = told_log(made)
    n = int(np.searchsorted(log.time, made.holds[-1].start + hold + max(EXTRA * hold, LEAST_EXTRA), side="right"))
    kept = {name: getattr(log, name)[:n] for name in ("time", "pressure", "line", "is_over_range", "step")}
    return replace(log, rows=n, **kept)


def count_passing(is_passing: Callable[[int], bool], sizes: int, guess: int) -> int:
    """Return how many of the leak sizes, from the smallest up, one job passes with.

    With all else equal a larger leak never passes where a smaller one fails, so few are looked at; a likely answer
    saves looks and changes nothing.
    """
    passing, failing, reach = -1, sizes, 1
    look = min(max(guess, 0), sizes - 1)
    while failing - passing > 1:
        if is_passing(look):
            passing = look
            look = passing + reach
        else:
            failing = look
            look = failing - reach
        reach *= 2
        if not passing < look < failing:
            look = (passing + failing) // 2
    return passing + 1


def rule_and_proof(
    terms: Terms, holds: tuple[float, ...], indices: IntArray, told: Told
) -> tuple[tuple[RuleCurve, ...], tuple[Proof, ...]]:
    """Return how often the rule passes, and what the logs prove, for several lengths of hold.

    Parameters
    ----------
    terms : Terms
        What the lesson is about.
    holds : tuple of float
        Lengths. [s]
    indices : ndarray of int, shape (k,)
        Leak sizes at which the logs are analysed in full. [-]
    told : callable
        Told how many invented jobs more are done.

    Returns
    -------
    tuple of RuleCurve, tuple of Proof
        A curve for each length, and a proof for the first and the last one; all from the same jobs.
    """
    leaks, system = terms.leaks, terms.system
    passes = np.zeros((len(holds), len(leaks)), dtype=np.int64)
    analysed = (holds[0], holds[-1])
    counts = np.zeros((len(analysed), len(KINDS), len(indices)), dtype=np.int64)
    limits = np.full((len(analysed), len(indices), terms.proof_runs), np.inf)
    likely = [len(leaks)] * len(holds)
    for number in range(terms.runs):
        made: dict[int, SimulatedRun] = {}

        def at(index: int, number: int = number, made: dict[int, SimulatedRun] = made) -> SimulatedRun:
            if index not in made:
                made[index] = run(terms.job(number, float(leaks[index]), max(holds)))
            return made[index]

        for row, hold in enumerate(holds):
            rule = terms.rule(hold)

            def is_passing(index: int, rule: Criterion = rule, at: Callable[[int], SimulatedRun] = at) -> bool:
                return is_met(at(index), rule, system)

            likely[row] = count_passing(is_passing, len(leaks), likely[row])
            passes[row, : likely[row]] += 1
        told(1)
        if number >= terms.proof_runs:
            continue
        for column, index in enumerate(indices.tolist()):
            for row, hold in enumerate(analysed):
                flags, limit = _proved(up_to_length(at(index), hold), terms.rule(hold), system)
                counts[row, :, column] += flags
                limits[row, column, number] = limit
            told(1)
    curves = tuple(
        RuleCurve(terms.volume.value, hold, passes[row], terms.runs) for row, hold in enumerate(holds)
    )
    smallest = np.median(limits, axis=2)
    proofs = tuple(
        Proof(hold, indices, runs=terms.proof_runs, smallest_shown=smallest[row],
              **{kind: counts[row, place] for place, kind in enumerate(KINDS)})
        for row, hold in enumerate(analysed)
    )
    return curves, proofs


def _proved(log: PressureLog, rule: Criterion, system: System) -> tuple[IntArray, float]:
    """Return which of `KINDS` are true of a log, as ones, and its detection limit [Pa/s]."""
    analysis = analyze_log(log, system, rule, ahead=Ahead.NOTHING)
    verdict = analysis.verdict
    is_named, is_unseen = verdict.cause in NAMED, verdict.cause in QUIET
    is_without = verdict.cause is None
    flags = (
        is_named,
        not (is_named or is_unseen or is_without),
        is_unseen,
        is_without,
        is_named and verdict.criterion.met is True,
        verdict.result is Result.PASS,
    )
    limit = analysis.basis.detection_limit
    return np.array(flags, dtype=np.int64), float(np.inf if limit is None else limit)


def rule_in_volume(terms: Terms, volume: float, told: Told) -> RuleCurve:
    """Return how often the rule passes the same leaks in another volume.

    Parameters
    ----------
    terms : Terms
        What the lesson is about.
    volume : float
        The other volume, rig included. [m³]
    told : callable
        Told how many invented jobs more are done.

    Returns
    -------
    RuleCurve
        At the lesson's leak sizes, which are rises in the stated volume.
    """
    leaks: FloatArray = terms.leaks
    system = replace(terms.system, volume=Interval(volume, volume, volume))
    rule = terms.rule()
    passes = np.zeros(len(leaks), dtype=np.int64)
    likely = len(leaks)
    for number in range(terms.runs):

        def is_passing(index: int, number: int = number) -> bool:
            return is_met(run(terms.job(number, float(leaks[index]), terms.hold, volume)), rule, system)

        likely = count_passing(is_passing, len(leaks), likely)
        passes[:likely] += 1
        told(1)
    return RuleCurve(volume, terms.hold, passes, terms.runs)
