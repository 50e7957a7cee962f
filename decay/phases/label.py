"""What each rise and fall of a log is called, and where one phase hands over to the next."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from decay.phases.edges import EQUALISING, closing, inflow, later_closing
from decay.phases.evidence import blurred, is_rise_seen, slow_rise, told_within
from decay.phases.flat import NOT_TOLD, FlatEnd, flat_end
from decay.phases.phase import Kind
from decay.phases.readings import LEAST_HELD, Readings
from decay.phases.runs import Run
from decay.phases.steps import steps

# Above this a log stands at atmosphere or on its way there. [Pa]
NEAR_ATMOSPHERE = 5e4
# A first rise to this pressure that then stands was let in, whatever came before. [Pa]
LET_IN = 650.0
# A fast rise that stands this long below the highest saturation pressure of a warm day may be free water. [Pa, s]
WATER_CEILING = 6e3
WATER_LASTS = 300.0
# A closing that shows only after this time is told with a remark, and after so much sought anew in the whole rise. [s]
BLURRED = 6.0
SLOW = 60.0
# So is one that rises by less than this share, and so many times what the gauge blurs.
SLIGHT = 0.8
SLIGHT_NOISE = 30.0
# Shortest hold: time and readings. [s, -]
SHORTEST = 20.0
FEWEST = 4


@dataclass(slots=True)
class Piece:
    """One phase in the making: kind, last reading, remark."""

    kind: Kind
    last: int
    remark: str = ""


@dataclass(slots=True)
class Labels:
    """Pieces in order of time, without gaps."""

    pieces: list[Piece] = field(default_factory=list)

    def extend_to(self, kind: Kind, last: int, remark: str = "") -> None:
        """Add a piece up to a reading, and cut short what was already said beyond that reading's predecessor."""
        if last < 0 or (self.pieces and last <= self.pieces[-1].last):
            return
        previous = self.pieces[-1] if self.pieces else None
        if previous is not None and previous.kind is kind and kind is not Kind.HOLD:
            previous.last = last
            previous.remark = previous.remark or remark
            return
        self.pieces.append(Piece(kind, last, remark))


def label(readings: Readings, runs: list[Run]) -> list[Piece]:
    """Return the phases that rises and falls stand for.

    Parameters
    ----------
    readings : Readings
        The log.
    runs : list of Run
        Its rises and falls in order of time.

    Returns
    -------
    list of Piece
        Kind, last reading and remark of each phase.
    """
    labels = Labels()
    fall_from = 0
    for number, run in enumerate(runs):
        following = runs[number + 1] if number + 1 < len(runs) else None
        previous = runs[number - 1] if number else None
        if run.rises:
            _rise(readings, labels, run, previous, following, fall_from)
        else:
            fall_from = _fall(readings, labels, run, following)
    if labels.pieces:
        labels.pieces[-1].last = len(readings.time) - 1
    return labels.pieces


def fall_start(readings: Readings, run: Run) -> int:
    """Return the last reading before a fall, past the dwell at its top."""
    top = readings.smooth[run.first]
    margin = max(2.0 * readings.hysteresis[run.first], 0.03)
    below = np.flatnonzero(readings.smooth[run.first : run.last + 1] < top * np.exp(-margin))
    sure = run.first + int(below[0]) if len(below) else run.last
    if bool(readings.is_above[run.first : sure + 1].any()):
        return run.first + int(np.flatnonzero(readings.is_above[run.first : sure + 1])[-1])
    level = float(np.median(readings.pressure[max(run.first - 4, 0) : max(sure - 3, run.first) + 1]))
    quiet = readings.noise[max(run.first - 48, 0) : run.first + 1]
    noise = max(float(quiet.min()), 0.6 * float(readings.step[run.first]))
    on = np.flatnonzero(readings.pressure[run.first : sure + 1] >= level - 3.5 * noise)
    return run.first + int(on[-1]) if len(on) else run.first


def _fall(readings: Readings, labels: Labels, run: Run, following: Run | None) -> int:
    """Label a fall up to its lowest reading; return where it begins."""
    start = fall_start(readings, run)
    high = readings.pressure[run.first] >= NEAR_ATMOSPHERE
    if not labels.pieces and start > 0:
        if readings.is_above[start]:
            labels.extend_to(Kind.ATMOSPHERE, start, "above the gauge's range: when the pump started cannot be seen")
        elif high:
            labels.extend_to(Kind.ATMOSPHERE, start)
    elif labels.pieces and labels.pieces[-1].kind is not Kind.HOLD:
        labels.extend_to(labels.pieces[-1].kind, start)
    if following is None or not following.rises:
        end = flat_end(readings, start, run.last, run.last)
        _flat_hold(labels, end, run.last, "")
        if end is None:
            labels.extend_to(Kind.PUMPDOWN, run.last)
    return start


