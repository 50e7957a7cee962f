"""Options that several commands share: their values, a stretch of a log, and their groups in a help text."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import click
from click.shell_completion import CompletionItem

from decay import stretch
from decay.errors import DecayError

if TYPE_CHECKING:
    from decay import PressureLog


Command = TypeVar("Command", bound=Callable[..., Any])
HEADINGS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Options that most jobs need", ("volume", "refrigerant", "charge", "ambient", "allow", "criterion", "hold",
                                     "hold_from", "in_detail", "as_json")),
    ("Rig, pump and gauge", ("rig_log", "rig_volume", "pump_speed", "pump", "ultimate", "hose", "hoses",
                             "gauge_accuracy", "gauge_noise", "gauge_step", "interval")),
    ("Several logs", ("same_job", "warmed", "overlay", "group", "job_list", "jobs", "shard", "shards", "fresh")),
    ("Tables, pictures and pages", ("out", "wide", "columns", "excel", "excel_comma", "plot", "no_plot", "force",
                                    "page", "report", "notes", "paper", "film")),
    ("Reading the log, where its content does not settle it",
     ("gauge", "unit", "time_column", "time_unit", "day_first", "over_range", "temperature_column", "encoding",
      "delimiter", "decimal", "sheet")),
    ("How it is said", ("units", "quiet", "verbose", "ascii_only", "color", "help")),
)
"""Heading, and the parameters that stand under it, in order."""
OTHERS = "Further options"
"""Heading of what stands in none of them."""


class Quantity(click.ParamType):
    """A number with a unit, read by the function of `decay.quantities` for its kind; a usage error shows an example."""

    name = "quantity"

    def __init__(self, kind: str) -> None:
        self.kind = kind

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the quantity in SI."""
        if not isinstance(value, str):
            return value
        from decay import quantities
        from decay.errors import DecayError

        try:
            return getattr(quantities, f"read_{self.kind}")(value)
        except DecayError as problem:
            self.fail(str(problem), param, ctx)


class HoseText(click.ParamType):
    """Bore and length of a hose, as two lengths."""

    name = "hose"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return bore and length. [m]"""
        if not isinstance(value, str):
            return value
        from decay.errors import DecayError
        from decay.planning import parse_hose

        try:
            hose = parse_hose(value)
        except DecayError as problem:
            self.fail(str(problem), param, ctx)
        return hose.bore, hose.length


def complete_log(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Let the shell complete the name of a file."""
    return [CompletionItem(incomplete, type="file")]


