"""The whole answer about one job: what `analyze` returns and the reports render."""

from __future__ import annotations

from dataclasses import dataclass

from decay.fit.gas_load import GasLoad
from decay.fit.results import JointFit, PumpdownFit
from decay.fit.rig import RigShare
from decay.fit.warm import WarmFit
from decay.judge.answer import Basis, HoldReport, Verdict
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Phase
from decay.system import System


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
    basis : Basis
        The leak, its limit, meaning and cause that the verdict rests on.
    rig : RigShare or None
        What of the leak is the rig's, where the rig was held alone.
    load : GasLoad or None
        The pull before the hold that decides, against pump and hose, where they were told.
    warm : WarmFit or None
        A cold and a warm hold together, where there are two.
    """

    log: PressureLog
    system: System
    phases: tuple[Phase, ...]
    pumpdowns: tuple[PumpdownFit, ...]
    holds: tuple[HoldReport, ...]
    joint: JointFit | None
    decisive: int | None
    verdict: Verdict
    basis: Basis
    rig: RigShare | None = None
    load: GasLoad | None = None
    warm: WarmFit | None = None
