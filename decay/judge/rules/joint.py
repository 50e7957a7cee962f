"""Findings about several holds that share one leak."""

from __future__ import annotations

from decay.judge import wording
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
    if joint is None or not joint.is_homogeneous:
        return ()
    seen = "a leak is seen" if joint.is_leak_seen else "no leak is seen"
    summary = (
        f"{len(joint.holds_used)} holds together: {seen}, steady rise {wording.rate_interval(joint.leak)}; smallest "
        f"detectable {wording.rate(joint.detection_limit)}."
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
    each = "; ".join(wording.rate_interval(leak) for leak in joint.each)
    summary = f"The holds contradict one leak ({each}): something changed between them."
    return (Finding("J02", Level.BLOCKS, summary, {"homogeneity_probability": joint.homogeneity_p}),)