def complete_criterion(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete a criterion's key; a name that begins none may be a file's."""
    from decay import criterion_names

    found = [CompletionItem(name) for name in criterion_names() if name.startswith(incomplete)]
    return found or [CompletionItem(incomplete, type="file")]


def complete_code(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete a finding's code, its title beside it."""
    from decay import finding_titles

    return [CompletionItem(code, help=title) for code, title in finding_titles().items()
            if code.startswith(incomplete.upper())]


def complete_refrigerant(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete a refrigerant's name."""
    from decay.physics.refrigerant_table import refrigerant_names

    spelt = [name.replace("R-", "R") for name in refrigerant_names()]
    return [CompletionItem(name) for name in spelt if name.upper().startswith(incomplete.upper())]


def stacked(*options: Callable[[Command], Command]) -> Callable[[Command], Command]:
    """Return what adds several options to a command, in this order."""
    def decorate(command: Command) -> Command:
        for option in reversed(options):
            command = option(command)
        return command

    return decorate


reading = stacked(
    click.option("--gauge", metavar="COLUMN", help="Pressure column, by name or by number from 1."),
    click.option("--unit", metavar="UNIT", help="Unit of the absolute pressures, like micron, mTorr, Pa or mbar."),
    click.option("--time-column", metavar="COLUMN", help="Time column, by name or by number from 1."),
    click.option("--time-unit", metavar="UNIT", help='Unit of elapsed time: s, ms, min, h; or row spacing, "5 s".'),
    click.option("--day-first/--month-first", default=None, help="Order of day and month in dates."),
    click.option("--over-range", multiple=True, metavar="WORD",
                 help="Word or number that means above the gauge's range; may be repeated."),
    click.option("--temperature-column", metavar="COLUMN", help="Temperature column, by name or by number from 1."),
    click.option("--encoding", metavar="NAME", help="Encoding of the file, like utf-8 or cp1252."),
    click.option("--sheet", metavar="NAME", help="Sheet of a workbook (.xlsx), by name or by number from 1."),
    click.option("--delimiter", metavar="MARK", help='Field separator; " " for blanks, "\\t" for tabs.'),
    click.option("--decimal", type=click.Choice([".", ","]), help="Decimal mark."),
)
"""How to read a log, where the content does not settle it."""

def _job(*, is_ambient_repeated: bool) -> Callable[[Command], Command]:
    return stacked(
        click.option("--volume", type=Quantity("volume"), metavar="QUANTITY",
                     help='Gas volume behind the closed valve, rig included: "3.2 L", "3.2 L +- 10 %", '
                     '"at most 50 L".'),
        click.option("--refrigerant", metavar="NAME", shell_complete=complete_refrigerant,
                     help="Refrigerant, like R134a; needs a temperature."),
        click.option("--charge", type=Quantity("mass"), metavar="QUANTITY", help='Nominal charge: "650 g".'),
        click.option("--allow", metavar="QUANTITY",
                     help='The leak that matters: "5 g/yr", "2 micron/min" or "1e-5 mbar*L/s".'),
        click.option("--ambient", type=Quantity("temperature"), metavar="QUANTITY", multiple=is_ambient_repeated,
                     help='Temperature of the system during the hold: "24 degC"'
                     + ("; once for each LOG where it changed." if is_ambient_repeated else ".")),
        click.option("--gauge-accuracy", type=Quantity("fraction"), metavar="QUANTITY",
                     help='Accuracy of the gauge, relative: "10 %".'),
    )


job = _job(is_ambient_repeated=False)
"""What the user knows about the system."""

job_of_logs = _job(is_ambient_repeated=True)
"""The same for several logs, which may differ in temperature."""

rig = stacked(
    click.option("--rig-log", metavar="FILE", help="Log of pump, hoses and gauge alone, blanked off and held."),
    click.option("--rig-volume", type=Quantity("volume"), metavar="QUANTITY",
                 help='Gas volume that was held in --rig-log: "0.25 L".'),
    click.option("--pump", "pump_speed", type=Quantity("flow"), metavar="QUANTITY",
                 help='Rated speed of the pump: "6 cfm".'),
    click.option("--hose", type=HoseText(), metavar='"BORE x LENGTH"', help='Hose to the pump: "6 mm x 1.5 m".'),
)
"""What stands at the system: the rig held alone, the pump and its hose."""

shows = stacked(
    click.option("--overlay", metavar="FILE",
                 help="Draw the holds of all LOGs into one picture, each from its closing (.png, .svg or .pdf)."),
    click.option("--film", metavar="FILE", help="Animate the hold as it grows (.gif; .mp4 where ffmpeg is there)."),
)
"""For a class: several holds over each other, one hold as it grows."""

criterion = click.option("--criterion", metavar="NAME|FILE.toml", shell_complete=complete_criterion,
                         help="Criterion of practice: a shipped one (see `decay criteria`) or your own.")
"""What practice a hold is held against."""


def _choose_colour(ctx: click.Context, param: click.Parameter, value: str) -> None:
    """Let the whole command line know when to colour."""
    ctx.color = {"auto": None, "always": True, "never": False}[value]


def _speak(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    """Give the answers of this command line in a unit."""
    if value is not None and not ctx.resilient_parsing:
        from decay import wording

        ctx.with_resource(wording.speaking(value))


class UnitOfAnswer(click.Choice[str]):
    """One of the units of answers, in whatever case; the complaint spells them as they are written."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the unit as it is written."""
        for known in self.choices:
            if str(value).casefold() == known.casefold():
                return known
        return self.fail(f'"{value}" is none of {", ".join(self.choices)}', param, ctx)


units = click.option(
    "--units", type=UnitOfAnswer(["micron", "Pa", "mbar", "Torr"], case_sensitive=False), metavar="UNIT",
    expose_value=False, callback=_speak, help="Unit of the answer: micron, Pa, mbar or Torr.  [default: micron]")
"""In which unit of pressure the answer is given."""

voice = stacked(
    click.option("-q", "--quiet", is_flag=True, help="No remarks on standard error."),
    click.option("-v", "--verbose", is_flag=True, help="More detail; with an internal error, the traceback."),
    click.option("--ascii", "ascii_only", is_flag=True, help="Plain ASCII, for terminals that know no more."),
    click.option("--color", type=click.Choice(["auto", "always", "never"]), default="auto", show_default=True,
                 is_eager=True, expose_value=False, callback=_choose_colour, help="When to colour the answer."),
)
"""How much to say, and in which characters."""


def read_options(given: dict[str, Any]) -> Any:
    """Return the `ReadOptions` of a command line, whose options are taken out of ``given``."""
    from decay.log import ReadOptions

    delimiter = given.pop("delimiter")
    return ReadOptions(
        delimiter="\t" if delimiter == "\\t" else delimiter,
        temperature=given.pop("temperature_column"),
        over_range=tuple(given.pop("over_range")),
        **{name: given.pop(name) for name in
           ("gauge", "unit", "time_column", "time_unit", "day_first", "encoding", "decimal", "sheet")},
    )


def system_of(given: dict[str, Any]) -> Any:
    """Return the `System` of a command line, whose `job` options are taken out of ``given``."""
    from decay import DecayError, System
    from decay.quantities import read_allowance

    allow = given.pop("allow")
    if given["gauge_accuracy"] is not None and given["gauge_accuracy"] >= 1.0:
        raise click.BadParameter('an accuracy of 100 % and more says nothing: write it like "10 %"',
                                 param_hint="'--gauge-accuracy'")
    refrigerant = given.pop("refrigerant")
    volume = given.pop("volume")
    ambient = given.pop("ambient")
    others = {name: given.pop(name) for name in ("charge", "gauge_accuracy")}
    # Only some commands ask for pump, hose and rig.
    others |= {name: given.pop(name) for name in ("pump_speed", "hose", "rig_volume") if name in given}
    if others.get("hose") is not None and others.get("pump_speed") is None:
        raise click.UsageError('--hose needs the pump. Add it, for example: --pump "6 cfm"')
    try:
        # After the temperature: by it a standard amount of gas becomes a throughput.
        allowed = None if allow is None else read_allowance(allow, ambient)
    except DecayError as problem:
        raise click.BadParameter(str(problem), param_hint="'--allow'") from problem
    if refrigerant is not None:
        from decay.physics.refrigerant_table import lookup

        try:
            refrigerant = lookup(refrigerant).name
        except DecayError as problem:
            raise click.BadParameter(str(problem), param_hint="'--refrigerant'") from problem
    origin = "" if volume is None else "stated" if volume.low > 0 else "stated as an upper bound"
    return System(volume=volume, volume_origin=origin, refrigerant=refrigerant,
                  ambient=ambient, allow=allowed, **others)


def systems_of(given: dict[str, Any], count: int) -> list[Any]:
    """Return the `System` at each log of a command line with `job_of_logs`, its temperature told once or for each."""
    from dataclasses import replace

    ambients = given["ambient"]
    if len(ambients) > 1 and len(ambients) != count:
        raise click.UsageError(f"--ambient is given {len(ambients)} times for {count} logs: once, or once for each LOG")
    given["ambient"] = ambients[0] if ambients else None
    system = system_of(given)
    return [replace(system, ambient=ambients[i]) for i in range(count)] if len(ambients) > 1 else [system] * count


class UnderHeadings(click.Command):
    """A command whose help text puts its options under headings."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the options, those that most jobs need first."""
        records = {"help" if "--help" in param.opts else param.name or "": record for param in self.get_params(ctx)
                   if isinstance(param, click.Option) and (record := param.get_help_record(ctx)) is not None}
        known = {name for _, names in HEADINGS for name in names}
        left = [record for name, record in records.items() if name not in known]
        for place, (heading, names) in enumerate(HEADINGS):
            found = [records[name] for name in names if name in records]
            if place == len(HEADINGS) - 1 and left:
                with formatter.section(OTHERS):
                    formatter.write_dl(left)
            if found:
                with formatter.section(heading):
                    formatter.write_dl(found)


class StretchType(click.ParamType):
    """START..END as a person says it; kept as two texts until the log is read."""

    name = "stretch"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the two texts."""
        if not isinstance(value, str):
            return value
        try:
            return stretch.parse_stretch(value)
        except DecayError as problem:
            self.fail(str(problem), param, ctx)


def stretch_in(hold: tuple[str, str], log: PressureLog) -> tuple[float, float]:
    """Return the stretch that --hold names, as times since the first row. [s]"""
    with _told():
        return stretch.stretch_of(hold, log)


def moment_in(text: str, started: str | None, clock_start: float | None = None) -> float:
    """Return what --hold-from names as time since the first row. [s]"""
    with _told():
        return stretch.moment_of(text, started, clock_start=clock_start)


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except DecayError as problem:
        raise click.UsageError(f"--hold: {problem}") from problem
