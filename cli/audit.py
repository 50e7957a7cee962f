"""`decay audit`: many logs at once, one row a hold, and what only many jobs show together."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from decay_cli import console, defaults, options, pictures

if TYPE_CHECKING:
    from decay.audit.collect import Target
    from decay.audit.journal import Journal
    from decay.audit.run import Plan
    from decay.audit.summary import Summary

EPILOG = """
\b
Further examples:
  decay audit jobs --group "rig(\\d+)" --allow "2 micron/min"
  decay audit "jobs/**/*.csv" --group 2 --out march --jobs 1

Of a folder the files that end in .csv, .txt, .tsv, .tab, .log or .dat are read, packed with .gz or not, in all
folders below it. A glob goes in quotes; ** is any depth. A named file may end in anything.

Groups: a number takes the folder so many levels above the log, 1 being the one it is in. Anything else is a
regular expression searched in the path: its first bracket is the group's name, or all that it matches.

An audit that was interrupted goes on where it stopped when the same command is given again: NAME.jsonl.part holds
what is done. A log is judged again only if its size, its time of writing or an option that its row rests on has
changed; --fresh judges all again.

In the CSV file text that a spreadsheet would run as a formula has an apostrophe before it.

\b
Exit codes, the worst of all logs, in this order:
    0  pass
    3  inconclusive
    1  fail
    4  a log that cannot be read
   70  internal error at a log, a fault of this program
and of the audit itself:
    2  usage: an option that makes no sense, no log at all, or a file that cannot be written
  130  interrupted; the same command goes on
"""


@click.command(name="audit", cls=defaults.Command, epilog=EPILOG)
@click.argument("paths", nargs=-1, required=True, metavar="PATH...", shell_complete=options.complete_log)
@options.job
@click.option("--criterion", metavar="NAME|FILE.toml", shell_complete=options.complete_criterion,
              help="Criterion of practice: a shipped one (see `decay criteria`) or your own.")
@click.option("--group", default="1", show_default="1, the log's folder", metavar="LEVEL|REGEX",
              help="What makes logs one group (one rig, one site): see below.")
@options.reading
@click.option("--out", default="audit", show_default=True, metavar="NAME",
              help="Files to write: NAME.csv, NAME.jsonl, and NAME.png.")
@click.option("--plot", metavar="FILE", help="Picture to write (.png, .svg or .pdf).  [default: NAME.png]")
@click.option("--no-plot", is_flag=True, help="Write no picture.")
@click.option("--jobs", type=click.IntRange(min=1), metavar="N", help="Worker processes.  [default: all cores]")
@click.option("--fresh", is_flag=True, help="Judge all logs again, whatever an earlier run has done.")
@click.option("--force/--no-clobber", default=False,
              help="Replace files that no earlier run of this audit wrote.  [default: no-clobber]")
@click.option("--json", "as_json", is_flag=True, help="Write the summary as one JSON document.")
@options.voice
def audit(
    paths: tuple[str, ...], criterion: str | None, group: str, out: str, plot: str | None, no_plot: bool,
    jobs: int | None, fresh: bool, force: bool, as_json: bool, quiet: bool, verbose: bool, ascii_only: bool,
    **given: Any,
) -> int:
    """Judge every log in PATH... (files, folders, globs) and write one row a hold as CSV and JSON Lines.

    \b
    Example that works in the project's folder:
      decay audit sample_logs --allow "2 micron/min" --no-plot

    A file that cannot be read gets a row that says why, and never stops the rest. The summary goes to standard
    output, progress to standard error. Volume, refrigerant and the like hold for all logs alike.
    """
    if plot is not None and no_plot:
        raise click.UsageError("--plot and --no-plot contradict each other: give one of them")
    _keep_to_one_thread()
    table, lines = Path(f"{out}.csv"), Path(f"{out}.jsonl")
    picture = None if no_plot else Path(plot if plot is not None else f"{out}.png")
    _check_places(table, lines, picture, force)
    is_again = lines.exists()

    from decay import __version__, load_criterion
    from decay.audit.collect import collect, grouping
    from decay.audit.journal import Journal
    from decay.audit.run import Plan
    from decay.audit.write import finish

    group_of = grouping(group)
    reading = options.read_options(given)
    plan = Plan(None if criterion is None else load_criterion(criterion), options.system_of(given), reading)
    targets = collect(paths, leave_out=[table, lines, Path(f"{lines}.part")])
    try:
        with Journal(lines, plan.settings(), __version__, targets, is_fresh=fresh) as journal:
            _tell_start(journal, targets, quiet)
            _judge(journal, targets, plan, jobs or _cores(), quiet, verbose)
            summary = finish(journal, table, group_of)
    except OSError as problem:
        raise click.UsageError(f"{problem.filename or out}: cannot be written: {problem.strerror or problem}"
                               ) from problem
    except KeyboardInterrupt:
        console.remark("Interrupted. The same command goes on from here.")
        raise
    _answer(summary, as_json, ascii_only)
    console.remark(f"Rows: {table}, {lines}", quiet)
    if picture is not None:
        from decay.report.plot_audit import draw_audit

        drawn = plan.criterion or load_criterion()
        figure = draw_audit(summary, drawn.hold, drawn.target)
        pictures.write(figure, picture, force=force or is_again, quiet=quiet, standing="The rows are written.")
    return summary.exit_code


def _keep_to_one_thread() -> None:
    """Keep linear algebra to one thread, before it is loaded: the workers share the cores already."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")


