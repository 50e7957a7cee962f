"""The course of a log: the segments of the cheapest path, each edge moved from the knots to the reading."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from decay.arrays import FloatArray
from decay.phases.edges import fall_start, later_closing, leaving, range_edge
from decay.phases.knots import Knots
from decay.phases.path import FEWEST, LEAST, SURGE, TURN, Path, State
from decay.phases.readings import LEAVES, Readings

# Nitrogen or air that is let in raises the pressure by 4,500 micron at least; less is a step or a hump. [Pa]
LET_IN = 600.0
# A rise whose upper half goes no sooner than in this share of the time in which it came, and in this time, is a hump
# under the pump: an opened valve takes it away at the pace of the pump. [-, s]
HUMP_FALLS = 0.5
HUMP_LASTS = 60.0
# Moves of so much of the largest one near an edge are as steep as that. [-]
STEEPEST = 0.5
# A pause is so many distances of readings long, and LEAST. [-]
PAUSE = 5.0
# What stands for so long before such a rise is where its closing lies. [s]
BEFORE_IT = 60.0
# A rise that was seen by less than this share came in the pause. [-]
UNSEEN = 0.5
# So many readings between a tenth and nine tenths show a rise that came by and by. [readings]
UNDER_WAY = 8
# Share of a rise that belongs to its top. [-]
TOP = 0.05


@dataclass(frozen=True, slots=True)
class Stretch:
    """A segment of the path in readings, both ends included."""

    state: State
    first: int
    last: int


@dataclass(slots=True)
class Course:
    """What one log went through."""

    readings: Readings  # the log
    knots: Knots  # it thinned
    path: Path  # its cheapest path over the knots
    stretches: list[Stretch]  # the path in readings, in order of time

    def state(self, place: int) -> State | None:
        """Return the state of a stretch; ``None`` before the first and after the last."""
        return self.stretches[place].state if 0 <= place < len(self.stretches) else None

    def is_pumped_after(self, place: int) -> bool:
        """Tell whether the pump runs at some time after a stretch."""
        return any(stretch.state is State.PUMPED for stretch in self.stretches[place + 1 :])

    def height(self, pressure: float) -> float:
        """Return a pressure in scales of the gauge. [-]"""
        return float(self.knots.scale.of(np.array([pressure]))[0])

    def is_much(self, place: int) -> bool:
        """Tell whether what was let in comes up to what nitrogen or air brings."""
        stretch, smooth = self.stretches[place], self.readings.smooth
        if self.state(place + 1) is State.ABOVE:
            return True
        return float(smooth[stretch.first : stretch.last + 1].max() - smooth[max(stretch.first - 1, 0)]) >= LET_IN


def course_of(readings: Readings, knots: Knots, path: Path) -> Course:
    """Return the course of a log, thinned and with its cheapest path found, every edge at its reading."""
    stretches = [Stretch(s.state, int(knots.first[s.first]), int(knots.last[s.last])) for s in path.segments]
    course = Course(readings, knots, path, stretches)
    for place in range(len(stretches) - 1):
        one, other = stretches[place], stretches[place + 1]
        cut = _cut(course, one, other)
        if cut is not None:
            cut = min(max(cut, one.first), other.last - 1)
            stretches[place], stretches[place + 1] = replace(one, last=cut), replace(other, first=cut + 1)
    _end_holds_at_pauses(course)
    _take_in_fast_rises(course)
    _take_out_fills(course)
    _take_in_gross_rises(course)
    _give_creeping_to_the_pump(course)
    _give_humps_to_the_pump(course)
    course.stretches = [stretch for stretch in course.stretches if stretch.last >= stretch.first]
    return course


def _cut(course: Course, one: Stretch, other: Stretch) -> int | None:
    """Return the last reading of a stretch; ``None`` where the knots say it, or where a closing is sought later."""
    readings = course.readings
    if (one.state is State.ABOVE) != (other.state is State.ABOVE):
        return range_edge(readings.is_above, one.first, other.last, one.last, other.state is State.ABOVE)
    if other.state is State.PUMPED:
        return fall_start(readings, one.first, one.last, other.last)
    if one.state is State.HELD or other.state is State.LET_IN:
        # A steep move near the edge is surely off the curve that went before: the first, for what is let in at one pace
        # goes on with moves alike.
        reach = int(course.knots.size.max()) if one.state is State.HELD else 3
        sign = 1 if other.state is State.LET_IN else -1
        begin, end = max(one.last - reach, one.first), min(other.first + reach, other.last)
        if end <= begin:
            return None
        moves = sign * np.diff(readings.smooth[begin : end + 1])
        steep = begin + int(np.argmax(moves >= STEEPEST * moves.max()))
        return leaving(readings, one.first, steep + 1, sign, start=max(steep - 4, one.first))
    return None


def _end_holds_at_pauses(course: Course) -> None:
    """End a hold before a pause in which most of its rise came, and after which it soon falls: what went on is unknown.

    A gauge that writes nothing above its range leaves such a pause, and so does a logger that fails.
    """
    time, smooth = course.readings.time, course.readings.smooth
    stretches, sampling = course.stretches, course.readings.sampling
    for place in reversed(range(1, len(stretches) - 1)):
        one, other = stretches[place], stretches[place + 1]
        if one.state is not State.HELD or other.state not in (State.PUMPED, State.STANDS):
            continue
        begin = max(one.last - FEWEST, one.first)
        apart = np.diff(time[begin : one.last + 1])
        last = int(np.argmax(apart)) if len(apart) else 0
        if not len(apart) or not apart[last] > max(PAUSE * sampling, LEAST):
            continue
        before = smooth[begin + last] - smooth[one.first]
        if before < UNSEEN * (smooth[begin + last + 1] - smooth[one.first]):
            let_in = Stretch(State.LET_IN, begin + last + 1, one.last)
            stretches[place : place + 1] = [replace(one, last=begin + last), let_in]


def _take_in_fast_rises(course: Course) -> None:
    """Make one hold of a closing whose rise is over soon and then stands: rig and system equalised, or vapour came.

    It came by many readings, so that no gauge was changed, and less than nitrogen or air brings.
    """
    readings, stretches = course.readings, course.stretches
    for place in range(1, len(stretches)):
        if stretches[place].state is not State.LET_IN or course.is_much(place):
            continue
        one = stretches[place - 1]
        is_brief = one.state is State.HELD and readings.time[one.last] - readings.time[one.first] < BEFORE_IT
        begin = place - 1 if is_brief else place
        end = place
        while course.state(end + 1) is State.STANDS:
            end += 1
        first, last = stretches[begin].first, stretches[end].last
        rise = readings.smooth[first : last + 1]
        under_way = np.count_nonzero((rise > rise[0] + 0.1 * np.ptp(rise)) & (rise < rise[0] + 0.9 * np.ptp(rise)))
        if course.state(begin - 1) is State.PUMPED and end > place and under_way >= UNDER_WAY:
            stretches[begin : end + 1] = [Stretch(State.HELD, first, last)]
            return


def _take_out_fills(course: Course) -> None:
    """Give the steep readings between a hold and the end of the range to what was let in."""
    time, smooth, stretches = course.readings.time, course.readings.smooth, course.stretches
    for place in reversed(range(len(stretches) - 1)):
        one, other = stretches[place], stretches[place + 1]
        if one.state is not State.HELD or other.state is not State.ABOVE:
            continue
        cut = one.last
        while cut > one.first + FEWEST:
            so_far = max(float(smooth[cut - 1] - smooth[one.first]), course.readings.spread(cut - 1))
            rate = so_far / float(time[cut - 1] - time[one.first])
            if not smooth[cut] - smooth[cut - 1] > SURGE * rate * float(time[cut] - time[cut - 1]):
                break
            cut -= 1
        if cut < one.last:
            stretches[place] = replace(one, last=cut)
            stretches.insert(place + 1, Stretch(State.LET_IN, cut + 1, one.last))


def _take_in_gross_rises(course: Course) -> None:
    """Make a hold of the few readings that rise from the pump's pressure to the end of the range."""
    smooth, stretches = course.readings.smooth, course.stretches
    for place in reversed(range(len(stretches) - 1)):
        one, other = stretches[place], stretches[place + 1]
        if one.state is not State.PUMPED or other.state is not State.ABOVE:
            continue
        low = foot(course.readings, one.first, one.last)
        rise = course.height(smooth[one.last]) - course.height(smooth[low])
        if one.first < low < one.last and rise > TURN:
            stretches[place] = replace(one, last=low - 1)
            stretches.insert(place + 1, Stretch(State.HELD, low, one.last))


