"""What a stretch of the log is: pumping, holding, sweeping, or something that cannot be told."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

NO_RISE = "no rise"
"""So begins the remark on a hold that no rise tells from pumping."""


class Kind(StrEnum):
    """The phases of an evacuation."""

    ATMOSPHERE = "atmosphere"
    PUMPDOWN = "pumpdown"
    HOLD = "hold"
    SWEEP = "sweep"
    VENT = "vent"
    UNCLEAR = "unclear"


class Begun(StrEnum):
    """What tells when a phase began."""

    READINGS = "readings"
    LOG = "the log"
    END_OF_FALL = "end of fall"
    MARK = "mark"
    USER = "user"


class Ended(StrEnum):
    """What ended a phase."""

    LOG = "the log"
    PUMPING = "pumping"
    LET_IN = "let in"
    OVER_RANGE = "over range"
    STEP = "step"
    GAP = "gap"


class Untold(StrEnum):
    """Why an unclear phase could not be told."""

    FEW = "few readings"
    SHORT = "too short"
    OVER_RANGE = "over range"
    FLAT = "flat"
    AFTER_STEP = "after a step"
    BELOW_ONE_MICRON = "below one micron"


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of one log.

    Parameters
    ----------
    kind : Kind
        What it is.
    first, last : int
        Indices of the first and the last reading that belong to it, both included. For a hold, ``first`` is the
        moment the valve closed: the last reading before the rise. [-]
    start, end : float
        Times of these two readings. [s]
    start_pressure, end_pressure : float
        Pressures there; ``nan`` where the gauge was over range. [Pa]
    remark : str
        Why it ends or why it is unclear, in a few words; empty where there is nothing to say.
    begun, ended : Begun, Ended
        What tells its beginning, and what ended it.
    untold : Untold, optional
        Why it is unclear; ``None`` for every other kind.
    earlier, later : float
        By how much a hold may have begun before and after ``start``, beyond the distance of two readings. [s]
    closings : tuple of float, optional
        Of an unclear flat stretch: the earliest and the latest moment at which the valve may have been closed. [s]
    falls_at_closing : bool
        The pressure falls as the valve closes: the gauge then sits on the pump's side of it.
    """

    kind: Kind
    first: int
    last: int
    start: float
    end: float
    start_pressure: float
    end_pressure: float
    remark: str = ""
    begun: Begun = Begun.READINGS
    ended: Ended = Ended.LOG
    untold: Untold | None = None
    earlier: float = 0.0
    later: float = 0.0
    closings: tuple[float, float] | None = None
    falls_at_closing: bool = False

    @property
    def duration(self) -> float:
        """Length of the phase. [s]"""
        return self.end - self.start
