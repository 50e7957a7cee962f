"""From file to verdict for logs of one and of ten million rows, against pandas reading with everything told by hand."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import pandas as pd

from decay import analyze, read_log
from decay.report.plot import draw
from decay.report.plot_style import save_picture

from .invented_logs import evacuation, write_csv
from .measuring import ROOT, Row, at_most, in_turns

ROWS = 1_000_000
FEWER = 100_000
MOST = 10_000_000
GROWTH = 12.0
"""Goal of the time for ten times the rows. [-]"""
MEMORY = 800.0
"""Goal of the memory of the process, its libraries included. [MiB]"""

# Reads and judges a log, and prints the processor time [s] and the largest memory of the process [KiB].
JUDGE = """
import re, sys, time
from decay import analyze, read_log
began = time.process_time()
analyze(read_log(sys.argv[1]))
print(time.process_time() - began, re.search(r"VmHWM:\\s+(\\d+)", open("/proc/self/status").read())[1])
"""

SLACK = 1.2
"""Cost a row may grow by from the fewer rows to the many: what no longer fits the cache takes longer. [-]"""


def rows(rounds: int) -> list[Row]:
    """Measure reading with judging, the picture apart, and how the cost of judging grows."""
    many, fewer = evacuation(ROWS), evacuation(FEWER)
    answer = analyze(many)
    with tempfile.TemporaryDirectory() as folder:
        path = write_csv(Path(folder) / "million.csv", many)
        picture = Path(folder) / "million.png"
        found = in_turns(
            rounds,
            theirs=lambda: _told(path),
            ours=lambda: analyze(read_log(path)),
            drawing=lambda: save_picture(draw(answer), picture),
            many=lambda: analyze(many),
            fewer=lambda: analyze(fewer),
        )
        longest = write_csv(Path(folder) / "ten.csv", evacuation(MOST))
        turns = [(_judged(longest), _judged(path)) for _ in range(2)]
        ten = min(turn[0] for turn in turns), min(turn[1] for turn in turns)
    memory = ten[0][1] / 1024
    per_row = found["many"] / ROWS, found["fewer"] / FEWER
    growth = per_row[0] / per_row[1]
    return [
        at_most(f"file to verdict, {ROWS:,} rows", found["ours"], found["theirs"], 2.0, than="read_csv"),
        at_most(f"file to verdict, {MOST:,} rows against {ROWS:,}", ten[0][0], ten[1][0], GROWTH),
        Row(f"memory of a process that judges {MOST:,} rows", f"{memory:.0f} MiB", f"{ten[1][1] / 1024:.0f} MiB",
            f"{memory:.0f} MiB", f"at most {MEMORY:g} MiB", memory <= MEMORY),
        at_most(f"its picture alone, {ROWS:,} rows", found["drawing"], found["theirs"], 2.0, than="read_csv"),
        Row(f"judging a row of {ROWS:,} against one of {FEWER:,}", f"{per_row[0] * 1e6:.2f} µs",
            f"{per_row[1] * 1e6:.2f} µs", f"{growth:.2f} x", f"at most {SLACK:g} x", growth <= SLACK),
    ]


def _judged(path: Path) -> tuple[float, float]:
    """Return the processor time of judging a file in a process of its own [s], and its largest memory [KiB]."""
    command = [sys.executable, "-c", JUDGE, str(path)]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    taken, memory = done.stdout.split()
    return float(taken), float(memory)


def _told(path: Path) -> pd.DataFrame:
    return pd.read_csv(path, sep=",", header=0, parse_dates=["Time"], date_format="%Y-%m-%dT%H:%M:%S")
