"""The short answer: one log in a few lines that say nothing twice, several logs in a table of one row each."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace

from decay import wording
from decay.judge.answer import Judged, Part
from decay.judge.finding import Finding, Level, Result
from decay.judge.rules.needs import closings, hold_option
from decay.report.answers import deciding_findings, opening, reason_in_words, written_in_words
from decay.wording.lines import columns, finished, wrapped

STYLES = {Result.PASS: "32;1", Result.FAIL: "31;1", Result.INCONCLUSIVE: "33;1"}
"""Colour of each result, as parameters of an ANSI sequence."""

HEADINGS = ("Next", "Why", "Keep in mind")
TOLD = frozenset(("H01", "H04", "H07", "H08", "H09", "H20", "C01", "C02", "C03", "C04", "C05", "C09", "I01", "K01",
                  "P17", "V01"))
"""Findings whose fact the headline and the two answers tell."""
ALWAYS = frozenset(("K02", "K10", "C08", "I03", "L05", "P06"))
"""Caveats that stand in nearly every answer: others matter more for one log."""
CAUTION = "S"
"""First letter of the codes of cautions."""


@dataclass(frozen=True, slots=True)
class Room:
    """How much a summary may hold."""

    lines: int  # most lines [-]
    # Most of each [-]
    reasons: int = 3
    steps: int = 3
    caveats: int = 2


def short_summary(
    analysis: Judged, *, ascii_only: bool = False, color: bool = False, width: int = 80
) -> str:
    """Return the short summary: at most 25 lines of 80 characters, or 40 of 60; the last one is the result."""
    room = Room(25 if width >= 80 else 40)
    lines = _lines(analysis, room, width)
    # What is left out is in the detail; what decides never is.
    for smaller in ({"reasons": 2}, {"caveats": 1}, {"reasons": 1}, {"steps": 2}, {"caveats": 0}, {"steps": 1}):
        if len(lines) <= room.lines:
            break
        room = replace(room, **smaller)
        lines = _lines(analysis, room, width)
    style = STYLES[analysis.verdict.result] if color else ""
    return finished(lines, ascii_only=ascii_only, color=style, coloured=(0, -1), bold=HEADINGS)


def _lines(analysis: Judged, room: Room, width: int) -> list[str]:
    verdict = analysis.verdict
    steps = [f for f in verdict.next_steps if f.code[0] != CAUTION]
    reasons = _reasons(analysis, room.reasons)
    caveats = _caveats(analysis, room.caveats)
    lines = [*opening(analysis, width, written_in_words(analysis)), ""]
    if analysis.decisive is None and analysis.basis.leak is None:
        lines += [*wrapped(ask_for_the_closing(analysis), width, hanging="  "), ""]
    shown = steps[: room.steps]
    if shown:
        lines.append("Next")
        for number, finding in enumerate(shown, 1):
            lines += _item(f"{number}.", finding, width)
    lines += _caution(verdict.next_steps, width)
    for title, findings in (("Why", reasons), ("Keep in mind", caveats)):
        if findings:
            lines.append(title)
            for finding in findings:
                lines += _item("-", finding, width, in_full=finding in reasons and finding.level >= Level.BLOCKS)
    lines += [line for f in verdict.caveats if f.code == "K01" for line in wrapped(f"{f.summary} [K01]", width)]
    lines += _more(analysis, (*shown, *reasons, *caveats), width)
    lines.append(f"VERDICT: {verdict.result.value.upper()}")
    return lines


def _item(mark: str, finding: Finding, width: int, *, in_full: bool = False) -> list[str]:
    text = finding.summary if in_full else first_sentence(finding.summary)
    return wrapped(f"{text} [{finding.code}]", width, f"  {mark} ", " " * (len(mark) + 3))


def first_sentence(text: str) -> str:
    """Return the first sentence of a text.

    Examples
    --------
    >>> first_sentence("Too short: 3.5 min. Hold again."), first_sentence("One only.")
    ('Too short: 3.5 min.', 'One only.')
    """
    first, end, _ = text.partition(". ")
    return first + end.rstrip() if end else text


def _reasons(analysis: Judged, most: int) -> list[Finding]:
    """Return the reasons to show: all that decide and that no answer tells, then the others as far as there is room."""
    decide = [f for f in deciding_findings(analysis) if f.code not in TOLD]
    others = [f for f in analysis.verdict.reasons if f.code not in TOLD and f not in decide]
    return [*decide, *others][: max(most, len(decide))]


def _caveats(analysis: Judged, most: int) -> list[Finding]:
    """Return the caveats that matter most for this log: the heavy ones of its own first."""
    shown = deciding_findings(analysis)
    heavy = [f for f in analysis.verdict.caveats if f.level > Level.NOTE and f not in shown and f.code not in TOLD]
    return sorted(heavy, key=lambda f: f.code in ALWAYS)[:most]


def _caution(steps: Sequence[Finding], width: int) -> list[str]:
    """Return one line of caution, and the codes that explain it and the others."""
    cautions = sorted((f for f in steps if f.code[0] == CAUTION), key=lambda f: f.code, reverse=True)
    if not cautions:
        return []
    first = cautions[0]
    also = "".join(f", {finding.code}" for finding in cautions[1:])
    text = f"Caution: {first.headline or first_sentence(first.summary)} [{first.code}{also}]"
    return wrapped(text, width, hanging="  ")


def _more(analysis: Judged, shown: Sequence[Finding], width: int) -> list[str]:
    """Return how many findings are left, and how to see them."""
    verdict = analysis.verdict
    left = [f for f in (*verdict.reasons, *verdict.caveats, *verdict.next_steps)
            if f not in shown and f.code not in TOLD and f.code[0] != CAUTION]
    code = next((f.code for f in (*deciding_findings(analysis), *verdict.reasons)), "H01")
    count = f"{len(left)} more remark{'s' if len(left) > 1 else ''} and every" if left else "Every"
    text = f"{count} number: --detail. What a code means: decay explain {code}"
    return wrapped(text, width, hanging="  ")


def ask_for_the_closing(analysis: Judged) -> str:
    """Return the question when the valve was closed, with the likely moments and the option that answers it."""
    told = analysis.basis.if_closed
    moments = closings(analysis.phases, told)
    if told is None and analysis.verdict.criterion.part is not Part.NO_HOLD:
        return "The hold in this log has too few readings to be judged. Point at a longer one with --hold START..END."
    if not moments:
        return "When did you close the valve? Add --hold START..END. Nothing in the log looks like a closing."
    started = analysis.log.started
    shown = [wording.moment(t, started) for t in moments]
    option = hold_option(moments, started)
    if told is not None:
        return f"When did you close the valve? If it was by then, add {option}."
    listed = f"{', '.join(shown[:-1])} or {shown[-1]}" if len(shown) > 1 else shown[0]
    return f"When did you close the valve? Add {option}. By the readings it may have been at {listed}."


LONGEST_NAME = 22
"""Columns of a log's name; a longer one is cut in its middle. [characters]"""
WIDE_ENOUGH = 80
"""From this width on a row fits in a table; below it each log takes two lines. [characters]"""


