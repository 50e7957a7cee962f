"""The cheapest path of a log through what a system can be in: a turn costs, and what goes against a state costs."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from decay.arrays import FloatArray
from decay.phases.knots import Knots
from decay.phases.readings import RANGE_JUMP

# What one more segment costs, in scales of the gauge: a move by so much against a state's nature is an event. Chosen
# on the bench: halved it finds events in noise, doubled it misses slight holds.
TURN = 4.5
# What one reading costs, in turns, that the state cannot have: above range under the pump, in range above range.
WRONG = 0.5
# A segment shorter than this time and these readings costs one turn more. [s, readings]
LEAST = 20.0
FEWEST = 12
# A hold that rises so many times faster than it did so far is having gas let in.
SURGE = 10.0
# What ends a hold is so many times faster than the hold's own rise: the pump's fall (or half of the rise goes within
# LEAST), and gas let in.
FASTER = 3.0
# What is let in raises the pressure by a turn at least, and costs a turn for so long as it lasts. [s]
FILLS = 120.0
# No rate is taken over less than this. [s]
SOONEST = 0.5
# Gas that was let in may fade by this share as it cools.
COOLS = 0.1


class State(IntEnum):
    """What the system is in."""

    ABOVE = 0
    PUMPED = 1
    HELD = 2
    LET_IN = 3
    STANDS = 4


# Which state may follow which. Above range only the pump leads down again, and a hold is entered from the pump alone:
# nothing enters it twice. What stands after gas was let in, or after the gauge was changed, is no hold.
_FOLLOWS = {
    State.ABOVE: (State.PUMPED,),
    State.PUMPED: (State.HELD, State.ABOVE, State.LET_IN),
    State.HELD: (State.ABOVE, State.LET_IN, State.PUMPED, State.STANDS),
    State.LET_IN: (State.ABOVE, State.PUMPED, State.STANDS),
    State.STANDS: (State.PUMPED, State.LET_IN, State.ABOVE),
}
# What a hold is left by must show: the pump by its fall, a changed gauge by a sudden drop, gas let in by a faster rise.
_ALWAYS, _IF_FALLS, _IF_DROPS, _IF_SURGES = range(4)
_GATES = {
    (State.HELD, State.PUMPED): _IF_FALLS,
    (State.HELD, State.STANDS): _IF_DROPS,
    (State.HELD, State.LET_IN): _IF_SURGES,
}
# Each way into a state: the state, the one before, its cost and its gate. To let gas in straight after the
# pump costs one turn more: it is as well a hold, and then gas let in.
_WAYS = [
    (
        int(after),
        int(before),
        TURN * (2.0 if (before, after) == (State.PUMPED, State.LET_IN) else 1.0),
        _GATES.get((before, after), _ALWAYS),
    )
    for before, followers in _FOLLOWS.items()
    for after in followers
]
_EVERY = np.arange(len(State))


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of the cheapest path: its state, its first and last knot, both included."""

    state: State
    first: int
    last: int


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """The cheapest path, and what it was chosen from."""

    segments: tuple[Segment, ...]  # in order of time, without gaps
    costs: FloatArray  # cost of a segment: by its state, its last knot and its first, shape (s, k, k) [scales]

    def closings(self, pumped: Segment, held: Segment, within: float) -> tuple[int, int]:
        """Return the first and the last knot at which a hold may begin for no more than so many scales. [-]"""
        first, last = pumped.first, held.last
        cost = self.costs[State.PUMPED, first:last, first] + self.costs[State.HELD, last, first + 1 : last + 1]
        near = np.flatnonzero(cost <= cost[held.first - first - 1] + within)
        return first + 1 + int(near[0]), first + 1 + int(near[-1])


