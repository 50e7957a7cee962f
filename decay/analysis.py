"""The whole answer about one job: what `analyze` returns and the reports render."""

from __future__ import annotations

from dataclasses import dataclass

from decay.fit.gas_load import GasLoad
from decay.fit.results import HoldFit, JointFit, PumpdownFit
from decay.fit.rig import RigShare
from decay.impact.impact import Impact
from decay.judge.finding import Cause, Finding, Result
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Phase
from decay.system import System


@dataclass(frozen=True, slots=True)
class CriterionOutcome:
    """How a hold stands against the criterion of practice.

    Parameters
    ----------
    name, title : str
        Key of the criterion and its name in words.
    source, standing : str
        Where its numbers come from and how sure that is, in the words of the data file.
    met : bool or None
        ``None`` where it could not be answered (no hold, hold too short, target not logged).
    detail : str
        Which part decided, with the numbers.
    limit : float or None
        Pressure line that the hold is drawn against. [Pa]
    part : str
        The part of the criterion that decided: ``"all"`` where it is met, else ``"target"``, ``"evacuations"``,
        ``"pump_on"``, ``"ambient"``, ``"hold"``, ``"line"``, ``"between"``, ``"rise"`` or ``"no hold"``.
    """

    name: str
    title: str
    source: str
    standing: str
    met: bool | None
    detail: str
    limit: float | None = None
    part: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer with its reasons.

    Parameters
    ----------
    result : Result
        Pass, fail or inconclusive.
    cause : Cause or None
        Of the hold that decided; ``None`` where there is no usable hold.
    criterion : CriterionOutcome
        The question of practice.
    reasons, caveats, next_steps : tuple of Finding
        Why; what limits it; what to do.
    """

    result: Result
    cause: Cause | None
    criterion: CriterionOutcome
    reasons: tuple[Finding, ...]
    caveats: tuple[Finding, ...]
    next_steps: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class HoldReport:
    """One hold: the fit, what it means, and what causes the rise."""

    fit: HoldFit
    impact: Impact
    cause: Cause


@dataclass(frozen=True, slots=True)
class Analysis:
    """Everything known about one log.

    Parameters
    ----------
    log : PressureLog
        The readings.
    system : System
        What the user told us.
    phases : tuple of Phase
        In order of time, without gaps.
    pumpdowns : tuple of PumpdownFit
        One a pull.
    holds : tuple of HoldReport
        One a usable hold.
    joint : JointFit or None
        Where several holds share one leak.
    decisive : int or None
        Index of the hold that the verdict rests on (the last usable one).
    verdict : Verdict
        The answer.
    rig : RigShare or None
        What of the leak is the rig's, where the rig was held alone.
    load : GasLoad or None
        The pull before the hold that decides, against pump and hose, where they were told.
    """

    log: PressureLog
    system: System
    phases: tuple[Phase, ...]
    pumpdowns: tuple[PumpdownFit, ...]
    holds: tuple[HoldReport, ...]
    joint: JointFit | None
    decisive: int | None
    verdict: Verdict
    rig: RigShare | None = None
    load: GasLoad | None = None
