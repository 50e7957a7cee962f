"""Reads damaged logs, and counts what must not happen: tracebacks, hangs, rows that vanish, memory that grows."""

from __future__ import annotations

import random
import resource
import signal
import time
import traceback
import warnings
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from decay.errors import LogError
from decay.log import PressureLog, ReadOptions
from decay.log.quality import inspect
from tests.faults import ways
from tests.faults.damage import damaged
from tests.faults.seeds import whole_logs

LONGEST = 2.0  # s of processor time for one file
MOST_MEMORY = 300 << 20  # bytes by which one file of at most 200 kB may raise the peak


@dataclass
class Tally:
    """What came of a run: how many files were read, refused, read the fast way; the faults; the slowest file. [s]"""

    read: int = 0
    refused: int = 0
    fast: int = 0
    faults: list[tuple[str, bytes]] = field(default_factory=list)
    reasons: Counter[str] = field(default_factory=Counter)
    slowest: float = 0.0
    slowest_number: int = 0


class Hang(BaseException):
    """The limit of time has passed; not an Exception, so that no handler swallows it."""


def run(numbers: range, seed: int) -> Tally:
    """Read the damaged logs with these numbers; the same numbers and seed make the same logs."""
    logs = whole_logs()
    tally = Tally()
    signal.signal(signal.SIGVTALRM, _stop)
    warnings.simplefilter("error")
    for number in numbers:
        rng = random.Random(f"{seed} {number}")
        data = damaged(rng, logs)
        options = _options(rng)
        before, peak = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        signal.setitimer(signal.ITIMER_VIRTUAL, 5 * LONGEST)
        try:
            fault = check(data, options, tally)
        except Hang:
            fault = "hang"
        except Exception as error:
            where = traceback.extract_tb(error.__traceback__)[-1]
            fault = f"{type(error).__name__} in {where.filename.rpartition('/')[2]}:{where.lineno}: {error}"[:200]
        finally:
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        taken = time.process_time() - before
        grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - peak
        if taken > tally.slowest:
            tally.slowest, tally.slowest_number = taken, number
        if fault is None and taken > LONGEST:
            fault = f"{taken:.1f} s"
        if fault is None and grown * 1024 > MOST_MEMORY:
            fault = f"memory grew by {grown >> 10} MiB"
        if fault is not None:
            tally.faults.append((f"{number}: {fault} {options}", data))
    return tally


def check(data: bytes, options: ReadOptions, tally: Tally) -> str | None:
    """Return what is wrong with the way a log is read, or ``None``."""
    answer, was_fast = ways.read_counting(data, options)
    if was_fast:
        tally.fast += 1
        found = ways.difference(answer, ways.read_by_pandas(data, options))
        if found is not None:
            return f"two ways to read differ: {found}"
    if isinstance(answer, LogError):
        tally.refused += 1
        tally.reasons[answer.found.partition('"')[0][:40]] += 1
        whole = answer.found and answer.expected and answer.remedy and len(str(answer)) < 6000
        return None if whole else f"half a message: {str(answer)[:80]}"
    tally.read += 1
    inspect(answer)
    return wrong_with(answer)


def wrong_with(log: PressureLog) -> str | None:
    """Return what contradicts itself in a log that was read, or ``None``."""
    if sum(note.rows for note in log.notes) != log.rows - len(log.time):
        return "rows are not accounted for"
    if not np.isfinite(log.time).all() or log.time[0] < 0:
        return "a time is not finite or before the start"
    if not bool(np.all(np.isfinite(log.pressure) ^ log.is_over_range)):
        return "a reading is neither a number nor over range"
    if bool(np.any(log.pressure[~log.is_over_range] < 0)):
        return "a pressure is negative"
    if not bool(np.all(np.isfinite(log.step) & (log.step > 0))):
        return "a step is not a positive number"
    if any(len(note.text) > 1000 for note in log.notes):
        return "a note is endless"
    return None


def _options(rng: random.Random) -> ReadOptions:
    if rng.random() < 0.8:
        return ReadOptions()
    pick = rng.choice
    return ReadOptions(
        gauge=pick((None, None, "2", "3", "Pressure")), unit=pick((None, "micron", "mbar", "furlong")),
        time_column=pick((None, None, "1", "Time", "9")), time_unit=pick((None, None, "s", "5 s", "min", "0 s", "x")),
        day_first=pick((None, True, False)), over_range=pick(((), ("OL",), ("999999", "---"))),
        encoding=pick((None, None, "utf-8", "utf-16", None, None, "latin-1", "no-such")),
        delimiter=pick((None, None, ",", ";", "tab", " ", "ab")), decimal=pick((None, None, ".", ",")),
        temperature=pick((None, None, "3", "Temp")), header=pick((None, None, True, False)),
    )  # fmt: skip


def _stop(*_: object) -> None:
    raise Hang
