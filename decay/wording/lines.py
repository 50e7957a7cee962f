"""How text is set: its characters, headings, entries that wrap, columns, width, colour, plain ASCII."""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

PLAIN = {
    "µ": "u",
    "μ": "u",
    "·": "*",
    "×": "x",
    "±": "+-",
    "³": "3",
    "²": "2",
    "°": "deg ",
    "–": "-",
    "—": "-",
    "−": "-",
    "…": "...",
    "≤": "<=",
    "≥": ">=",
    "τ": "tau",
    "κ": "kappa",
    "“": '"',
    "”": '"',
    "’": "'",
    "→": "->",
    "½": "1/2",
}
"""What ASCII writes for the characters of the field."""


def clean(text: str) -> str:
    """Return text in which nothing can move the cursor: control characters of a file's name or header are spelled out.

    Parameters
    ----------
    text : str
        Text that may carry anything a log or a file name holds.

    Examples
    --------
    >>> clean("hold\\x1b[2J.csv")
    'hold\\\\x1b[2J.csv'
    """
    return "".join(_spelled(character) for character in text)


def _spelled(character: str) -> str:
    # Cc: controls; Cf: direction marks, which can reverse a line; Cs: bytes of a file name that are no text.
    if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Zl", "Zp"):
        return character.encode("unicode_escape").decode("ascii")
    return character


def to_ascii(text: str) -> str:
    """Return text in plain ASCII.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The field's characters as their usual stand-ins, letters without their accents, the rest as ``?``.

    Examples
    --------
    >>> to_ascii("2.1e-5 ± 0.3e-5 Pa·m³/s at 24 °C, µmHg, Kühlraum")
    '2.1e-5 +- 0.3e-5 Pa*m3/s at 24 deg C, umHg, Kuhlraum'
    """
    replaced = "".join(PLAIN.get(character, character) for character in text)
    decomposed = unicodedata.normalize("NFKD", replaced)
    bare = "".join(character for character in decomposed if not unicodedata.combining(character))
    return bare.encode("ascii", "replace").decode("ascii")


INDENT = 2
USUAL_WIDTH = 80
NARROWEST, WIDEST = 40, 120
LABEL_COLUMN = 16
# A number keeps the unit, the percent sign or the second number that belongs to it.
NUMBER_AND_UNIT = re.compile(
    r"(\d) (?=(?:(?:micron|Pa|mbar|Torr)(?:/min)?|min|s|h|%|g/year|L|°C|days|years|oz/year)\b|%)")


@dataclass(frozen=True, slots=True)
class Entry:
    """One labelled statement."""

    label: str  # a bullet, a number, or a word or two
    text: str  # the statement


@dataclass(frozen=True, slots=True)
class Block:
    """A heading with its entries."""

    title: str  # the heading
    entries: Sequence[Entry]  # what stands under it

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
    return wrapped(text, width, first, hanging) or [first.rstrip()]


def set_blocks(blocks: Iterable[Block], width: int) -> list[str]:
    """Return the lines of blocks below each other, an empty one after each."""
    return [line for block in blocks for line in (*block.lines(width), "")]


def columns(rows: Sequence[Sequence[str]], width: int = WIDEST, indent: str = "") -> list[str]:
    """Return rows in columns, the last one wrapped under itself."""
    sizes = [max(len(row[place]) for row in rows) for place in range(len(rows[0]) - 1)]
    lines: list[str] = []
    for row in rows:
        first = indent + "".join(cell.ljust(size + 2) for cell, size in zip(row, sizes, strict=False))
        lines += wrapped(row[-1], width, first, " " * len(first)) or [first.rstrip()]
    return lines


def numbers_in_columns(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return rows of a name and what is counted of it, each number under the end of its heading."""
    sizes = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    return ["  ".join([row[0].ljust(sizes[0]), *(cell.rjust(size) for cell, size in
                                                 zip(row[1:], sizes[1:], strict=True))]) for row in rows]


def kept_together(text: str) -> str:
    """Return a text in which no line can break between a number and its unit, or an option and its value."""
    return NUMBER_AND_UNIT.sub("\\1\u00a0", text).replace("--hold ", "--hold\u00a0")


def wrapped(text: str, width: int, first: str = "", hanging: str = "") -> list[str]:
    """Return a text in lines, broken at blanks only, and never between a number and its unit."""
    lines = textwrap.wrap(kept_together(text), width, initial_indent=first, subsequent_indent=hanging,
                          break_on_hyphens=False)
    return [line.replace("\u00a0", " ") for line in lines]


def finished(
    lines: Sequence[str], *, ascii_only: bool = False, color: str = "", coloured: Sequence[int] = (),
    bold: Collection[str] = (),
) -> str:
    """Return lines as they go to the screen: nothing in them moves the cursor but our own colours.

    Parameters
    ----------
    lines : sequence of str
        The lines.
    ascii_only : bool
        Write ``u`` for ``µ`` and so on, for terminals that know no more.
    color : str
        Parameters of the ANSI sequence for coloured lines; empty for no sequences at all.
    coloured : sequence of int
        Which lines are coloured; negative ones count from the end.
    bold : collection of str
        Headings that are emboldened where there is colour.
    """
    made = [clean(line) for line in lines]
    if ascii_only:
        made = [to_ascii(line) for line in made]
    if color:
        made = [f"\x1b[1m{line}\x1b[0m" if line in bold else line for line in made]
        for place in coloured:
            made[place] = f"\x1b[{color}m{made[place]}\x1b[0m"
    return "\n".join(made) + "\n"


def width_of(columns: str | None, terminal: int | None) -> int:
    """Return the width to write for.

    Parameters
    ----------
    columns : str or None
        What the environment's COLUMNS says; it is heeded in a pipe too.
    terminal : int or None
        Width of the terminal; ``None`` where there is none. [characters]

    Returns
    -------
    int
        Longest line. [characters]

    Examples
    --------
    >>> width_of(None, None), width_of("60", 100), width_of("many", 100), width_of(None, 400)
    (80, 60, 100, 120)
    """
    if columns is not None and columns.isdecimal() and int(columns) > 0:
        return min(max(int(columns), NARROWEST), WIDEST)
    return USUAL_WIDTH if terminal is None else min(max(terminal, NARROWEST), WIDEST)
