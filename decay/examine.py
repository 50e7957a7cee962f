"""A log to its phases and fits, and one stretch of it to fit, meaning and cause: the one way for all that judge."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from decay.errors import FitError
from decay.fit.hold import fit_hold
from decay.fit.measured import Measured, measure
from decay.fit.profile import LEVEL
from decay.fit.results import HoldFit, PumpdownFit
from decay.impact.assess import assess
from decay.judge import verdict
from decay.judge.about_hold import pull_before, temperature_during
from decay.judge.answer import HoldReport
from decay.judge.criteria import Criterion, load_criterion
from decay.log.pressure_log import PressureLog
from decay.log.quality import inspect
from decay.log.wrong import set_aside
from decay.phases import find_phases, hold_between
from decay.phases.phase import Kind, Phase
from decay.pull.pumpdown import fit_pumpdown
from decay.system import System


@dataclass(frozen=True, slots=True, eq=False)
class ExaminedHold:
    """One hold that could be fitted."""

    phase: Phase  # the stretch of the log
    measured: Measured  # its readings, averaged into bins, and their noise
    report: HoldReport  # fit, meaning and cause
    pull: PumpdownFit | None  # the pull before it
    under_vacuum: float | None  # time under vacuum at its start; ``None`` where the log does not show it [s]


def examine_hold(
    log: PressureLog,
    phase: Phase,
    system: System,
    level: float = LEVEL,
    *,
    phases: tuple[Phase, ...],
    pumpdowns: tuple[PumpdownFit, ...],
    stated_level: float | None = None,
) -> ExaminedHold:
    """Fit one hold, say what it means for the system, and what causes its rise.

    Parameters
    ----------
    log : PressureLog
        The readings. [s, Pa]
    phase : Phase
        The hold.
    system : System
        What the user told us; a logged temperature takes the place of the stated one.
    level : float
        Level of the leak's interval. [-]
    phases : tuple of Phase
        All phases of the log, in order of time: they tell how long the system was under vacuum.
    pumpdowns : tuple of PumpdownFit
        The pulls among them, fitted.
    stated_level : float, optional
        Level to write beside the interval, where ``level`` is higher to make up for what is known of the noise. [-]

    Raises
    ------
    FitError
        If it has too few readings within the gauge's range.
    """
    pull = pull_before(pumpdowns, phase.start)
    pumped = time_under_vacuum(phases, phase)
    measured = measure(log, phase, system.ambient, system.ambient_spread)
    fit = fit_hold(measured, under_vacuum=pumped, pull=pull, level=level)
    if stated_level is not None:
        fit = replace(fit, leak=replace(fit.leak, level=stated_level))
    impact = assess(fit.leak, fit.detection_limit, known_during(log, phase, system))
    return ExaminedHold(phase, measured, HoldReport(fit, impact, verdict.cause_of(fit, pull)), pull, pumped)


@dataclass(frozen=True, slots=True, eq=False)
class ExaminedLog:
    """One log before the verdict: its phases, the holds that were asked for, and the fit of each."""

    log: PressureLog
    system: System
    phases: tuple[Phase, ...]
    asked: tuple[Phase, ...]
    pumpdowns: tuple[PumpdownFit, ...]
    fitted: list[ExaminedHold]
    holds: list[HoldReport]
    unfitted: list[tuple[Phase, str]]
    criterion: Criterion | None


def examine_log(
    log: PressureLog,
    system: System,
    criterion: Criterion | str | Path | None,
    hold: tuple[float, float] | None,
) -> ExaminedLog:
    """Find the phases of a log and fit each; a criterion is loaded."""
    wanted = load_criterion(criterion) if isinstance(criterion, (str, Path)) else criterion
    log = log if log.is_cleared else set_aside(log)
    phases = find_phases(log, inspect(log))
    asked = tuple(p for p in phases if p.kind is Kind.HOLD) if hold is None else (hold_between(log, *hold),)
    pumpdowns = fit_pulls(log, phases, system)
    fitted: list[ExaminedHold] = []
    unfitted: list[tuple[Phase, str]] = []
    for phase in asked:
        try:
            fitted.append(examine_hold(log, phase, system, phases=phases, pumpdowns=pumpdowns))
        except FitError as problem:
            unfitted.append((phase, str(problem)))
    holds = [hold.report for hold in fitted]
    return ExaminedLog(log, system, phases, asked, pumpdowns, fitted, holds, unfitted, wanted)


def fit_pulls(log: PressureLog, phases: tuple[Phase, ...], system: System) -> tuple[PumpdownFit, ...]:
    """Fit every pull of a log, in order of time; of the system only the stated temperature is used."""
    return tuple(
        fit_pumpdown(log, phase, ambient=system.ambient, ambient_spread=system.ambient_spread)
        for phase in phases
        if phase.kind is Kind.PUMPDOWN
    )


def known_during(log: PressureLog, hold: HoldFit | Phase | None, system: System) -> System:
    """Return what is known of a system during a hold: as told, with the logged temperature where there is one."""
    return replace(system, ambient=temperature_during(log, hold, system))


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
