"""Where a log is not to be trusted: gaps, stuck readings, and readings at the end of a gauge's range."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import BoolArray, FloatArray, frozen, median, quantile
from decay.log.pressure import ATMOSPHERE
from decay.log.pressure_log import PressureLog
from decay.quantities import MICRON
from decay.table.headings import pascals

GAP = 5.0  # distances of readings, in medians, from which on readings are missing; our choice, no source
FEWEST_STUCK = 30
LONGEST_QUIET = 0.98  # quantile of the distances in a log that has rows only on change
FEWEST_RAILED = 5
NOISE = 0.0025  # share of the highest reading within which a railed gauge may still flicker
CLEAR = 6.0  # steps by which readings must have risen before a stop says something
STEADY = (0.5, 1.5)  # rise of the window before over that of the last one: the rise did not level off
STOPPED = 0.2  # share of the expected rise below which a rise has stopped
LASTING = 60.0  # s for which the end of a range is held
SUDDEN, SUDDEN_FROM = 10.0, 1e3 * MICRON  # factor of a rise within that time, and where it ends [Pa]
AT_BOTTOM = 0.9  # share of a stretch's readings at the gauge's lowest number that makes it stand there throughout
SOME_AT_BOTTOM = 0.1  # share from which on the bottom of the range limits what a stretch shows
FEWEST_AT_BOTTOM = 10  # readings there at least
BOTTOMS = 10.0 * MICRON  # Pa; gauges end at 0, 1, 5 or 7.5 micron, from logs of many
LOW_BOTTOM = 20.0 * MICRON  # Pa; hardly a flicker all through a stretch. Common practice, no source
FEWEST_UNCHANGED = 60  # readings that show one and the same number all through a stretch, from which on that counts
FAST_STEPS = 6.0  # steps fallen within three readings from which on a pull that stops was still under way
LEFT_BEHIND = 1.1  # factor by which a gauge beside must rise while this one stays


@dataclass(frozen=True, slots=True, eq=False)
class Quality:
    """One array for each defect; True means suspect."""

    is_gap_before: BoolArray  # true where readings are missing before this one, shape (n,) [-]
    is_stuck: BoolArray  # true in a long run of equal readings that noise and step do not explain, shape (n,) [-]
    # True where the reading stays at the highest number of the log, the end of the gauge's range. [-] The pressure is
    # bounded from below by it. shape (n,)
    is_railed: BoolArray
    step: FloatArray  # smallest change at each reading, shape (n,) [Pa]

    def __post_init__(self) -> None:
        for name in ("is_gap_before", "is_stuck", "is_railed", "step"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


def inspect(log: PressureLog) -> Quality:
    """Return the defects of a log."""
    return Quality(_gaps(log), _stuck(log), is_railed(log), log.step)


def _gaps(log: PressureLog) -> BoolArray:
    is_gap = np.zeros(len(log.time), dtype=bool)
    if len(log.time) > 2:
        distance = np.diff(log.time)
        usual = median(distance)
        if _only_changes(log, distance, usual):  # where nothing changed, nothing is missing
            usual = max(usual, quantile(distance, LONGEST_QUIET))
        is_gap[1:] = distance > GAP * usual
    return is_gap


def _only_changes(log: PressureLog, distance: FloatArray, usual: float) -> bool:
    """Return whether a row was written only where the reading had changed: uneven rows, no two alike."""
    if len(distance) < FEWEST_STUCK or quantile(distance, 0.9) < 3.0 * max(usual, 1e-9):
        return False
    return float(np.mean(np.diff(log.pressure) == 0)) < 0.01


def _equal_runs(values: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """Return start and length of the runs of equal values; nan is equal to nothing."""
    start = np.flatnonzero(np.concatenate(([True], ~(np.diff(values) == 0))))
    return start, np.diff(np.append(start, len(values)))


def _stuck(log: PressureLog) -> BoolArray:
    """A run is stuck when the readings around it would have crossed several steps in its length."""
    values = log.pressure
    is_stuck = np.zeros(len(values), dtype=bool)
    if len(values) < 2 * FEWEST_STUCK:
        return is_stuck
    start, length = _equal_runs(values)
    usual = quantile(length, 0.9)
    for at in np.flatnonzero((length >= max(FEWEST_STUCK, 10 * usual)) & np.isfinite(values[start])):
        begin, end = int(start[at]), int(start[at] + length[at])
        jumps = [abs(values[begin] - values[begin - 1]) if begin else 0.0,
                 abs(values[end] - values[begin]) if end < len(values) else 0.0]
        # A plateau ends with its own step; a frozen reading ends with a jump to where the pressure has gone.
        if max(jumps) > 5 * float(log.step[begin]):
            is_stuck[begin:end] = True
    return is_stuck


def is_railed(log: PressureLog) -> BoolArray:
    """Return which readings are at the end of the gauge's range.

    The end of a range is the log's highest number, held for a while. A true plateau looks the same, so one of three
    must be seen: the number is one at which displays end (all nines, or round) and was reached or left fast; the
    rise was steady and stopped at once (a plateau is crept up to); or a gauge beside goes on rising.

    Returns
    -------
    ndarray of bool, shape (n,)
        True where the gauge is at the end of its range. [-]
    """
    values = log.pressure
    found = np.zeros(len(values), dtype=bool)
    finite = values[np.isfinite(values)]
    if len(finite) < 2 * FEWEST_RAILED or finite.min() == finite.max():
        return found
    top = float(finite.max())
    step = float(log.step[int(np.nanargmax(values))])
    near = values >= top - max(0.51 * step, NOISE * top)
    at = values >= top - 1.01 * step
    limit = _is_limit(top, log.unit)
    lasting = [*_runs_of(near), *(_stays(log, near) if limit else ())]
    runs = [(begin, end) for begin, end in lasting if not (begin == 0 and ATMOSPHERE[0] < top < ATMOSPHERE[1])]
    for begin, end in runs:
        if (limit and _fast(values, begin, end, step, top)) or _sudden(log, begin, end, step) or (
                _left_behind(log, begin, end, step)):
            found[begin:end] = True
    if any(_stops(values, begin, end, step) for begin, end in _runs_of(at)):
        for begin, end in runs:
            found[begin:end] |= at[begin:end]
    return found


def _runs_of(mask: BoolArray) -> list[tuple[int, int]]:
    """Return begin and end of the runs of True that are long enough."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return [(begin, end) for begin, end in edges.reshape(-1, 2).tolist() if end - begin >= FEWEST_RAILED]