def _check_places(table: Path, lines: Path, picture: Path | None, force: bool) -> None:
    """Refuse to replace files that no audit of this name wrote: its JSON Lines file vouches for the others."""
    if not table.parent.is_dir():
        raise click.UsageError(f'--out: the folder "{table.parent}" does not exist')
    if picture is not None and picture.suffix.lower() not in pictures.SUFFIXES:
        raise click.UsageError(f'--plot: "{picture}" must end in {", ".join(pictures.SUFFIXES)}')
    if picture is not None and not picture.parent.is_dir():
        raise click.UsageError(f'--plot: the folder "{picture.parent}" does not exist')
    if lines.exists() or force:
        return
    for file in (table, picture):
        if file is not None and file.exists():
            raise click.UsageError(f"{file} exists, and no earlier audit of that name. Choose another --out or --plot, "
                                   "or add --force.")


def _cores() -> int:
    """Return the number of cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _tell_start(journal: Journal, targets: tuple[Target, ...], quiet: bool) -> None:
    done = sum(journal.is_done(target) for target in targets)
    if journal.is_changed:
        console.remark("An earlier run was judged by other settings: all logs are judged again.", quiet)
    word = "log" if len(targets) == 1 else "logs"
    console.remark(f"{len(targets)} {word}" + (f", {done} of them done by an earlier run" if done else ""), quiet)


def _judge(
    journal: Journal, targets: tuple[Target, ...], plan: Plan, jobs: int, quiet: bool, verbose: bool
) -> None:
    """Judge what is not done yet, and write each log down as it comes; asked to, tell each that cannot be read."""
    from decay.audit.run import run
    from decay.wording.charset import clean

    left = [target for target in targets if not journal.is_done(target)]
    with _progress(len(left), quiet) as step:
        for target, rows in run(left, plan, min(jobs, max(len(left), 1))):
            journal.add(target, rows)
            if verbose and rows[0].error is not None:
                console.remark(clean(rows[0].error.splitlines()[0]), quiet)
            step(1)


@contextmanager
def _progress(length: int, quiet: bool) -> Iterator[Any]:
    """Show a bar on standard error where that is a terminal."""
    stream = sys.stderr
    if quiet or not length or not console.is_terminal(stream):
        yield lambda count: None
        return
    with click.progressbar(length=length, file=stream, label="Judging", show_pos=True) as bar:
        yield bar.update


def _answer(summary: Summary, as_json: bool, ascii_only: bool) -> None:
    if as_json:
        from decay.report.document import dumps

        console.answer(dumps(summary.document()))
        return
    from decay.audit.text import audit_text

    console.answer(audit_text(summary, ascii_only=console.is_plain(ascii_only), width=console.width()))