def cheapest(knots: Knots) -> Path:
    """Return the cheapest path of a log.

    Parameters
    ----------
    knots : Knots
        The log, thinned.

    Notes
    -----
    A segment of the pump costs its largest rise back, one of a hold its largest fall back and what it gains while it
    surges; both less the largest single move that a gauge makes where it changes its range. The cost of every segment
    stands before the search begins, which then goes from knot to knot (a segmental dynamic programme).
    """
    costs = segment_costs(knots)
    count = len(knots.time)
    entered = np.full((len(State), count), np.inf)
    entered[[State.ABOVE, State.PUMPED, State.HELD], 0] = 0.0
    gates = _Gates(knots)
    came_from: list[list[int]] = [[]]
    begins: list[list[int]] = []
    best: list[float] = []
    for here in range(count):
        if here:
            least, source = [np.inf] * len(State), [-1] * len(State)
            for state, way, dues, gate in _WAYS:
                due = best[way] + dues
                if due < least[state] and (gate == _ALWAYS or gates.let(gate, begins[-1][State.HELD], here)):
                    least[state], source[state] = due, way
            entered[:, here] = least
            came_from.append(source)
        whole = entered[:, : here + 1] + costs[:, here, : here + 1]
        begin = whole.argmin(axis=1)
        best = whole[_EVERY, begin].tolist()
        begins.append(begin.tolist())
    return Path(_traced(int(np.argmin(best)), begins, came_from), costs)


def _traced(state: int, begins: list[list[int]], came_from: list[list[int]]) -> tuple[Segment, ...]:
    """Return the path that ends in a state, in order of time."""
    segments = []
    end = len(begins) - 1
    while end >= 0:
        begin = begins[end][state]
        segments.append(Segment(State(state), begin, end))
        if begin:
            state = came_from[begin][state]
        end = begin - 1
    return tuple(reversed(segments))


class _Gates:
    """What must show at a knot for a hold to be left there."""

    def __init__(self, knots: Knots) -> None:
        self._height, self._time, self._dropped = knots.height.tolist(), knots.time.tolist(), _dropped(knots)

    def let(self, gate: int, since: int, here: int) -> bool:
        """Tell whether a hold that began at one knot is left before another by one of the gates."""
        if gate == _IF_DROPS:
            return self._dropped[here]
        opens = _pump_takes_over if gate == _IF_FALLS else _gas_comes_in
        return opens(self._height, self._time, since, here)


def _gas_comes_in(y: list[float], time: list[float], begin: int, here: int) -> bool:
    """Tell whether the pressure soon rises much faster than it did on the mean of the hold."""
    top, now = y[here - 1], time[here - 1]
    until = max(bisect_right(time, time[here] + LEAST), here + 2)
    gained = max(y[here:until]) - top
    rate = gained / max(time[min(until, len(time)) - 1] - now, SOONEST)
    before = max(top - y[max(begin - 1, 0)], 1.0) / max(now - time[max(begin - 1, 0)], SOONEST)
    return gained > 0.0 and rate > FASTER * before


def _dropped(knots: Knots) -> list[bool]:
    """Tell of each knot whether the pressure fell to it at once by more than a range jump."""
    fall = -np.diff(knots.height, prepend=knots.height[0])
    jump = knots.height - knots.scale.of(knots.pressure / (1.0 + RANGE_JUMP))
    return [bool(is_far) for is_far in fall > np.maximum(np.append(jump[0], jump[:-1]), TURN)]


def _pump_takes_over(y: list[float], time: list[float], begin: int, here: int) -> bool:
    """Tell whether a fall that begins at a knot takes half of the hold's rise away, and much sooner than it came."""
    top = y[here - 1]
    if y[here] >= top and y[min(here + 1, len(y) - 1)] >= top:
        return False
    soon = time[here] + max(LEAST, (time[here - 1] - time[begin]) / FASTER)
    until = max(bisect_right(time, soon), here + 4)
    return top - min(y[here:until]) >= max(TURN, 0.5 * (top - y[max(begin - 1, 0)]))


