"""The short answer of an audit on screen: counts by group, what was found how often, and what could not be read."""

from __future__ import annotations

import math

from decay.audit.manual import row_titles
from decay.audit.summary import GroupSummary, Summary
from decay.report.document_numbers import Json
from decay.report.short_summary import WIDE_ENOUGH
from decay.wording import duration
from decay.wording.lines import Block, Entry, clean, finished, numbers_in_columns, wrapped

HEADINGS = ("group", "logs", "pass", "fail", "inconclusive", "unreadable", "holds", "with leak", "median hold")
MOST_GROUPS = 30
"""Groups that the table names; the files name all of them. [-]"""
LONGEST_NAME = 28


def audit_text(summary: Summary, *, ascii_only: bool = False, width: int = 88) -> str:
    """Return the summary of an audit as text.

    Parameters
    ----------
    summary : Summary
        What the audit shows.
    ascii_only : bool
        Whether the text must do with plain ASCII.
    width : int
        Longest line of running text. [characters]
    """
    lines = _table(summary, width)
    blocks: list[Block] = []
    if summary.worst:
        entries = [Entry(f"{place}.", worst_in_words(record)) for place, record in enumerate(summary.worst, 1)]
        blocks.append(Block("Worst jobs first", entries))
    if summary.findings:
        known = row_titles()
        blocks.append(Block("Findings of practice (number of holds or groups)",
                            [Entry(f"{count}", f"{known[code]} [{code}]") for code, count in summary.findings.items()]))
    if summary.together:
        blocks.append(Block("Over time", [Entry("-", f"{text} [{code}]") for _, code, text in summary.together]))
    if summary.errors:
        more = sum(group.unreadables for group in summary.groups) - len(summary.errors)
        entries = [Entry("-", error) for _, error in summary.errors]
        blocks.append(Block("Unreadable", [*entries, *([Entry("-", f"and {more} more")] if more else [])]))
    for block in blocks:
        lines += ["", *block.lines(width)]
    return finished(lines, ascii_only=ascii_only)


def worst_in_words(record: Json) -> str:
    """Return one of the worst jobs: its path, its result and why, and what is known of its leak if that is not why."""
    leak = "" if str(record["leak"]) in str(record["reason"]) else f" Leak: {record['leak']}."
    return f"{record['path']}: {str(record['result']).upper()}, {record['reason']}.{leak}"


def _table(summary: Summary, width: int) -> list[str]:
    shown = summary.by_need[:MOST_GROUPS]
    rows = [HEADINGS, *(_cells(group) for group in shown)]
    if len(summary.groups) > 1:
        rows.append(_cells(_all(summary)))
    lines = numbers_in_columns(rows)
    if width < WIDE_ENOUGH:  # a line or two for each group, in words
        lines = [line for name, *cells in rows[1:] for line in wrapped(
            f"{name}: {', '.join(f'{cell} {head}' for head, cell in zip(HEADINGS[1:], cells, strict=True))}", width,
            hanging="  ")]
    if len(summary.groups) > len(shown):
        left = summary.by_need[MOST_GROUPS:]
        share = max(group.fails / group.logs for group in left)
        lines.insert(len(shown) + 1, f"and {len(left)} more groups, none with more than {100 * share:.0f} % failed; "
                                     "the files name them")
    return lines


def _cells(group: GroupSummary) -> tuple[str, ...]:
    name = clean(group.group)
    name = name if len(name) <= LONGEST_NAME else name[: LONGEST_NAME - 3] + "..."
    held = "-" if math.isnan(group.median_hold) else duration(group.median_hold)
    return (name, f"{group.logs}", f"{group.passes}", f"{group.fails}", f"{group.inconclusives}",
            f"{group.unreadables}", f"{group.holds}", f"{group.leaks}", held)


def _all(summary: Summary) -> GroupSummary:
    lengths = sorted(summary.series.length)
    middle = len(lengths) // 2
    median = math.nan if not lengths else (lengths[middle] + lengths[-middle - 1]) / 2
    total = {name: sum(getattr(group, name) for group in summary.groups)
             for name in ("logs", "passes", "fails", "inconclusives", "unreadables", "holds", "leaks")}
    first = summary.groups[0]
    return GroupSummary(group="all", median_hold=median, ordered_by="path", time_to_target=None, lowest=None,
                        times_to_target=first.times_to_target[:0], lowest_pressures=first.lowest_pressures[:0],
                        **total)