def _flat_hold(labels: Labels, end: FlatEnd | None, last: int, why: str) -> None:
    if end is None:
        return
    labels.extend_to(Kind.PUMPDOWN, end.index - 1)
    remark = _joined(end.remark, why)
    labels.extend_to(end.kind, last, remark)


def _rise(
    readings: Readings, labels: Labels, run: Run, previous: Run | None, following: Run | None, fall_from: int
) -> None:
    """Label a rise: a hold, what was let in after it, or both."""
    let_in = Kind.SWEEP if following is not None and not following.rises else Kind.VENT
    if readings.pressure[run.first] >= NEAR_ATMOSPHERE and not readings.is_above[run.first]:
        labels.extend_to(Kind.ATMOSPHERE, run.last)
        return
    reach, blur, is_blurred = run.last, 0.0, False
    above = np.flatnonzero(readings.is_above[run.first : run.last + 1])
    if len(above):
        reach = run.first + int(above[0]) - 1
    end = inflow(readings, run.first, run.last)
    end_of_quiet = reach if end is None else min(end, reach)
    if previous is None:
        first = run.first
        if end_of_quiet > 8:
            first, corner = closing(readings, 0, run.first, end_of_quiet)
            # Only a flat or falling stretch before the rise shows the closing; else the log starts in the hold.
            after = max(corner.slope_after + corner.jump / EQUALISING, 0.0)
            if first < FEWEST or readings.time[first] < SHORTEST or corner.slope_before > 0.2 * after:
                first = 0
            labels.extend_to(Kind.PUMPDOWN, first - 1, "the log starts under pumping")
    else:
        low = run.first
        rose = end is not None and readings.smooth[end] > readings.smooth[low] * (1 + 2 * readings.hysteresis[low])
        if end is not None and not rose and not _is_let_in_at_once(readings, end, run.last, following):
            # Nothing rose before, and what rises goes on as a source does: the valve closed here.
            low, end_of_quiet = end, reach
        first, corner = closing(readings, fall_from, low, end_of_quiet)
        blur = blurred(readings, min(first, run.last), corner)
        # A jump down may be the system settling: no remark rests on it, but the corner is not given up for it.
        is_blurred = blur > SLOW and corner.jump >= 0.0
    first = min(first, run.last)
    if end is None or readings.time[end] - readings.time[first] < EQUALISING or end - first < FEWEST:
        # What rises straight after the closing is rig and system equalising, or a source that starts fast.
        end = inflow(readings, first, run.last)
    quiet = reach if end is None else min(end, reach)
    if _is_let_in_at_once(readings, first, run.last if end is None else quiet, following):
        labels.extend_to(Kind.PUMPDOWN, first)
        labels.extend_to(let_in, run.last)
        return
    bend = later_closing(readings, first, quiet) if previous is not None else None
    crept = "" if bend is None else "the slower rise before it was taken for pumping"
    first = first if bend is None else bend
    if previous is not None and bend is None:
        slow = slow_rise(readings, fall_from, quiet) if _is_slight(readings, first, quiet) else None
        if slow is not None and slow.index > first and not is_rise_seen(readings, first, slow.index):
            # No rise between the two. A corner earlier than any likely closing is the end of the steep fall; and a
            # gauge that wanders makes corners of its own.
            apart = float(readings.time[slow.index] - readings.time[first])
            is_wandering = readings.wander > 0.8 * readings.spread(first) and apart > 1.5 * SLOW
            if apart > slow.earlier or is_blurred or is_wandering:
                first, blur = slow.index, slow.earlier
        if blur > max(BLURRED, 2.0 * readings.sampling):
            crept = told_within(blur)
    rose = readings.smooth[quiet] / readings.smooth[first] - 1.0 > readings.hysteresis[first]
    if previous is not None and end is not None and not rose:
        flat = flat_end(readings, fall_from, run.first, quiet)
        if flat is None:
            labels.extend_to(Kind.PUMPDOWN, quiet)
        else:
            _flat_hold(labels, flat, quiet, "ended by gas let in")
        labels.extend_to(let_in, run.last)
        return
    if quiet - first < FEWEST or readings.time[quiet] - readings.time[first] < SHORTEST:
        kind = Kind.UNCLEAR
        if readings.pressure[run.last] > 2.0 * readings.pressure[first]:
            kind = let_in
        elif previous is not None and following is not None:
            kind = Kind.PUMPDOWN
        labels.extend_to(Kind.PUMPDOWN, first)
        labels.extend_to(kind, run.last, "too short to be told" if kind is Kind.UNCLEAR else "")
        return
    if (previous is not None or following is not None) and not is_rise_seen(readings, first, quiet):
        # What is flat between two falls was pumped; before the first fall, or at the end, nothing tells.
        kind = Kind.UNCLEAR if previous is None or following is None else Kind.PUMPDOWN
        labels.extend_to(Kind.PUMPDOWN, first - 1)
        labels.extend_to(kind, quiet, NOT_TOLD if kind is Kind.UNCLEAR else "")
        labels.extend_to(let_in if end is not None else kind, run.last)
        return
    labels.extend_to(Kind.PUMPDOWN, first - 1)
    if end is not None:
        _hold(readings, labels, first, quiet, run, _joined(crept, "ended by gas let in"))
        labels.extend_to(let_in, run.last)
    elif len(above):
        _hold(readings, labels, first, quiet, run, _joined(crept, "runs off the gauge's range"))
        labels.extend_to(Kind.UNCLEAR, run.last, "above the gauge's range")
    else:
        last = run.last
        remark = ""
        if following is not None:
            start = fall_start(readings, following)
            last = max(start, first)
            remark = "ended by pumping"
        _hold(readings, labels, first, last, run, _joined(crept, remark))


