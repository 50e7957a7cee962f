"""Several logs at once: one row a log with result, reason, leak and hold."""

from __future__ import annotations

import os
from collections.abc import Sequence

from decay import wording
from decay.analysis import Analysis
from decay.judge.finding import Result
from decay.report.answers import reason_in_words
from decay.report.summary import STYLES
from decay.wording.lines import finished, wrapped

LONGEST_NAME = 22
"""Columns of a log's name; a longer one is cut in its middle. [characters]"""
WIDE_ENOUGH = 80
"""From this width on a row fits in a table; below it each log takes two lines. [characters]"""
HEADS = ("log", "result", "hold", "micron/min", "reason")


def table(analyses: Sequence[Analysis], *, ascii_only: bool = False, color: bool = False, width: int = 80) -> str:
    """Return several analyses as a table.

    Parameters
    ----------
    analyses : sequence of Analysis
        The answers, one a log.
    ascii_only : bool
        Plain ASCII.
    color : bool
        Colour the worst result's line with ANSI sequences.
    width : int
        Longest line. [characters]

    Returns
    -------
    str
        One row a log, what does not fit wrapped under its reason; how many ended how; and how to see more.
    """
    rows = [_row(analysis) for analysis in analyses]
    lines = _wide(rows, width) if width >= WIDE_ENOUGH else _narrow(rows, width)
    counts = [(result, sum(a.verdict.result is result for a in analyses))
              for result in (Result.FAIL, Result.INCONCLUSIVE, Result.PASS)]
    told = ", ".join(f"{count} {result.value}" for result, count in counts if count)
    lines += ["", *wrapped(f"{len(analyses)} logs: {told}. Everything about each: --detail, or one log alone.", width)]
    worst = next((result for result, count in counts if count), Result.PASS)
    lines.append(f"VERDICT: {worst.value.upper()}")
    return finished(lines, ascii_only=ascii_only, color=STYLES[worst] if color else "", coloured=(-1,))


def _row(analysis: Analysis) -> tuple[str, str, str, str, str]:
    basis = analysis.basis
    hold = "none" if analysis.decisive is None else wording.duration(analysis.holds[analysis.decisive].fit.duration)
    leak = "-"
    if basis.leak is not None:
        _, low, high = wording.span(basis.leak, wording.MICRON_PER_MINUTE)
        leak = f"{low} to {high}"
    name = _short(os.path.basename(analysis.log.source) or "-")
    return name, analysis.verdict.result.value.upper(), hold, leak, reason_in_words(analysis)


def _short(name: str) -> str:
    if len(name) <= LONGEST_NAME:
        return name
    half = (LONGEST_NAME - 3) // 2
    return f"{name[:LONGEST_NAME - 3 - half]}...{name[-half:]}"


def _wide(rows: Sequence[tuple[str, ...]], width: int) -> list[str]:
    columns = [max(len(row[i]) for row in (HEADS, *rows)) for i in range(4)]
    room = width - sum(columns) - 2 * len(columns)
    if room < 20:
        return _narrow(rows, width)
    lines = []
    for row in (HEADS, *rows):
        first = "".join(cell.ljust(column + 2) for cell, column in zip(row, columns, strict=False))
        lines += wrapped(row[4], width, first, " " * len(first)) or [first.rstrip()]
    return lines


def _narrow(rows: Sequence[tuple[str, ...]], width: int) -> list[str]:
    lines = []
    for name, result, hold, leak, reason in rows:
        lines += wrapped(f"{result}  {name}: {reason}", width, hanging="  ")
        told = "" if leak == "-" else f"; leak {leak} micron/min"
        lines += wrapped(f"hold {hold}{told}", width, "  ", "  ")
    return lines
