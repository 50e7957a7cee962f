"""Findings about several holds that share one leak."""

from __future__ import annotations

from decay import wording
from decay.fit.joint import WORST_MISFIT
from decay.fit.results import JointFit
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer


def joint_result(case: Case) -> Answer:
    """
    What it looks for
        Several holds fitted with one leak, while their outgassing may shrink from hold to hold.
    Why it matters
        It is the strongest evidence there is: what stays the same is the leak.
    When it is wrong
        When something was opened, mended or warmed between the holds; the test of homogeneity looks for that.
    Example log
        Holds of a triple evacuation that rise by 120, 60 and 45 micron in ten minutes each.
    What to do
        Trust it before any single hold.
    References
        See H01 for when a leak counts as seen.
    """
    joint = case.joint
    if case.is_withheld or case.gross is not None:
        return ()
    if joint is None or not joint.is_homogeneous or case.warm is not None:
        return ()
    seen = "a leak is seen" if joint.is_leak_seen else "no leak is seen"
    summary = (
        f"All {len(joint.each)} holds together: {seen}, steady rise {wording.rate_interval(joint.leak)}; the smallest "
        f"leak they could show is {wording.bound(joint.detection_limit)}."
    )
    return (Finding("J01", Level.NOTE, summary, {"homogeneity_probability": joint.homogeneity_p}),)


def holds_contradict(case: Case) -> Answer:
    """
    What it looks for
        Holds that one leak cannot explain.
    Why it matters
        Something changed between them: a fitting opened, a repair, a valve left open.
    When it is wrong
        A gauge that was changed or re-zeroed between holds looks the same.
    Example log
        A hold at 0.5 micron/min (0.3 to 0.7) and, after a valve core was changed, one at 4 (3.8 to 4.2).
    What to do
        Find out what changed, and judge the last hold by itself.
    References
        A chi-squared test of homogeneity.
    """
    joint = case.joint
    if joint is None or joint.is_homogeneous:
        return ()
    each = "; ".join(
        f"{name} {wording.rate_interval(leak)}" for name, leak in zip(joint_names(joint), joint.each, strict=True)
    )
    p = wording.number(joint.homogeneity_p, 2)
    test = f"chi-squared test of homogeneity, p = {p}"
    if joint.misfit > WORST_MISFIT:
        test = f"fitted together they miss the readings {wording.number(joint.misfit**0.5, 2)} times the noise; {test}"
    summary = (
        f"The holds disagree: no single leak explains them ({each}). Something changed between them: a fitting, a "
        f"repair, a valve ({test})."
    )
    evidence = {"homogeneity_probability": joint.homogeneity_p}
    return (Finding("J02", Level.BLOCKS, summary, evidence, headline="the holds disagree"),)


def each_adds(case: Case) -> Answer:
    """
    What it looks for
        The joint interval without each hold in turn.
    Why it matters
        It shows which hold the answer hangs on. A hold without which the leak is no longer seen deserves a second look.
    When it is wrong
        Never: it states what the fit says without that hold.
    Example log
        Three holds that give 3.1 micron/min (2.6 to 3.4); without the first, 3.0 (0 to 3.5).
    What to do
        Look at that hold's caveats: was anything touched, did the temperature drift?
    References
        Leaving one out, as in any check of influence.
    """
    joint = case.joint
    if joint is None or not joint.is_homogeneous or not joint.without:
        return ()
    names = joint_names(joint)
    parts = [f"without {name} {wording.rate_interval(rest)}" for name, rest in zip(names, joint.without, strict=True)]
    return (Finding("J03", Level.NOTE, f"What each hold adds: {'; '.join(parts)}."),)


def holds_aside(case: Case) -> Answer:
    """
    What it looks for
        Holds that were not fitted together with the others.
    Why it matters
        What was left out is said, never dropped silently.
    When it is wrong
        A hold that was truly without any rise, and from which the pull went on, looks like a pull that stood.
    Example log
        A pull that stands at 20 micron for half an hour with the pump on, and then a hold.
    What to do
        If it was a hold, judge it by itself with --hold START..END.
    References
        None.
    """
    joint = case.joint
    return () if joint is None else tuple(Finding("J04", Level.NOTE, remark) for remark in joint.remarks)


def joint_names(joint: JointFit) -> tuple[str, ...]:
    """Return a name for every hold of a joint fit, in its order."""
    away = tuple(f"hold {index + 1} of {source}" for source, index in joint.elsewhere)
    return (*away, *(f"hold {index + 1}" for index in joint.holds_used))
