"""`decay analyze --report`: the job sheet, refused before any long work where it cannot be written."""

from __future__ import annotations

import hashlib
import shlex
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import click

from decay_cli import pictures

Command = TypeVar("Command", bound=Callable[..., Any])
SUFFIXES = (".pdf", ".png")
PAPERS = ("A4", "Letter")


@dataclass(frozen=True, slots=True)
class SheetWanted:
    """A sheet that was asked for."""

    target: Path
    notes: tuple[str, ...]
    paper: str


def option(command: Command) -> Command:
    """Add the options of the job sheet to a command."""
    for add in (
        click.option("--paper", type=click.Choice(PAPERS), default="A4", show_default=True,
                     help="Paper of the job sheet."),
        click.option("--note", "notes", multiple=True, metavar="TEXT",
                     help='Words of the job for the sheet: "Customer: ..."; may be repeated.'),
        click.option("--report", metavar="FILE.pdf", help="Write a job sheet of one page, to hand over or to keep."),
    ):  # fmt: skip
        command = add(command)
    return command


def wanted(given: dict[str, Any], count: int, same_job: bool, force: bool) -> SheetWanted | None:
    """Take the sheet's options out of a command line; ``None`` where no sheet was asked for.

    Raises
    ------
    click.UsageError
        If the file cannot be written, notes stand without a sheet, or several jobs would share one.
    """
    report, notes, paper = given.pop("report"), given.pop("notes"), given.pop("paper")
    if report is None:
        if notes:
            raise click.UsageError("--note is for the job sheet: add --report FILE.pdf")
        return None
    if count > 1 and not same_job:
        raise click.UsageError("--report is the sheet of one job: give one LOG, or add --same-job")
    return SheetWanted(pictures.named_file(report, "--report", SUFFIXES, force), notes, paper)


def write_sheet(sheet: SheetWanted, analysis: Any, *, force: bool, quiet: bool) -> None:
    """Draw and write the sheet of one job."""
    from decay.errors import RangeError
    from decay.report.answers import hold_in_words, picture_text
    from decay.report.plot_job_sheet import JobSheet, draw_job_sheet

    headline, _, *answers = picture_text(analysis)
    hold = hold_in_words(analysis)
    content = JobSheet(headline, (*answers, f"{hold[0].upper()}{hold[1:]}"), sheet.notes,
                       shlex.join(["decay", *sys.argv[1:]]),  # as it can be pasted again
                       checksum(analysis.log.source), sheet.paper)  # fmt: skip
    try:
        page = draw_job_sheet(analysis, content)
    except RangeError as problem:
        raise click.UsageError(f"--report: {problem}") from problem
    pictures.write_picture(page, sheet.target, force=force, quiet=quiet)


def checksum(source: str) -> str:
    """Return the checksum of a log's bytes with its name; empty where it came by standard input or is gone."""
    try:
        with open(source, "rb") as stream:
            return f"SHA-256 {hashlib.file_digest(stream, 'sha256').hexdigest()}"
    except OSError:
        return ""
