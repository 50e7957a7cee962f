"""`decay analyze`: one log to one verdict, on screen or as JSON, with a picture beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from decay.errors import LogError
from decay_cli import console, options, pictures, record, sheet
from decay_cli.console import EPILOG, ExitCode

if TYPE_CHECKING:
    from decay import Analysis, PressureLog, RigTest, System


@click.command(name="analyze", cls=record.Command, epilog=EPILOG)
@click.argument("logs", nargs=-1, required=True, metavar="LOG...", shell_complete=options.complete_log)
@options.job_of_logs
@options.rig
@click.option("--same-job", is_flag=True,
              help="The logs are holds of one job: one leak, nothing mended in between.")
@click.option("--warmed", type=click.Choice(["all", "system", "part"]),
              help="What was warmed for a warm second hold: system and rig, the system alone, or a part.")
@options.criterion
@click.option("--hold", type=options.StretchType(), metavar="START..END",
              help='Judge this stretch: 10:05..10:25, 10:05..end, "last 20 min", "5 min..25 min", 300..1500 (s).')
@options.reading
@options.shows
@sheet.option
@pictures.of("LOG's name .png")
@click.option("--detail", "in_detail", is_flag=True, help="Print everything behind the answer, each fact once.")
@click.option("--json", "as_json", is_flag=True, help="Write one JSON document instead of the summary.")
@options.units
@options.voice
def analyze(
    logs: tuple[str, ...], same_job: bool, rig_log: str | None, plot: str | None, no_plot: bool, force: bool,
    in_detail: bool, as_json: bool, quiet: bool, verbose: bool, ascii_only: bool, hold: tuple[str, str] | None,
    criterion: str | None, overlay: str | None, film: str | None, warmed: str | None, **given: Any,
) -> int:
    """Judge the hold in LOG, a text table of times and pressures; - reads standard input, .gz is unpacked.

    \b
    Example, from the project's folder:
      decay analyze sample_logs/tight_but_damp.csv --volume "6.65 L" --ambient "23 degC"

    Instead of LOGs give the record of one job, JOB.toml, which lists them with what is known of each.

    Several logs are judged one by one, and the worst exit code is returned; a log that cannot be read does not stop
    the rest. With --same-job their holds are fitted together, in order of the times at which the logs started (as
    given, where one has no date), and the verdict on the last one is the job's. A cold hold and one at least 15 K
    warmer separate a leak from slow outgassing: give --ambient once for each LOG, and say with --warmed what was
    warmed.

    The summary goes to standard output, remarks to standard error. The picture goes to the working directory under
    the log's name; if that exists, the next free name is taken (NAME-2.png). A picture named with --plot replaces
    nothing unless --force is given.
    """
    pictures.check(plot, no_plot, as_json)
    job = record.of_context()
    if job is not None:
        logs, same_job = job.logs, len(job.logs) > 1
    _check_number(logs, same_job, plot, hold)
    if plot is not None:
        pictures.destination(logs[0], plot, force)  # refuses before the long reading
    if film is not None and len(logs) > 1:
        raise click.UsageError("--film shows one hold growing: give one LOG")
    together = None if overlay is None else pictures.named_file(overlay, "--overlay", pictures.SUFFIXES, force)
    animation = None if film is None else pictures.film(film, force)
    page = sheet.wanted(given, len(logs), same_job, force)

    from decay import Warmed, load_criterion

    reading = options.read_options(given)
    # Before the log: a misspelt name should not cost a long reading.
    wanted = None if criterion is None else load_criterion(criterion)
    if len(given["ambient"]) > 1 and not same_job:
        raise click.UsageError("--ambient once for each LOG belongs to holds of one job: add --same-job")
    told = record.logs_of(job, logs, reading, given)
    system = told[0].system
    rig = _rig(rig_log, reading if job is None or job.rig is None else job.rig.read_as(reading), system, quiet)
    asked = {"criterion": wanted, "rig": rig, "warmed": None if warmed is None else Warmed(warmed)}
    faults: list[tuple[str, str]] = []
    analyses = _judge_together(told, asked, quiet) if same_job else _judge_each(told, hold, asked, faults, quiet)
    if warmed is not None and not any(analysis.warm for analysis in analyses):
        console.remark("--warmed was not used: that takes a cold and a warm hold, both temperatures known.", quiet)
    if as_json:
        _write_documents(analyses, faults, is_many=len(logs) > 1)
    else:
        shown = analyses if in_detail or verbose or not same_job else analyses[-1:]
        _write_summary(shown, ascii_only, in_detail=in_detail or verbose, verbose=verbose)
    for analysis in () if no_plot else analyses[-1:] if same_job else analyses:
        from decay.report.plot import draw

        name = analysis.log.source if job is None else str(job.path)
        pictures.write_picture(draw(analysis), pictures.destination(name, plot, force), force=force, quiet=quiet)
    if page is not None:
        sheet.write_sheet(page, analyses[-1], force=force, quiet=quiet)
    pictures.show(analyses, together, animation, wanted, force=force, quiet=quiet)
    return int(_worst(analyses[-1:] if same_job else analyses, bool(faults)))


def _check_number(logs: tuple[str, ...], same_job: bool, plot: str | None, hold: tuple[str, str] | None) -> None:
    if len(logs) == 1:
        if same_job:
            raise click.UsageError("--same-job takes two logs or more; the holds of one log are fitted together anyway")
        return
    if logs.count("-") > 1:
        raise click.UsageError("standard input can be one of the logs, not several")
    if hold is not None:
        raise click.UsageError("--hold points into one log: give one LOG, or leave it out")
    if plot is not None and not same_job:
        raise click.UsageError("--plot names one picture, and each LOG gets its own: leave it out, or add --same-job")


def _judge_together(told: Sequence[record.Told], asked: dict[str, Any], quiet: bool) -> tuple[Analysis, ...]:
    """Judge the logs of one job; each is read before any is judged, for a missing hold would change the answer."""
    from decay import analyze_job

    logs = [_read(log, quiet) for log in told]
    holds = [log.between(readings) for log, readings in zip(told, logs, strict=True)]
    return analyze_job(logs, [log.system for log in told], holds=holds, **asked)


def _judge_each(
    told: Sequence[record.Told], hold: tuple[str, str] | None, asked: dict[str, Any], faults: list[tuple[str, str]],
    quiet: bool,
) -> tuple[Analysis, ...]:
    """Judge logs one by one; of several, one that cannot be read is complained of and kept among the faults."""
    from decay import analyze as judge

    analyses = []
    for log in told:
        try:
            readings = _read(log, quiet)
        except LogError as problem:
            if len(told) == 1:
                raise
            console.complain(f"Error: {problem}")
            faults.append((log.file, str(problem)))
            continue
        between = log.between(readings) if hold is None else options.stretch_in(hold, readings)
        analyses.append(judge(readings, log.system, hold=between, **asked))
    return tuple(analyses)


def _read(log: record.Told, quiet: bool) -> PressureLog:
    from decay import read_log
    from decay.log import WRITTEN, Note

    note = f" ({log.note})" if log.note else ""
    console.reading(log.file, note, quiet)
    readings, system = read_log(log.file, log.reading), log.system
    if log.note:
        readings = replace(readings, notes=(Note(WRITTEN, log.note), *readings.notes))
    if system.refrigerant is not None and system.ambient is None and readings.temperature is None:
        raise click.UsageError(
            'a refrigerant needs a temperature, and the log has none. Add one, for example: --ambient "24 degC"')
    return readings


def _rig(rig_log: str | None, reading: Any, system: System, quiet: bool) -> RigTest | None:
    """Read the rig's own log, if there is one."""
    if rig_log is None:
        if system.rig_volume is not None:
            raise click.UsageError("--rig-volume belongs to --rig-log FILE, a hold of the rig alone")
        return None
    from decay import examine_rig
    from decay.errors import FitError

    try:
        return examine_rig(_read(record.Told(rig_log, reading, replace(system, refrigerant=None)), quiet), system)
    except FitError as problem:
        raise click.UsageError(f"--rig-log: {problem}") from problem


