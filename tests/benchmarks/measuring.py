"""How speed is measured: rounds that take turns, their medians, and one row of the table for each goal."""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeVar

Answer = TypeVar("Answer")

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True, slots=True)
class Row:
    """One goal of speed: what was measured against what, the figure, the goal, and whether it is met."""

    what: str
    ours: str
    yardstick: str
    figure: str
    goal: str
    is_met: bool


def seconds(value: float) -> str:
    """Return a time in words."""
    return f"{value * 1e3:.3g} ms" if value < 1 else f"{value:.3g} s"


def at_most(what: str, ours: float, yardstick: float, limit: float, *, than: str = "") -> Row:
    """Return the row of a goal "no more than so many times the yardstick"."""
    ratio = ours / yardstick
    against = f"{seconds(yardstick)} {than}".strip()
    return Row(what, seconds(ours), against, f"{ratio:.2f} x", f"at most {limit:g} x", ratio <= limit)


def times_faster(what: str, ours: float, yardstick: float, limit: float, *, than: str = "") -> Row:
    """Return the row of a goal "at least so many times faster than the yardstick"."""
    ratio = yardstick / ours
    against = f"{seconds(yardstick)} {than}".strip()
    return Row(what, seconds(ours), against, f"{ratio:.0f} x faster", f"at least {limit:g} x", ratio >= limit)


def in_turns(rounds: int, **functions: Callable[[], object]) -> dict[str, float]:
    """Return the median processor time of each function, called in turns after one call that does not count. [s]

    Processor time and not the clock's: other work on the machine then weighs less, and equally on both.
    """
    found: dict[str, list[float]] = {name: [] for name in functions}
    for turn in range(rounds + 1):
        for name, function in functions.items():
            began = time.process_time()
            function()
            if turn:
                found[name].append(time.process_time() - began)
    return {name: statistics.median(times) for name, times in found.items()}


def processes_in_turns(rounds: int, cache: Path, **commands: Sequence[str]) -> dict[str, float]:
    """Return the median processor time of whole processes, started in turns after one that does not count. [s]

    Parameters
    ----------
    rounds : int
        Starts that count, of each.
    cache : Path
        Folder for compiled modules, so that all are compiled before the first start that counts.
    **commands : sequence of str
        Arguments of the interpreter.
    """
    environment = environment_for(cache)
    found: dict[str, list[float]] = {name: [] for name in commands}
    for turn in range(rounds + 1):
        for name, command in commands.items():
            start = partial(subprocess.run, [sys.executable, *command], cwd=ROOT, env=environment, check=False,
                            capture_output=True)
            took, _ = processor_time(start)
            if turn:
                found[name].append(took)
    return {name: statistics.median(times) for name, times in found.items()}


def environment_for(cache: Path) -> Mapping[str, str]:
    """Return the environment of a process that keeps its compiled modules in a folder of its own."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return environment | {"PYTHONPYCACHEPREFIX": str(cache)}


def processor_time(function: Callable[[], Answer]) -> tuple[float, Answer]:
    """Return the processor time of the processes that a function starts and waits for [s], and what it returns."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    answer = function()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, answer


def table(rows: Sequence[Row]) -> str:
    """Return the rows as text."""
    cells = [("benchmark", "decay", "yardstick", "figure", "goal", "met")]
    cells += [(r.what, r.ours, r.yardstick, r.figure, r.goal, "yes" if r.is_met else "NO") for r in rows]
    widths = [max(len(row[i]) for row in cells) for i in range(len(cells[0]))]
    return "\n".join("  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip() for row in cells)
