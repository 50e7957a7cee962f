"""`decay analyze`: one log to one verdict, on screen or as JSON, with a picture beside it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from decay_cli import console, options, pictures
from decay_cli.exit_codes import EPILOG, ExitCode

if TYPE_CHECKING:
    from decay import Analysis


@click.command(name="analyze", epilog=EPILOG)
@click.argument("log")
@options.job
@click.option("--criterion", metavar="NAME|FILE.toml",
              help="Criterion of practice: a shipped one (see `decay criteria`) or your own.")
@click.option("--hold", type=options.Stretch(), metavar="START..END",
              help='Judge this stretch: 300..1500 in seconds, "5 min..25 min", or clock times.')
@options.reading
@click.option("--plot", metavar="FILE", help="Picture to write (.png, .svg or .pdf).  [default: LOG's name .png]")
@click.option("--no-plot", is_flag=True, help="Write no picture.")
@click.option("--force/--no-clobber", default=False, help="Replace a picture that exists.  [default: no-clobber]")
@click.option("--json", "as_json", is_flag=True, help="Write one JSON document instead of the summary.")
@options.voice
def analyze(
    log: str, plot: str | None, no_plot: bool, force: bool, as_json: bool, quiet: bool, verbose: bool,
    ascii_only: bool, hold: tuple[str, str] | None, criterion: str | None, **given: Any,
) -> int:
    """Judge the hold in LOG, a text table of times and pressures; - reads standard input, .gz is unpacked.

    \b
    Example that works in the project's folder:
      decay analyze sample_logs/tight_but_damp.csv --volume "6.65 L" --ambient "23 degC"

    The summary goes to standard output, remarks to standard error. The picture goes to the working directory under
    the log's name; if that exists, the next free name is taken (NAME-2.png). A picture named with --plot replaces
    nothing unless --force is given.
    """
    if plot is not None and no_plot:
        raise click.UsageError("--plot and --no-plot contradict each other: give one of them")
    target = None if no_plot else pictures.destination(log, plot, force)

    from decay import analyze as judge
    from decay import load_criterion, read_log

    reading = options.read_options(given)
    wanted = load_criterion(criterion)  # before the log: a misspelt name should not cost a long reading
    system = options.system_of(given)
    console.remark(f"Reading {'standard input' if log == '-' else log} ...", quiet)
    readings = read_log(log, reading)
    if system.refrigerant is not None and system.ambient is None and readings.temperature is None:
        raise click.UsageError(
            'a refrigerant needs a temperature, and the log has none. Add one, for example: --ambient "24 degC"')
    between = None
    if hold is not None:
        between = (options.moment(hold[0], readings.started), options.moment(hold[1], readings.started))
    analysis = judge(readings, system, wanted, hold=between)
    _answer(analysis, as_json, verbose, ascii_only)
    if target is not None:
        _picture(analysis, target, quiet)
    return int(ExitCode[analysis.verdict.result.name])


def _answer(analysis: Analysis, as_json: bool, verbose: bool, ascii_only: bool) -> None:
    if as_json:
        from decay.report.document import document, dumps

        console.answer(dumps(document(analysis)))
        return
    from decay.report.text import summary

    console.answer(summary(analysis, ascii_only=console.is_plain(ascii_only), color=console.is_coloured(),
                           verbose=verbose, width=console.width()))


def _picture(analysis: Analysis, target: Path, quiet: bool) -> None:
    from decay.report.plot import draw, save

    try:
        save(draw(analysis), target)
    except OSError as problem:
        raise click.UsageError(
            f"the picture {target} cannot be written: {problem.strerror or problem}.\n"
            "       The answer stands above. Name another file with --plot, or add --no-plot.") from problem
    console.remark(f"Picture: {target}", quiet)
