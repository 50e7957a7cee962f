"""One log to one verdict: every stage in order, and nothing else.

Where the log ends flat and nothing marks the closing, the longest stand for which there is time is judged from the
latest closing that leaves it, and the answer says what follows if the valve was closed by then, and which option says
so (P17); nothing passes before it is said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from enum import Enum
from pathlib import Path

from decay.analysis import Analysis
from decay.errors import FitError, RangeError
from decay.examine import ExaminedLog, examine_hold, examine_log
from decay.fit.odds import odds_of_leak
from decay.fit.results import HoldFit, JointFit, PumpdownFit
from decay.judge import practice, rules, signs, verdict
from decay.judge.about_hold import pull_before, temperature_during, whole_leak
from decay.judge.answer import CriterionOutcome, HoldReport, IfClosed, Verdict
from decay.judge.case import Case
from decay.judge.criteria import Criterion, criterion_names, default_criteria, load_criterion
from decay.log.pressure_log import PressureLog
from decay.log.quality import bottom_of_range
from decay.phases import hold_between
from decay.phases.phase import ClosingEvidence, Kind, Phase
from decay.pull.gas_load import GasLoad, gas_load
from decay.several.next_test import next_tests
from decay.several.rig import RigTest, rig_test, without_rig
from decay.several.warm import Warmed, WarmFit
from decay.system import System
from decay.threads import on_one_thread
from decay.together import all_holds, began_of, order_of, starts_of

# A hold shorter than this share of the longest one is a remnant, or a look at the gauge, and does not decide.
USABLE_SHARE = 0.25


class Ahead(Enum):
    """How far a hold that leaves a leak open is followed up."""

    NOTHING = "nothing"  # the answer alone, for a count of many logs
    ODDS = "odds"        # and how likely a leak is
    TESTS = "tests"      # and which test would settle it, for whoever is still at the job


@on_one_thread
def analyze_log(
    log: PressureLog,
    system: System | None = None,
    criterion: Criterion | str | Path | None = None,
    *,
    hold: tuple[float, float] | None = None,
    rig: RigTest | None = None,
    warmed: Warmed | None = None,
    ahead: Ahead = Ahead.TESTS,
) -> Analysis:
    """Judge one log.

    Parameters
    ----------
    log : PressureLog
        The readings. [s, Pa]
    system : System, optional
        What the user told us about the job.
    criterion : Criterion, str or Path, optional
        Practice to hold it against; a key or a TOML file. Where none is chosen, the longest of
        `decay.judge.criteria.unasked` that the hold is long enough to answer.
    hold : tuple of float, optional
        Start and end of the hold to judge, instead of those found. [s]
    rig : RigTest, optional
        The rig held alone; its leak is taken off.
    warmed : Warmed, optional
        What was warmed for a later hold, where the log shows a cold and a warm one.
    ahead : Ahead
        How far a hold that leaves a leak open is followed up.

    Returns
    -------
    Analysis
        Phases, fits and the verdict.

    Raises
    ------
    CriterionError
        If the criterion cannot be used.
    RangeError
        If ``hold`` lies outside the log.
    """
    stage = examine_log(log, System() if system is None else system, criterion, hold)
    joint, warm = all_holds([stage], (0.0,), rig, warmed)
    return _conclude(stage, joint, warm, rig, ahead)


@on_one_thread
def analyze_job(
    logs: Sequence[PressureLog],
    system: System | Sequence[System] | None = None,
    criterion: Criterion | str | Path | None = None,
    *,
    rig: RigTest | None = None,
    warmed: Warmed | None = None,
    holds: Sequence[tuple[float, float] | None] | None = None,
) -> tuple[Analysis, ...]:
    """Judge several logs of one job: one system, one leak, nothing mended in between.

    Parameters
    ----------
    logs : sequence of PressureLog
        At least one. They are put in order of the time at which they started; where one does not tell it, they count
        as given in order. [s, Pa]
    system : System or sequence of System, optional
        What the user told us about the job; one a log, in the order of ``logs``, where its temperature was another.
    criterion : Criterion, str or Path, optional
        As for `analyze_log`.
    rig : RigTest, optional
        The rig held alone.
    warmed : Warmed, optional
        What was warmed for a later hold.
    holds : sequence, optional
        Start and end of the hold to judge [s], one a log in the order of ``logs``; ``None`` for those found.

    Returns
    -------
    tuple of Analysis
        One a log, in order of time. The last one carries the joint fit of all holds, and its verdict is the job's.

    Raises
    ------
    CriterionError
        If the criterion cannot be used.
    """
    told = (System() if system is None else system,) * len(logs) if not isinstance(system, Sequence) else tuple(system)
    order = order_of(logs)
    ordered = [logs[i] for i in order]
    stages = [examine_log(logs[i], told[i], criterion, None if holds is None else holds[i]) for i in order]
    starts = starts_of(ordered)
    last = max((i for i, stage in enumerate(stages) if stage.holds), default=len(stages) - 1)
    is_clock_known = began_of(ordered) is not None
    together = all_holds(stages[: last + 1], starts[: last + 1], rig, warmed, is_clock_known=is_clock_known)
    first = [_conclude(s, *all_holds([s], (0.0,), rig, warmed), rig) for i, s in enumerate(stages) if i != last]
    return (*first, _conclude(stages[last], *together, rig))


@on_one_thread
def examine_rig(log: PressureLog, system: System | None = None) -> RigTest:
    """Read a blank-off hold of pump, hoses and gauge.

    Parameters
    ----------
    log : PressureLog
        The rig's log. [s, Pa]
    system : System, optional
        What the user told us; the rig's volume is taken from it.

    Returns
    -------
    RigTest
        The rig's own leak and its ultimate pressure.

    Raises
    ------
    FitError
        If the log shows no hold that can be fitted.
    """
    system = System() if system is None else system
    stage = examine_log(log, system, None, None)
    decisive = decisive_hold(stage.holds)
    if decisive is None:
        why = f": {stage.unfitted[0][1]}" if stage.unfitted else ""
        raise FitError(f"{log.source}: the rig's log shows no hold that can be judged{why}")
    fit = stage.holds[decisive].fit
    return rig_test(log.source, fit, pull_before(stage.pumpdowns, fit.start), system.rig_volume)


def _conclude(
    stage: ExaminedLog, joint: JointFit | None, warm: WarmFit | None, rig: RigTest | None,
    ahead: Ahead = Ahead.TESTS,
) -> Analysis:
    """Weigh what was fitted."""
    log, system, holds = stage.log, stage.system, stage.holds
    decisive = decisive_hold(holds)
    fit = holds[decisive].fit if decisive is not None else None
    phase = stage.fitted[decisive].phase if decisive is not None else max(
        stage.asked, key=lambda p: p.duration, default=None)
    practised = practice.held_against(stage.criterion, phase if fit is None else fit, stage.pumpdowns, log, system,
                                doubt=(0.0, 0.0) if phase is None else phase.doubt)
    whole = whole_leak(joint, decisive, fit)
    share = without_rig(whole, rig, system.volume) if rig is not None and whole is not None else None
    case = Case(
        log, system, stage.phases, stage.pumpdowns, tuple(holds), tuple(stage.unfitted), joint, decisive,
        practised.criterion, practised.outcome, practised.others, share, _load(stage, fit, rig),
        warm=warm,
        closing=ClosingEvidence.SHOWN if decisive is None else stage.fitted[decisive].phase.closing(log.sampling),
    )
    told = None if holds else if_closed(log, stage.phases, stage.pumpdowns, system, stage.criterion)
    case = _followed_up(stage, case if told is None else replace(case, if_closed=told), ahead)
    return Analysis(
        log, system, stage.phases, stage.pumpdowns, case.holds, joint, decisive, judge_case(case), case.basis, share,
        case.load, warm,
    )


def if_closed(
    log: PressureLog,
    phases: tuple[Phase, ...],
    pumpdowns: tuple[PumpdownFit, ...],
    system: System,
    wanted: Criterion | None,
) -> IfClosed | None:
    """Say what a log that ends flat would prove if the valve was closed by a moment that nothing marks.

    The moment is the latest that leaves the wanted stand its time, or where none is wanted the longest one for which
    there is time. ``None`` where the end is not flat, too short for any stand, or shows a leak.
    """
    last = phases[-1] if phases else None
    if last is None or last.kind is not Kind.UNCLEAR or last.closings is None:
        return None
    earliest, end = last.closings[0], float(log.time[last.last])
    stands = default_criteria() if wanted is None else (wanted,)
    wide = max((stand.hold for stand in stands if end - stand.hold >= earliest), default=None)
    if wide is None:
        return None
    # A whole minute is easier to remember and to say, where the flat stretch reaches so far back.
    closed_by = math.floor((end - wide) / 60.0) * 60.0
    closed_by = closed_by if closed_by >= earliest else end - wide
    try:
        phase = hold_between(log, closed_by, end)
        report = examine_hold(log, phase, system, phases=phases, pumpdowns=pumpdowns).report
    except (FitError, RangeError):
        return None
    if report.cause not in verdict.QUIET or signs.reads_zero(report.fit):
        return None
    outcome = practice.held_against(wanted, report.fit, pumpdowns, log, system).outcome
    # What rises below the bottom of the gauge's range shows neither then nor now.
    bottom = bottom_of_range(log, closed_by, end)
    hidden = 0.0 if bottom is None else bottom.pressure / (end - closed_by)
    leak, limit = report.fit.leak, report.fit.detection_limit
    return IfClosed(closed_by, end, replace(leak, high=max(leak.high, hidden)), max(limit, hidden), outcome)


def _followed_up(stage: ExaminedLog, case: Case, ahead: Ahead) -> Case:
    """Grade a leak that the interval leaves open, and rank what would settle it; no other hold pays for it."""
    if ahead is Ahead.NOTHING or case.decisive is None or not case.is_left_open:
        return case
    hold = stage.fitted[case.decisive]
    # The odds know no source so large as one that kept the system far above the gauge.
    is_graded = not signs.vapour_stood_before(hold.report.fit)
    odds = odds_of_leak(hold.measured, hold.under_vacuum, hold.report.fit.tests.inflation) if is_graded else None
    tests = next_tests(hold.measured, hold.report.fit, hold.under_vacuum) if ahead is Ahead.TESTS else ()
    return replace(case, odds=odds, next_tests=tests)


def _load(stage: ExaminedLog, fit: HoldFit | None, rig: RigTest | None) -> GasLoad | None:
    """Hold the pull against the pump, where its speed was told."""
    speed = stage.system.pump_speed
    pull = pull_before(stage.pumpdowns, fit.start) if fit is not None else next(iter(stage.pumpdowns[-1:]), None)
    if speed is None or pull is None:
        return None
    return gas_load(
        pull,
        fit,
        speed=speed,
        hose=stage.system.hose,
        volume=stage.system.volume,
        ultimate=None if rig is None else rig.ultimate,
        ambient=temperature_during(stage.log, fit, stage.system),
    )


def practices(analysis: Analysis) -> tuple[CriterionOutcome, ...]:
    """Hold the hold that decides against every shipped criterion, in the order of `decay.criterion_names`."""
    fit = None if analysis.decisive is None else analysis.holds[analysis.decisive].fit
    phase = None if fit is None else next((p for p in analysis.phases if p.start == fit.start), None)
    doubt = (0.0, 0.0) if phase is None else phase.doubt
    return tuple(
        practice.outcome_of(load_criterion(name), fit, analysis.pumpdowns, analysis.log, analysis.system, doubt=doubt)
        for name in criterion_names()
    )


def judge_case(case: Case) -> Verdict:
    """Put the rules to a case and weigh what they found."""
    examined = rules.examine(case)
    return verdict.decide(
        examined.reasons,
        examined.caveats,
        examined.next_steps,
        examined.unanswered,
        case.outcome,
        case.cause,
        is_above_allowed_excluded=case.is_above_allowed_excluded,
        others=case.others,
    )


def decisive_hold(holds: list[HoldReport]) -> int | None:
    """Return the index of the hold that decides: the last that is not a mere remnant beside the longest.

    The last one, because it shows the system as it will be charged.
    """
    if not holds:
        return None
    longest = max(report.fit.duration for report in holds)
    return max(i for i, report in enumerate(holds) if report.fit.duration >= USABLE_SHARE * longest)
