"""`decay watch`: follow a log while the job goes on, one refreshed line, and the ordinary report at the end."""

from __future__ import annotations

import math
import shutil
import sys
import time
from typing import TYPE_CHECKING, Any

import click

from decay_cli import console, defaults, options
from decay_cli.console import EPILOG, ExitCode

if TYPE_CHECKING:
    from decay.watch import Status

REPLAY_STEP = 15.0  # s of the log's time from one poll to the next


@click.command(name="watch", cls=defaults.CommandWithDefaults, epilog=EPILOG)
@click.argument("log", shell_complete=options.complete_log)
@options.job
@options.criterion
@click.option("--hold-from", metavar="MOMENT",
              help='When the valve was closed, instead of finding it: 300 (s), "5 min", or a clock time.')
@options.reading
@click.option("--every", type=options.Quantity("duration"), metavar="QUANTITY", default="2 s", show_default=True,
              help="Time between polls of the file.")
@click.option("--until-idle", type=options.Quantity("duration"), metavar="QUANTITY",
              help='End when no line has come for so long: "2 min".')
@click.option("--replay", is_flag=True, help="LOG is finished: show the looks that a watch would have taken, and end.")
@click.option("--json", "as_json", is_flag=True, help="Write the final report as one JSON document.")
@options.units
@options.voice
def watch(
    log: str, criterion: str | None, every: float, until_idle: float | None, hold_from: str | None,
    replay: bool, as_json: bool, quiet: bool, verbose: bool, ascii_only: bool, **given: Any,
) -> int:
    """Follow LOG while it grows: phase, pressure, leak so far, and when this hold decides; - is standard input.

    \b
    Example, from the project's folder:
      decay watch sample_logs/leaking_slowly.csv --replay --allow "2 micron/min"

    \b
    Beside a running logger:
      decay watch today.csv --volume "6.5 L" --allow "2 micron/min" --until-idle "2 min"

    The line is refreshed on standard error; where that is no terminal, one line comes per look. Ctrl-C, the end of
    standard input, or --until-idle ends with the ordinary report on standard output and its exit code. Rotation and
    truncation of the file and a half-written last line do no harm.

    Looks come at 5 min and when the hold has grown by a quarter. Their levels share one error rate (Lan and DeMets
    1983): all looks at one hold together are meant to decide wrongly in at most 5 % of holds, whenever you stop.
    Without a clear rise the readings look the same behind a closed valve and under a pump that still draws: say when
    it was closed with --hold-from, or no leak is ruled out.
    """
    if every <= 0:
        raise click.UsageError('--every must be longer than nothing: write it like "2 s"')
    if replay and until_idle is not None:
        raise click.UsageError("--replay and --until-idle contradict each other: a finished log does not grow")

    from decay import analyze as judge
    from decay import load_criterion, read_log
    from decay.watch import FileTail, StreamTail, Watcher, follow
    from decay.watch import replay as replayed
    from decay.watch.follow import log_as_it_stands
    from decay.watch.watch_line import how_it_is_made

    reading = options.read_options(given)
    wanted = None if criterion is None else load_criterion(criterion)
    system = options.system_of(given)
    watcher = Watcher(system, wanted)
    if hold_from is not None:
        watcher.hold_from = lambda log: options.moment_in(hold_from, log.started, clock_start=log.clock_start)
    screen = _Screen(watcher, quiet, console.is_plain(ascii_only))
    if verbose:
        screen.note(how_it_is_made(watcher.alpha, watcher.growth))
    if replay:
        console.reading(log, "", quiet)
        readings = read_log(log, reading)
        replayed(readings, watcher, screen, REPLAY_STEP)
    else:
        if log == "-" and sys.stdin is None:
            raise click.UsageError("standard input is closed: name the log, or pipe it in")
        source = StreamTail(sys.stdin.buffer) if log == "-" else FileTail(log)
        try:
            follow(source, watcher, reading, screen, every=every,
                   until_idle=math.inf if until_idle is None else until_idle, clock=time.monotonic, sleep=time.sleep)
        except KeyboardInterrupt:
            screen.close()
        if source.has_half_line:
            screen.note("The last line has no end and is left out: it may be half written.")
        readings = log_as_it_stands(source, reading, watcher, screen)
    screen.close()
    between = None
    if hold_from is not None:
        between = options.stretch_in((hold_from, "end"), readings)
    analysis = judge(readings, system, wanted, hold=between)
    screen.end(watcher.finish(readings))
    _report(analysis, as_json, verbose, ascii_only)
    if screen.last is not None and screen.last.look is not None:
        screen.note(how_it_is_made(watcher.alpha, watcher.growth))
        screen.note("Last look: " + screen.line(screen.last))
    return int(ExitCode[analysis.verdict.result.name])


