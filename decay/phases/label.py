"""What each stretch of a log's course is called: hold or hump, sweep or vent, a pull or what cannot be told."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from decay.arrays import median
from decay.phases.closings import Closing, closing_after_pull, closing_in_first_stretch
from decay.phases.course import LET_IN, Course
from decay.phases.edges import fall_start
from decay.phases.flat import flat_stretch
from decay.phases.path import FEWEST, LEAST, SURGE, TURN, State
from decay.phases.phase import Begun, Ended, Kind, Untold
from decay.phases.rises import is_rise_seen

# Above this a log stands at atmosphere or on its way there. [Pa]
NEAR_ATMOSPHERE = 5e4
# An open valve lets gas in faster than this; leaks of 100,000 micron a minute are slower. [Pa/s]
LETS_IN_AT = 300.0
# What is let in stands still soon: by so much of the rise its pace is told. [-]
FILLED = 0.9
# What rises to less than the saturation pressure of a warm day and stands so long may be free water. [Pa, s]
WATER_CEILING = 6e3
WATER_LASTS = 300.0
# A rise under the running pump (ballast, a second valve, a trapped volume) lasts no longer than this, and comes hardly
# slower than the pump takes it away. [s, -]
HUMP_LASTS = 300.0
HUMP_SLOWER = 2.0
# A rise whose second half takes no more than so many times its first, and that lasts longer than so many times the
# fall (both from a fifth to four fifths), is none: a pump with that pace would have bent it to a ratio of 1.5. Its last
# fifth takes a third of the three before; a rounded top takes longer. [-]
STRAIGHT = 1.25
OUTLASTS = 0.7
TO_ITS_TOP = 0.45
# So many readings from a fifth to four fifths of a rise show whether it is straight. [readings]
SHOWN_BY = 8
# What never comes up to this is no hold of a system with an ordinary gauge: one micron. [Pa]
LEAST_HELD = 0.133


@dataclass(frozen=True, slots=True)
class Piece:
    """One phase in the making: kind, last reading, and what is known of its ends, as `Phase` has it."""

    kind: Kind
    last: int
    begun: Begun = Begun.READINGS
    ended: Ended = Ended.LOG
    untold: Untold | None = None
    earlier: float = 0.0
    later: float = 0.0
    closings: tuple[int, int] | None = None
    goes_on: bool = False
    turns: bool = False


def label(course: Course) -> list[Piece]:
    """Return the phases of a log by its course, in order of time; the last ends with the log."""
    labels = _Labels(course)
    for place, stretch in enumerate(course.stretches):
        match stretch.state:
            case State.ABOVE:
                labels.name_above(place)
            case State.PUMPED:
                labels.name_pumped(place)
            case State.HELD:
                labels.name_held(place)
            case _:
                labels.name_let_in(place)
    return labels.made


class _Labels:
    """The pieces made so far of one course."""

    def __init__(self, course: Course) -> None:
        self.course, self.made = course, list[Piece]()

    def add(self, kind: Kind, last: int, **told: object) -> None:
        """Add a piece up to a reading, or make the one before it longer where it is of the same kind."""
        piece = replace(Piece(kind, last), **told)  # type: ignore[arg-type]
        before = self.made[-1] if self.made else None
        if kind is Kind.HOLD and self._is_too_deep(0 if before is None else before.last + 1, last):
            piece = Piece(Kind.UNCLEAR, last, ended=piece.ended, untold=Untold.BELOW_ONE_MICRON)
        if before is not None and piece.last <= before.last:
            return
        if before is not None and before.kind is piece.kind and piece.kind is not Kind.HOLD:
            self.made[-1] = replace(before, last=piece.last, ended=piece.ended, untold=before.untold or piece.untold)
            return
        self.made.append(piece)

    def name_above(self, place: int) -> None:
        """Name a stretch above the gauge's range."""
        course = self.course
        last, before = course.stretches[place].last, course.state(place - 1)
        if before is None:
            self.add(Kind.ATMOSPHERE, last, untold=Untold.OVER_RANGE)
        elif before is not State.HELD or _is_filled_at_once(course, place):
            self.add(self.filled(place), last)
        else:
            self.add(Kind.UNCLEAR, last, untold=Untold.OVER_RANGE)

    def filled(self, place: int) -> Kind:
        """Return what gas let in is called: a sweep where the pump runs after it."""
        return Kind.SWEEP if self.course.is_pumped_after(place) else Kind.VENT

    def name_pumped(self, place: int) -> None:
        """Name a stretch under the pump, as far as no hold follows: where the valve closed is the hold's to say."""
        course, stretch = self.course, self.course.stretches[place]
        start, following = stretch.first, course.state(place + 1)
        if place == 0 and course.readings.smooth[start] >= NEAR_ATMOSPHERE:
            start = fall_start(course.readings, start, start, stretch.last)
            if start > stretch.first:
                self.add(Kind.ATMOSPHERE, start)
        if following is not State.HELD:
            self.name_tail(start, stretch.last, Ended.LOG if following is None else Ended.LET_IN)

    def name_tail(self, start: int, last: int, ended: Ended) -> None:
        """Name a pull whose end shows no closing by a turn: a hold that less tells, a flat end, or the pull alone."""
        course, smooth = self.course, self.course.readings.smooth
        falls = course.height(smooth[start]) - course.height(smooth[start : last + 1].min())
        end = flat_stretch(course.readings, start, last)
        if end is not None:
            if end.index - 1 > start and falls > TURN:
                self.add(Kind.PUMPDOWN, end.index - 1)
            closings = end.closings if falls > TURN or end.kind is Kind.HOLD else (start, last)
            told = {"begun": end.begun, "ended": ended, "untold": end.untold, "closings": closings}
            self.add(end.kind, last, earlier=end.earlier, later=end.later, **told)
        elif falls > TURN:
            self.add(Kind.PUMPDOWN, last)
        else:
            self.add(Kind.UNCLEAR, last, untold=Untold.FLAT, closings=(start, last))

    def name_held(self, place: int) -> None:
        """Name a stretch that rises: a hold, or what only looks like one."""
        course, readings, stretch = self.course, self.course.readings, self.course.stretches[place]
        ended = _what_ended(course, place)
        if course.state(place - 1) is State.PUMPED:
            self.name_held_after_pull(place, ended)
            return
        first = closing_in_first_stretch(course) if place == 0 else stretch.first
        if first > stretch.first:
            self.add(Kind.PUMPDOWN, first - 1)
        if _is_let_in_at_once(course, first, place):
            self.add(self.filled(place), stretch.last)
            return
        begun = Begun.READINGS if first > stretch.first else Begun.LOG
        if is_rise_seen(readings, first, stretch.last):
            self.add_hold(stretch.last, Closing(first), begun, ended)
        else:
            self.add(Kind.UNCLEAR, stretch.last, untold=Untold.FLAT, ended=ended, closings=(first, stretch.last))

    def name_held_after_pull(self, place: int, ended: Ended) -> None:
        """Name a stretch that rises after a pull."""
        course, readings, stretch = self.course, self.course.readings, self.course.stretches[place]
        pull, following = course.stretches[place - 1], course.state(place + 1)
        is_brief = bool(readings.time[stretch.last] - readings.time[stretch.first] < LEAST)
        if is_brief and following is State.LET_IN:
            self.name_tail(pull.first, stretch.last, ended)
            return
        closing = closing_after_pull(course, place)
        if _is_let_in_at_once(course, closing.first, place):
            self.add(Kind.PUMPDOWN, closing.first)
            self.add(self.filled(place), stretch.last)
            return
        is_gross = following is State.ABOVE and stretch.last - stretch.first < FEWEST
        is_seen = is_gross or is_rise_seen(readings, closing.first, stretch.last)
        if following is State.PUMPED and (not is_seen or _is_hump(course, closing.first, place)):
            # What is flat between two falls was pumped.
            self.add(Kind.PUMPDOWN, stretch.last)
        elif not is_seen:
            self.name_tail(pull.first, stretch.last, ended)
        else:
            self.add(Kind.PUMPDOWN, closing.first - 1)
            self.add_hold(stretch.last, closing, Begun.READINGS, ended)

    def add_hold(self, last: int, closing: Closing, begun: Begun, ended: Ended) -> None:
        """Add a hold whose closing was looked for."""
        self.add(Kind.HOLD, last, begun=begun, ended=ended, earlier=closing.earlier, later=closing.later)

    def _is_too_deep(self, first: int, last: int) -> bool:
        """Tell whether a stretch lies where no gauge of the trade reads, so that it is no hold whatever its shape."""
        return median(self.course.readings.smooth[first : last + 1]) < LEAST_HELD

    def name_let_in(self, place: int) -> None:
        """Name gas let in, and what stands after it."""
        course, last = self.course, self.course.stretches[place].last
        source = place
        while course.state(source) is State.STANDS and course.state(source - 1) in (State.LET_IN, State.STANDS):
            source -= 1
        if course.state(source) is State.LET_IN and course.is_much(source):
            self.add(self.filled(place), last)
        elif course.state(source - 1) is State.PUMPED and course.state(place + 1) is State.PUMPED:
            # A hump under the running pump.
            self.add(Kind.PUMPDOWN, last)
        else:
            self.add(Kind.UNCLEAR, last, untold=Untold.AFTER_STEP)


