"""Findings of practice on one hold: what the technician could have done so that the log would prove more."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from decay import wording
from decay.fit.results import HoldFit, Plateau, PumpdownFit
from decay.impact.hold_length import hold_needed
from decay.judge.answer import CriterionOutcome, Part
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules import criterion as criterion_rules
from decay.judge.rules import phases, pull
from decay.judge.rules.rule import Answer
from decay.phases.phase import Phase
from decay.quantities import MICRON

FEWEST_READINGS = 60
"""Readings below which a hold is sampled too coarsely; our choice, no source. [-]"""
LONGEST_SPACING = 30.0
"""Time between readings in which rig and system equalise unseen; our choice, no source. [s]"""
TWO_GAUGES = 0.25
"""Disagreement of two gauges that is more than both may err where each is good to some 10 %; our choice. [-]"""
ENDING = 0.1
"""A stall that reaches to within this share of the pull's length from its end is where the pull ended. [-]"""


@dataclass(frozen=True, slots=True)
class Check:
    """One check of practice."""

    code: str  # stable for ever; a check that the verdict's rules make too has their code
    title: str  # its name in a few words
    # From a case, whose deciding hold is the one looked at, to the findings. Where the code is the audit's own, its
    # docstring is the manual page.
    examine: Callable[[Case], Answer]


def short_for_the_leak_that_matters(case: Case) -> Answer:
    """
    What it looks for
        A hold whose smallest detectable leak is larger than the leak that matters (--allow).
    Why it matters
        Had such a leak been there, this hold would not have been sure to show it.
    When it is wrong
        The length it names is the plan's formula with this hold's noise and outgassing; the next hold may be noisier.
    Example log
        Ten minutes in a damp system, where a leak of 2 micron/min matters.
    What to do
        Hold for as long as it says, or dry further so that less gas hides the leak.
    References
        Currie 1968; ISO 11929 (detection limit).
    """
    fit = case.fit
    if fit is None or case.allowed is None:
        return None
    if fit.detection_limit <= case.allowed:
        return ()
    levels_off = fit.is_outgassing_seen and fit.outgassing_time_constant is not None
    needed = hold_needed(
        case.allowed,
        fit.noise,
        case.log.sampling,
        step=fit.step,
        outgassing=fit.outgassing.value if levels_off else 0.0,
        time_constant=fit.outgassing_time_constant if levels_off else None,
    )
    shown = "no leak of any size" if math.isinf(fit.detection_limit) else wording.bound(fit.detection_limit)
    if needed > fit.duration:
        head = "Hold too short for the leak that matters"
        advice = "" if math.isinf(needed) else f"; about {wording.duration(needed)} would be needed"
    else:
        head, advice = "Hold too unsteady for the leak that matters", ""
    summary = (
        f"{head}: {wording.duration(fit.duration)} could show {shown} at least, and {wording.rate(case.allowed)} "
        f"matters{advice}."
    )
    return (Finding("A01", Level.CAVEAT, summary, {}, (fit.start, fit.end)),)


def short_for_the_criterion(case: Case) -> Answer:
    """Find a hold that is too short for its criterion, whatever else of it was missed; its manual page is C04's."""
    return None if case.fit is None else length_against(case.outcome, case.fit)


def length_against(outcome: CriterionOutcome, hold: HoldFit | Phase) -> tuple[Finding, ...]:
    """Return the finding that a hold is too short for its criterion; none where it broke it before its end."""
    is_broken = outcome.met is False and outcome.part in (Part.LINE, Part.BETWEEN, Part.RISE)
    if is_broken or outcome.missing == 0.0:
        return ()
    summary = (
        f"Hold too short for the criterion: it lasted {wording.duration(hold.duration)}, {outcome.name} asks for "
        f"{wording.duration(outcome.asked)}."
    )
    return (Finding("C04", Level.BLOCKS, summary, {}, (hold.start, hold.end)),)


def stalled_pull_ignored(case: Case) -> Answer:
    """
    What it looks for
        A pull that ended in a stall above the target, or where water or ice stands, and was isolated there.
    Why it matters
        A pull that stands still above its target says that something feeds it or limits it; a hold from there
        cannot tell a leak from what does.
    When it is wrong
        When the stall was seen and the hold made on purpose, to learn whether it is a leak.
    Example log
        A pull that stands at 900 micron for ten minutes, then the valve is closed.
    What to do
        Find out why before holding: fresh pump oil, the pump blanked off, warmth, a sweep with dry nitrogen.
    References
        Saturation pressures as for E01; otherwise common practice, no source.
    """
    before = case.pull
    if case.fit is None or before is None:
        return None
    stall = _last_stall(before)
    if stall is None:
        return ()
    target = case.criterion.target
    is_above = target is not None and stall.pressure > target
    if not (is_above or stall.is_water):
        return ()
    summary = (
        f"A stalled pull was ignored: it stood at {wording.pressure(stall.pressure)} for "
        f"{wording.duration(stall.end - stall.start)} ({stall.meaning}) and was isolated there."
    )
    return (Finding("A02", Level.CAVEAT, summary, {"plateau_micron": stall.pressure / MICRON},
                    (stall.start, stall.end)),)