def segment_costs(knots: Knots) -> FloatArray:
    """Return what a segment between any two knots costs in each state.

    Parameters
    ----------
    knots : Knots
        The log, thinned.

    Returns
    -------
    ndarray, shape (s, k, k)
        By state, last knot and first; beyond the diagonal without meaning. [scales]
    """
    y, time = knots.height, knots.time
    count = len(y)
    within = np.tri(count, dtype=bool)
    step = np.diff(y, prepend=y[0])
    scale, before = knots.scale, np.append(y[0], y[:-1])
    up = scale.of(knots.pressure * (1.0 + RANGE_JUMP)) - y
    down = y - scale.of(knots.pressure / (1.0 + RANGE_JUMP))
    is_jump_up = (step > 0.0) & (step <= np.append(0.0, up[:-1]))
    is_jump_down = (step < 0.0) & (-step <= np.append(0.0, down[:-1]))
    later = within.T & ~np.eye(count, dtype=bool)
    rise = _rise_back(y, knots.pad, np.where(is_jump_up, step, 0.0), later)
    fall = _rise_back(-y, knots.pad, np.where(is_jump_down, -step, 0.0), later)
    odd = WRONG * TURN * _between(knots.above) + _short(knots)
    lowest = np.minimum.accumulate(np.where(within.T, y[None, :], np.inf), axis=1).T
    surged, surged_at_once = _surges(knots, within, lowest)
    held = fall + odd + surged

    costs = np.empty((len(State), count, count))
    in_range = WRONG * TURN * _between(knots.size - knots.above)
    costs[State.ABOVE] = np.where(_between(knots.is_above) > 0, in_range, np.inf)
    # After a hold or gas let in the pump shows itself by a fall.
    is_idle = before[None, :] - lowest < np.where(np.arange(count) > 0, TURN, -np.inf)
    costs[State.PUMPED] = rise + odd + np.where(is_idle, TURN, 0.0)
    costs[State.HELD] = held
    lasts = time[:, None] - time[None, :]
    is_let_in = y[:, None] - before[None, :] >= TURN
    costs[State.LET_IN] = np.where(is_let_in, held - surged + TURN / FILLS * lasts, np.inf)
    cools = y - scale.of(knots.pressure * (1.0 - COOLS))
    costs[State.STANDS] = np.maximum(fall - cools[None, :], 0.0) + odd + surged_at_once
    return costs


def _rise_back(y: FloatArray, pad: FloatArray, jump: FloatArray, later: np.ndarray) -> FloatArray:
    """Return the largest rise inside each segment, less its largest jump and what the noise of its ends brings.

    Parameters
    ----------
    y, pad : ndarray, shape (k,)
        Heights, and by how much their noise exceeds one scale. [scales]
    jump : ndarray, shape (k,)
        The step up to each knot where it may be a range jump, else 0. [scales]
    later : ndarray of bool, shape (k, k)
        True where the column's knot is later than the row's.
    """
    largest = np.maximum.accumulate(np.where(later, jump[None, :], 0.0), axis=1)
    # For each first knot the highest up to each last one; then over all first knots from the last one back.
    highest = np.maximum.accumulate(np.where(later, (y - pad)[None, :] - largest, (y - pad)[:, None]), axis=1)
    rises = highest - (y + pad)[:, None]
    return np.maximum(np.maximum.accumulate(rises[::-1], axis=0)[::-1].T, 0.0)


def _between(values: np.ndarray) -> FloatArray:
    """Return the sum of the values inside each segment."""
    total = np.concatenate([[0.0], np.cumsum(values, dtype=float)])
    return np.asarray(total[1:, None] - total[None, :-1])


def _short(knots: Knots) -> FloatArray:
    """Return the cost of segments that are too short for an event; the log's first and last may be. [scales]"""
    length = knots.end[:, None] - knots.begin[None, :]
    readings = knots.last[:, None] - knots.first[None, :] + 1
    short = (length < LEAST) & (readings < FEWEST) & (knots.first[None, :] > 0)
    short[-1] = False
    return np.where(short, TURN, 0.0)


def _surges(knots: Knots, within: np.ndarray, lowest: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what each segment gains in those knots to which it rises much faster than it did so far. [scales]

    Once without what it does in its first seconds, as a valve that closes makes a hold rise; once with it, from the
    knot before on.
    """
    y, time = knots.height, knots.time
    count, step = len(y), np.diff(y, prepend=y[0])
    lower = np.where(within & (y[None, :] <= (y - TURN)[:, None]), np.arange(count)[None, :], -1)
    since = lower.max(axis=1)
    rises = (since >= 0) & (step > 0.0)
    # Only few knots are risen to by so much: the rest need no look.
    rows = np.flatnonzero(rises)
    since = since[rows]
    rate = (y[rows] - y[since]) / np.maximum(time[rows] - time[since], SOONEST)
    rise = y[since][:, None] - lowest[rows]
    surges = []
    for begins, least, seen in ((time, LEAST, 1.0), (np.append(time[0], time[:-1]), 0.0, 1.0)):
        so_far = time[since][:, None] - begins[None, :]
        gains = np.zeros((count, count))
        is_surge = (so_far > least) & (rate[:, None] * so_far > SURGE * np.maximum(rise, seen))
        gains[rows] = np.where(is_surge, step[rows][:, None], 0.0)
        surges.append(np.cumsum(gains, axis=0))
    return surges[0], surges[1]
