"""Puts mutated logs through the whole program and holds every answer against the laws that all answers obey."""

from __future__ import annotations

import io
import random
import signal
import time
import traceback
import warnings
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from decay.analysis import Analysis
from decay.errors import DecayError
from decay.judge.finding import Result
from decay.log import PressureLog, ReadOptions, read_log
from decay.pipeline import Ahead, analyze_log
from decay.report.detail import summary
from decay.report.document import document, dumps
from decay.system import System
from tests.faults.mutations import mutated
from tests.faults.run import Hang, wrong_with
from tests.faults.sheets import Table, whole_table
from tests.faults.writing import misread, written

LONGEST = 2.0
"""Processor time for one log. [s]"""
OPENED = 5066.0
"""From a twentieth of an atmosphere on, a sudden rise at the end is gas let in. [Pa]"""
SUDDEN = 120.0
"""Time in which gas is let in. [s]"""
SUDDEN_ROWS = 6
SOUND = 4
"""One log in so many is sound and only written in an unusual way: its readings are known."""
AHEAD = 8
"""One log in so many also gets its odds of a leak and the tests that would settle it: most of the time goes there."""
SAME = 1e-6
"""Share by which two intervals of the same readings may differ."""


@dataclass
class Tally:
    """What came of a run: logs judged, refused and the faults, each with the log's text."""

    judged: int = 0
    refused: int = 0
    results: Counter[str] = field(default_factory=Counter)
    faults: list[tuple[str, bytes]] = field(default_factory=list)
    slowest: float = 0.0
    slowest_number: int = 0


def run(numbers: range, seed: int) -> Tally:
    """Judge the mutated logs with these numbers; the same numbers and seed make the same logs."""
    tally = Tally()
    signal.signal(signal.SIGVTALRM, _stop)
    for number in numbers:
        rng = random.Random(f"structure {seed} {number}")
        table = whole_table(rng)
        is_sound = number % SOUND == 0
        data, done = written(table, rng) if is_sound else (b"", mutated(table, rng))
        lines = [] if is_sound else table.lines()
        data = data or _bytes(lines)
        signal.setitimer(signal.ITIMER_VIRTUAL, 10 * LONGEST)
        before = time.process_time()
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                looks_ahead = number % AHEAD == 1
                fault = _judge_sound(data, table, tally) if is_sound else _judge(lines, rng, tally, looks_ahead)
        except Hang:
            fault = "hang"
        except Exception as error:
            where = [f for f in traceback.extract_tb(error.__traceback__) if "/decay/" in f.filename][-1:]
            place = "".join(f"{f.filename.rpartition('/decay/')[2]}:{f.lineno}" for f in where)
            fault = f"{type(error).__name__} in {place}: {error}"[:200]
        finally:
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        taken = time.process_time() - before
        if taken > tally.slowest:
            tally.slowest, tally.slowest_number = taken, number
        if fault is None and taken > 2 * LONGEST:  # a log is judged twice
            fault = f"{taken:.1f} s"
        if fault is not None:
            tally.faults.append((f"{number}: {fault} after {', '.join(done)}", data))
    return tally


def _judge_sound(data: bytes, table: Table, tally: Tally) -> str | None:
    """Return what is wrong with the way a sound log is read and judged, however it is written, or ``None``."""
    analysis = _analysis(data, looks_ahead=False)
    if analysis is None:
        tally.refused += 1
        return None
    tally.judged += 1
    tally.results[analysis.verdict.result.value] += 1
    return wrong_with(analysis.log) or misread(analysis.log, table) or wrong_answer(analysis)


def _judge(lines: list[str], rng: random.Random, tally: Tally, looks_ahead: bool) -> str | None:
    """Return what is wrong with the way a log is judged, or ``None``."""
    analysis = _analysis(_bytes(lines), looks_ahead)
    if analysis is None:
        tally.refused += 1
        return None
    tally.judged += 1
    tally.results[analysis.verdict.result.value] += 1
    fault = wrong_with(analysis.log) or wrong_answer(analysis)
    if fault is not None or rng.random() > 0.25:
        return fault
    again = _analysis(_bytes(with_rows_that_say_nothing(lines, rng)), looks_ahead)
    return None if again is None else _differs(analysis, again)