def table(analyses: Sequence[Judged], *, ascii_only: bool = False, color: bool = False, width: int = 80) -> str:
    """Return several analyses as a table: one row a log, how many ended how, and how to see more."""
    rows = [_row(analysis) for analysis in analyses]
    lines = _wide(rows, width) if width >= WIDE_ENOUGH else _narrow(rows, width)
    counts = [(result, sum(a.verdict.result is result for a in analyses))
              for result in (Result.FAIL, Result.INCONCLUSIVE, Result.PASS)]
    told = ", ".join(f"{count} {result.value}" for result, count in counts if count)
    lines += ["", *wrapped(f"{len(analyses)} logs: {told}. More about each: --detail, or one log at a time.", width)]
    worst = next((result for result, count in counts if count), Result.PASS)
    lines.append(f"VERDICT: {worst.value.upper()}")
    return finished(lines, ascii_only=ascii_only, color=STYLES[worst] if color else "", coloured=(-1,))


def _row(analysis: Judged) -> tuple[str, str, str, str, str]:
    basis = analysis.basis
    hold = "none" if analysis.decisive is None else wording.duration(analysis.holds[analysis.decisive].fit.duration)
    leak = "-"
    if basis.leak is not None:
        low, high = wording.rate_ends(basis.leak)
        leak = f"{low} to {high}"
    name = _short(os.path.basename(analysis.log.source) or "-")
    return name, analysis.verdict.result.value.upper(), hold, leak, reason_in_words(analysis)


def _short(name: str) -> str:
    if len(name) <= LONGEST_NAME:
        return name
    half = (LONGEST_NAME - 3) // 2
    return f"{name[:LONGEST_NAME - 3 - half]}...{name[-half:]}"


def _wide(rows: Sequence[tuple[str, ...]], width: int) -> list[str]:
    heads = ("log", "result", "hold", wording.rate_unit(), "reason")
    taken = sum(max(len(row[place]) for row in (heads, *rows)) + 2 for place in range(4))
    return _narrow(rows, width) if width - taken < 20 else columns((heads, *rows), width)


def _narrow(rows: Sequence[tuple[str, ...]], width: int) -> list[str]:
    lines = []
    for name, result, hold, leak, reason in rows:
        lines += wrapped(f"{result}  {name}: {reason}", width, hanging="  ")
        told = "" if leak == "-" else f"; leak {leak} {wording.rate_unit()}"
        lines += wrapped(f"hold {hold}{told}", width, "  ", "  ")
    return lines
