"""`decay audit`: many logs at once, one row a hold, and what only many jobs show together."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from decay_cli import console, defaults, options, pictures

if TYPE_CHECKING:
    from decay.audit.collect import Shard, Target
    from decay.audit.journal import Journal
    from decay.audit.run import Settings
    from decay.audit.summary import Summary
    from decay.audit.write import TableForm

MOST_NAMED = 5
"""Logs that a remark names one by one. [-]"""
EPILOG = """
\b
Further examples:
  decay audit jobs --group "rig(\\d+)" --allow "2 micron/min"
  decay audit "jobs/**/*.csv" --group 2 --out march --jobs 1 --report march.html
  decay audit --columns

Of a folder the files that end in .csv, .txt, .tsv, .tab, .log or .dat are read, packed with .gz or not, in all
folders below it. A glob goes in quotes; ** is any depth. A named file may end in anything.

Groups: a number takes the folder so many levels above the log, 1 being the one it is in. Anything else is a
regular expression searched in the path: its first bracket is the group's name, or all that it matches.

An audit that was interrupted goes on where it stopped when the same command is given again: NAME.jsonl.part holds
what is done. A log is judged again only if its size, its time of writing or an option that its row rests on has
changed; --fresh judges all again.

Many machines share an audit: each runs it with --shard K/N, and one, when all are done, the same command with
--merge "NAME-*of*.jsonl" instead. The bytes are those of one run (`decay help audit`).

