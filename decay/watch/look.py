"""What one look at a growing hold says, and what is known at one moment of the job."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from decay.impact.assess import Impact
from decay.interval import Interval
from decay.judge.answer import IfClosed
from decay.judge.finding import Cause
from decay.phases.phase import Kind, Phase
from decay.several.next_test import NextTest


class Decision(StrEnum):
    """What the looks at a hold have decided about a leak."""

    OPEN = "open"
    SHOWN = "shown"          # a leak (larger than allowed, where something is) is there
    EXCLUDED = "excluded"    # a leak larger than allowed is not there, by the latest look


@dataclass(frozen=True, slots=True)
class Look:
    """One look at a growing hold."""

    number: int  # which look at this hold it is, counted from 1 [-]
    # When the hold began, and its length at the look [s]
    start: float
    length: float
    # Steady rise at the look's own level; all looks at a hold together decide wrongly in alpha of holds [Pa/s]
    leak: Interval
    impact: Impact  # what that means
    is_adequate: bool  # false where the model does not describe the hold; its interval is widened then
    # What this look says of the leak that matters; both false where none was stated
    is_above_allowed: bool
    is_below_allowed: bool
    is_flat: bool  # no clear rise sets it apart from a pull's end: it is a hold only if the valve is closed
    reads_zero: bool  # the gauge reads zero in too much of the hold: then nothing is excluded
    cause: Cause  # what the rise looks like at this look
    is_withdrawn: bool  # an earlier look at this hold had decided what a later one no longer bears out
    decisive_length: float  # length at which the hold is expected to decide; ``inf`` where not within a day [s]
    # What would settle a hold that leaves a leak open, the best first; empty where nothing is to settle
    next_tests: tuple[NextTest, ...] = ()


@dataclass(frozen=True, slots=True)
class Status:
    """What is known at one moment of the job."""

    phase: Phase  # what is going on
    # Of the last reading; the pressure is ``nan`` over range [s, Pa]
    time: float
    pressure: float
    look: Look | None = None  # the last look at the present hold; ``None`` before its first
    is_new_look: bool = False  # this look was taken just now
    next_look: float | None = None  # length of the hold at which it is looked at next; ``None`` outside holds [s]
    # What the looks at the present hold have decided; an exclusion lasts as long as the latest look bears it out
    decision: Decision = Decision.OPEN
    decided_at: float | None = None  # length of the hold at that look [s]
    # What is left of the criterion's hold, 0 where it is over; ``None`` outside holds [s]
    practice_left: float | None = None
    is_practice_met: bool | None = None  # the criterion at the last look; ``None`` where it cannot be answered yet
    remark: str = ""  # why there is no look where one was due; else empty
    # Where the log stands flat and nothing marks the closing: what it proves if the valve was closed
    if_closed: IfClosed | None = None

    @property
    def may_be_pumped(self) -> bool:
        """Whether the pump draws, or nothing tells whether it does."""
        return self.phase.kind in (Kind.PUMPDOWN, Kind.UNCLEAR)
