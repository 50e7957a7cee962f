"""`decay simulate`: an invented evacuation with known truth, for teaching and for trying things out."""

from __future__ import annotations

from typing import Any

import click
from click.shell_completion import CompletionItem

from decay_cli import console, defaults, options

DIALECT_NAMES = (
    "comma", "elapsed", "minutes", "hms", "semicolon", "tab", "epoch-ms", "clock12", "bare", "utf16",
)  # spelled out, so that --help loads click only; a test holds them against decay.simulation.SHAPES

EPILOG = """
\b
Further examples:
  decay simulate --damp "600 micron" --target "300 micron" --out damp.csv
  decay simulate --like leaking_slowly --seed 3 --out van.csv
  decay simulate --class 12 --seed 7 --out monday

The log is synthetic and says so in its first line. Its truth stands beside it, as a file of the same name that
ends in .toml. Nothing is overwritten without --force. A dry, tight job leaves no mark when its valve closes, as no
such job does: with some --damp and a --target that ends the pull while it still falls, the hold shows.

A class set is a folder: "class" in it is to be handed out (logs, a sheet to print, answers.csv to fill in), "key"
is to be kept. `decay lesson --key FOLDER` grades what came back.

\b
Exit codes:
    0  written
    2  usage: an option that makes no sense, or a file that cannot be written
   70  internal error, a fault of this program
"""


