"""One log to one verdict: every stage in order, and nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from decay.analysis import Analysis, HoldReport, Verdict
from decay.errors import FitError
from decay.fit.hold import fit_hold
from decay.fit.joint import Member, fit_joint
from decay.fit.measured import measure
from decay.fit.pumpdown import fit_pumpdown
from decay.fit.results import JointFit
from decay.impact.assess import assess
from decay.judge import criteria, practice, rules, verdict
from decay.judge.case import Case, pull_before, temperature_during
from decay.judge.criteria import Criterion
from decay.log.pressure_log import PressureLog
from decay.log.quality import inspect
from decay.phases import find_phases, hold_between
from decay.phases.phase import Kind, Phase
from decay.system import System

# A hold shorter than this share of the longest one is a remnant, or a look at the gauge, and does not decide.
USABLE_SHARE = 0.25


def analyze(
    log: PressureLog,
    system: System | None = None,
    criterion: Criterion | str | Path | None = None,
    *,
    hold: tuple[float, float] | None = None,
) -> Analysis:
    """Judge one log.

    Parameters
    ----------
    log : PressureLog
        The readings. [s, Pa]
    system : System, optional
        What the user told us about the job.
    criterion : Criterion, str or Path, optional
        Practice to hold it against; a key, a TOML file, or the default.
    hold : tuple of float, optional
        Start and end of the hold to judge, instead of those found. [s]

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
    system = System() if system is None else system
    wanted = criterion if isinstance(criterion, Criterion) else criteria.load(criterion)
    phases = find_phases(log, inspect(log))
    asked = tuple(p for p in phases if p.kind is Kind.HOLD) if hold is None else (hold_between(log, *hold),)
    ambient, spread = system.ambient, system.ambient_spread
    pumpdowns = tuple(
        fit_pumpdown(log, phase, ambient=ambient, ambient_spread=spread)
        for phase in phases
        if phase.kind is Kind.PUMPDOWN
    )
    holds: list[HoldReport] = []
    unfitted: list[tuple[Phase, str]] = []
    for phase in asked:
        pull = pull_before(pumpdowns, phase.start)
        pumped = time_under_vacuum(phases, phase)
        try:
            fit = fit_hold(log, phase, under_vacuum=pumped, pull=pull, ambient=ambient, ambient_spread=spread)
        except FitError as problem:
            unfitted.append((phase, str(problem)))
            continue
        known = replace(system, ambient=temperature_during(log, phase, system))
        impact = assess(fit.leak, fit.detection_limit, known)
        holds.append(HoldReport(fit, impact, verdict.cause_of(fit, pull)))
    joint = joint_of(log, phases, asked, holds, system)
    decisive = decisive_hold(holds)
    subject = holds[decisive].fit if decisive is not None else max(asked, key=lambda p: p.duration, default=None)
    outcome = practice.apply(wanted, subject, pumpdowns, log, system)
    case = Case(log, system, phases, pumpdowns, tuple(holds), tuple(unfitted), joint, decisive, wanted, outcome)
    return Analysis(log, system, phases, pumpdowns, case.holds, joint, decisive, judge(case))


def joint_of(
    log: PressureLog,
    phases: tuple[Phase, ...],
    asked: tuple[Phase, ...],
    holds: Sequence[HoldReport],
    system: System,
) -> JointFit | None:
    """Return what the fitted holds of one log say together; ``None`` where there are not two."""
    fits = {report.fit.start: report.fit for report in holds}
    used = [phase for phase in asked if phase.start in fits]
    if len(used) < 2:
        return None
    members = [
        Member(
            hold=measure(log, phase, system.ambient, system.ambient_spread),
            isolated=phase.start,
            inflation=fits[phase.start].tests.inflation,
            is_refreshed=_was_open(phases, before.end, phase.start) if before is not None else False,
        )
        for before, phase in zip((None, *used[:-1]), used, strict=True)
    ]
    return fit_joint(members, under_vacuum=time_under_vacuum(phases, used[-1]))


def _was_open(phases: tuple[Phase, ...], start: float, end: float) -> bool:
    """Tell whether air came in between two moments. [s]"""
    return any(p.kind in (Kind.ATMOSPHERE, Kind.VENT) and start <= p.start < end for p in phases)


def judge(case: Case) -> Verdict:
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
    )


def decisive_hold(holds: list[HoldReport]) -> int | None:
    """Return the index of the hold that decides: the last that is not a mere remnant beside the longest.

    The last one, because it shows the system as it will be charged.
    """
    if not holds:
        return None
    longest = max(report.fit.duration for report in holds)
    return max(i for i, report in enumerate(holds) if report.fit.duration >= USABLE_SHARE * longest)


def time_under_vacuum(phases: tuple[Phase, ...], hold: Phase) -> float | None:
    """Return the time from the first pull since the system was last open until a hold. [s]

    A sweep with dry nitrogen does not count as open: it loads no surface with water.
    """
    began: float | None = None
    for phase in phases:
        if phase.start >= hold.start:
            break
        if phase.kind in (Kind.ATMOSPHERE, Kind.VENT):
            began = None
        elif phase.kind is Kind.PUMPDOWN and began is None:
            began = phase.start
    return None if began is None else hold.start - began
