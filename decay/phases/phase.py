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
    """

    kind: Kind
    first: int
    last: int
    start: float
    end: float
    start_pressure: float
    end_pressure: float
    remark: str = ""

    @property
    def duration(self) -> float:
        """Length of the phase. [s]"""
        return self.end - self.start