def complete_preset(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete the name of a preset."""
    from decay.simulation.ready_jobs import preset_names

    return [CompletionItem(name) for name in preset_names() if name.startswith(incomplete)]


@click.command(name="simulate", cls=defaults.Saying, epilog=EPILOG)
@click.argument("job", required=False, type=click.Path(exists=True, dir_okay=False), metavar="[JOB.toml]")
@click.option("--out", metavar="FILE.csv", help="The log to write; compressed if the name ends in .gz.")
@click.option("--like", metavar="NAME", shell_complete=complete_preset,
              help='Start from a preset, like "leaking slowly"; other options change it.')
@click.option("--presets", is_flag=True, help="List the presets.")
@click.option("--class", "class_size", type=click.IntRange(1, 60), metavar="N",
              help="Write N logs of mixed truth into the folder --out, for a class.")
@click.option("--volume", type=options.Quantity("volume"), metavar="QUANTITY",
              help='Gas volume of the system, like "3 L".')
@click.option("--leak", type=options.Quantity("rise_rate"), metavar="QUANTITY",
              help='True leak as a rise of the isolated volume, like "5 micron/min".')
@click.option("--damp", type=options.Quantity("pressure"), metavar="QUANTITY",
              help='Moisture in oil and rubber, as the rise all of it would make, like "600 micron".')
@click.option("--damp-time", type=options.Quantity("duration"), metavar="QUANTITY", default="10 min", show_default=True,
              help="Time constant of that moisture.")
@click.option("--water", type=options.Quantity("mass"), metavar="QUANTITY",
              help='Free water in the system, like "5 g".')
@click.option("--target", type=options.Quantity("pressure"), metavar="QUANTITY",
              help='Reading that ends each pull, like "300 micron".')
@click.option("--hold", type=options.Quantity("duration"), metavar="QUANTITY",
              help='Length of each hold, like "20 min".')
@click.option("--ambient", type=options.Quantity("temperature"), metavar="QUANTITY",
              help='Temperature, like "24 degC".')
@click.option("--interval", type=options.Quantity("duration"), metavar="QUANTITY",
              help='Time between readings, like "2 s".')
@click.option("--seed", type=click.IntRange(min=0), help="Seed of the gauge's noise; the same seed, the same log.")
@click.option("--dialect", type=click.Choice(DIALECT_NAMES), help="Shape of the log.  [default: comma]")
@click.option("--unit", metavar="UNIT", help="Unit of the pressures, like micron, mTorr, Pa, mbar or Torr.")
@click.option("--force", is_flag=True, help="Replace files that exist.")
@options.units
@options.voice
def simulate(
    job: str | None, out: str | None, like: str | None, presets: bool, class_size: int | None, dialect: str | None,
    unit: str | None, force: bool, quiet: bool, verbose: bool, ascii_only: bool, **given: Any,
) -> None:
    """Write the log of an invented evacuation, with its truth beside it; or a set of them for a class.

    \b
    Example:
      decay simulate --leak "5 micron/min" --hold "30 min" --out leaking.csv

    The job is a TOML file of steps and sources, a preset, or stands in the options; options replace what it says.
    Without any of them a small dry system is pumped for 40 minutes and held for 30.
    """
    if presets:
        _list_presets(ascii_only)
        return
    if out is None:
        raise click.UsageError("--out is missing: name the log to write, for example: --out leaking.csv")
    if class_size is not None:
        stated = [name for name, value in (("JOB.toml", job), ("--like", like), ("--dialect", dialect),
                                           ("--unit", unit)) if value is not None]
        stated += [f"--{name.replace('_', '-')}" for name, value in given.items()
                   if name not in ("seed", "damp_time") and value is not None]
        if stated:
            raise click.UsageError(f"--class makes its own jobs: leave out {', '.join(stated)}")
        _write_class(class_size, given["seed"] or 1, out, quiet)
        return
    if job is not None and like is not None:
        raise click.UsageError("JOB.toml and --like both name a job: give one of them")
    _check_name(out)
    _write_one(job, out, like, dialect, unit, force, ascii_only, given)


def _list_presets(ascii_only: bool) -> None:
    from textwrap import fill

    from decay.simulation.ready_jobs import preset, preset_names

    width = console.width()
    told = [f"{name}\n{fill(preset(name).about, width, initial_indent='    ', subsequent_indent='    ')}"
            for name in preset_names()]
    console.answer("\n".join(told) + "\n", ascii_only)


def _check_name(out: str) -> None:
    """Refuse a name that says the log is something else than text."""
    from decay.audit.collect import ENDINGS

    if out == "-":
        raise click.UsageError("--out needs the name of a file: the log and its truth are two files")
    bare = out.lower().removesuffix(".gz")
    if not bare.endswith(ENDINGS):
        raise click.UsageError(
            f"--out: {out}: a log is text. End its name in {', '.join(ENDINGS)}, packed ones in .gz after that.")


def _write_class(count: int, seed: int, out: str, quiet: bool) -> None:
    from pathlib import Path

    from decay.lesson.plot_pages import answer_sheets, save_pages
    from decay.simulation.class_set import HANDED_OUT, KEPT, KEY, class_set, write_class_set

    if Path(out).exists():
        raise click.UsageError(f"--out: {out} exists. Choose another name for the folder.")
    console.remark(f"Making {count} logs ...", quiet)
    logs = class_set(count, seed)
    sheet = "answer_sheet.pdf"

    def add_sheet(folder: Path) -> None:
        save_pages(answer_sheets([log.name for log in logs]), folder / sheet, replace=False)

    try:
        write_class_set(logs, out, add_sheet)
    except OSError as problem:
        raise click.UsageError(f"--out: {out}: cannot be written: {problem.strerror or problem}") from problem
    console.answer(
        f"{out}/{HANDED_OUT}: hand out. {count} synthetic logs, {sheet} to print, answers.csv to fill in\n"
        f"{out}/{KEPT}: keep. {KEY} says what each log is\n"
        f"Grade what comes back: decay lesson --key {out} --answers FILE.csv\n")


def _write_one(
    job: str | None, out: str, like: str | None, dialect: str | None, unit: str | None, force: bool, ascii_only: bool,
    given: dict[str, Any],
) -> None:
    from pathlib import Path

    from decay import wording
    from decay.errors import DecayError
    from decay.quantities import pressure_unit
    from decay.simulation import Job, JobFile, adjusted, read_job_file, run, truth_path, write_log
    from decay.simulation.ready_jobs import preset

    if given["volume"] is not None:
        given["volume"] = given["volume"].value
    try:
        if job is not None and truth_path(Path(out)).resolve() == Path(job).resolve():
            raise click.UsageError(f"the truth beside {out} would replace the job file {job}: choose another --out")
        file = JobFile(Job(name="invented on the command line"))
        if job is not None or like is not None:
            file = read_job_file(job) if job is not None else preset(str(like))
        canonical = None
        if unit is not None:
            canonical = pressure_unit(unit)
            if canonical is None:
                raise click.UsageError(f"--unit: {unit!r} is not a unit of absolute pressure, like micron or mbar")
        changed = adjusted(file.job, **given)
        made = run(changed)
        # The stated expectation belongs to the job as the file has it, not to one changed by options.
        expected = file.expected if changed == file.job else None
        start = {"started": file.log["started"]} if "started" in file.log else {}
        log, truth = write_log(
            made, out, dialect or file.log.get("dialect", "comma"), unit=canonical or file.log.get("unit"),
            expected=expected, force=force, **start)
    except FileExistsError as problem:
        raise click.UsageError(f"{problem}. Choose another --out, or add --force.") from problem
    except OSError as problem:
        raise click.UsageError(f"{out}: cannot be written: {problem.strerror or problem}") from problem
    except DecayError as problem:
        raise click.UsageError(str(problem)) from problem

    lines = [
        f"{log}: synthetic log, {len(made.readings.time):,} readings; nothing was measured",
        f"{truth}: its truth",
        f"True leak {made.leak_rate / wording.rate_size():.4g} {wording.rate_unit()} into"
        f" {made.isolated_volume * 1e3:.4g} L",
    ]
    lines += [
        f"Hold {number}: {wording.clock(hold.start)} to {wording.clock(hold.end)},"
        f" leak {wording.number(hold.leak_rate / wording.rate_size())} {wording.rate_unit()},"
        f" outgassing rise {wording.number(hold.outgassing_rise / wording.size())} {wording.unit()}"
        for number, hold in enumerate(made.holds, 1)
    ]
    console.answer("\n".join(lines) + "\n", ascii_only)