def _give_humps_to_the_pump(course: Course) -> None:
    """Give a rise to the pump from which the pressure falls about as slowly as it came: no valve was opened there.

    Where a valve was, the fall is fastest at its beginning; a hump is rounded at its top.
    Ice that fades, oil that foams or a pump that warms raise the pressure under the pump for a while.
    """
    readings, stretches = course.readings, course.stretches
    for place in reversed(range(1, len(stretches) - 1)):
        if [course.state(place + step) for step in (-1, 0, 1)] != [State.PUMPED, State.HELD, State.PUMPED]:
            continue
        one, other = stretches[place], stretches[place + 1]
        whole = readings.smooth[one.first : other.last + 1]
        rise = float(whole.max() - whole[: int(np.argmax(whole)) + 1].min())
        # A hold that levels off has its highest reading anywhere: the fall begins where the top is left.
        peak = one.first + int(np.flatnonzero(whole >= whole.max() - TOP * rise)[-1])
        since, fall = readings.time[peak : other.last + 1] - readings.time[peak], readings.smooth[peak : other.last + 1]
        half = 0.5 * rise
        lost = np.flatnonzero(fall <= fall[0] - half)
        gained = np.flatnonzero(whole[: peak - one.first] <= fall[0] - half)
        if not len(lost) or not len(gained):
            continue
        took = float(since[lost[0]])
        is_rounded = fall[0] - np.interp(0.5 * took, since, fall) < 0.5 * half
        came = float(readings.time[peak] - readings.time[one.first + int(gained[-1])])
        if is_rounded and took > max(HUMP_FALLS * came, HUMP_LASTS):
            stretches[place - 1 : place + 2] = [replace(stretches[place - 1], last=other.last)]