A job list gives volume, refrigerant, charge, ambient and technician of single logs. It is a CSV file with these
columns and "log", a path or pattern (rig1/*.csv); or a TOML file with tables [[job]] of the same names. Later lines
replace what earlier ones say. decay-jobs.csv or decay-jobs.toml in the folder of the logs is used without being named.

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


@click.command(name="audit", cls=defaults.CommandWithDefaults, epilog=EPILOG)
@click.argument("paths", nargs=-1, metavar="PATH...", shell_complete=options.complete_log)
@options.job
@options.criterion
@click.option("--group", default="1", metavar="LEVEL|REGEX",
              help="What makes logs one group (one rig, one site): see below.  [default: 1, the log's folder]")
@options.reading
@click.option("--out", default="audit", show_default=True, metavar="NAME",
              help="Files to write: NAME.csv, NAME.jsonl, and NAME.png.")
@click.option("--report", "page", metavar="FILE.html",
              help="Page for a browser and for paper, to sort and to filter; it needs no network.")
@click.option("--job-list", metavar="FILE", help="Volume and the like of single logs (.csv or .toml): see below.")
@click.option("--wide", is_flag=True, help="All columns in NAME.csv, and one row a hold instead of one a log.")
@click.option("--columns", is_flag=True, help="Say what each column means, and end.")
@click.option("--excel", is_flag=True, help="NAME.csv for a spreadsheet: semicolons, and a byte order mark.")
@click.option("--excel-comma", is_flag=True, help="As --excel, with decimal commas.")
@pictures.of("NAME.png", "Replace files of other inputs, or of no earlier audit.")
@click.option("--jobs", type=click.IntRange(min=1), metavar="N", help="Worker processes.  [default: all cores]")
@click.option("--shard", metavar="K/N", help="Judge only the K-th of N shares of the logs, into NAME-KofN.jsonl.")
@click.option("--merge", "shards", multiple=True, metavar="FILE.jsonl",
              help="Take over what the shards have judged; may be repeated, or a glob in quotes.")
@click.option("--fresh", is_flag=True, help="Judge all logs again, also those that an earlier run has done.")
@click.option("--json", "as_json", is_flag=True, help="Write the summary as one JSON document.")
@options.units
@options.voice
def audit(
    paths: tuple[str, ...], criterion: str | None, group: str, out: str, page: str | None, job_list: str | None,
    wide: bool, columns: bool, excel: bool, excel_comma: bool, plot: str | None, no_plot: bool, jobs: int | None,
    shard: str | None, shards: tuple[str, ...], fresh: bool, force: bool, as_json: bool, quiet: bool, verbose: bool,
    ascii_only: bool, **given: Any,
) -> int:
    """Judge every log in PATH... (files, folders, globs) and write a table, one row a log.

    \b
    Example, from the project's folder:
      decay audit sample_logs --allow "2 micron/min" --no-plot

    A file that cannot be read gets a row that says why, and never stops the rest. The summary goes to standard
    output, the worst jobs and groups first, progress to standard error. NAME.jsonl has everything, one line a hold.
    Volume, refrigerant and the like apply to all logs, unless a job list says otherwise of some.
    """
    if columns:
        _tell_columns(ascii_only)
        return 0
    if not paths:
        raise click.UsageError("Missing argument 'PATH...'.")
    pictures.check(plot, no_plot, as_json)
    _keep_to_one_thread()
    share = _share(shard, shards, page, plot)
    if share is not None:
        out, no_plot = share.name(out), True  # a picture of a share would show nobody anything
    table, lines = Path(f"{out}.csv"), Path(f"{out}.jsonl")
    picture = None if no_plot else Path(plot if plot is not None else f"{out}.png")
    inputs = sorted({Path(path).as_posix() for path in paths})
    _check_places(table, lines, picture, inputs, force)
    is_again = lines.exists()
    report = None if page is None else pictures.named_file(page, "--report", (".html", ".htm"), force or is_again)

    from decay import __version__, load_criterion, wording
    from decay.audit.collect import collect
    from decay.audit.journal import Journal
    from decay.audit.run import Settings
    from decay.audit.write import TableForm

    reading = options.read_options(given)
    plan = Settings(None if criterion is None else load_criterion(criterion), options.system_of(given), reading,
                    wording.unit())
    listed = _job_list(job_list, paths)
    own = [table, lines, Path(f"{lines}.part"), *([] if listed is None else [listed])]
    merged = _merged(shards, out)
    targets = _told(collect(paths, leave_out=[*own, *merged]), listed, quiet)
    if share is not None:
        targets = share.of(targets)
        if not targets:
            console.remark(f"Shard {shard} has no log: there are fewer logs than shards.", quiet)
            return 0
    journal = partial(Journal, lines, plan.settings(), __version__, targets, inputs, shards=merged, is_fresh=fresh)
    form = TableForm(wide, excel or excel_comma, "," if excel_comma else ".")
    summary = _done(journal, targets, plan, table, group, form, jobs or _cores(), quiet, verbose)
    _answer(summary, as_json, ascii_only)
    console.remark(f"Rows: {table}, {lines}", quiet)
    if report is not None:
        _write_report(report, lines, summary, reading, force or is_again, quiet)
    if picture is not None:
        from decay.audit.plot_audit import draw_audit

        drawn = plan.criterion or load_criterion()
        figure = draw_audit(summary, drawn.hold, drawn.target)
        pictures.write_picture(figure, picture, force=force or is_again, quiet=quiet, standing="The rows are written.")
    return summary.exit_code


def _done(
    opened: Callable[[], Journal], targets: tuple[Target, ...], plan: Settings, table: Path, group: str,
    form: TableForm, jobs: int, quiet: bool, verbose: bool,
) -> Summary:
    """Judge what an earlier run has not done, write the table, and return what the audit shows."""
    from decay.audit.collect import groups
    from decay.audit.write import finish

    group_of = groups(group, [target.path for target in targets])
    try:
        with opened() as journal:
            _tell_start(journal, targets, quiet)
            _judge(journal, targets, plan, jobs, quiet, verbose)
            return finish(journal, table, group_of, {t.path: t.technician for t in targets}, form)
    except OSError as problem:
        where = problem.filename or table.with_suffix("")
        raise click.UsageError(f"{where}: cannot be written: {problem.strerror or problem}") from problem
    except KeyboardInterrupt:
        console.remark("Interrupted. The same command goes on from here.")
        raise


def _share(shard: str | None, shards: tuple[str, ...], page: str | None, plot: str | None) -> Shard | None:
    """Return the shard that is asked for, and refuse what a share alone cannot give."""
    if shard is None:
        return None
    from decay.audit.collect import parse_shard
    from decay.errors import RangeError

    if shards or page is not None or plot is not None:
        raise click.UsageError("--shard judges a share of the logs: leave --merge, --report and --plot to the run that "
                               "merges them")
    try:
        return parse_shard(shard)
    except RangeError as problem:
        raise click.UsageError(f"--shard: {problem}") from problem


def _merged(shards: tuple[str, ...], out: str) -> list[Path]:
    """Return the shards' files; a name that leads to none is refused, and the merge's own file is none."""
    import glob

    found: list[Path] = []
    for name in shards:
        here = sorted(glob.glob(name)) if glob.has_magic(name) else [name]
        if not here or not all(Path(file).is_file() for file in here):
            raise click.UsageError(f'--merge: there is no file "{name}"')
        found += [Path(file) for file in here if Path(file) != Path(f"{out}.jsonl")]
    return list(dict.fromkeys(found))


def _tell_columns(ascii_only: bool) -> None:
    """Print the data dictionary."""
    from decay.audit.row import dictionary
    from decay.wording.lines import Block, Entry

    blocks = [Block(head, [Entry(column.name, column.meaning) for column in part]) for head, part in dictionary()]
    lines = [line for block in blocks for line in (*block.lines(max(console.width(), 100)), "")]
    console.answer("\n".join(lines[:-1]) + "\n", console.is_plain(ascii_only))


def _job_list(asked: str | None, paths: tuple[str, ...]) -> Path | None:
    """Return the job list: the one that is named, or the one that stands in a folder of the logs."""
    from decay.audit.collect import JOB_LISTS

    if asked is not None:
        return Path(asked)
    found = [Path(path) / name for path in paths if Path(path).is_dir() for name in JOB_LISTS
             if (Path(path) / name).is_file()]
    if len(found) > 1:
        raise click.UsageError(f"there are several job lists: {', '.join(map(str, found))}. Name one with --job-list.")
    return found[0] if found else None


def _told(targets: tuple[Target, ...], listed: Path | None, quiet: bool) -> tuple[Target, ...]:
    """Give each log what the job list says of it; say what the list is silent about, and what it says of no log."""
    if listed is None:
        return targets
    from decay.audit.job_list import read_job_list, with_lines
    from decay.errors import LogError
    from decay.wording.lines import clean

    try:
        told, idle = with_lines(read_job_list(listed), targets)
    except LogError as problem:
        raise click.UsageError(f"--job-list: {problem}") from problem
    without = [target.path for target in told if not target.told and target.technician is None]
    console.remark(clean(f"Job list: {listed}, about {len(told) - len(without)} of {len(told)} logs"), quiet)
    for lead, names in (("Not in the job list:", without), ("In the job list, and no such log:", list(idle))):
        if names:
            more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
            console.remark(clean(f"{lead} {', '.join(names[:MOST_NAMED])}{more}"), quiet)
    return told


def _write_report(report: Path, lines: Path, summary: Summary, reading: Any, replace: bool, quiet: bool) -> None:
    from decay import read_log
    from decay.audit.page import write_page

    pictures.writing(report, lambda: write_page(report, lines, summary, lambda path: read_log(path, reading),
                                                replace=replace), "The rows are written.")
    console.remark(f"Page: {report}", quiet)


def _keep_to_one_thread() -> None:
    """Keep linear algebra to one thread, before it is loaded: the workers share the cores already."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")


def _check_places(table: Path, lines: Path, picture: Path | None, inputs: list[str], force: bool) -> None:
    """Refuse to replace files that no audit of this name and these inputs wrote: its JSON Lines file vouches."""
    if not table.parent.is_dir():
        raise click.UsageError(f'--out: the folder "{table.parent}" does not exist')
    if picture == pictures.OUTPUT:
        picture = None
    if picture is not None and picture.suffix.lower() not in pictures.SUFFIXES:
        raise click.UsageError(f'--plot: "{picture}" must end in {", ".join(pictures.SUFFIXES)}')
    if picture is not None and not picture.parent.is_dir():
        raise click.UsageError(f'--plot: the folder "{picture.parent}" does not exist')
    if force:
        return
    from decay.audit.journal import inputs_of

    before = inputs_of(lines)
    if before is not None and before != inputs:
        raise click.UsageError(f"{lines} is an audit of {', '.join(before)}, and this one is of {', '.join(inputs)}. "
                               "Choose another --out, or add --force.")
    if lines.exists():
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
    journal: Journal, targets: tuple[Target, ...], plan: Settings, jobs: int, quiet: bool, verbose: bool
) -> None:
    """Judge what is not done yet, and write each log down as it comes; asked to, tell each that cannot be read."""
    from decay.audit.run import judge_files
    from decay.wording.lines import clean

    left = [target for target in targets if not journal.is_done(target)]
    with _progress(len(left), quiet) as step:
        for target, rows in judge_files(left, plan, min(jobs, max(len(left), 1))):
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
