"""All benchmarks by one command: `python -m tests.benchmarks` prints one row for each goal of speed."""

from __future__ import annotations

import argparse
import os
import sys
from importlib import import_module

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

# Modules of this folder; each has `rows(rounds)`, which measures and returns its rows of the table.
BENCHMARKS = ("reading", "whole", "fitting", "phases", "starting", "auditing")


def main() -> int:
    """Run the benchmarks and print their table; 1 where a goal is missed."""
    from .measuring import Row, table

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("only", nargs="*", choices=[*BENCHMARKS, []], help="these alone")
    parser.add_argument("--rounds", type=int, default=5, help="measurements of each, of which the median counts")
    options = parser.parse_args()
    rows: list[Row] = []
    for name in options.only or BENCHMARKS:
        print(f"measuring {name} ...", file=sys.stderr)
        rows += import_module(f".{name}", __package__).rows(options.rounds)
    print(table(rows))
    return 0 if all(row.is_met for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