def _is_one_step(pressure: FloatArray) -> bool:
    """Tell whether most of a rise came from one reading to the next: a gauge was changed, no valve closed."""
    return bool(np.diff(pressure).max(initial=0.0) > 0.5 * float(pressure.max() - pressure[0]))


def foot(readings: Readings, first: int, last: int) -> int:
    """Return the reading from which a rise of few readings leads up to a last one without a stop."""
    low = last
    while low > first and readings.smooth[low] - readings.smooth[low - 1] > LEAVES * readings.spread(low - 1):
        low -= 1
    return low


def _give_creeping_to_the_pump(course: Course) -> None:
    """Give a slow rise before a much sharper bend to the pump, and what follows the bend to the hold."""
    stretches = course.stretches
    for place in range(1, len(stretches) - 1):
        one, other = stretches[place], stretches[place + 1]
        if one.state is not State.HELD or other.state is not State.LET_IN or course.is_much(place + 1):
            continue
        end = place + 1
        while course.state(end + 1) is State.STANDS:
            end += 1
        last = stretches[end].last
        bend = later_closing(course.readings, one.first, last)
        if bend is None or bend < one.first + FEWEST or _is_one_step(course.readings.smooth[bend : last + 1]):
            continue
        stretches[place - 1] = replace(stretches[place - 1], last=bend - 1)
        stretches[place : end + 1] = [Stretch(State.HELD, bend, last)]
        return
