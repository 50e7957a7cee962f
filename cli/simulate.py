"""`decay simulate`: an invented evacuation with known truth, for teaching and for trying things out."""

from __future__ import annotations

from typing import Any

import click

from decay_cli import console, options

DIALECT_NAMES = (
    "comma", "elapsed", "minutes", "hms", "semicolon", "tab", "epoch-ms", "clock12", "bare", "utf16",
)  # spelled out, so that --help loads click only; a test holds them against decay.simulate.DIALECTS

EPILOG = """
\b
Further examples that work:
  decay simulate --damp "600 micron" --target "300 micron" --out damp.csv
  decay simulate sample_logs/jobs/free_water.toml --seed 3 --out wet.csv

The log is synthetic and says so in its first line. Its truth stands beside it, as a file of the same name that
ends in .toml. Nothing is overwritten without --force. A dry, tight job leaves no mark when its valve closes, as no
such job does: with some --damp and a --target that ends the pull while it still falls, the hold shows.

Exit codes: 0 written, 2 usage or a file that cannot be written.
"""


@click.command(name="simulate", epilog=EPILOG)
@click.argument("job", required=False, type=click.Path(exists=True, dir_okay=False), metavar="[JOB.toml]")
@click.option("--out", required=True, type=click.Path(dir_okay=False), metavar="FILE.csv",
              help="The log to write; compressed if the name ends in .gz.")
@click.option("--volume", metavar="QUANTITY", help='Gas volume of the system, like "3 L".')
@click.option("--leak", metavar="QUANTITY", help='True leak as a rise of the isolated volume, like "5 micron/min".')
@click.option("--damp", metavar="QUANTITY",
              help='Moisture in oil and rubber, as the rise all of it would make, like "600 micron".')
@click.option("--damp-time", metavar="QUANTITY", default="10 min", show_default=True,
              help="Time constant of that moisture.")
@click.option("--water", metavar="QUANTITY", help='Free water in the system, like "5 g".')
@click.option("--target", metavar="QUANTITY", help='Reading that ends each pull, like "300 micron".')
@click.option("--hold", metavar="QUANTITY", help='Length of each hold, like "20 min".')
@click.option("--ambient", metavar="QUANTITY", help='Temperature, like "24 degC".')
@click.option("--interval", metavar="QUANTITY", help='Time between readings, like "2 s".')
@click.option("--seed", type=click.IntRange(min=0), help="Seed of the gauge's noise; the same seed, the same log.")
@click.option("--dialect", type=click.Choice(DIALECT_NAMES), help="Shape of the log.  [default: comma]")
@click.option("--unit", metavar="UNIT", help="Unit of the pressures, like micron, mTorr, Pa, mbar or Torr.")
@click.option("--force", is_flag=True, help="Replace files that exist.")
@options.voice
def simulate(
    job: str | None, out: str, dialect: str | None, unit: str | None, force: bool, quiet: bool, verbose: bool,
    ascii_only: bool, **given: Any,
) -> None:
    """Write the log of an invented evacuation, with its truth beside it.

    \b
    Example that works:
      decay simulate --leak "5 micron/min" --hold "30 min" --out leaking.csv

    The job is a TOML file of steps and sources, or stands in the options; options replace what the file says.
    Without either a small dry system is pumped for 40 minutes and held for 30.
    """
    from pathlib import Path

    from decay.errors import DecayError
    from decay.quantities import MICRON, pressure_unit
    from decay.simulate import Job, JobFile, adjusted, read_job_file, run, truth_path, write_log

    if out == "-":
        raise click.UsageError("--out needs the name of a file: the log and its truth are two files")
    try:
        if job is not None and truth_path(Path(out)).resolve() == Path(job).resolve():
            raise click.UsageError(f"the truth beside {out} would replace the job file {job}: choose another --out")
        file = read_job_file(job) if job is not None else JobFile(Job(name="invented on the command line"))
        canonical = None
        if unit is not None:
            canonical = pressure_unit(unit)
            if canonical is None:
                raise click.UsageError(f"--unit: {unit!r} is not a unit of absolute pressure, like micron or mbar")
        changed = adjusted(file.job, **_quantities(given))
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
        f"{log}: synthetic log, {len(made.readings.time)} readings; nothing was measured",
        f"{truth}: its truth",
        f"True leak {made.leak_rate / MICRON * 60:.4g} micron/min into {made.isolated_volume * 1e3:.4g} L",
    ]
    lines += [
        f"Hold {number}: {hold.start:.0f} s to {hold.end:.0f} s,"
        f" leak {hold.leak_rate / MICRON * 60:.4g} micron/min,"
        f" outgassing rise {hold.outgassing_rise / MICRON:.4g} micron"
        for number, hold in enumerate(made.holds, 1)
    ]
    console.answer("\n".join(lines) + "\n", ascii_only)


def _quantities(given: dict[str, Any]) -> dict[str, Any]:
    """Return the options as SI numbers under the names of `decay.simulate.adjusted`."""
    from decay import quantities
    from decay.errors import DecayError, UnitError
    from decay.system import AllowKind

    kinds = {"volume": "volume", "damp": "pressure", "damp_time": "time", "water": "mass", "target": "pressure",
             "hold": "time", "ambient": "temperature", "interval": "time"}
    numbers: dict[str, Any] = {"seed": given["seed"]}
    for name, text in given.items():
        if text is None or name == "seed":
            continue
        try:
            if name == "leak":
                stated = quantities.allowance(text)
                if stated.kind is not AllowKind.RISE:
                    raise UnitError(f'{text!r} is not a rate of rise, write it like "5 micron/min"')
                numbers[name] = stated.value
            else:
                numbers[name] = quantities.parse(text, kinds[name])
        except DecayError as problem:
            raise click.UsageError(f"--{name.replace('_', '-')}: {problem}") from problem
    return numbers
