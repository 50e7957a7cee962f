"""The cause of a rise, and the truth table of the verdict: absence of findings is never a pass."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from decay.fit.results import JointFit
from decay.judge import verdict
from decay.judge.answer import CriterionOutcome
from decay.judge.finding import Cause, Finding, Level, Result
from tests.judge.factories import (
    GOOD_TESTS,
    damp_fit,
    leaking_fit,
    make_fit,
    make_pull,
    make_water,
    rates,
    slow_fit,
)

PULL, WET_PULL = make_pull(), make_pull(water=True)
FAR_BELOW = make_water()

CAUSES = [
    ("quiet", make_fit(), PULL, Cause.TIGHT),
    ("quiet, no pull logged", make_fit(water=FAR_BELOW), None, Cause.TIGHT),
    ("quiet after a wet pull", make_fit(water=FAR_BELOW), WET_PULL, Cause.TIGHT),
    ("levels off", damp_fit(), PULL, Cause.OUTGASSING),
    ("levels off, no pull logged", damp_fit(water=make_water(possible=False)), None, Cause.OUTGASSING),
    ("steady", leaking_fit(), PULL, Cause.LEAK),
    ("steady and levelling", leaking_fit(is_outgassing_seen=True), PULL, Cause.LEAK_AND_OUTGASSING),
    ("steady, water possible, dry pull", leaking_fit(water=FAR_BELOW), PULL, Cause.LEAK),
    ("steady, water possible, wet pull", leaking_fit(water=FAR_BELOW), WET_PULL, Cause.FREE_WATER),
    ("steady, water impossible, wet pull", leaking_fit(water=make_water(possible=False)), WET_PULL, Cause.LEAK),
    ("steady, water possible, no pull", leaking_fit(water=FAR_BELOW), None, Cause.UNRESOLVED),
    ("steady, water impossible, no pull", leaking_fit(water=make_water(possible=False)), None, Cause.LEAK),
    ("bends to the ceiling", damp_fit(water=make_water(bending=True)), PULL, Cause.FREE_WATER),
    ("slow source or leak", slow_fit(), PULL, Cause.UNRESOLVED),
    ("levels off, and something goes on", damp_fit(is_steady_rise_seen=True), PULL, Cause.UNRESOLVED),
    ("accelerates", make_fit(rise=60.0, tests=replace(GOOD_TESTS, bend_p=1e-6)), PULL, Cause.UNRESOLVED),
    ("falls", make_fit(rise=-60.0), PULL, Cause.UNRESOLVED),
    ("rise beyond noise without a cause", make_fit(rise=30.0), PULL, Cause.UNRESOLVED),
    # 0.1 micron/min of decision threshold in an hour: 6 micron would not count as seen
    ("rise too small to count", make_fit(rise=4.0), PULL, Cause.TIGHT),
    ("leak whose lower end is zero", leaking_fit(leak=rates(3, 0, 4), is_leak_seen=False), PULL, Cause.UNRESOLVED),
]


@pytest.mark.parametrize(("fit", "pull", "cause"), [row[1:] for row in CAUSES], ids=[row[0] for row in CAUSES])
def test_cause(fit, pull, cause):
    assert verdict.cause_of(fit, pull) is cause


def joint(value: float, low: float, high: float, *, homogeneous: bool = True) -> JointFit:
    leak = rates(value, low, high)
    return JointFit(leak, (0, 1), (leak, leak), 0.5, homogeneous, low > 0, leak.high, 2 * leak.high)


OPEN = make_water()


@pytest.mark.parametrize(
    ("fit", "pull", "together", "cause"),
    [
        (slow_fit(), PULL, None, Cause.UNRESOLVED),
        (slow_fit(), PULL, joint(0.9, 0.8, 1.0), Cause.LEAK),
        (slow_fit(is_outgassing_seen=True), PULL, joint(0.9, 0.8, 1.0), Cause.LEAK_AND_OUTGASSING),
        (slow_fit(), PULL, joint(0.1, 0.0, 0.4), Cause.OUTGASSING),  # at most 24 of 60 micron
        (slow_fit(), PULL, joint(0.3, 0.0, 0.6), Cause.UNRESOLVED),  # at most 36 of 60 micron
        (slow_fit(), PULL, joint(0.9, 0.8, 1.0, homogeneous=False), Cause.UNRESOLVED),
        (leaking_fit(water=OPEN), None, joint(3.0, 2.9, 3.1), Cause.UNRESOLVED),  # water stays as a leak does
        (leaking_fit(water=OPEN), WET_PULL, joint(3.0, 2.9, 3.1), Cause.FREE_WATER),
        (make_fit(rise=-60.0), PULL, joint(0.0, 0.0, 0.1), Cause.UNRESOLVED),
        (make_fit(), PULL, joint(0.0, 0.0, 0.1), Cause.TIGHT),
    ],
)
def test_cause_with_the_other_holds(fit, pull, together, cause):
    alone = verdict.cause_of(fit, pull)
    assert verdict.cause_with_joint(alone, fit, pull, together) is cause


def outcome(met: bool | None) -> CriterionOutcome:
    return CriterionOutcome("made", "Made", "typed here", "for a test", met, "because", part="all")


def finding(level: Level) -> Finding:
    return Finding("X01", level, "made for a test")


def decide(
    met: bool | None, level: Level | None, unanswered: bool, cause: Cause | None, excluded: bool = False
) -> Result:
    return verdict.decide(
        () if level is None else (finding(level),),
        (finding(Level.CAVEAT),),
        (),
        (finding(Level.BLOCKS),) if unanswered else (),
        outcome(met),
        cause,
        is_above_allowed_excluded=excluded,
    ).result


LEVELS = (None, *Level)
EVERY = tuple(itertools.product((True, False, None), LEVELS, (False, True), (None, *Cause), (False, True)))


def expected(met, level, unanswered, cause, excluded):
    """Return the result as the contract puts it."""
    if met is False or level is Level.FAILS:
        return Result.FAIL
    is_quiet = cause in (Cause.TIGHT, Cause.OUTGASSING) or (cause is not None and excluded)
    if met is True and level in (Level.NOTE, Level.CAVEAT) and not unanswered and is_quiet:
        return Result.PASS
    return Result.INCONCLUSIVE


def test_truth_table():
    assert {expected(*row) for row in EVERY} == set(Result)
    assert [row for row in EVERY if decide(*row) is not expected(*row)] == []


@pytest.mark.parametrize(
    ("met", "level", "unanswered", "cause", "excluded", "result"),
    [
        (True, Level.NOTE, False, Cause.TIGHT, False, Result.PASS),
        (True, Level.NOTE, False, Cause.OUTGASSING, False, Result.PASS),
        (True, None, False, Cause.TIGHT, False, Result.INCONCLUSIVE),  # no findings is no pass
        (None, None, False, None, False, Result.INCONCLUSIVE),  # nothing answered
        (True, Level.NOTE, True, Cause.TIGHT, False, Result.INCONCLUSIVE),  # a required rule did not answer
        (None, Level.NOTE, False, Cause.TIGHT, False, Result.INCONCLUSIVE),
        (True, Level.BLOCKS, False, Cause.TIGHT, False, Result.INCONCLUSIVE),
        (True, Level.NOTE, False, Cause.LEAK, False, Result.INCONCLUSIVE),
        (True, Level.FAILS, False, Cause.LEAK, False, Result.FAIL),
        (True, Level.NOTE, False, Cause.LEAK, True, Result.PASS),  # seen, and smaller than allowed
        (True, Level.NOTE, False, Cause.UNRESOLVED, False, Result.INCONCLUSIVE),
        (True, Level.NOTE, False, Cause.UNRESOLVED, True, Result.PASS),  # it does not matter
        (True, Level.NOTE, False, Cause.FREE_WATER, False, Result.INCONCLUSIVE),
        (False, Level.NOTE, False, Cause.OUTGASSING, False, Result.FAIL),
        (False, Level.BLOCKS, True, Cause.UNRESOLVED, False, Result.FAIL),
    ],
)
def test_rows_that_the_design_names(met, level, unanswered, cause, excluded, result):
    assert decide(met, level, unanswered, cause, excluded) is result


def test_a_blocking_caveat_blocks():
    decided = verdict.decide(
        (finding(Level.NOTE),), (finding(Level.BLOCKS),), (), (), outcome(True), Cause.TIGHT
    )
    assert decided.result is Result.INCONCLUSIVE


def test_the_heaviest_reason_stands_first():
    decided = verdict.decide(
        (finding(Level.NOTE), finding(Level.FAILS), finding(Level.BLOCKS)), (), (), (), outcome(True), Cause.LEAK
    )
    assert [f.level for f in decided.reasons] == [Level.FAILS, Level.BLOCKS, Level.NOTE]
