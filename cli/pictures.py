"""Where a picture goes, so that nothing is replaced that the user did not ask to replace."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from decay_cli import console, options

SUFFIXES = (".png", ".svg", ".pdf")
OUTPUT = Path("-")
"""Stands for standard output, which takes a PNG."""


def of(usual: str, replaces: str = "Replace a picture that exists.") -> Callable[[options.Command], options.Command]:
    """Return the options of a picture; ``usual`` is what it is called where nothing is said."""
    return options.stacked(
        click.option("--plot", metavar="FILE",
                     help=f"Picture to write (.png, .svg, .pdf); - is standard output.  [default: {usual}]"),
        click.option("--no-plot", is_flag=True, help="Write no picture."),
        click.option("--force/--no-clobber", default=False, help=f"{replaces}  [default: no-clobber]"),
    )


def check(plot: str | None, no_plot: bool, as_json: bool) -> None:
    """Refuse what contradicts itself about the picture; with ``--plot -`` leave standard output to it.

    Raises
    ------
    click.UsageError
        If they contradict each other, or standard output can take no picture.
    """
    if plot is None:
        return
    if no_plot:
        raise click.UsageError("--plot and --no-plot contradict each other: give one of them")
    if plot == str(OUTPUT):
        if as_json:
            raise click.UsageError("--json and --plot - both ask for standard output: name a file for the picture")
        console.leave_output_to_a_picture()


def destination(log: str, asked: str | None, force: bool) -> Path:
    """Return the file to write a picture to.

    A name that the user gave, ``-`` for standard output, is used or refused. Without one it is the log's own name in
    the working directory, and where that exists the first free ``NAME-2.png``, ``NAME-3.png``, ...

    Raises
    ------
    click.UsageError
        If the name ends in no known suffix, the folder does not exist, the file is the log itself, or it exists.
    """
    if asked == str(OUTPUT):
        return OUTPUT
    path = free(Path(f"{stem(log)}.png"), force) if asked is None else named_file(asked, "--plot", SUFFIXES, force)
    if log != "-" and path.exists() and Path(log).exists() and path.samefile(log):
        raise click.UsageError(f"--plot: {path} is the log itself. Choose another name.")
    return path


def free(path: Path, force: bool) -> Path:
    """Return a name that nothing has: the name itself, or ``NAME-2``, ``NAME-3``, ...; with ``force`` the name."""
    found, number = path, 2
    while not force and found.exists():
        found = path.with_stem(f"{path.stem}-{number}")
        number += 1
    return found


def named_file(asked: str, option: str, suffixes: tuple[str, ...], force: bool) -> Path:
    """Return the file that an option names, refused before any long work.

    Raises
    ------
    click.UsageError
        If it ends in none of them, its folder does not exist, or it exists.
    """
    path = Path(asked)
    if path.suffix.lower() not in suffixes:
        raise click.UsageError(
            f'{option}: "{asked}" must end in {", ".join(suffixes)}, for example "{path.stem or "hold"}{suffixes[0]}"')
    if not path.parent.is_dir():
        raise click.UsageError(f'{option}: the folder "{path.parent}" does not exist')
    if path.exists() and not force:
        raise click.UsageError(f"{option}: {asked} exists. Choose another name, or add --force.")
    return path


def film(asked: str, force: bool) -> Path:
    """Return the file of an animation, refused before any long work where it cannot be written.

    Raises
    ------
    click.UsageError
        As `named_file`, and where ffmpeg is wanted and missing.
    """
    from decay.lesson.plot_film import FILMS, film_faults

    path = named_file(asked, "--film", FILMS, force)
    fault = film_faults(path)
    if fault is not None:
        raise click.UsageError(f"--film: {fault}")
    return path


def show(analyses: Sequence[Any], overlay: Path | None, animation: Path | None, criterion: Any, *, force: bool,
         quiet: bool) -> None:
    """Write what is shown to a class, where named: the holds of all logs, and the first one as it grows."""
    from decay.errors import RangeError

    if overlay is not None:
        from decay.report.plot_overlay import draw_overlay

        try:
            write_picture(draw_overlay(analyses), overlay, force=force, quiet=quiet)
        except RangeError as problem:
            raise click.UsageError(f"--overlay: {problem}") from problem
    if animation is None or not analyses:
        return
    analysis = analyses[-1]
    if analysis.basis.span is None:
        raise click.UsageError("--film: the log has no usable hold to show growing. Point at one with --hold.")
    from decay import load_criterion
    from decay.lesson.growing import grow
    from decay.lesson.plot_film import save_film

    with progress("Judging the growing hold", quiet) as told:
        name = Path(analysis.log.source).name
        # The rule that judges the whole hold, from the start: else it would change while the hold grows.
        rule = criterion if criterion is not None else load_criterion(analysis.verdict.criterion.name)
        grown = grow(analysis.log, analysis.system, rule, analysis.basis.span, name=name, told=told)
    writing(animation, lambda: save_film([grown], animation, replace=force))
    console.remark(f"Animation: {animation}", quiet)


@contextmanager
def progress(label: str, quiet: bool) -> Iterator[Callable[[int], None]]:
    """Yield what is told how many more moments are done, shown on standard error where that is a terminal."""
    if quiet or not console.is_terminal(sys.stderr):
        yield lambda more: None
        return
    from decay.lesson.growing import MOMENTS

    with click.progressbar(length=MOMENTS, file=sys.stderr, label=label) as bar:
        yield bar.update


def writing(target: Path, save: Callable[[], object], standing: str = "The answer stands above.") -> None:
    """Do what writes a file; a file that cannot be written is a usage error that says what the user has all the same.

    Raises
    ------
    click.UsageError
        If it cannot be written.
    """
    try:
        save()
    except OSError as problem:
        raise click.UsageError(
            f"{target} cannot be written: {problem.strerror or problem}.\n       {standing} Name another file."
        ) from problem


def write_picture(
    figure: Any, target: Path, *, force: bool, quiet: bool, standing: str = "The answer stands above."
) -> None:
    """Write a picture where `destination` said, and say so; ``standing`` is what the user has without it.

    Raises
    ------
    click.UsageError
        If it cannot be written.
    """
    from decay.report.plot_style import png, save_picture

    if target == OUTPUT:
        console.bytes_of_a_picture(png(figure))
        return
    try:
        save_picture(figure, target, replace=force)
    except OSError as problem:
        raise click.UsageError(
            f"the picture {target} cannot be written: {problem.strerror or problem}.\n"
            f"       {standing} Name another file with --plot, or add --no-plot.") from problem
    console.remark(f"Picture: {target}", quiet)


def stem(log: str) -> str:
    """Return the name of a log without folder and suffixes; ``"stdin"`` for standard input.

    Examples
    --------
    >>> stem("jobs/van 7.csv"), stem("a.csv.gz"), stem("-"), stem("2026.03.18 van.csv")
    ('van 7', 'a', 'stdin', '2026.03.18 van')
    """
    name = Path(log).name
    if log == "-" or not name:
        return "stdin"
    return Path(name[:-3] if name.lower().endswith(".gz") and len(name) > 3 else name).stem