def _report(analysis: Any, as_json: bool, verbose: bool, ascii_only: bool) -> None:
    if as_json:
        from decay.report.document import document, dumps

        console.answer(dumps(document(analysis)))
        return
    from decay.report.detail import summary
    from decay.report.short_summary import short_summary

    is_plain, color, width = console.is_plain(ascii_only), console.is_coloured(), console.width()
    if verbose:
        console.answer(summary(analysis, ascii_only=is_plain, color=color, verbose=True, width=width))
    else:
        console.answer(short_summary(analysis, ascii_only=is_plain, color=color, width=width))


class _Screen:
    """Standard error as the place to show a watch: one refreshed line on a terminal, else one line per piece of news.

    News are looks, and what a flat end that nothing marks would prove: that once for each stand.
    """

    def __init__(self, watcher: Any, quiet: bool, is_plain: bool) -> None:
        self.last: Status | None = None
        self._watcher = watcher
        self._quiet = quiet
        self._is_plain = is_plain
        self._is_live = console.is_terminal(sys.stderr) and not quiet
        self._is_open = False
        self._waited_for = ""
        self._promised: tuple[float, bool | None] | None = None

    def line(self, status: Status) -> str:
        """Return a status in words."""
        from decay.watch.watch_line import watch_line

        return watch_line(status, self._watcher.system.allow, ascii_only=self._is_plain)

    def show(self, status: Status) -> None:
        """Show what is known now."""
        is_first = self.last is None
        if status.look is not None or self.last is None or self.last.look is None:
            self.last = status
        if self._is_live:
            from decay.watch.watch_line import short_line

            line = self.line(status)
            self._refresh(line if len(line) <= _room() else short_line(status, _room(), ascii_only=self._is_plain))
        elif status.is_new_look or is_first or self._is_promise(status):
            console.remark(self.line(status), self._quiet)

    def _is_promise(self, status: Status) -> bool:
        """Tell whether a flat end now proves more than before, if the valve was closed."""
        told = status.if_closed
        if told is None:
            if not status.may_be_pumped:  # a flat end comes and goes with a reading
                self._promised = None
            return False
        promise = told.outcome.asked, told.outcome.met
        is_news, self._promised = promise != self._promised, promise
        return is_news

    def end(self, status: Status | None) -> None:
        """Take in the look at the end, of the readings that the report rests on."""
        if status is not None:
            self.last = status

    def wait(self, why: str) -> None:
        """Show that there is nothing to read yet; on no terminal once for each reason."""
        text = f"Waiting for readings: {why}."
        if self._is_live:
            self._refresh(text)
        elif text != self._waited_for:
            console.remark(text, self._quiet)
        self._waited_for = text

    def note(self, text: str) -> None:
        """Show a remark that stays."""
        from decay.wording.lines import clean, to_ascii, wrapped

        self.close()
        lines = wrapped(to_ascii(clean(text)) if self._is_plain else clean(text), console.width())
        console.remark("\n".join(lines), self._quiet)

    def close(self) -> None:
        """End the refreshed line."""
        if self._is_open:
            console.complain("")
            self._is_open = False

    def _refresh(self, text: str) -> None:
        # Blanks after it instead of an erase sequence: every terminal knows how to return the carriage.
        console.complain("\r" + text[: _room()].ljust(_room()), ends_line=False)
        self._is_open = True


def _room() -> int:
    """Return the characters that one row of the terminal holds, its last column left free."""
    return max(shutil.get_terminal_size((console.USUAL_WIDTH, 24)).columns - 1, 20)
