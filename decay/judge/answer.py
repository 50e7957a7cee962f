"""What the judge gives back: how a hold stands against a criterion, what the verdict rests on, the verdict, and all."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from decay import wording
from decay.fit.results import HoldFit, JointFit, PumpdownFit
from decay.impact.assess import Impact
from decay.interval import Interval
from decay.judge.finding import Cause, Finding, Result
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Phase
from decay.pull.gas_load import GasLoad
from decay.several.next_test import NextTest
from decay.several.rig import RigShare
from decay.several.warm import WarmFit
from decay.system import System


@dataclass(frozen=True, slots=True, repr=False)
class HoldReport:
    """One hold: the fit, what it means, and what causes the rise."""

    fit: HoldFit
    impact: Impact
    cause: Cause

    def __repr__(self) -> str:
        return f"<HoldReport: {self.cause.value}, steady rise {wording.rate_interval(self.fit.leak)}>"


@dataclass(frozen=True, slots=True)
class IfClosed:
    """What a log that ends flat, or rises a little, proves if the valve was closed by a moment that nothing marks."""

    # That moment, and the last reading [s]
    closed_by: float
    end: float
    leak: Interval  # the steady rise from then on [Pa/s]
    detection_limit: float  # smallest leak that would have shown in 95 % of such holds [Pa/s]
    outcome: CriterionOutcome  # how such a hold stands against practice

    @property
    def ruled_out_above(self) -> float:
        """The leak from which on it is ruled out: what is not excluded cannot have been sure to show. [Pa/s]"""
        return max(self.leak.high, self.detection_limit)


class Part(StrEnum):
    """The part of a criterion that decided."""

    ALL = "all"                      # met, every part of it
    NO_HOLD = "no hold"
    TARGET = "target"
    EVACUATIONS = "evacuations"
    PUMP_ON = "pump_on"
    AMBIENT = "ambient"
    LENGTH = "hold"                  # too short
    LINE = "line"
    BETWEEN = "between"              # two lines, of which the source leaves the middle open
    RISE = "rise"
    GAUGE = "gauge"


@dataclass(frozen=True, slots=True)
class CriterionOutcome:
    """How a hold stands against a criterion of practice."""

    # Key of the criterion, its name in words, and the same in two or three
    name: str
    title: str
    # Where its numbers come from and how sure that is, in the words of the data file
    source: str
    standing: str
    met: bool | None  # ``None`` where it could not be answered (no hold, hold too short, target not logged)
    # What decided, with the numbers; and the same in a few words, without the criterion's name
    detail: str
    limit: float | None = None  # pressure line that the hold is drawn against [Pa]
    part: Part = Part.ALL  # the part that decided
    short: str = ""
    brief: str = ""
    # Length of hold that it asks for, and what this one lacks of it; 0 where it is long enough [s]
    asked: float = 0.0
    missing: float = 0.0
    lent: float = 0.0  # of a stand that is met: what was not watched, and lies within what its closing is uncertain [s]


@dataclass(frozen=True, slots=True)
class Basis:
    """What the verdict rests on, worked out once: every report takes its numbers from here."""

    # Start and end of the hold that decides; ``None`` where there is none, and then so is all else [s]
    span: tuple[float, float] | None = None
    # Steady rise: of all holds where they agree, without the rig's share where the rig was held alone [Pa/s]
    leak: Interval | None = None
    is_leak_seen: bool = False  # whether it counts as seen
    # Smallest leak that would have shown in 95 % of such holds, from the same holds as ``leak`` [Pa/s]
    detection_limit: float | None = None
    impact: Impact | None = None  # what both mean for the system
    cause: Cause | None = None  # what the rise is made of, all holds taken together
    is_joint: bool = False  # whether all holds together gave the leak
    is_without_rig: bool = False  # whether the rig's share was taken off
    # How likely an unresolved rise is a leak; ``None`` where that was not worked out [-]
    odds_of_leak: float | None = None
    if_closed: IfClosed | None = None  # what a log without a marked hold would prove; it decides nothing
    next_tests: tuple[NextTest, ...] = ()  # what would settle a leak that the hold leaves open, the best first


@dataclass(frozen=True, slots=True, repr=False)
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
    others : tuple of CriterionOutcome
        Where no criterion was chosen: the other stands that could have judged, longest first.
    reasons, caveats, next_steps : tuple of Finding
        Why; what limits it; what to do.
    """

    result: Result
    cause: Cause | None
    criterion: CriterionOutcome
    reasons: tuple[Finding, ...]
    caveats: tuple[Finding, ...]
    next_steps: tuple[Finding, ...]
    others: tuple[CriterionOutcome, ...] = ()

    def __repr__(self) -> str:
        told = {"reasons": self.reasons, "caveats": self.caveats, "next steps": self.next_steps}
        codes = "; ".join(f"{name} {' '.join(f.code for f in found)}" for name, found in told.items() if found)
        return f"<Verdict: {self.result.value}, {'no hold' if self.cause is None else self.cause.value}; {codes}>"


@dataclass(frozen=True, slots=True, repr=False)
class Judged:
    """Everything known about one log: what every report renders, and `decay.Analysis` shows.

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

    @property
    def leak(self) -> Interval | None:
        """The leak that the verdict rests on; ``None`` where no hold was found. [Pa/s]"""
        return self.basis.leak
