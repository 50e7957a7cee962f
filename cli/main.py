"""The command `decay`: which commands there are, and what each accident ends in."""

from __future__ import annotations

import difflib
import gc
import io
import os
import platform
import signal
import sys
import traceback
from collections.abc import Sequence
from importlib import import_module
from types import FrameType
from typing import Any

import click

from decay_cli import console
from decay_cli.console import EPILOG, ExitCode

# Command -> module, attribute, line in the list of commands. Modules are loaded when their command is asked for.
COMMANDS = {
    "analyze": ("decay_cli.analyze", "analyze", "Judge the hold in a log: pass, fail or inconclusive, and why."),
    "audit": ("decay_cli.audit", "audit", "Judge many logs at once: one row a hold, and what jobs show together."),
    "compare": ("decay_cli.compare", "compare", "Hold two logs of one system against each other: before and after."),
    "completion": ("decay_cli.completion", "completion", "Print the script that completes commands in your shell."),
    "criteria": ("decay_cli.explain", "criteria", "List the shipped criteria of practice with their sources."),
    "explain": ("decay_cli.explain", "explain", "Show the manual page of a finding code."),
    "help": ("decay_cli.help", "show_help", "Show the manual: topics, commands and codes."),
    "lesson": ("decay_cli.lesson", "lesson", "Show what a rule of thumb passes and what the same holds prove."),
    "plan": ("decay_cli.plan", "plan", "Plan a job: how long to pull and to hold, and what a hold would show."),
    "simulate": ("decay_cli.simulate", "simulate", "Write the log of an invented evacuation with known truth."),
    "volume": ("decay_cli.volume", "volume", "Say how large the isolated volume is, and what to paste as --volume."),
    "watch": ("decay_cli.watch", "watch", "Follow a log while the job goes on, and say when its hold decides."),
}

LIBRARIES = ("click", "matplotlib", "numpy", "pandas", "pint", "scipy")
"""Whose versions a fault report needs."""

HELP = """What a vacuum hold proves: analysis of logged micron readings.

\b
Example, from the project's folder:
  decay analyze sample_logs/leaking_slowly.csv --volume "12.15 L"
"""


