"""`decay compare`: two holds of one system, before and after, against each other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from decay_cli import console, defaults, options, pictures
from decay_cli.console import ExitCode

if TYPE_CHECKING:
    from decay import Analysis
    from decay.comparison import Comparison

EPILOG = """
\b
Exit codes:
    0  the leak is smaller, or the same
    1  the leak is larger
    2  usage: an option that makes no sense, or a file that cannot be written
    3  the leak cannot be compared, or a log has no usable hold
    4  unreadable input
   70  internal error, a fault of this program
  130  interrupted
"""


@click.command(name="compare", cls=defaults.CommandWithDefaults, epilog=EPILOG)
@click.argument("before")
@click.argument("after")
@options.job_of_logs
@click.option("--hold-before", type=options.StretchType(), metavar="START..END", help="The hold of BEFORE to compare.")
@click.option("--hold-after", type=options.StretchType(), metavar="START..END", help="The hold of AFTER to compare.")
@options.reading
@pictures.of("BEFORE-to-AFTER.png")
@click.option("--json", "as_json", is_flag=True, help="Write one JSON document instead of the text.")
@options.units
@options.voice
def compare(
    before: str, after: str, hold_before: tuple[str, str] | None, hold_after: tuple[str, str] | None,
    plot: str | None, no_plot: bool, force: bool, as_json: bool, quiet: bool, verbose: bool, ascii_only: bool,
    **given: Any,
) -> int:
    """Compare BEFORE and AFTER: one system before and after a repair, a sweep or a new valve core.

    \b
    Example, from the project's folder:
      decay compare sample_logs/leak_with_damp.csv sample_logs/tight_but_damp.csv

    Two answers, each better, same, worse or cannot tell: is the leak smaller, and is the system drier. The exit code is
    the leak's. --allow ("2 micron/min") says how much change of the leak still counts as the same. Where the
    temperature changed, give --ambient twice: then it says how much of the difference is due to warmth.
    """
    del verbose
    pictures.check(plot, no_plot, as_json)
    if before == "-" and after == "-":
        raise click.UsageError("standard input can be one of the two logs, not both")
    name = f"{pictures.stem(before)}-to-{pictures.stem(after)}.csv"
    target = None if no_plot else pictures.destination(name, plot, force)

    from decay.comparison import Change
    from decay.comparison import compare as hold_against
    from decay.errors import FitError

    reading = options.read_options(given)
    earlier, later = options.systems_of(given, 2)
    first = _analysis(before, reading, earlier, hold_before, quiet)
    second = _analysis(after, reading, later, hold_after, quiet)
    try:
        comparison = hold_against(first, second)
    except FitError as problem:
        console.complain(f"Cannot tell: {problem}")
        return int(ExitCode.INCONCLUSIVE)
    _answer(comparison, as_json, ascii_only)
    if target is not None:
        from decay.report.plot_overlay import draw_compare

        pictures.write_picture(draw_compare(comparison), target, force=force, quiet=quiet)
    codes = {Change.WORSE: ExitCode.FAIL, Change.CANNOT_TELL: ExitCode.INCONCLUSIVE}
    return int(codes.get(comparison.leak.change, ExitCode.PASS))


def _analysis(log: str, reading: Any, system: Any, hold: tuple[str, str] | None, quiet: bool) -> Analysis:
    from decay import analyze, read_log

    console.reading(log, "", quiet)
    readings = read_log(log, reading)
    if system.refrigerant is not None and system.ambient is None and readings.temperature is None:
        raise click.UsageError(
            'a refrigerant needs a temperature, and the log has none. Add one, for example: --ambient "24 degC"')
    between = None
    if hold is not None:
        between = options.stretch_in(hold, readings)
    return analyze(readings, system, hold=between)


def _answer(comparison: Comparison, as_json: bool, ascii_only: bool) -> None:
    if as_json:
        from decay.report.compare_report import compare_document
        from decay.report.document import dumps

        console.answer(dumps(compare_document(comparison)))
        return
    from decay.report.compare_report import compare_text

    console.answer(compare_text(comparison, **console.shape(ascii_only)))
