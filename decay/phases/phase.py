"""What a stretch of the log is: pumping, holding, sweeping, or something that cannot be told."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


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


class ClosingEvidence(StrEnum):
    """How a log tells that the valve was closed before a hold."""

    SHOWN = "shown"  # somebody said so, or only a closed valve leaves such readings
    STEP = "step"  # a step or a bend, as sharp as a valve is closed
    CREEPING = "creeping"  # a little rise that begins somewhere within minutes


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
    OPEN = "valve open"
    BELOW_ONE_MICRON = "below one micron"


_CLOSED_WITHIN = 60.0
"""A valve is turned and a gauge has followed within so long; as sharp the readings of a tight hold must be. [s]"""
_CLOSED_ROWS = 3
"""The same in readings, where they are far apart. [-]"""


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of one log."""

    kind: Kind  # what it is
    # Indices of the first and the last reading that belong to it, both included. For a hold, ``first`` is the moment
    # the valve closed: the last reading before the rise [-]
    first: int
    last: int
    # Times of these two readings [s], and the pressures there; ``nan`` where the gauge was over range [Pa]
    start: float
    end: float
    start_pressure: float
    end_pressure: float
    begun: Begun = Begun.READINGS  # what tells its beginning
    ended: Ended = Ended.LOG  # what ended it
    untold: Untold | None = None  # why it is unclear; ``None`` for every other kind
    # By how much a hold may have begun before and after ``start``, beyond the distance of two readings [s]
    earlier: float = 0.0
    later: float = 0.0
    # Of an unclear flat stretch: the earliest and the latest moment at which the valve may have been closed [s]
    closings: tuple[float, float] | None = None
    # Of a hold: the readings in it that left the curve for a moment; they are not fitted [-]
    aside: tuple[int, ...] = ()
    turns: bool = False  # of a hold: a step or the end of a fall marks its closing
    goes_on: bool = False  # of a hold: it rises so far and so evenly as nothing does from which a pump draws

    @property
    def duration(self) -> float:
        """Length of the phase. [s]"""
        return self.end - self.start

    @property
    def doubt(self) -> tuple[float, float]:
        """By how much it may have begun before and after its start. [s]"""
        return self.earlier, self.later

    @property
    def has_rise(self) -> bool:
        """A rise tells it from pumping, or somebody said so."""
        return self.begun is not Begun.END_OF_FALL

    @property
    def is_shown(self) -> bool:
        """Whether somebody said that the valve was closed, or only a closed valve leaves such readings."""
        return self.goes_on or self.begun in (Begun.USER, Begun.MARK, Begun.END_OF_FALL)

    def closing(self, sampling: float) -> ClosingEvidence:
        """Return how a hold's closing is told, in readings so far apart [s]."""
        if self.is_shown:
            return ClosingEvidence.SHOWN
        is_placed = sum(self.doubt) <= max(_CLOSED_WITHIN, _CLOSED_ROWS * sampling)
        return ClosingEvidence.STEP if self.turns and is_placed else ClosingEvidence.CREEPING

    @property
    def remark(self) -> str:
        """What there is to say of its ends, in a few words; empty where there is nothing. For people, not for rules."""
        said = [_BEGUN.get(self.begun, ""), self._doubt(), _ENDED.get(self.ended, ""), self._aside()]
        if self.untold is not None:
            said.insert(0, _UNTOLD[self.untold])
        return "; ".join(text for text in said if text)

    def _doubt(self) -> str:
        ways = [(doubt, f"{doubt:.0f} s" if doubt < 120.0 else f"{doubt / 60.0:.0f} min", side)
                for doubt, side in ((self.earlier, "before"), (self.later, "after"))]
        told = [f"{text} {side}" for doubt, text, side in ways if doubt >= TOLD]
        if not told:
            return ""
        if max(self.doubt) <= 60.0:
            return f"the valve closed at its start, give or take {max(ways)[1]}"
        return f"the valve closed up to {' or '.join(told)} its start"

    def _aside(self) -> str:
        if not self.aside or self.kind is not Kind.HOLD:
            return ""
        words = "reading that left the curve and came back is" if len(self.aside) == 1 else (
            "readings that left the curve and came back are"
        )
        return f"{len(self.aside)} {words} set aside"


TOLD = 6.0
"""A closing that is told better than this needs no remark: common practice reads a hold by the minute. [s]"""

_BEGUN = {
    Begun.END_OF_FALL: "no rise; it begins where the fall suddenly ends",
    Begun.MARK: "the log says when the valve closed",
    Begun.USER: "chosen by the user",
}
_ENDED = {
    Ended.PUMPING: "ended by pumping",
    Ended.LET_IN: "ended by gas let in",
    Ended.OVER_RANGE: "ended where the gauge goes off its range",
    Ended.STEP: "ended by a sudden step: the valve was disturbed, or the gauge was changed",
    Ended.GAP: "ended by a gap in the log",
}
_UNTOLD = {
    Untold.FEW: "too few readings",
    Untold.SHORT: "too short to say",
    Untold.OVER_RANGE: "above the gauge's range",
    Untold.FLAT: (
        "flat: a hold without a rise and a pump at its limit look alike here; "
        "if the valve was closed, say when: --hold START..END"
    ),
    Untold.AFTER_STEP: "after a sudden step",
    Untold.OPEN: "it rises, but the log says that the valve was open",
    Untold.BELOW_ONE_MICRON: (
        "lower for the most part than an isolated system gets: a pump, or a gauge at its end"
    ),
}