def _is_slight(readings: Readings, first: int, last: int) -> bool:
    """Tell whether a rise is so slight, against its level and the gauge's noise, that its corner may lie anywhere."""
    rose = float(readings.smooth[last] - readings.smooth[first])
    blur = max(readings.wander, readings.spread(first), float(readings.step[first]))
    return rose < SLIGHT * readings.smooth[first] and rose < SLIGHT_NOISE * blur


def _joined(*texts: str) -> str:
    return "; ".join(text for text in texts if text)


def _is_let_in_at_once(readings: Readings, first: int, last: int, following: Run | None) -> bool:
    """Tell whether gas was let in straight after pumping, so that there was no hold."""
    time, pressure = readings.time, readings.pressure
    if pressure[last] < max(2.0 * pressure[first], LET_IN + pressure[first]):
        return False
    if first == 0 and following is None:
        return False
    duration = time[last] - time[first]
    if pressure[last] < WATER_CEILING and duration > WATER_LASTS:
        return False
    if duration < SHORTEST or last - first < FEWEST:
        return True
    early = min(int(np.searchsorted(time, time[first] + EQUALISING)), last)
    early = max(early, min(first + 2, last))
    height = pressure[early] - pressure[first]
    if height < LET_IN:
        return False
    if readings.is_above[early]:
        return bool(duration < 2 * EQUALISING) or bool(time[early] - time[first] <= EQUALISING)
    early_rate = height / (time[early] - time[first])
    late_rate = (pressure[last] - pressure[early]) / max(time[last] - time[early], 1e-9) if last > early else 0.0
    return bool(late_rate < 0.1 * early_rate)


def _hold(readings: Readings, labels: Labels, first: int, last: int, run: Run, remark: str) -> None:
    """Add a hold, cut at the steps in it that stay."""
    here = first
    for step in steps(readings, first, last):
        if step.before - here < FEWEST or last - step.after < FEWEST:
            continue
        direction = "up" if step.height > 0 else "down"
        labels.extend_to(Kind.HOLD, step.before, f"a sudden step {direction} that stayed ended it: valve disturbed?")
        if step.after - 1 > step.before:
            labels.extend_to(Kind.UNCLEAR, step.after - 1, "a sudden step")
        here = step.after
        remark = f"begins after a sudden step {direction}" + (f"; {remark}" if remark else "")
    texts = [run.remark, remark]
    if float(np.median(readings.smooth[here : last + 1])) < LEAST_HELD:
        texts.append("below one micron for the most part: no isolated system that this judgement is made for")
        labels.extend_to(Kind.UNCLEAR, last, _joined(*texts))
        return
    labels.extend_to(Kind.HOLD, last, _joined(*texts))
