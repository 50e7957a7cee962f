"""`decay explain` and `decay criteria`: what the codes mean, and where the numbers of practice come from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from decay_cli import console, options, stretch
from decay_cli.headings import UnderHeadings

if TYPE_CHECKING:
    from decay import ReadOptions


@click.command(name="explain")
@click.argument("code", required=False, shell_complete=options.complete_code)
@options.voice
def explain(code: str | None, quiet: bool, verbose: bool, ascii_only: bool) -> None:
    """Show the manual page of a finding CODE; without one, list all codes.

    \b
    Example that works:
      decay explain H01
    """
    from decay import RangeError
    from decay.audit.manual import page, titles

    if code is None:
        console.answer("".join(f"{name}  {title}\n" for name, title in sorted(titles().items())), ascii_only)
        return
    try:
        text = page(code)
    except RangeError as problem:
        named = {name: title for name, title in titles().items() if code.casefold() in title.casefold()}
        if not named:
            raise click.UsageError(str(problem)) from problem
        raise click.UsageError(f'there is no code "{code}". Codes about it:\n' + "\n".join(
            f"  {name}  {title}" for name, title in sorted(named.items()))) from problem
    console.answer(text.rstrip("\n") + "\n", ascii_only)


@click.command(name="criteria", cls=UnderHeadings)
@click.argument("about", required=False, metavar="[NAME|LOG]", shell_complete=options.complete_criterion)
@options.reading
@click.option("--hold", type=stretch.Stretch(), metavar="START..END", help="Stretch of LOG to hold against them.")
@options.units
@options.voice
def criteria(
    about: str | None, hold: tuple[str, str] | None, quiet: bool, verbose: bool, ascii_only: bool, **given: Any
) -> None:
    """Show the criteria of practice: their numbers, one of them in full, or which of them the hold in LOG meets.

    \b
    Examples that work:
      decay criteria
      decay criteria field-line
      decay criteria sample_logs/tight_but_damp.csv
    """
    from decay import criterion_names, default_criteria, load_criterion
    from decay.report.criteria_text import criteria_table, criterion_page

    plain, width = console.is_plain(ascii_only), console.width()
    if about is None:
        known = [load_criterion(name) for name in criterion_names()]
        console.answer(criteria_table(known, default_criteria(), ascii_only=plain, width=width))
    elif about in criterion_names() or about.endswith(".toml"):
        console.answer(criterion_page(load_criterion(about), ascii_only=plain, width=width))
    else:
        _of_log(about, hold, options.read_options(given), plain, width)


def _of_log(log: str, hold: tuple[str, str] | None, reading: ReadOptions, plain: bool, width: int) -> None:
    from decay import analyze, practices, read_log
    from decay.report.criteria_text import criteria_of_hold

    readings = read_log(log, reading)
    analysis = analyze(readings, hold=None if hold is None else stretch.stretch_of(hold, readings))
    console.answer(criteria_of_hold(analysis, practices(analysis), ascii_only=plain, width=width))
