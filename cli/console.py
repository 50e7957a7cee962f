"""Where words go: the answer to standard output, everything else to standard error, and in which characters."""

from __future__ import annotations

import os
import shutil
import sys

import click

USUAL_WIDTH = 88


def answer(text: str, ascii_only: bool = False) -> None:
    """Write the answer to standard output, in what it can take; a reader that has gone away is no fault."""
    if is_plain(ascii_only) and not text.isascii():
        from decay.report.charset import to_ascii

        text = "\n".join(to_ascii(line) for line in text.split("\n"))
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        # The interpreter flushes once more at its end, and must not find the closed pipe again.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def remark(text: str, quiet: bool = False) -> None:
    """Write a remark about the run to standard error, unless asked to be quiet."""
    if not quiet:
        click.echo(text, err=True)


def is_plain(asked: bool) -> bool:
    """Return whether to write ASCII only: asked for, or standard output can take no more."""
    if asked:
        return True
    try:
        "µ³±°".encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except (UnicodeEncodeError, LookupError):
        return True
    return False


def is_coloured() -> bool:
    """Return whether to colour: a terminal, and NO_COLOR not set (no-color.org: any value but the empty one)."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def width() -> int:
    """Return the width of the terminal, or the usual one where there is none. [characters]"""
    return min(shutil.get_terminal_size((USUAL_WIDTH, 24)).columns, 120) if sys.stdout.isatty() else USUAL_WIDTH
