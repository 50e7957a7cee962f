"""`decay explain` and `decay criteria`: what the codes mean, and where the numbers of practice come from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from decay_cli import console, options
from decay_cli.options import UnderHeadings

if TYPE_CHECKING:
    from decay import ReadOptions


@click.command(name="explain", epilog=console.EPILOG_OF_PAGES)
@click.argument("code", required=False, shell_complete=options.complete_code)
@click.option("--search", metavar="WORD", help="List the codes whose page has this word.")
@click.option("--json", "as_json", is_flag=True, help="Write the pages as one JSON document.")
@options.voice
def explain(
    code: str | None, search: str | None, as_json: bool, quiet: bool, verbose: bool, ascii_only: bool
) -> None:
    """Show the manual page of a finding CODE; without one, list all codes.

    \b
    Examples:
      decay explain H01
      decay explain --search "free water"
    """
    from decay.audit import manual

    if code is not None and search is not None:
        raise click.UsageError("a code and --search contradict each other: give one of them")
    if code is not None:
        text = _page(code)
        found: tuple[str, ...] = (code.strip().upper(),)
    else:
        known = manual.row_titles()
        found = tuple(sorted(known)) if search is None else manual.matching(search)
        if not found:
            raise click.UsageError(f'no page has the word "{search}". `decay explain` lists all codes.')
        text = "".join(f"{name}  {known[name]}\n" for name in found)
    if as_json:
        from decay.report.document import dumps

        text = dumps(manual.manual_document(found))
    console.answer(text, ascii_only)


def _page(code: str) -> str:
    """Return the page of a code; one that is none is told with the nearest, or with those whose title has the word."""
    from decay import RangeError
    from decay.audit import manual

    try:
        return manual.practice_page(code, console.width()).rstrip("\n") + "\n"
    except RangeError as problem:
        named = [name for name in manual.matching(code) if code.casefold() in manual.row_titles()[name].casefold()]
        if not named:
            raise click.UsageError(str(problem)) from problem
        raise click.UsageError(f'there is no code "{code}". Codes about it:\n' + "\n".join(
            f"  {name}  {manual.row_titles()[name]}" for name in named)) from problem


EPILOG = console.EPILOG_OF_PAGES.replace("   70", "    4  unreadable LOG\n   70")


@click.command(name="criteria", cls=UnderHeadings, epilog=EPILOG)
@click.argument("about", required=False, metavar="[NAME|LOG]", shell_complete=options.complete_criterion)
@options.reading
@click.option("--hold", type=options.StretchType(), metavar="START..END", help="Stretch of LOG to hold against them.")
@click.option("--json", "as_json", is_flag=True, help="Write one JSON document instead of the table.")
@options.units
@options.voice
def criteria(
    about: str | None, hold: tuple[str, str] | None, as_json: bool, quiet: bool, verbose: bool, ascii_only: bool,
    **given: Any,
) -> None:
    """Show the criteria of practice: their numbers, one of them in full, or which of them the hold in LOG meets.

    \b
    Examples:
      decay criteria
      decay criteria field-line
      decay criteria sample_logs/tight_but_damp.csv
    """
    from decay import criterion_names, default_criteria, load_criterion
    from decay.report.criteria_report import criteria_document, criteria_table, criterion_page

    plain, width = console.is_plain(ascii_only), console.width()
    if about is not None and about not in criterion_names() and not about.endswith(".toml"):
        _check_about(about)
        console.reading(about, "", quiet)
        _of_log(about, hold, options.read_options(given), as_json, plain, width)
        return
    shown = [load_criterion(name) for name in (criterion_names() if about is None else (about,))]
    if as_json:
        from decay.report.document import dumps

        console.answer(dumps(criteria_document(shown, default_criteria())))
    elif about is None:
        console.answer(criteria_table(shown, default_criteria(), ascii_only=plain, width=width))
    else:
        console.answer(criterion_page(shown[0], ascii_only=plain, width=width))


def _check_about(about: str) -> None:
    """Refuse what is neither a criterion nor looks like a file, with the names that are."""
    from pathlib import Path

    from decay import DecayError, load_criterion

    if Path(about).suffix or Path(about).exists() or about == "-":
        return
    try:
        load_criterion(about)
    except DecayError as problem:
        raise click.UsageError(f"{problem}\n       Nor is there a log of this name.") from problem


def _of_log(
    log: str, hold: tuple[str, str] | None, reading: ReadOptions, as_json: bool, plain: bool, width: int
) -> None:
    from decay import analyze, practices, read_log
    from decay.report.criteria_report import criteria_of_hold, outcomes_document

    readings = read_log(log, reading)
    analysis = analyze(readings, hold=None if hold is None else options.stretch_in(hold, readings))
    if as_json:
        from decay.report.document import dumps

        console.answer(dumps(outcomes_document(analysis, practices(analysis))))
    else:
        console.answer(criteria_of_hold(analysis, practices(analysis), ascii_only=plain, width=width))
