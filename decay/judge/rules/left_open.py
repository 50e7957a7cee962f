"""Findings where a hold leaves a leak open: its odds, the tests that would settle it, and how to warm without harm."""

from __future__ import annotations

import math

from decay import wording
from decay.fit.odds import FADING_TIME, LEAK, Grade
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer
from decay.several.next_test import AIM, NextTest, TestKind
from decay.several.next_test_words import WARMING, deciding, mid_sentence, what_to_do

WORTH = 0.1
"""Chance below which a test is not worth its hours: our choice, no source. [-]"""

_GRADES = {
    Grade.LIKELY: "A leak is likely: its odds are",
    Grade.UNLIKELY: "A leak is unlikely: its odds are",
    Grade.OPEN: "The odds of a leak are",
}


def odds(case: Case) -> Answer:
    """
    What it looks for
        A hold that the interval leaves open: how much likelier are its readings with a leak than without one? From
        95 % on the leak is graded as likely, down from 5 % as unlikely.
    Why it matters
        It says where to look first: for a hole, or for water and oil. It never passes and never fails anything.
    When it is wrong
        Where the system is unlike what was assumed beforehand. With and without a leak weigh the same. A leak makes
        0.5 to 200 micron/min. What else gives off gas is, with equal weight, one of three: dry walls, 0.02 to 0.4
        micron/min after an hour and fading as t^-0.8 to t^-1.2; these with damp walls, 0.3 to 10 and t^-0.5 to t^-1.1,
        and in 7 of 10 cases a pool that levels off at 5 to 1,500 micron with a time constant of 0.05 to 1 hold, one in
        two of which takes up what the walls give off; or
        dry walls and a pool that fades with one of 0.5 to 15 holds from 1 to 300 micron/min. All sizes are as likely
        in one octave as in the next. Slower outgassing is graded as a leak.
    Example log
        Half an hour from 320 to 470 micron, bent at first and straight for the last twenty minutes.
    What to do
        Take the first next step: it settles what the odds only grade.
    References
        Kass and Raftery, Journal of the American Statistical Association 90 (1995) 773, for Bayes factors. The priors
        are assumed, no source; how often they came true in simulated jobs stands in the contributors' guide.
    """
    found = case.odds
    if found is None:
        return ()
    summary = (
        f"{_GRADES[found.grade]} {wording.chance(found.probability)}. Assumed before the test: a leak is as likely as "
        f"none and makes {wording.rate_number(LEAK.low)} to {wording.rate(LEAK.high)}, and the rest is dry walls, damp "
        "walls with or without a pool that levels off within a hold, or a pool that fades over "
        f"{wording.number(FADING_TIME.low)} to {wording.number(FADING_TIME.high)} holds. A slower source would be "
        "graded as a leak; the odds decide nothing."
    )
    return (Finding("H20", Level.NOTE, summary, {"odds_of_leak": found.probability}),)


def best_test(case: Case) -> Answer:
    """
    What it looks for
        A hold that a leak and slow outgassing explain alike. What would tell them apart for this job: holding on,
        another pull and hold, or a warm hold?
    Why it matters
        Each costs time, and which one answers soonest depends on this system's outgassing and this gauge's noise.
    When it is wrong
        The chance is computed from what this hold shows: water that is still to come, or another gauge, changes it.
        It is the chance that a leak is named if there is one; a tight system is not proved tight by it. Tests that
        would name fewer than one leak in ten are not advised.
    Example log
        Twenty minutes from 300 to 420 micron, nearly straight, after a pull of half an hour.
    What to do
        The test that it names; then give both logs to one analysis with --same-job.
    References
        The power of the test that decides, after Currie, Analytical Chemistry 40 (1968) 586. What was named when such
        tests were carried out in simulation stands in the contributors' guide.
    """
    tests = deciding(case.next_tests)
    if not tests:
        return ()
    best = tests[0]
    chance = best.chance or 0.0
    if chance < WORTH:
        return (Finding("N13", Level.NOTE, _without_test(case, chance), {"minutes": best.minutes, "chance": chance}),)
    doubt = "" if chance >= AIM else "Nothing within four hours settles this well. The best is: "
    what = mid_sentence(what_to_do(best)) if doubt else what_to_do(best)
    summary = f"{doubt}{what}: if there is a leak, this names it in {wording.chance(chance)} of cases."
    return (Finding("N13", Level.NOTE, summary, {"minutes": best.minutes, "chance": chance}),)


def _worthwhile(case: Case) -> tuple[NextTest, ...]:
    return tuple(test for test in deciding(case.next_tests) if (test.chance or 0.0) >= WORTH)


def _without_test(case: Case, chance: float) -> str:
    """Say what to do where no test of some hours would settle a hold."""
    known = ""
    if case.system.allow is None and case.leak is not None and math.isfinite(case.leak.high):
        known = f"Give the leak that matters with --allow: one above {wording.rate_high(case.leak)} is ruled out; else "
    rest = f"{known}dry the system further and hold again"
    return (f"{rest[0].upper()}{rest[1:]}: of tests within four hours the best names a leak, if there is one, in "
            f"{wording.chance(chance)} of cases.")


def other_tests(case: Case) -> Answer:
    """
    What it looks for
        The other tests that may settle a hold which left a leak open.
    Why it matters
        The best one may not be possible at the job: no time, no warmth, no valve between sections.
    When it is wrong
        As N13.
    Example log
        As N13.
    What to do
        Choose by what the job allows. The rig alone and a section alone show where the gas comes in; slow outgassing in
        the section looks like a leak there as well.
    References
        As N13.
    """
    tests = _worthwhile(case)
    if len(tests) < 2:
        return ()
    others = "; ".join(f"{mid_sentence(what_to_do(t))}, chance {wording.chance(t.chance or 0.0)}" for t in tests[1:])
    where = ", ".join(mid_sentence(what_to_do(t)) for t in case.next_tests if t.chance is None)
    summary = f"Or: {others}. To find where it leaks, not whether: {where}."
    return (Finding("N14", Level.NOTE, summary),)


def warming_caution(case: Case) -> Answer:
    """
    What it looks for
        A warm hold among the tests that are advised.
    Why it matters
        Heat in the wrong place bursts hoses, melts seals, fires oil and burns hands.
    When it is wrong
        Never.
    Example log
        As N13.
    What to do
        Warm air or heating blankets, on system and rig alike, until the metal everywhere is at least 15 K warmer, with
        the pump on. No flame and no torch, ever: oil and some refrigerants burn. Stay below the makers' limits for
        oil, valves, seals and hoses. Keep it warm through the hold, and log the temperature.
    References
        The equipment maker's instructions. Common practice, no source.
    """
    if not any(test.kind is TestKind.WARM for test in _worthwhile(case)):
        return ()
    return (Finding("N15", Level.NOTE, WARMING),)
