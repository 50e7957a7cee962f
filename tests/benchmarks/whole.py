"""From file to verdict for a log of a million rows, against pandas reading it with everything told by hand."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pandas as pd

from decay import analyze, read_log
from decay.report.plot import draw, save

from .invented_logs import evacuation, write_csv
from .measuring import Row, at_most, in_turns

ROWS = 1_000_000
FEWER = 100_000
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
            drawing=lambda: save(draw(answer), picture),
            many=lambda: analyze(many),
            fewer=lambda: analyze(fewer),
        )
    per_row = found["many"] / ROWS, found["fewer"] / FEWER
    growth = per_row[0] / per_row[1]
    return [
        at_most(f"file to verdict, {ROWS:,} rows", found["ours"], found["theirs"], 2.0, than="read_csv"),
        at_most(f"its picture alone, {ROWS:,} rows", found["drawing"], found["theirs"], 2.0, than="read_csv"),
        Row(f"judging a row of {ROWS:,} against one of {FEWER:,}", f"{per_row[0] * 1e6:.2f} µs",
            f"{per_row[1] * 1e6:.2f} µs", f"{growth:.2f} x", f"at most {SLACK:g} x", growth <= SLACK),
    ]


def _told(path: Path) -> pd.DataFrame:
    return pd.read_csv(path, sep=",", header=0, parse_dates=["Time"], date_format="%Y-%m-%dT%H:%M:%S")
