"""What each segment of the path is called, and to the reading where one phase hands over to the next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from decay.phases.edges import closing, fall_start, later_closing, leaving, range_edge
from decay.phases.evidence import is_rise_seen
from decay.phases.flat import flat_end
from decay.phases.knots import Knots, knots_of
from decay.phases.path import FEWEST, LEAST, SURGE, TURN, Path, State, cheapest
from decay.phases.phase import Begun, Ended, Kind, Untold
from decay.phases.readings import Readings

# Above this a log stands at atmosphere or on its way there. [Pa]
NEAR_ATMOSPHERE = 5e4
# Nitrogen or air that is let in raises the pressure by 4,500 micron at least; less is a step or a hump. [Pa]
LET_IN = 600.0
# An open valve lets it in faster than this; leaks of 100,000 micron a minute are slower. [Pa/s]
LETS_IN_AT = 300.0
# What rises to less than the saturation pressure of a warm day and stands so long may be free water. [Pa, s]
WATER_CEILING = 6e3
WATER_LASTS = 300.0
# A rise under the running pump (ballast, a second valve, a trapped volume) lasts no longer than this, and comes no
# more than so many times slower than the pump takes it away. [s, -]
HUMP_LASTS = 300.0
HUMP_FASTER = 2.0
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


@dataclass(frozen=True, slots=True)
class Stretch:
    """A segment of the path in readings, both ends included."""

    state: State
    first: int
    last: int


def label(readings: Readings) -> list[Piece]:
    """Return the phases of a log that is not all above range.

    Parameters
    ----------
    readings : Readings
        The log.

    Returns
    -------
    list of Piece
        In order of time.
    """
    knots = knots_of(readings)
    path = cheapest(knots)
    return _Labels(readings, knots, path).pieces()


class _Labels:
    """The walk along one path."""

    def __init__(self, readings: Readings, knots: Knots, path: Path) -> None:
        self.readings, self.knots, self.path = readings, knots, path
        self.stretches = [
            Stretch(s.state, int(knots.first[s.first]), int(knots.last[s.last])) for s in path.segments
        ]
        self.made: list[Piece] = []

    def pieces(self) -> list[Piece]:
        """Return the pieces in order of time."""
        self._to_the_reading()
        self.made = []
        for place, stretch in enumerate(self.stretches):
            if stretch.last < stretch.first:
                continue
            match stretch.state:
                case State.ABOVE:
                    self._above(place)
                case State.PUMPED:
                    self._pumped(place)
                case State.HELD:
                    self._held(place)
                case _:
                    self._let_in(place)
        return self.made

    def _add(self, piece: Piece) -> None:
        before = self.made[-1] if self.made else None
        if before is not None and piece.last <= before.last:
            return
        if before is not None and before.kind is piece.kind and piece.kind is not Kind.HOLD:
            self.made[-1] = replace(before, last=piece.last, ended=piece.ended, untold=before.untold or piece.untold)
            return
        self.made.append(piece)

    def _state(self, place: int) -> State | None:
        return self.stretches[place].state if 0 <= place < len(self.stretches) else None

    def _to_the_reading(self) -> None:
        """Move each edge from the knots to the reading."""
        for place in range(len(self.stretches) - 1):
            one, other = self.stretches[place], self.stretches[place + 1]
            if (one.state is State.ABOVE) != (other.state is State.ABOVE):
                cut = range_edge(self.readings.is_above, one.first, other.last, one.last, other.state is State.ABOVE)
            elif other.state is State.PUMPED:
                cut = fall_start(self.readings, one.first, one.last, other.last)
            elif one.state is State.PUMPED and other.state is State.LET_IN:
                start = max(one.last - 3, one.first)
                cut = leaving(self.readings, one.first, min(other.first + 1, other.last), +1, start)
            elif one.state is State.HELD:
                sign = 1 if other.state is State.LET_IN else -1
                cut = self._left(one, other, sign)
            else:
                continue
            cut = min(max(cut, one.first), other.last - 1)
            self.stretches[place] = replace(one, last=cut)
            self.stretches[place + 1] = replace(other, first=cut + 1)
        self._fills()
        self._gross()
        self._crept()

    def _fills(self) -> None:
        """Give the steep readings between a hold and the end of the range to what was let in."""
        time, smooth = self.readings.time, self.readings.smooth
        for place in reversed(range(len(self.stretches) - 1)):
            one, other = self.stretches[place], self.stretches[place + 1]
            if one.state is not State.HELD or other.state is not State.ABOVE:
                continue
            cut = one.last
            while cut > one.first + FEWEST:
                so_far = max(float(smooth[cut - 1] - smooth[one.first]), self.readings.spread(cut - 1))
                rate = so_far / float(time[cut - 1] - time[one.first])
                if not smooth[cut] - smooth[cut - 1] > SURGE * rate * float(time[cut] - time[cut - 1]):
                    break
                cut -= 1
            if cut < one.last:
                self.stretches[place] = replace(one, last=cut)
                self.stretches.insert(place + 1, Stretch(State.LET_IN, cut + 1, one.last))

    def _gross(self) -> None:
        """Give the few readings that rise from the pump's pressure to the end of the range to a hold."""
        smooth = self.readings.smooth
        for place in reversed(range(len(self.stretches) - 1)):
            one, other = self.stretches[place], self.stretches[place + 1]
            if one.state is not State.PUMPED or other.state is not State.ABOVE or one.last - one.first < 2:
                continue
            low = one.last
            while low > one.first and smooth[low - 1] < smooth[low]:
                low -= 1
            if low < one.last and self._rise(low, one.last) > TURN:
                self.stretches[place] = replace(one, last=low)
                self.stretches.insert(place + 1, Stretch(State.HELD, low + 1, one.last))

    def _rise(self, first: int, last: int) -> float:
        return float(np.diff(self.knots.scale.of(self.readings.smooth[[first, last]]))[0])

    def _crept(self) -> None:
        """Give a slow rise before a much sharper bend to the pump, and what follows the bend to the hold."""
        for place in range(1, len(self.stretches) - 1):
            one, other = self.stretches[place], self.stretches[place + 1]
            if one.state is not State.HELD or other.state is not State.LET_IN or self._is_much(place + 1):
                continue
            end = place + 1
            while self._state(end + 1) is State.STANDS:
                end += 1
            last = self.stretches[end].last
            bend = later_closing(self.readings, one.first, last)
            if bend is None or bend < one.first + FEWEST:
                continue
            before = self.stretches[place - 1]
            self.stretches[place - 1] = replace(before, last=bend - 1)
            self.stretches[place] = Stretch(State.HELD, bend, last)
            for empty in range(place + 1, end + 1):
                self.stretches[empty] = replace(self.stretches[empty], first=last + 1, last=last)
            self.stretches = [s for s in self.stretches if s.last >= s.first]
            return

    def _left(self, one: Stretch, other: Stretch, sign: int) -> int:
        """Return the last reading of a hold before it was disturbed."""
        readings = self.readings
        begin = max(one.last - int(self.knots.size.max()), one.first)
        end = min(other.first + int(self.knots.size.max()), other.last)
        moves = sign * np.diff(readings.smooth[begin : end + 1])
        if not len(moves):
            return one.last
        steepest = begin + int(np.argmax(moves))
        return leaving(readings, one.first, steepest + 1, sign, start=max(steepest - 4, one.first))

    def _above(self, place: int) -> None:
        stretch = self.stretches[place]
        before = self._state(place - 1)
        if before is None:
            self._add(Piece(Kind.ATMOSPHERE, stretch.last, untold=Untold.OVER_RANGE))
        elif before in (State.LET_IN, State.STANDS) or before is State.PUMPED or self._is_filled_at_once(place):
            self._add(Piece(self._filled(place), stretch.last))
        else:
            self._add(Piece(Kind.UNCLEAR, stretch.last, untold=Untold.OVER_RANGE))

    def _filled(self, place: int) -> Kind:
        """Return what gas let in is called: a sweep where the pump runs after it."""
        pumped = any(s.state is State.PUMPED for s in self.stretches[place + 1 :])
        return Kind.SWEEP if pumped else Kind.VENT

    def _is_filled_at_once(self, place: int) -> bool:
        """Tell whether a hold went above range from one reading to the next, by far faster than it rose."""
        readings, stretch = self.readings, self.stretches[place]
        top = float(readings.smooth[~readings.is_above].max())
        last = stretch.first - 1
        first = self.stretches[place - 1].first
        back = max(last - FEWEST, first)
        if last <= back:
            return False
        rate = float(readings.smooth[last] - readings.smooth[back]) / float(readings.time[last] - readings.time[back])
        needed = (top - float(readings.smooth[last])) / float(readings.time[last + 1] - readings.time[last])
        return bool(needed > 10.0 * max(rate, 0.0) and needed > LETS_IN_AT / 10.0)

    def _pumped(self, place: int) -> None:
        readings, stretch = self.readings, self.stretches[place]
        start = stretch.first
        if place == 0 and readings.smooth[start] >= NEAR_ATMOSPHERE:
            start = fall_start(readings, start, start, stretch.last)
            if start > stretch.first:
                self._add(Piece(Kind.ATMOSPHERE, start))
        following = self._state(place + 1)
        if following is not State.HELD:  # where the valve closed is the hold's to say
            self._tail(start, stretch.last, Ended.LOG if following is None else Ended.LET_IN)

    def _tail(self, start: int, last: int, ended: Ended) -> None:
        """Name a pull whose end shows no closing by a turn: a hold that less tells, a flat end, or the pull alone."""
        falls = self._height(start) - self._height(last, lowest_since=start)
        end = flat_end(self.readings, start, last)
        if end is not None:
            if end.index - 1 > start and falls > TURN:
                self._add(Piece(Kind.PUMPDOWN, end.index - 1))
            self._add(Piece(end.kind, last, end.begun, ended, end.untold, end.earlier, end.later, end.closings))
        elif falls > TURN:
            self._add(Piece(Kind.PUMPDOWN, last))
        else:
            self._add(Piece(Kind.UNCLEAR, last, untold=Untold.FLAT, closings=(start, last)))

    def _height(self, index: int, lowest_since: int | None = None) -> float:
        smooth = self.readings.smooth
        value = smooth[index] if lowest_since is None else smooth[lowest_since : index + 1].min()
        return float(self.knots.scale.of(np.array([value]))[0])

    def _held(self, place: int) -> None:
        readings, stretch = self.readings, self.stretches[place]
        before, following = self._state(place - 1), self._state(place + 1)
        ended = {
            None: Ended.LOG, State.PUMPED: Ended.PUMPING, State.LET_IN: Ended.LET_IN, State.ABOVE: Ended.OVER_RANGE,
            State.STANDS: Ended.STEP,
        }[following]  # fmt: skip
        if following is State.LET_IN and not self._is_much(place + 1):
            ended = Ended.STEP
        if following is State.ABOVE and self._is_filled_at_once(place + 1):
            ended = Ended.LET_IN
        is_brief = bool(readings.time[stretch.last] - readings.time[stretch.first] < LEAST)
        if is_brief and before is State.PUMPED and following is State.LET_IN:
            self._tail(self.stretches[place - 1].first, stretch.last, ended)
            return
        first, earlier, later = stretch.first, 0.0, 0.0
        begun = Begun.READINGS
        if before is State.PUMPED:
            fall = self.stretches[place - 1].first
            first, earlier, later = self._closing(place, fall)
        elif place == 0:
            begun = Begun.LOG
            first = self._under_pumping(stretch)
            if first > stretch.first:
                begun = Begun.READINGS
                self._add(Piece(Kind.PUMPDOWN, first - 1))
        else:
            begun = Begun.LOG
        if self._is_let_in_at_once(first, place):
            self._add(Piece(Kind.PUMPDOWN, first))
            self._add(Piece(self._filled(place), stretch.last))
            return
        is_seen = is_rise_seen(readings, first, stretch.last)
        if before is State.PUMPED:
            # What is flat between two falls was pumped.
            if following is State.PUMPED and (not is_seen or self._is_hump(first, place)):
                self._add(Piece(Kind.PUMPDOWN, stretch.last))
                return
            if not is_seen:
                self._tail(self.stretches[place - 1].first, stretch.last, ended)
                return
            self._add(Piece(Kind.PUMPDOWN, first - 1))
        kind, untold = Kind.HOLD, None
        if float(np.median(readings.smooth[first : stretch.last + 1])) < LEAST_HELD:
            kind, untold = Kind.UNCLEAR, Untold.BELOW_ONE_MICRON
        elif not is_seen:
            kind, untold = Kind.UNCLEAR, Untold.FLAT
        self._add(Piece(kind, stretch.last, begun, ended, untold, earlier, later))

    def _under_pumping(self, stretch: Stretch) -> int:
        """Return where the valve closed in a log that starts with a hold, or shortly before it."""
        readings = self.readings
        if stretch.last - stretch.first < 8:
            return stretch.first
        low = stretch.first + int(np.argmin(readings.smooth[stretch.first : stretch.last + 1]))
        first, corner = closing(readings, stretch.first, low, stretch.last)
        after = max(corner.slope_after + corner.jump / LEAST, 0.0)
        if first - stretch.first < FEWEST or readings.time[first] - readings.time[stretch.first] < LEAST:
            return stretch.first
        return stretch.first if corner.slope_before > 0.2 * after else first

    def _closing(self, place: int, fall: int) -> tuple[int, float, float]:
        """Return the reading at which the valve closed, and by how much earlier and later it may have been. [-, s]"""
        readings, stretch, time = self.readings, self.stretches[place], self.readings.time
        begin, until = self._around(place)
        low = begin + int(np.argmin(readings.smooth[begin : until + 1]))
        first, corner = closing(readings, fall, low, stretch.last)
        bend = later_closing(readings, first, stretch.last)
        if bend is not None:
            return bend, 0.0, 0.0
        first = min(first, stretch.last)
        earliest, latest = min(corner.earliest, first), min(max(corner.latest, first), stretch.last)
        return first, float(time[first] - time[earliest]), float(time[latest] - time[first])

    def _around(self, place: int) -> tuple[int, int]:
        """Return the readings between which a closing lies for no more than one turn."""
        before, after = self.stretches[place - 1], self.stretches[place]
        own = int(np.searchsorted(self.knots.first, after.first, side="right")) - 1
        for one, other in pairwise(self.path.segments):
            if one.state is State.PUMPED and other.state is State.HELD and abs(other.first - own) <= 1:
                early, late = self.path.closings(one, other)
                begin = max(int(self.knots.first[max(early - 1, 0)]), before.first)
                return begin, min(int(self.knots.last[late]), after.last)
        return max(before.last - 1, before.first), min(after.first + 1, after.last)

    def _is_much(self, place: int) -> bool:
        """Tell whether what was let in comes up to what nitrogen or air brings."""
        stretch = self.stretches[place]
        last = stretch.last
        if self._state(place + 1) is State.ABOVE:
            return True
        smooth = self.readings.smooth
        return float(smooth[stretch.first : last + 1].max() - smooth[max(stretch.first - 1, 0)]) >= LET_IN

    def _is_hump(self, first: int, place: int) -> bool:
        """Tell whether a rise under the running pump came hardly slower than it went."""
        time, smooth = self.readings.time, self.readings.smooth
        last, until = self.stretches[place].last, self.stretches[place + 1].last
        if time[last] - time[first] > HUMP_LASTS:
            return False
        top = first + int(np.argmax(smooth[first : last + 1]))
        half = 0.5 * float(smooth[first] + smooth[top])
        up = first + int(np.argmax(smooth[first : top + 1] >= half))
        down = last + int(np.argmax(smooth[last : until + 1] <= half))
        return bool(time[up] - time[first] < HUMP_FASTER * (time[down] - time[last]))

    def _let_in(self, place: int) -> None:
        """Name gas let in, and what stands after it."""
        stretch = self.stretches[place]
        source = place
        while self._state(source) is State.STANDS and self._state(source - 1) in (State.LET_IN, State.STANDS):
            source -= 1
        if self._state(source) is State.LET_IN and self._is_much(source):
            self._add(Piece(self._filled(place), stretch.last))
        elif self._state(source - 1) is State.PUMPED and self._state(place + 1) is State.PUMPED:
            self._add(Piece(Kind.PUMPDOWN, stretch.last))
        else:
            self._add(Piece(Kind.UNCLEAR, stretch.last, untold=Untold.AFTER_STEP))

    def _is_let_in_at_once(self, first: int, place: int) -> bool:
        """Tell whether gas was let in straight after pumping, so that there was no hold."""
        time, smooth = self.readings.time, self.readings.smooth
        last = self.stretches[place].last
        following = self._state(place + 1)
        if place == 0 and following is not State.PUMPED:
            return False
        rise, duration = float(smooth[last] - smooth[first]), float(time[last] - time[first])
        if following is State.ABOVE:
            return rise > 0 and rise > LETS_IN_AT * duration
        early = min(int(np.searchsorted(time, time[first] + 1.5 * LEAST)), last)
        height = float(smooth[early] - smooth[first])
        if height < LET_IN:
            return False
        if smooth[last] < WATER_CEILING and duration > WATER_LASTS:
            return False
        late = float(smooth[last] - smooth[early]) / max(float(time[last] - time[early]), 1e-9) if last > early else 0.0
        return bool(late < 0.1 * height / max(float(time[early] - time[first]), 1e-9))