def _analysis(data: bytes, looks_ahead: bool) -> Analysis | None:
    """Return the answer about a log, and everything written of it; ``None`` where it is refused."""
    try:
        log = read_log(io.BytesIO(data), ReadOptions())
        told = System(ambient=296.0, ambient_spread=5.0)
        analysis = analyze_log(log, told, ahead=Ahead.TESTS if looks_ahead else Ahead.NOTHING)
    except DecayError:
        return None
    dumps(document(analysis))
    text = summary(analysis, verbose=True)
    if any(ord(c) < 32 and c != "\n" for c in text):
        raise AssertionError("a control character in the summary")
    return analysis


def _bytes(lines: list[str]) -> bytes:
    return ("\n".join(lines) + "\n").encode("utf-8", "surrogatepass")


def wrong_answer(analysis: Analysis) -> str | None:
    """Return the law that an answer breaks, or ``None``."""
    verdict, basis = analysis.verdict, analysis.basis
    intervals = [basis.leak, *(hold.fit.leak for hold in analysis.holds), *(h.fit.outgassing for h in analysis.holds)]
    for interval in intervals:
        if interval is not None and not interval.low <= interval.value <= interval.high:
            return "an interval does not hold its value"
    if not verdict.reasons:
        return "a verdict without a reason"
    if verdict.result is not Result.PASS:
        return None
    if verdict.criterion.met is not True or basis.leak is None or basis.detection_limit is None:
        return "a pass without practice met, leak and limit"
    if not np.isfinite(basis.leak.high) or not np.isfinite(basis.detection_limit):
        return "a pass without a bound"
    line = verdict.criterion.limit
    if line is not None and ends_above(analysis.log, line):
        return "a pass of a log that ends above its line"
    return None


def ends_above(log: PressureLog, line: float) -> bool:
    """Tell whether a log ends above a line without gas being let in suddenly."""
    pressure = np.where(log.is_over_range, np.inf, log.pressure)
    end = np.median(pressure[-3:])
    if not end > line:
        return False
    below = np.flatnonzero(pressure[:-3] <= line)  # the end itself may have been pulled down to it again
    if not len(below):
        return True
    last = int(below[-1])
    soon = (log.time > log.time[last]) & (log.time <= log.time[last] + SUDDEN)
    soon[last + 1 : last + 1 + SUDDEN_ROWS] = True
    return not bool((pressure[soon] >= OPENED).any())


def with_rows_that_say_nothing(lines: list[str], rng: random.Random) -> list[str]:
    """Return a log with blank lines, comments or rows that are there twice."""
    kind = rng.choice(("blank", "comment", "twice"))
    out = list(lines)
    for _ in range(rng.choice((1, 3, 10))):
        at = rng.randrange(1, len(out) + 1)
        if kind == "twice" and at < 3:
            continue
        out.insert(at, {"blank": "", "comment": "# nothing", "twice": out[at - 1]}[kind])
    return out


def _differs(one: Analysis, other: Analysis) -> str | None:
    """Return what differs between two answers to the same readings, or ``None``."""
    if len(one.log.time) != len(other.log.time):
        # Where even the rows are read otherwise the clock has no order of its own: that is the reader's to note.
        return None if one.log.notes or other.log.notes else "rows that say nothing change the readings"
    if (one.verdict.result, one.verdict.cause) != (other.verdict.result, other.verdict.cause):
        return f"rows that say nothing turn {one.verdict.result.value} into {other.verdict.result.value}"
    a, b = one.basis.leak, other.basis.leak
    if (a is None) != (b is None):
        return "rows that say nothing change whether there is an interval"
    if a is not None and b is not None and not np.allclose((a.low, a.high), (b.low, b.high), rtol=SAME, atol=1e-12):
        return "rows that say nothing change the interval"
    return None


def _stop(*_: object) -> None:
    raise Hang