def _what_ended(course: Course, place: int) -> Ended:
    """Return what ended a hold."""
    match course.state(place + 1):
        case None:
            return Ended.LOG
        case State.PUMPED:
            return Ended.PUMPING
        case State.LET_IN:
            return Ended.LET_IN if course.is_much(place + 1) else Ended.STEP
        case State.ABOVE:
            return Ended.LET_IN if _is_filled_at_once(course, place + 1) else Ended.OVER_RANGE
        case _:
            return Ended.STEP


def _is_filled_at_once(course: Course, place: int) -> bool:
    """Tell whether a hold went above range from one reading to the next, by far faster than it rose."""
    time, smooth = course.readings.time, course.readings.smooth
    last = course.stretches[place].first - 1
    back = max(last - FEWEST, course.stretches[place - 1].first)
    if last <= back:
        return False
    top = float(smooth[~course.readings.is_above].max())
    rate = max(float(smooth[last] - smooth[back]) / float(time[last] - time[back]), 0.0)
    needed = (top - float(smooth[last])) / float(time[last + 1] - time[last])
    return needed > SURGE * rate and needed > LETS_IN_AT / SURGE


def _is_let_in_at_once(course: Course, first: int, place: int) -> bool:
    """Tell whether gas was let in straight after pumping, so that there was no hold."""
    time, smooth = course.readings.time, course.readings.smooth
    last, following = course.stretches[place].last, course.state(place + 1)
    if place == 0 and following is not State.PUMPED:
        return False
    rise, duration = float(smooth[last] - smooth[first]), float(time[last] - time[first])
    if following is State.ABOVE or smooth[last] > NEAR_ATMOSPHERE:
        filled = first + int(np.argmax(smooth[first : last + 1] >= smooth[first] + FILLED * rise))
        return FILLED * rise > LETS_IN_AT * float(time[filled] - time[first])
    early = min(int(np.searchsorted(time, time[first] + LEAST)), last)
    height = float(smooth[early] - smooth[first])
    if height < LET_IN or (smooth[last] < WATER_CEILING and duration > WATER_LASTS):
        return False
    late = float(smooth[last] - smooth[early]) / max(float(time[last] - time[early]), 1e-9)
    return SURGE * late < height / max(float(time[early] - time[first]), 1e-9)