def _stays(log: PressureLog, mask: BoolArray) -> list[tuple[int, int]]:
    """Return the runs of True that last though few rows show it, where a logger writes nothing as nothing changes."""
    pause = max(LASTING, GAP * median(np.diff(log.time)))
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    last = len(log.time) - 1
    return [(begin, end) for begin, end in edges.reshape(-1, 2).tolist()
            if end - begin < FEWEST_RAILED and log.time[min(end, last)] - log.time[begin] > pause]


def _fast(values: FloatArray, begin: int, end: int, step: float, top: float) -> bool:
    before = top - values[max(begin - 5, 0)] if begin else 0.0
    after = top - values[min(end + 4, len(values) - 1)] if end < len(values) else 0.0
    return bool(max(np.nan_to_num(before), np.nan_to_num(after)) > max(2.0 * step, 4.0 * NOISE * top))


def _sudden(log: PressureLog, begin: int, end: int, step: float) -> bool:
    """Return whether the pressure rose tenfold within a minute, then stood still for one: a gross leak, or a vent."""
    run = log.pressure[begin:end]
    if begin == 0 or log.time[end - 1] - log.time[begin] < LASTING or float(np.ptp(run)) > step or (
            run[0] < SUDDEN_FROM):
        return False
    just_before = log.pressure[np.searchsorted(log.time, log.time[begin] - LASTING) : begin]
    lowest = np.min(just_before, where=np.isfinite(just_before), initial=np.inf)
    return bool(run[0] > SUDDEN * lowest)


@dataclass(frozen=True, slots=True)
class Bottom:
    """The bottom of a gauge's range in a stretch of a log."""

    pressure: float  # the gauge's lowest number, a bound from above [Pa]
    share: float  # share of the stretch's readings that stand there [-]


