"""Rises and falls of a log, cleaned of what neither is: spikes that go back, stalls, wandering."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from decay.phases.readings import Readings
from decay.phases.search import turning_points

# A turn must exceed so many standard deviations of the slow wandering, beside noise and step.
TURN_WANDER = 4.0
# A spike goes back to its curve within this time. [s]
SPIKE = 45.0
# A rise inside a pull below this share, with a further fall to this share after it, is a stall.
STALL_RISE = 0.06
STALL_FALL = 0.75
# A smaller rise inside a pull is wandering unless what follows takes it away within this time. [-, s]
WANDER = 0.5
SETTLED = 60.0
FALL_SEEN = 0.35
FALL_CLEAR = 10.0
# Median absolute second difference to standard deviation of a difference: 1.4826 / sqrt(6) * sqrt(2).
WANDER_ERROR = 0.856
# A fall after a hold is pumping where it takes away this share of the rise, so many times faster than it came.
FALL_SHARE = 0.5
FALL_FASTER = 3.0
# A drop in a hold no longer than this is a step. [s]
STEP_LASTS = 12.0


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch that rises or falls: first and last reading, direction, what was found in it."""

    first: int
    last: int
    rises: bool
    remark: str = ""


def find_runs(readings: Readings) -> list[Run]:
    """Return the rises and falls of a log in order of time.

    Parameters
    ----------
    readings : Readings
        The log.

    Returns
    -------
    list of Run
        From the first reading to the last; neighbours share their turning point.
    """
    values = np.log(readings.smooth)
    # Slow wandering makes no turn, however long it is watched.
    turns = turning_points(values, readings.hysteresis + TURN_WANDER * readings.wander / readings.smooth)
    remarks: dict[int, str] = {}
    changed = True
    while changed and len(turns) > 2:
        changed = False
        for j in range(1, len(turns) - 1):
            reason = _spurious(readings, values, turns, j)
            if reason is None:
                continue
            note, gone = reason
            if note:
                remarks[turns[j]] = note
            turns = [turn for k, turn in enumerate(turns) if k not in gone]
            changed = True
            break
    runs = []
    for first, last in pairwise(turns):
        notes = [text for at, text in sorted(remarks.items()) if first <= at <= last]
        runs.append(Run(first, last, bool(values[last] > values[first]), "; ".join(dict.fromkeys(notes))))
    return _joined(runs)


def _joined(runs: list[Run]) -> list[Run]:
    joined: list[Run] = []
    for run in runs:
        if joined and joined[-1].rises == run.rises:
            old = joined[-1]
            remark = "; ".join(text for text in (old.remark, run.remark) if text)
            joined[-1] = Run(old.first, run.last, run.rises, remark)
        else:
            joined.append(run)
    return joined


def _spurious(readings: Readings, values: np.ndarray, turns: list[int], j: int) -> tuple[str, tuple[int, ...]] | None:
    """Tell whether the turn ``j`` belongs to something that is neither rise nor fall, and which turns go with it."""
    time = readings.time
    before, at = turns[j - 1], turns[j]
    after = turns[j + 1]
    if j + 2 >= len(turns):
        return _last_fall(readings, values, before, at, after, j)
    beyond = turns[j + 2]
    up_first = values[at] > values[before]
    height = abs(values[at] - values[after])
    duration = time[after] - time[at]
    few = readings.readings_in(SPIKE, 4)
    if j == 1 and up_first and values[at] - values[before] < STALL_RISE and time[at] - time[before] <= SETTLED:
        # The first readings of a log that starts in a fall.
        return "", (j,)
    if up_first and values[beyond] > values[after]:
        # Up, back, up: a spike where the way back ends on the curve that the spike left.
        left = np.flatnonzero(values[before : at + 1] <= values[after])
        leaving = before + (int(left[-1]) if len(left) else 0)
        short = after - leaving <= few and time[at] - time[leaving] <= SPIKE
        if short and height < np.log(3.0) and leaving > before:
            return "a short spike in it returned to the curve", (j, j + 1)
        rose = max(values[at] - values[before], 1e-12)
        slow = height / max(duration, 1e-9) < FALL_FASTER * rose / max(time[at] - time[before], 1e-9)
        if slow and height < FALL_SHARE * rose:
            return "it falls for a while", (j, j + 1)
        if duration <= STEP_LASTS and height < FALL_SHARE * rose:
            return "", (j, j + 1)
    if not up_first and values[beyond] < values[after]:
        # Down, up, down: a stall or a burst inside a pull where the rise is small or short and the fall goes on.
        if height < STALL_RISE and values[beyond] < values[at] + np.log(STALL_FALL):
            return "", (j, j + 1)
        if height < WANDER and _is_slow(readings, at, after, beyond):
            return "", (j, j + 1)
        if duration < 20.0 and height < STALL_RISE * 3 and values[beyond] < values[at]:
            return "", (j, j + 1)
    return None


def _is_slow(readings: Readings, low: int, high: int, beyond: int) -> bool:
    """Tell whether a fall after a small rise is no faster than the rise: wandering, not pumping."""
    width = readings.readings_in(SETTLED, 8)
    pressure, smooth = readings.pressure, readings.smooth
    bottom = float(np.mean(pressure[max(low - width // 2, 0) : low + width // 2 + 1]))
    # The highest reading may lie anywhere on a flat top: the fall is where two fifths of the rise are gone.
    gone = np.flatnonzero(smooth[high : beyond + 1] < smooth[high] - 0.4 * (smooth[high] - smooth[low]))
    high = high + (int(gone[0]) if len(gone) else beyond - high)
    top = float(np.mean(pressure[max(high - width, low) : high - 1])) if high - 1 > low else float(smooth[high])
    after = high + width // 2
    later = pressure[after : after + width]
    if not len(later):
        return False
    drop, rise = top - float(np.mean(later)), top - bottom
    error = readings.spread(high) * (2.0 / width) ** 0.5
    blocks = (high - low) // width
    if blocks >= 6:
        # Slow wandering does not average out: take it from the bends between means of neighbouring stretches.
        means = pressure[low : low + blocks * width].reshape(blocks, width).mean(axis=1)
        error = max(error, float(np.median(np.abs(np.diff(means, n=2)))) * WANDER_ERROR)
    time = readings.time
    fell_in = float(time[min(after + width, len(time) - 1)] + time[after]) / 2 - float(time[high])
    rate = drop / max(fell_in, 1e-9)
    rose_at = rise / max(float(time[high] - time[low]), 1e-9)
    return drop < FALL_SEEN * rise or rate < FALL_FASTER * rose_at or drop < FALL_CLEAR * error


def _last_fall(
    readings: Readings, values: np.ndarray, before: int, at: int, after: int, j: int
) -> tuple[str, tuple[int, ...]] | None:
    """Tell whether the log's last fall is only the end of a hold that falls by itself."""
    rose = values[at] - values[before]
    if rose <= 0:
        return None
    fell = values[at] - values[after]
    slow = fell / max(readings.time[after] - readings.time[at], 1e-9) < FALL_FASTER * rose / max(
        readings.time[at] - readings.time[before], 1e-9
    )
    if slow and fell < FALL_SHARE * rose:
        return "it falls at its end", (j,)
    return None