class LazyGroup(click.Group):
    """A group that loads a command's module when that command is asked for, and maps accidents to exit codes."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all commands."""
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, its module loaded."""
        if cmd_name not in COMMANDS:
            return None
        module, attribute, _ = COMMANDS[cmd_name]
        command: click.Command = getattr(import_module(module), attribute)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command that is asked for; a name that is none is told with the nearest."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            near = difflib.get_close_matches(args[0], COMMANDS, n=3, cutoff=0.5)
            meant = f" Did you mean {' or '.join(near)}?" if near else " `decay --help` lists them."
            if os.path.exists(args[0]):
                meant = f" It is a file: decay analyze {args[0]}"
            ctx.fail(f'There is no command "{args[0]}".{meant}')
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands from the table, without loading any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, COMMANDS[name][2]) for name in sorted(COMMANDS)])

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        windows_expand_args: bool = True,
        **extra: Any,
    ) -> Any:
        """Run a command line; in stand-alone mode end the process with an exit code of `ExitCode`."""
        given = list(sys.argv[1:] if args is None else args)

        def run() -> Any:
            return super(LazyGroup, self).main(given, prog_name, complete_var, False, windows_expand_args, **extra)

        return sys.exit(outcome(run, given)) if standalone_mode else run()


def outcome(run: Any, given: Sequence[str]) -> int:
    """Return the exit code of a run, its accident told on standard error."""
    from decay.errors import DecayError, FitError, LogError

    try:
        code = run()
        return int(code) if isinstance(code, int) else int(ExitCode.PASS)
    except click.ClickException as problem:
        shown = io.StringIO()
        problem.show(file=shown)  # through the console, which lets nothing through that moves the cursor
        console.complain(shown.getvalue().rstrip("\n"))
        return int(ExitCode.USAGE)
    except (click.Abort, KeyboardInterrupt):
        console.complain("Interrupted.")
        return int(ExitCode.INTERRUPTED)
    except SystemExit as ended:
        # click ends this way when the reader of standard output has gone; 1 would read as the verdict "fail".
        return int(ExitCode.PASS) if ended.code in (None, 1) else int(ended.code)
    except LogError as problem:
        console.complain(f"Error: {problem}")
        return int(ExitCode.UNREADABLE)
    except OSError as problem:
        # A full disk, a missing permission: the surroundings, and not a fault of the program.
        console.drop_output(sys.stdout)
        about = f"{problem.filename}: " if problem.filename else ""
        console.complain(f"Error: {about}{problem.strerror or problem}")
        return int(ExitCode.USAGE)
    except Exception as problem:
        if isinstance(problem, DecayError) and not isinstance(problem, FitError):
            console.complain(f"Error: {problem}")
            return int(ExitCode.USAGE)
        _tell_fault(problem, "-v" in given or "--verbose" in given)
        return int(ExitCode.INTERNAL)


def _tell_fault(problem: Exception, with_traceback: bool) -> None:
    if with_traceback:
        console.complain("".join(traceback.format_exception(problem)).rstrip("\n"))
    console.complain(
        f"Internal error: {type(problem).__name__}: {problem}\n"
        "       This is a fault of decay, not of your log; there is no verdict.\n"
        "       Please report it to the maintainers of this project, with the command line, the log and what\n"
        "       --verbose prints (DEVELOPERS.md, \"Reporting a fault\")."
    )


@click.command(cls=LazyGroup, help=HELP, epilog=EPILOG, invoke_without_command=True, no_args_is_help=True,
               context_settings={"help_option_names": ["-h", "--help"]})
@click.option("--version", is_flag=True, help="Show the version; with -v those of Python and the libraries too.")
@click.option("-v", "--verbose", is_flag=True, hidden=True)
@click.pass_context
def decay(ctx: click.Context, version: bool, verbose: bool) -> None:
    """Hold the commands; the help text stands above."""
    if version:
        from importlib.metadata import version as version_of

        console.answer(f"decay, version {version_of('decay')}\n")
        if verbose:
            console.answer(f"Python {platform.python_version()}, {platform.system()} {platform.machine()}\n")
            console.answer("".join(f"{name} {version_of(name)}\n" for name in LIBRARIES))
        ctx.exit()
    if ctx.invoked_subcommand is None:
        ctx.fail("Name a command; `decay --help` lists them.")


def _end_tidily() -> None:
    """Take a request to end, or a terminal that went away, like Ctrl-C: half-written files are removed first."""
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)  # not every system has both
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, _interrupt)


def _interrupt(number: int, frame: FrameType | None) -> None:
    signal.signal(number, signal.SIG_IGN)  # asked twice, the tidying is not interrupted
    raise KeyboardInterrupt


def main() -> None:
    """Run `decay` on the arguments of the process."""
    # Before numpy loads: the matrices are small, threads cost more than they bring, and with one the sums are the same
    # on any number of cores.
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    # Pictures are drawn without a screen; a backend of nonsense would end the run before it has begun.
    os.environ["MPLBACKEND"] = "agg"
    # The library that draws reads it as a whole number, and no date stands in what is drawn here.
    if not os.environ.get("SOURCE_DATE_EPOCH", "0").isdigit():
        del os.environ["SOURCE_DATE_EPOCH"]
    # The libraries make objects by the hundred thousand while they load, and next to no cycles. Looked for as often as
    # usual, 150 times instead of 17, those take 6 % of judging an hour's log (scipy 1.17).
    gc.set_threshold(100_000)
    _end_tidily()
    try:
        decay.main(prog_name="decay")
    finally:
        # The memory goes back with the process: to sort it first takes another 15 %. What is to happen at the end, as
        # the flushing of streams, still does.
        gc.freeze()


if __name__ == "__main__":
    main()