def bottom_of_range(log: PressureLog, start: float, end: float) -> Bottom | None:
    """Return the bottom of the gauge's range where a stretch stands at it.

    That is the log's lowest number, where a tenth of the stretch stands on it. A pressure that stands still looks the
    same, so more must be seen. The number is as low as gauges end, and the stretch stands on it for a minute without a
    change. Or it stands there nearly all through, and the pull stopped there at full speed, the number is about as low
    as gauges end, or it shows nothing else for so many readings that a gauge which reads would have stirred.

    Parameters
    ----------
    log : PressureLog
        The log.
    start, end : float
        The stretch. [s]

    Returns
    -------
    Bottom or None
        ``None`` where the gauge reads, or may, and for zero, which no gauge reads rightly.
    """
    is_known = np.isfinite(log.pressure)
    inside = log.within(start, end) & is_known
    held, known = log.pressure[inside], log.pressure[is_known]
    if len(held) < FEWEST_AT_BOTTOM:
        return None
    lowest, near = float(np.min(known)), 0.5 * median(log.step[inside])
    share = float(np.mean(held <= lowest + near))
    if lowest <= 0.0 or lowest == float(np.max(known)) or share < SOME_AT_BOTTOM:
        return None
    if share >= AT_BOTTOM:
        never_changes = len(held) >= FEWEST_UNCHANGED and float(np.ptp(held)) == 0.0
        is_bottom = never_changes or lowest <= LOW_BOTTOM or _stops_falling(log, lowest, near)
    else:
        time = log.time[inside]
        stays = any(time[last - 1] - time[first] >= LASTING for first, last in _runs_of(held == lowest))
        is_bottom = stays and lowest <= BOTTOMS
    return Bottom(lowest, share) if is_bottom else None


def _stops_falling(log: PressureLog, lowest: float, near: float) -> bool:
    """Return whether a fall ended at full speed: on its way to the pump's limit it slows down."""
    pressure = np.where(np.isfinite(log.pressure), log.pressure, np.inf)
    reached = int(np.argmax(pressure <= lowest + near))
    after, before = pressure[reached : reached + FEWEST_AT_BOTTOM], pressure[max(reached - 3, 0) : reached]
    before = before[np.isfinite(before)]
    stops = len(before) > 0 and float(np.max(before)) - lowest > FAST_STEPS * 2.0 * near
    return stops and bool(np.all(after <= lowest + near))


def _stops(values: FloatArray, begin: int, end: int, step: float) -> bool:
    """Return whether a steady rise stops at once where a run begins."""
    last = begin - 1
    size = 4
    while last - 2 * size >= 0 and 2 * size <= end - begin:
        rise = values[last] - values[last - size]
        earlier = values[last - size] - values[last - 2 * size]
        if rise >= CLEAR * step:
            further = values[begin + 2 * size - 1] - values[begin]
            return bool(STEADY[0] * rise <= earlier <= STEADY[1] * rise and further <= STOPPED * 2.0 * rise)
        size *= 2
    return False


def _left_behind(log: PressureLog, begin: int, end: int, step: float) -> bool:
    """Return whether a gauge that rose with this one goes on rising while this one stays."""
    size = end - begin
    earlier = log.pressure[max(begin - size, 0) : begin]
    earlier = earlier[np.isfinite(earlier)]
    if len(earlier) == 0 or log.pressure[begin] - float(earlier.min()) <= CLEAR * step:
        return False
    quarter = max(size // 4, 1)
    for other in log.other_gauges.values():
        first, last = other[begin : begin + quarter], other[end - quarter : end]
        first, last = first[np.isfinite(first)], last[np.isfinite(last)]
        if len(first) and len(last) and median(last) > LEFT_BEHIND * max(median(first), 0.0):
            return True
    return False


def _is_limit(top: float, unit: str) -> bool:
    """Return whether a pressure is a number at which a display ends: all nines, or round, in one of the log's units."""
    for name in unit.split(", "):
        shown = f"{top / pascals(name):.6g}"
        digits = shown.replace(".", "").strip("0") if "e" not in shown else ""
        if digits and (len(digits) == 1 or digits in {"12", "15", "25"} or digits.strip("9") == ""):
            return True
    return False
