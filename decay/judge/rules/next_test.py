"""Next steps where a leak was left open: the test that would settle it, the others, and how to warm without harm."""

from __future__ import annotations

from decay import wording
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer
from decay.second.next_test import AIM, TestKind
from decay.second.words import WARMING, deciding, mid_sentence, what_to_do


def best_test(case: Case) -> Answer:
    """
    What it looks for
        A hold that a leak and a slow source explain alike. What would tell them apart for this job: holding on,
        another pull and hold, or a warm hold?
    Why it matters
        Each costs time, and which one tells soonest depends on this system's outgassing and this gauge's noise.
    When it is wrong
        The chance is computed from what this hold shows: water that is still to come, or another gauge, changes it.
        It is the chance that a leak is named if there is one; a tight system is not proved tight by it.
    Example log
        Twenty minutes from 300 to 420 micron, nearly straight, after a pull of half an hour.
    What to do
        The test that it names; then give both logs to one analysis with --same-job.
    References
        The power of the test that decides, after Currie, Analytical Chemistry 40 (1968) 586. What was named when such
        tests were carried out in simulation stands in the developers' guide.
    """
    tests = deciding(case.next_tests)
    if not tests:
        return ()
    best = tests[0]
    chance = best.chance or 0.0
    doubt = "" if chance >= AIM else "Nothing within four hours settles this well. The best is: "
    what = mid_sentence(what_to_do(best)) if doubt else what_to_do(best)
    summary = f"{doubt}{what}: if there is a leak, this names it in {wording.chance(chance)} of cases."
    return (Finding("N13", Level.NOTE, summary, {"minutes": best.minutes, "chance": chance}),)


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
        Choose by what the job allows. The rig alone and a section alone tell where the gas comes in; a slow source in
        the section looks like a leak there as well.
    References
        As N13.
    """
    tests = deciding(case.next_tests)
    if len(tests) < 2:
        return ()
    others = "; ".join(f"{mid_sentence(what_to_do(t))}, chance {wording.chance(t.chance or 0.0)}" for t in tests[1:])
    where = ", ".join(mid_sentence(what_to_do(t)) for t in case.next_tests if t.chance is None)
    summary = f"Or: {others}. Where, and not whether, tell: {where}."
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
    if not any(test.kind is TestKind.WARM for test in deciding(case.next_tests)):
        return ()
    return (Finding("N15", Level.NOTE, WARMING),)