def _is_hump(course: Course, first: int, place: int) -> bool:
    """Tell whether a rise under the running pump came hardly slower than it went, a fifth to four fifths of it."""
    time, smooth = course.readings.time, course.readings.smooth
    last, until = course.stretches[place].last, course.stretches[place + 1].last
    top = first + int(np.argmax(smooth[first : last + 1]))
    low, high = (float(smooth[first] + share * (smooth[top] - smooth[first])) for share in (0.2, 0.8))
    rising, falling = smooth[first : top + 1], smooth[top : until + 1]
    begin = first + int(np.flatnonzero(rising <= low)[-1])
    up = first + int(np.argmax(rising >= high))
    down = top + max(int(np.argmax(falling < high)) - 1, 0)
    end = top + (int(np.argmax(falling <= low)) if (falling <= low).any() else len(falling) - 1)
    if time[end] - time[begin] > HUMP_LASTS or not time[up] - time[begin] < HUMP_SLOWER * (time[end] - time[down]):
        return False
    # Under the pump a rise slows down as the fall after it does: one that outlasts the fall's pace and stays straight
    # was shut off from the pump.
    middle = first + int(np.argmax(rising >= 0.5 * (low + high)))
    goes_straight = (
        time[up] - time[middle] < STRAIGHT * (time[middle] - time[begin])
        and time[top] - time[up] < TO_ITS_TOP * (time[up] - time[begin])
    )
    outlasts = time[up] - time[begin] > OUTLASTS * (time[end] - time[down])
    return not (up - begin >= SHOWN_BY and goes_straight and outlasts)
