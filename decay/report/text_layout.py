"""How the summary sets its lines: a heading, and labelled entries that wrap under themselves."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

INDENT = 2
LABEL_COLUMN = 16


@dataclass(frozen=True, slots=True)
class Entry:
    """One labelled statement.

    Parameters
    ----------
    label : str
        A bullet, a number, or a word or two.
    text : str
        The statement.
    """

    label: str
    text: str


@dataclass(frozen=True, slots=True)
class Block:
    """A heading with its entries.

    Parameters
    ----------
    title : str
        The heading.
    entries : sequence of Entry
        What stands under it.
    """

    title: str
    entries: Sequence[Entry]

    def lines(self, width: int) -> list[str]:
        """Return the block's lines, none longer than ``width`` unless a single word is. [characters]"""
        longest = max((len(entry.label) for entry in self.entries), default=0)
        is_listed = all(entry.label == "-" or entry.label.rstrip(".").isdigit() for entry in self.entries)
        column = longest + 1 if is_listed else max(LABEL_COLUMN, min(longest + 2, width // 3))
        lines = [self.title]
        for entry in self.entries:
            lines += _set(entry, column, width)
        return lines


def _set(entry: Entry, column: int, width: int) -> list[str]:
    hanging = " " * (INDENT + column)
    if len(entry.label) >= column:
        text = f"{entry.label} {entry.text}" if entry.label else entry.text
        first = " " * INDENT
    else:
        text = entry.text
        first = " " * INDENT + entry.label.ljust(column)
    bound = text.replace(" %", "\u00a0%")  # a number keeps its percent sign
    lines = textwrap.wrap(bound, width, initial_indent=first, subsequent_indent=hanging, break_on_hyphens=False) or [
        first.rstrip()
    ]
    return [line.replace("\u00a0", " ") for line in lines]
