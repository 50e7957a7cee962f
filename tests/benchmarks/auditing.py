"""Many logs at once: one-hour logs a second on two cores after start-up, and memory against the number of files."""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from .invented_logs import evacuation, write_csv
from .measuring import ROOT, Row, processor_time

ROWS = 3600
FILES = 300
FEWER = 60
"""The difference of the two is what the start does not touch. [-]"""
CORES = 2
GOAL = 100.0
"""Logs a second. [1/s]"""
GROWTH = 1.05

# Judges so many files in so many processes, and prints the largest memory of this one, in KiB.
AUDIT = """
import re, sys
from pathlib import Path
from decay.audit.collect import collect
from decay.audit.run import Settings, judge_files
from decay.judge.criteria import load_criterion

if __name__ == "__main__":
    folder, count, jobs = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    for target, rows in judge_files(collect([folder])[:count], Settings(load_criterion()), jobs):
        if any(row.error for row in rows):
            sys.exit(f"{target.path} was not judged")
    # Not getrusage: its maximum is handed on by the process that started this one.
    print(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1])
"""


def rows(rounds: int) -> list[Row]:
    """Measure the processor time of a log, all processes together, and the memory of an audit in one process.

    Two cores do in a second what takes two seconds of processor time: other work on the machine leaves that alone.
    """
    with tempfile.TemporaryDirectory() as folder:
        for number in range(FILES):
            write_csv(Path(folder) / f"job{number:04d}.csv", evacuation(ROWS, seed=number))
        script = Path(folder) / "audit.py"
        script.write_text(AUDIT, encoding="utf-8")

        def audit(files: int, jobs: int) -> tuple[float, int]:
            return processor_time(
                lambda: int(subprocess.run([sys.executable, str(script), folder, str(files), str(jobs)], cwd=ROOT,
                                           check=True, capture_output=True, text=True).stdout))

        times = [audit(FILES, CORES)[0] - audit(FEWER, CORES)[0] for _ in range(min(rounds, 3))]
        few, many = (audit(files, 1)[1] for files in (FEWER, FILES))
    rate = CORES * (FILES - FEWER) / statistics.median(times)
    return [
        Row("audit of 1 h logs at 1 Hz, after start-up", f"{rate:.0f} logs/s", f"{CORES} cores", f"{rate:.0f} /s",
            f"at least {GOAL:g} /s", rate >= GOAL),
        Row(f"memory of an audit of {FILES} files against {FEWER}", f"{many / 1024:.0f} MiB",
            f"{few / 1024:.0f} MiB", f"{many / few:.3f} x", f"at most {GROWTH:g} x", many <= GROWTH * few),
    ]
