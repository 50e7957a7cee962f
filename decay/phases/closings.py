"""When the valve closed between a fall and a rise, and how well that is told."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from decay.phases.course import Course, foot
from decay.phases.edges import closing, later_closing
from decay.phases.path import FEWEST, LEAST, TURN, State
from decay.phases.rises import stands_until


@dataclass(frozen=True, slots=True)
class Closing:
    """A reading at which the valve closed, and by how much earlier and later it may have been. [-, s, s]"""

    first: int
    earlier: float = 0.0
    later: float = 0.0


def closing_after_pull(course: Course, place: int) -> Closing:
    """Return when the valve closed between a pull and the hold after it.

    Parameters
    ----------
    course : Course
        The log's course.
    place : int
        The hold among its stretches. [-]
    """
    readings, stretch = course.readings, course.stretches[place]
    if stretch.last - stretch.first < FEWEST and course.state(place + 1) is State.ABOVE:
        return _before_gross_rise(course, place)
    begin, until = _readings_around(course, place, TURN)
    low = begin + int(np.argmin(readings.smooth[begin : until + 1]))
    pull = _pull_before(course, place)
    if min(stretch.last - low, low - pull) < FEWEST:
        return _lowest_of_few(course, begin, until)
    begin, until = _readings_around(course, place, 2.0 * TURN)
    first, corner = closing(readings, pull, low, stretch.last, (begin, until))
    bend = later_closing(readings, first, stretch.last)
    if bend is not None:
        return Closing(bend)
    first = min(first, stretch.last)
    earliest, latest = corner.earliest, max(corner.latest, stands_until(readings, first, stretch.last))
    earliest, latest = max(min(earliest, first), 0), min(max(latest, first), stretch.last)
    return Closing(first, _told(course, earliest, first), _told(course, first, latest))


def _pull_before(course: Course, place: int) -> int:
    """Return the first reading of the pull before a hold, with what stood under it."""
    before = place - 1
    while course.state(before - 1) is State.STANDS:
        before -= 1
    return course.stretches[before].first


def _lowest_of_few(course: Course, begin: int, until: int) -> Closing:
    """Return the last of the lowest readings where too few show how a fall becomes a rise: it closed beside that."""
    readings = course.readings
    around = readings.pressure[begin : until + 1]
    lowest = begin + int(np.argmin(around))
    blur = 0.5 * float(readings.step[lowest]) + readings.spread(lowest)
    low = begin + int(np.flatnonzero(around <= around.min() + blur)[-1])
    earlier = float(readings.time[low] - readings.time[max(low - 1, begin)])
    return Closing(low, earlier, float(readings.time[min(low + 1, until)] - readings.time[low]))


def _told(course: Course, begin: int, end: int) -> float:
    """Return the time between two readings; 0 where it is no more than two distances of readings. [s]"""
    apart = float(course.readings.time[end] - course.readings.time[begin])
    return apart if apart > 2.0 * course.readings.sampling else 0.0


def closing_in_first_stretch(course: Course) -> int:
    """Return where the valve closed in a log that starts with a hold, or shortly before it."""
    readings, stretch = course.readings, course.stretches[0]
    if stretch.last - stretch.first < FEWEST:
        return stretch.first
    low = stretch.first + int(np.argmin(readings.smooth[stretch.first : stretch.last + 1]))
    first, corner = closing(readings, stretch.first, low, stretch.last)
    after = max(corner.slope_after + corner.jump / LEAST, 0.0)
    is_soon = first - stretch.first < FEWEST or readings.time[first] - readings.time[stretch.first] < LEAST
    # Only a flat or falling stretch before the rise shows the closing; else the log starts in the hold.
    return stretch.first if is_soon or corner.slope_before > 0.2 * after else first


def _before_gross_rise(course: Course, place: int) -> Closing:
    """Return the last reading before a rise of few readings to the end of the range."""
    low = foot(course.readings, course.stretches[place - 1].first, course.stretches[place].first)
    return Closing(low, 0.0, float(course.readings.time[low + 1] - course.readings.time[low]))


def _readings_around(course: Course, place: int, within: float) -> tuple[int, int]:
    """Return the readings between which a closing lies for no more than so many scales."""
    early, late = _around(course, place, within)
    begin = max(int(course.knots.first[max(early - 1, 0)]), course.stretches[place - 1].first)
    return begin, min(int(course.knots.last[late]), course.stretches[place].last)


def _around(course: Course, place: int, within: float) -> tuple[int, int]:
    """Return the knots between which a closing lies for no more than so many scales."""
    knots, after = course.knots, course.stretches[place]
    own = int(np.searchsorted(knots.first, after.first, side="right")) - 1
    for one, other in pairwise(course.path.segments):
        if one.state is State.PUMPED and other.state is State.HELD and abs(other.first - own) <= 1:
            return course.path.closings(one, other, within)
    return own, own
