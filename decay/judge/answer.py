"""What the judge gives back: how a hold stands against a criterion, what the verdict rests on, and the verdict."""

from __future__ import annotations

from dataclasses import dataclass

from decay.fit.results import HoldFit
from decay.impact.impact import Impact
from decay.interval import Interval
from decay.judge.finding import Cause, Finding, Result


@dataclass(frozen=True, slots=True)
class HoldReport:
    """One hold: the fit, what it means, and what causes the rise."""

    fit: HoldFit
    impact: Impact
    cause: Cause


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
class Basis:
    """What the verdict rests on, worked out once: every report takes its numbers from here.

    Parameters
    ----------
    span : tuple of float, or None
        Start and end of the hold that decides; ``None`` where there is none, and then so is all else. [s]
    leak : Interval or None
        Steady rise: of all holds where they agree, without the rig's share where the rig was held alone. [Pa/s]
    is_leak_seen : bool
        Whether it counts as seen.
    detection_limit : float or None
        Smallest leak that would have shown in 95 % of such holds, from the same holds as ``leak``. [Pa/s]
    impact : Impact or None
        What both mean for the system.
    cause : Cause or None
        What the rise is made of, all holds taken together.
    is_joint : bool
        Whether all holds together gave the leak.
    is_without_rig : bool
        Whether the rig's share was taken off.
    odds_of_leak : float or None
        How likely an unresolved rise is a leak; ``None`` where that was not worked out. [-]
    """

    span: tuple[float, float] | None = None
    leak: Interval | None = None
    is_leak_seen: bool = False
    detection_limit: float | None = None
    impact: Impact | None = None
    cause: Cause | None = None
    is_joint: bool = False
    is_without_rig: bool = False
    odds_of_leak: float | None = None


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
