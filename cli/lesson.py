"""`decay lesson`: for the instructor, what a rule of thumb passes and what a hold proves, by simulation."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from decay_cli import console, options, pictures

if TYPE_CHECKING:
    from pathlib import Path

    from decay.lesson import Pair, Terms

EPILOG = """
\b
Further examples:
  decay lesson --criterion one-hour-stand --volume "12 L" --charge "2 kg" --shares --runs 20 --no-plot
  decay lesson --refrigerant R290 --charge "150 g" --ambient "30 degC" --out handout.pdf --no-plot

The hand-out asks before it answers: one thought a page, in grey, to be printed. With --shares it goes on with how
often the rule is wrong, for the advanced.

A class: `decay simulate --class 12 --out monday` makes logs to hand out, and with what comes back
  decay lesson --key monday --answers monday_answers.csv
says who was right, and who was fooled by what.

\b
Exit codes:
    0  done
    2  usage: an option that makes no sense, or a file that cannot be written
   70  internal error, a fault of this program
"""


@click.command(name="lesson", epilog=EPILOG)
@click.option("--volume", type=options.Quantity("volume"), metavar="QUANTITY", default="3 L", show_default=True,
              help="Gas volume behind the closed valve, rig included.")
@click.option("--criterion", metavar="NAME|FILE.toml", default="field-line", show_default=True,
              help="The rule that the lesson is about: a shipped one (see `decay criteria`) or your own.")
@click.option("--hold", type=options.Quantity("duration"), metavar="QUANTITY",
              help='Length of the hold, "20 min"; the rule keeps its lines.  [default: the criterion\'s]')
@click.option("--refrigerant", metavar="NAME", default="R134a", show_default=True, help="Refrigerant.")
@click.option("--charge", type=options.Quantity("mass"), metavar="QUANTITY", default="650 g", show_default=True,
              help="Nominal charge.")
@click.option("--ambient", type=options.Quantity("temperature"), metavar="QUANTITY", default="24 degC",
              show_default=True, help="Temperature of the system.")
@click.option("--gauge-step", type=options.Quantity("pressure"), metavar="QUANTITY", default="1 micron",
              show_default=True, help="Smallest step of the gauge up to 1,000 steps; ten times coarser above.")
@click.option("--gauge-noise", type=options.Quantity("pressure"), metavar="QUANTITY", default="0.7 micron",
              show_default=True, help="Scatter (standard deviation) of its readings.")
@click.option("--gauge-accuracy", type=options.Quantity("fraction"), metavar="QUANTITY", default="10 %",
              show_default=True, help="Accuracy of the gauge, relative.")
@click.option("--interval", type=options.Quantity("duration"), metavar="QUANTITY",
              help='Time between readings, "2 s".  [default: a three-hundredth of the hold, 1 s to 10 s]')
@click.option("--damp", type=options.Quantity("pressure"), metavar="QUANTITY", default="1500 micron",
              show_default=True, help="Where the moisture of the dampest system would level off.")
@click.option("--runs", type=click.IntRange(1, 10_000), metavar="N", default=40, show_default=True,
              help="Invented jobs for --shares; two of five are analysed in full.")
@click.option("--seed", type=click.IntRange(min=0), metavar="N", default=1, show_default=True,
              help="Seed; the same seed, the same lesson.")
@click.option("--shares", is_flag=True,
              help="Go on with a second page: how often the rule is wrong, by Monte Carlo (some 20 seconds).")
@click.option("--out", metavar="FILE.pdf", help="Pages to print for a class, in grey.")
@click.option("--key", metavar="FOLDER",
              help="Grade a class instead: FOLDER is what `decay simulate --class` wrote.")
@click.option("--answers", multiple=True, metavar="FILE.csv",
              help="What the class wrote, for --key; may be repeated, and may be a folder.  [default: the key alone]")
@click.option("--film", metavar="FILE", help="Animate both holds as they grow (.gif; .mp4 where ffmpeg is there).")
@pictures.of("lesson.png")
@click.option("--json", "as_json", is_flag=True, help="Write one JSON document instead of the text.")
@options.units
@options.voice
def lesson(
    shares: bool, out: str | None, key: str | None, answers: tuple[str, ...], film: str | None, plot: str | None,
    no_plot: bool, force: bool, as_json: bool, quiet: bool, verbose: bool, ascii_only: bool, **given: Any,
) -> None:
    """Show two holds that a rule of thumb judges wrongly, and how often it does.

    \b
    Example:
      decay lesson --volume "6.5 L" --hold "15 min" --charge "1.2 kg"

    The first page needs no statistics: a tight, damp system that the rule fails, and a leaking one that it passes.
    With --shares a second page says how often that happens. Everything comes from simulated jobs with known truth;
    nothing was measured. The text goes to standard output, the picture to lesson.png in the working directory, or the
    next free name; that of the shares to the same name with "-shares".
    """
    pictures.check(plot, no_plot, as_json)
    if shares and plot == "-":
        raise click.UsageError("--plot - takes one picture, and --shares draws a second: name a file")
    if key is not None:
        _grade(key, answers, as_json, ascii_only, quiet)
        return
    if answers:
        raise click.UsageError("--answers belong to --key FOLDER, the class set that was handed out")
    target = None if no_plot else pictures.destination("lesson", plot, force)
    pages = None if out is None else pictures.named_file(out, "--out", (".pdf",), force)
    animation = None if film is None else pictures.film(film, force)
    terms = _terms(given)

    from decay.lesson import find_pair, teach

    pair = find_pair(terms)
    is_plain, width = console.is_plain(ascii_only), console.width()
    if not as_json:
        from decay.lesson.lesson_text import first_page

        console.answer(first_page(terms, pair, ascii_only=is_plain, width=width))
    if target is not None:
        from decay.lesson.plot_pages import draw_pair

        pictures.write_picture(draw_pair(terms, pair), target, force=force, quiet=quiet)
    made = None
    if shares:
        console.remark(f"Simulating {terms.runs} jobs at each of many leak sizes ...", quiet)
        with _bar(quiet) as progress:
            made = teach(terms, progress, pair)
        if not as_json:
            from decay.lesson.lesson_text import second_page

            console.answer("\n" + second_page(made, ascii_only=is_plain, width=width))
        if target is not None:
            from decay.lesson.plot_lesson import draw_lesson

            second = pictures.free(target.with_stem(f"{target.stem}-shares"), force)
            pictures.write_picture(draw_lesson(made), second, force=force, quiet=quiet)
    if as_json:
        from decay.lesson.lesson_document import lesson_document
        from decay.report.document import dumps

        console.answer(dumps(lesson_document(terms, pair, made)))
    if pages is not None:
        from decay.lesson.plot_pages import handout, save_pages

        pictures.writing(pages, lambda: save_pages(handout(terms, pair, made), pages, replace=force))
        console.remark(f"Pages to print: {pages}", quiet)
    if animation is not None:
        _animate(terms, pair, animation, force, quiet)


def _grade(key: str, answers: tuple[str, ...], as_json: bool, ascii_only: bool, quiet: bool) -> None:
    """Hold what a class wrote against its key."""
    from pathlib import Path

    from decay.lesson.grading import grade, read_answers, read_key

    files: list[Path] = []
    for name in answers:
        path = Path(name)
        files += sorted(path.glob("*.csv")) if path.is_dir() else [path]
    if answers and not files:
        raise click.UsageError(f"--answers: no file that ends in .csv in {', '.join(answers)}")
    found = read_answers(files)  # before the logs: a misspelt answer should not cost a long reading
    entries = read_key(Path(key), lambda log: console.remark(f"Judging {log} ...", quiet))
    grades = grade(entries, found)
    if as_json:
        from decay.lesson.lesson_document import grades_document
        from decay.report.document import dumps

        console.answer(dumps(grades_document(grades)))
        return
    from decay.lesson.lesson_document import grades_text

    console.answer(grades_text(grades, ascii_only=console.is_plain(ascii_only), width=console.width()))


def _animate(terms: Terms, pair: Pair, animation: Path, force: bool, quiet: bool) -> None:
    from decay.lesson.holds import grow_pair
    from decay.lesson.plot_film import save_film

    console.remark("Judging both holds as they grow ...", quiet)
    grown = grow_pair(terms, pair)
    if not grown:
        raise click.UsageError("--film: this rule misjudges none of the jobs tried, so there is nothing to show.")
    pictures.writing(animation, lambda: save_film(grown, animation, replace=force))
    console.remark(f"Animation: {animation}", quiet)


def _terms(given: dict[str, Any]) -> Terms:
    """Return what the options state."""
    from decay import DecayError, load_criterion
    from decay.lesson import Terms
    from decay.lesson.terms import gauge_like

    criterion = load_criterion(given["criterion"])
    hold = criterion.hold if given["hold"] is None else given["hold"]
    try:
        return Terms(
            volume=given["volume"],
            criterion=criterion,
            hold=hold,
            refrigerant=given["refrigerant"],
            charge=given["charge"],
            ambient=given["ambient"],
            gauge=gauge_like(given["gauge_step"], given["gauge_noise"], given["interval"], hold, criterion),
            gauge_accuracy=given["gauge_accuracy"],
            damp=given["damp"],
            runs=given["runs"],
            proof_runs=max(1, 2 * given["runs"] // 5),
            seed=given["seed"],
        )
    except DecayError as problem:
        raise click.UsageError(str(problem)) from problem


@contextmanager
def _bar(quiet: bool) -> Iterator[Callable[[int, int], None] | None]:
    """Yield what shows the progress on standard error; ``None`` where nobody watches."""
    if quiet or not console.is_terminal(sys.stderr):
        yield None
        return
    with click.progressbar(length=1, file=sys.stderr, label="Simulating") as bar:

        def show(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        yield show