def _last_stall(before: PumpdownFit) -> Plateau | None:
    """Return the stall in which a pull ended."""
    if not before.plateaus:
        return None
    last = before.plateaus[-1]
    return last if before.end - last.end <= ENDING * (before.end - before.start) else None


def sampled_too_coarsely(case: Case) -> Answer:
    """
    What it looks for
        Fewer than 60 readings in the hold, or more than 30 s between two.
    Why it matters
        Rig and system equalise within seconds to a minute, and the early bend of outgassing is short: both fall
        between the readings, and the interval of the leak widens.
    When it is wrong
        In a hold of many hours one reading a minute shows all that matters but the first minute.
    Example log
        A quarter of an hour at one reading a minute.
    What to do
        Let the gauge log every few seconds.
    References
        Our choice, no source.
    """
    fit = case.fit
    if fit is None:
        return None
    time = case.log.time
    count = int(np.searchsorted(time, fit.end, side="right") - np.searchsorted(time, fit.start))
    spacing = fit.duration / max(count - 1, 1)
    if count >= FEWEST_READINGS and spacing <= LONGEST_SPACING:
        return ()
    summary = f"Sampling too coarse: {count} readings in the hold, one every {wording.duration(spacing)}."
    return (Finding("A03", Level.CAVEAT, summary, {"readings": float(count), "sampling_s": spacing},
                    (fit.start, fit.end)),)


def gauges_differ(case: Case) -> Answer:
    """
    What it looks for
        A second pressure column of the log that read more than a quarter higher or lower in the second half of the
        hold; with --gauge-accuracy, more than both together may err.
    Why it matters
        One of the two is wrong, or they do not see the same gas: then the rise of one says little of the other's.
    When it is wrong
        When a closed valve stands between the two, or one is out of its range.
    Example log
        Two gauges on one manifold at 420 and 610 micron.
    What to do
        Change their places, and check the dirty one: oil in the sensor is the usual reason.
    References
        Gauge errors of 5 to 10 % are usual for thermal-conductivity gauges; the quarter is our choice.
    """
    fit = case.fit
    if fit is None:
        return None
    log = case.log
    accuracy = case.system.gauge_accuracy
    allowed = TWO_GAUGES if accuracy is None else 2.0 * accuracy
    inside = log.within(fit.start + fit.duration / 2, fit.end)
    findings = []
    for name, other in log.other_gauges.items():
        both = inside & np.isfinite(log.pressure) & np.isfinite(other) & (log.pressure > 0) & (other > 0)
        if int(both.sum()) < 3:
            continue
        own, theirs = float(np.median(log.pressure[both])), float(np.median(other[both]))
        if abs(theirs - own) <= allowed * max(own, theirs) + 2.0 * float(np.max(log.step[both])):
            continue
        summary = (
            f'Gauges disagree in the hold: "{log.gauge}" read {wording.pressure(own)}, "{name}" '
            f"{wording.pressure(theirs)}."
        )
        evidence = {"own_micron": own / MICRON, "other_micron": theirs / MICRON}
        findings.append(Finding("A04", Level.CAVEAT, summary, evidence, (fit.start + fit.duration / 2, fit.end)))
    return tuple(findings)


CHECKS: tuple[Check, ...] = (
    Check("A01", "Hold too short for the leak that matters", short_for_the_leak_that_matters),
    Check("C04", "Hold too short for the criterion", short_for_the_criterion),
    Check("C03", "Target not reached", criterion_rules.target_not_reached),
    Check("E03", "Isolated before the tail had settled", pull.isolated_too_early),
    Check("A02", "Stalled pull ignored", stalled_pull_ignored),
    Check("A03", "Sampling too coarse", sampled_too_coarsely),
    Check("P03", "Readings missing in the hold", phases.readings_missing),
    Check("A04", "Gauges disagree", gauges_differ),
)
"""All checks of one hold, in the order in which their findings are shown."""


def examine_practice(case: Case) -> tuple[Finding, ...]:
    """Return what the checks find on the hold that a case is about, in the order of `CHECKS`."""
    return tuple(finding for check in CHECKS for finding in check.examine(case) or ())
