"""The verdict: the cause of a hold's rise, and pass, fail or inconclusive from findings, never from their absence."""

from __future__ import annotations

from collections.abc import Sequence

from decay.fit.results import HoldFit, JointFit, PumpdownFit
from decay.judge import signs
from decay.judge.answer import CriterionOutcome, Verdict
from decay.judge.finding import Cause, Finding, Level, Result

QUIET = (Cause.TIGHT, Cause.OUTGASSING)
"""The causes under which no leak is seen."""
NAMED = (Cause.LEAK, Cause.LEAK_AND_OUTGASSING)
"""The causes under which a leak is named."""
# Where the largest leak that the holds together allow makes less than this share of a rise, the rest is outgassing.
LEAK_SHARE = 0.5


def cause_of(fit: HoldFit, pull: PumpdownFit | None) -> Cause:
    """Return what a hold's rise is made of, as far as the log proves it; the pull before it may not be logged."""
    if signs.water_explains(fit, pull):
        return Cause.FREE_WATER
    if signs.water_is_open(fit, pull):
        return Cause.UNRESOLVED
    if fit.is_leak_seen and fit.leak.low > 0.0:
        return Cause.LEAK_AND_OUTGASSING if fit.is_outgassing_seen else Cause.LEAK
    if signs.falls(fit) or signs.accelerates(fit):
        return Cause.UNRESOLVED
    if signs.is_within_noise(fit):
        return Cause.TIGHT
    if signs.levels_off(fit):
        return Cause.OUTGASSING
    return Cause.TIGHT if signs.is_negligible(fit) else Cause.UNRESOLVED


def cause_with_joint(cause: Cause, fit: HoldFit, pull: PumpdownFit | None, joint: JointFit | None) -> Cause:
    """Return the cause of the hold that decides, seen together with the other holds.

    A leak where the holds together show one; outgassing where they leave most of an unresolved rise to sources that
    shrink; else the hold's own. Free water stays the same from hold to hold as a leak does, so that together they tell
    no more about it than one.
    """
    if joint is None or not joint.is_homogeneous or cause is Cause.FREE_WATER or signs.water_is_open(fit, pull):
        return cause
    if joint.is_leak_seen and joint.leak.low > 0.0:
        return Cause.LEAK_AND_OUTGASSING if fit.is_outgassing_seen else Cause.LEAK
    is_plain = not signs.falls(fit) and not signs.accelerates(fit)
    is_small = joint.leak.high * fit.duration <= LEAK_SHARE * signs.rise(fit)
    # A leak that would have shown must not be among what the holds together leave open.
    is_excluded = joint.leak.high <= max(fit.detection_limit, joint.detection_limit)
    if cause is Cause.UNRESOLVED and is_plain and is_small and is_excluded:
        return Cause.OUTGASSING
    return cause


def decide(
    reasons: Sequence[Finding],
    caveats: Sequence[Finding],
    next_steps: Sequence[Finding],
    unanswered: Sequence[Finding],
    outcome: CriterionOutcome,
    cause: Cause | None,
    *,
    is_above_allowed_excluded: bool = False,
    others: Sequence[CriterionOutcome] = (),
) -> Verdict:
    """Weigh the findings.

    Fail where a sound rule fails; else inconclusive where one blocks or a required one did not answer; and a pass only
    where practice is met, the cause is known, and no leak that matters is seen. With ``is_above_allowed_excluded`` a
    tolerated leak was stated and everything above it is ruled out: a smaller one does not matter then. The other stands
    decide nothing.
    """
    findings = (*reasons, *caveats, *unanswered)
    is_quiet = cause in QUIET or (cause is not None and is_above_allowed_excluded)
    if outcome.met is False or any(finding.level is Level.FAILS for finding in findings):
        result = Result.FAIL
    elif (
        unanswered
        or any(finding.level is Level.BLOCKS for finding in findings)
        or outcome.met is not True
        or not is_quiet
        or not reasons
    ):
        result = Result.INCONCLUSIVE
    else:
        result = Result.PASS
    heaviest_first = sorted((*reasons, *unanswered), key=lambda finding: -finding.level)
    return Verdict(
        result=result,
        cause=cause,
        criterion=outcome,
        reasons=tuple(heaviest_first),
        caveats=tuple(sorted(caveats, key=lambda finding: -finding.level)),
        next_steps=tuple(next_steps),
        others=tuple(others),
    )