def _worst(analyses: Sequence[Analysis], is_unreadable: bool) -> ExitCode:
    """Return the exit code that weighs most: pass, inconclusive, fail, unreadable, in this order."""
    found = {ExitCode[analysis.verdict.result.name] for analysis in analyses}
    if is_unreadable:
        found.add(ExitCode.UNREADABLE)
    return max(found, key=(ExitCode.PASS, ExitCode.INCONCLUSIVE, ExitCode.FAIL, ExitCode.UNREADABLE).index)


def _write_documents(analyses: Sequence[Analysis], faults: Sequence[tuple[str, str]], *, is_many: bool) -> None:
    from decay.report.document import collection, document, dumps

    documents = [document(analysis) for analysis in analyses]
    console.answer(dumps(collection(documents, faults) if is_many else documents[0]))


def _write_summary(analyses: Sequence[Analysis], ascii_only: bool, *, in_detail: bool, verbose: bool) -> None:
    from decay.report.detail import summary
    from decay.report.short_summary import short_summary, table

    shape = console.shape(ascii_only)
    if in_detail:
        console.answer("\n".join(summary(analysis, verbose=verbose, **shape) for analysis in analyses))
    elif len(analyses) > 1:
        console.answer(table(analyses, **shape))
    elif analyses:
        console.answer(short_summary(analyses[0], **shape))
