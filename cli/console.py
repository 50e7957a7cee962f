"""Where words go, in which characters, and what the exit code of every command means."""

from __future__ import annotations

import os
import shutil
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from enum import IntEnum
from typing import Any, TextIO

import click

USUAL_WIDTH = 80
PICTURE = "decay: standard output takes a picture"
"""Key of a context in which answers go to standard error."""


class ExitCode(IntEnum):
    """The numbers that scripts may rely on."""

    PASS = 0
    FAIL = 1
    USAGE = 2
    INCONCLUSIVE = 3
    UNREADABLE = 4
    INTERNAL = 70
    INTERRUPTED = 130


MEANINGS = {
    ExitCode.PASS: "pass, or done",
    ExitCode.FAIL: "fail",
    ExitCode.USAGE: "usage: an option that makes no sense, or a file that cannot be written",
    ExitCode.INCONCLUSIVE: "inconclusive",
    ExitCode.UNREADABLE: "unreadable input",
    ExitCode.INTERNAL: "internal error, a fault of this program",
    ExitCode.INTERRUPTED: "interrupted",
}

EPILOG = "\b\nExit codes:\n" + "\n".join(f"  {code.value:>3}  {text}" for code, text in MEANINGS.items())
"""The table as help texts print it."""
EPILOG_OF_PAGES = "\b\nExit codes:\n    0  done\n" + "\n".join(
    f"  {code.value:>3}  {MEANINGS[code]}" for code in (ExitCode.USAGE, ExitCode.INTERNAL))
"""The same for commands that judge nothing."""


def answer(text: str, ascii_only: bool = False) -> None:
    """Write the answer to standard output, in what it can take; a reader that has gone away is no fault."""
    if is_plain(ascii_only) and not text.isascii():
        from decay.wording.lines import to_ascii

        text = "\n".join(to_ascii(line) for line in text.split("\n"))
    ctx = click.get_current_context(silent=True)
    if ctx is not None and PICTURE in ctx.meta:
        remark(text.rstrip("\n"), bool(ctx.params.get("quiet")))
        return
    if sys.stdout is None:
        raise click.ClickException("the answer cannot be written: standard output is closed")
    with _standard_output("the answer"):
        sys.stdout.write(text)
        sys.stdout.flush()


@contextmanager
def _standard_output(what: str) -> Iterator[None]:
    """Write to standard output; a reader that has gone away is no fault, and anything else is said of what is lost."""
    try:
        yield
    except BrokenPipeError:
        drop_output(sys.stdout)
    except OSError as problem:
        drop_output(sys.stdout)
        raise click.ClickException(
            f"{what} cannot be written to standard output: {problem.strerror or problem}") from problem


def leave_output_to_a_picture() -> None:
    """Send answers to standard error from now on, or nowhere with --quiet, for standard output takes a picture.

    Raises
    ------
    click.UsageError
        If standard output is a terminal or closed: a picture's bytes would garble the one and be lost in the other.
    """
    if sys.stdout is None or is_terminal(sys.stdout):
        raise click.UsageError("--plot - writes a PNG to standard output. Send it somewhere:  --plot - > hold.png")
    click.get_current_context().meta[PICTURE] = True


def bytes_of_a_picture(data: bytes) -> None:
    """Write a picture to standard output."""
    with _standard_output("the picture"):
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()


def remark(text: str, quiet: bool = False) -> None:
    """Write a remark about the run to standard error, unless asked to be quiet."""
    if not quiet:
        complain(text)


def reading(name: str, note: str, quiet: bool) -> None:
    """Say that a log is being read; of a pipe also who is waited for, since none may come."""
    with suppress(OSError, ValueError):  # whatever is wrong with the name, reading it will tell
        if name != "-" and stat.S_ISFIFO(os.stat(name).st_mode):
            note += ", a pipe: until the program that writes to it ends"
    remark(f"Reading {'standard input' if name == '-' else name}{note} ...", quiet)


def complain(text: str, *, ends_line: bool = True) -> None:
    """Write what went wrong to standard error; where nobody can read it, the exit code must tell."""
    if not (text.isascii() and text.replace("\n", "").isprintable()):
        from decay.wording.lines import clean

        # A name or a heading may carry escape sequences or marks that turn a line round.
        text = "\n".join(clean(line) for line in text.split("\n"))
    try:
        click.echo(text, err=True, nl=ends_line)
    except OSError:
        drop_output(sys.stderr)


def drop_output(stream: TextIO | None) -> None:
    """Send what a stream could not get rid of nowhere; the interpreter would try once more at its end, and fail."""
    with suppress(OSError, ValueError, AttributeError):  # no stream, or one that is no file
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())  # type: ignore[union-attr]
        os.close(nowhere)


def is_plain(asked: bool) -> bool:
    """Return whether to write ASCII only: asked for, or standard output can take no more."""
    if asked:
        return True
    try:
        "µ³±°".encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except (UnicodeEncodeError, LookupError):
        return True
    return False


def is_terminal(stream: TextIO | None) -> bool:
    """Return whether a stream is a terminal; it is ``None`` where the program was started without one."""
    return stream is not None and stream.isatty()


def is_coloured() -> bool:
    """Return whether to colour: as --color asks, else on a terminal where NO_COLOR (no-color.org) is not set."""
    ctx = click.get_current_context(silent=True)
    if ctx is not None and ctx.color is not None:
        return ctx.color
    return is_terminal(sys.stdout) and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def shape(ascii_only: bool) -> dict[str, Any]:
    """Return characters, colour and width for a text that goes to standard output."""
    return {"ascii_only": is_plain(ascii_only), "color": is_coloured(), "width": width()}


def width() -> int:
    """Return the width to write for: COLUMNS, also in a pipe, else the terminal's, else the usual one. [characters]"""
    from decay.wording.lines import width_of

    terminal = shutil.get_terminal_size((USUAL_WIDTH, 24)).columns if is_terminal(sys.stdout) else None
    return width_of(os.environ.get("COLUMNS"), terminal)
