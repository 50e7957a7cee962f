"""The record of a job, JOB.toml: its logs in order with what was told of each, in place of a long command line."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import click
from click.core import ParameterSource

from decay.errors import CriterionError
from decay.toml_file import line_of, not_known, read_toml
from decay_cli import defaults, options, stretch
from decay_cli.defaults import FACTS, READING, Default

LARGEST = 65_536
"""A record is no longer than this. [bytes]"""
MOST_LOGS = 100
"""Logs of one job; more are an audit's. [-]"""
WARMED = ("all", "system", "part")
EXAMPLE = """\
       A record that works:
         volume = "6.5 L"
         [[log]]
         file = "cold.csv"
         ambient = "21 degC"
         [[log]]
         file = "warm.csv"
         ambient = "38 degC"
         warmed = "all\""""

OF_READING = (*READING, "day_first", "sheet")
OF_JOB = ("about", *FACTS, *OF_READING, "log")
OF_LOG = ("file", "note", "ambient", "warmed", "hold", "closed", "rig_alone", "volume", *OF_READING)
_KEPT = "decay.record"  # under this name a context keeps it
_FLAGS = ("rig_alone", "day_first")


@dataclass(frozen=True, slots=True)
class Entry:
    """One log of a job, with what the record tells of it.

    Parameters
    ----------
    file : str
        The log; a relative name counts from the record's folder.
    note : str
        What the user wrote of it.
    ambient : float or None
        Temperature of the system during its hold. [K]
    warmed : str
        What was warmed for it; empty where nothing was.
    hold : tuple of str, or None
        The stretch to judge.
    is_rig : bool
        It is the rig alone.
    volume : str
        The rig's volume, as written.
    reading : mapping
        Fields of `decay.log.ReadOptions` that differ from the job's.
    """

    file: str
    note: str = ""
    ambient: float | None = None
    warmed: str = ""
    hold: tuple[str, str] | None = None
    is_rig: bool = False
    volume: str = ""
    reading: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Record:
    """What a record says.

    Parameters
    ----------
    path : Path
        The file.
    text : str
        Its text, by which a message finds the line.
    facts : mapping
        What holds for the whole job, by the names of options.
    entries : tuple of Entry
        The system's logs, in order.
    rig : Entry or None
        The rig's own log.
    """

    path: Path
    text: str
    facts: Mapping[str, Any]
    entries: tuple[Entry, ...]
    rig: Entry | None = None

    @property
    def logs(self) -> tuple[str, ...]:
        """Return the system's logs."""
        return tuple(entry.file for entry in self.entries)

    def offered(self) -> dict[str, Any]:
        """Return the job's facts as options take them."""
        told = {name: value for name, value in self.facts.items() if name != "about"}
        warmed = next((entry.warmed for entry in self.entries if entry.warmed), "")
        rig = {} if self.rig is None else {"rig_log": self.rig.file, "rig_volume": self.rig.volume}
        return {name: value for name, value in {**told, **rig, "warmed": warmed}.items() if value != ""}

    def fail(self, message: str, key: str = "", number: int = 0) -> click.UsageError:
        """Return what is wrong with it, where: with the so manieth log, or 0 for the job."""
        line = line_of(self.text, key, "log" if number else "", max(number, 1))
        where = f"{self.path}" if line is None else f"{self.path}, line {line}"
        of = f"log {number}, " if number and line is None else ""
        return click.UsageError(f"{where}: {of}{f'{key}: ' if key else ''}{message}")


class Command(defaults.CommandWithDefaults):
    """A command that takes a job's record in place of its logs and options; an option that is given goes first."""

    def make_context(
        self, info_name: str | None, args: list[str], parent: click.Context | None = None, **extra: Any
    ) -> click.Context:
        """Return the context, with the record where one was named."""
        record = None if extra.get("resilient_parsing") else named(self.files(args))
        try:
            ctx = super().make_context(info_name, args, parent, **extra)
        except click.BadParameter as problem:
            raise _placed(problem, record, None) from problem
        ctx.meta[_KEPT] = record
        return ctx

    def offered(self, args: Sequence[str]) -> dict[str, Default]:
        """Return the defaults of the record's folder, and before them what the record says."""
        record = named(self.files(args))
        offered = super().offered(args)
        if record is None:
            return offered
        told = record.offered()
        return {**offered, **{name: Default(value, str(record.path), False) for name, value in told.items()}}

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; what it refuses is told with its place in the record."""
        try:
            return super().invoke(ctx)
        except click.BadParameter as problem:
            raise _placed(problem, ctx.meta.get(_KEPT), ctx) from problem
        except CriterionError as problem:
            record = ctx.meta.get(_KEPT)
            if record is None or "criterion" not in record.facts or is_given("criterion"):
                raise
            raise record.fail(str(problem), "criterion") from problem


def of_context() -> Record | None:
    """Return the record that the present command line names; ``None`` where it names logs."""
    record: Record | None = click.get_current_context().meta.get(_KEPT)
    return record


def is_given(option: str) -> bool:
    """Tell whether the command line itself gives an option: it then holds for all logs of a record."""
    return click.get_current_context().get_parameter_source(option) is ParameterSource.COMMANDLINE


def named(paths: Sequence[Path]) -> Record | None:
    """Return the record among what a command line names.

    Parameters
    ----------
    paths : sequence of Path
        Its logs.

    Returns
    -------
    Record or None
        ``None`` where they are logs.

    Raises
    ------
    click.UsageError
        If the record cannot be used, or other files stand beside it.
    """
    records = [path for path in paths if path.suffix.lower() == ".toml"]
    if not records:
        return None
    if len(paths) > 1:
        raise click.UsageError(f"{records[0]} is the record of a job and stands alone: its logs are listed in it")
    return read(records[0])


def _placed(problem: click.BadParameter, record: Record | None, ctx: click.Context | None) -> click.UsageError:
    """Return a refused option as the line of the record that gave it, where it did."""
    hint = problem.param_hint if isinstance(problem.param_hint, str) else ""
    spelt = hint or (max(problem.param.opts, key=len) if problem.param is not None else "")
    name = spelt.strip("'\"").lstrip("-").replace("-", "_")
    if record is None or name not in record.offered():
        return problem
    if ctx is not None and any(p.name == name and ctx.get_parameter_source(name) is ParameterSource.COMMANDLINE
                               for p in ctx.command.params):
        return problem
    number = next((i for i, table in enumerate(_tables(record), 1) if name in table), 0)
    return record.fail(problem.message, name, number if name not in record.facts else 0)


def _tables(record: Record) -> list[Mapping[str, Any]]:
    """Return what each log of a record was told under the names of options."""
    return [{"rig_volume": "", "rig_log": ""} if entry.is_rig else {"warmed": ""} if entry.warmed else {}
            for entry in record.entries]


def read(path: Path) -> Record:
    """Read a record.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Record
        What it says, its logs looked for but not read.

    Raises
    ------
    click.UsageError
        If it cannot be used: the file, the line, what was found, and what would do.
    """
    try:
        tables = read_toml(path, LARGEST)
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as problem:
        raise click.UsageError(f"there is no file {path}") from problem
    except IsADirectoryError as problem:
        raise click.UsageError(f"{path} is a folder and no record of a job") from problem
    except OSError as problem:
        raise click.UsageError(f"{path}: {problem.strerror or problem}") from problem
    except ValueError as problem:
        raise click.UsageError(f"{path}: no record of a job: {problem}.\n{EXAMPLE}") from problem
    empty = Record(path, text, {}, ())
    for key in tables:
        if key not in OF_JOB:
            raise _unknown(empty, key, OF_JOB, 0)
    logs = tables.pop("log", [])
    if not isinstance(logs, list) or not logs or not all(isinstance(log, dict) for log in logs):
        raise click.UsageError(f"{path}: it lists no log. Each begins with [[log]].\n{EXAMPLE}")
    if len(logs) > MOST_LOGS:
        raise click.UsageError(f"{path}: {len(logs)} logs; a job has {MOST_LOGS} at most. Many jobs: decay audit")
    facts = {key: _beside(empty, key, _checked(empty, key, value, 0)) for key, value in tables.items()}
    entries = [_entry(empty, log, number) for number, log in enumerate(logs, 1)]
    _check_together(empty, entries)
    rig = next((entry for entry in entries if entry.is_rig), None)
    return Record(path, text, facts, tuple(entry for entry in entries if not entry.is_rig), rig)


def _unknown(record: Record, key: str, known: Sequence[str], number: int) -> click.UsageError:
    line = line_of(record.text, key, "log" if number else "", max(number, 1)) or line_of(record.text, "", key)
    where = f"{record.path}" if line is None else f"{record.path}, line {line}"
    return click.UsageError(f"{where}: {not_known(key, known)}")


def _checked(record: Record, key: str, value: Any, number: int) -> Any:
    """Return a value that is of the kind which its key asks for."""
    if key in _FLAGS:
        if isinstance(value, bool):
            return value
        raise record.fail(f"expected true or false without quotes, found {value!r}", key, number)
    if key == "over_range" and isinstance(value, list) and all(isinstance(word, str) for word in value):
        return value
    if not isinstance(value, str) or not value.strip():
        raise record.fail(f'expected text in quotes, like {key} = "...", found {value!r}', key, number)
    return value


def _beside(record: Record, key: str, value: Any) -> Any:
    """Return the user's own criterion as a file beside the record."""
    is_file = key == "criterion" and str(value).endswith(".toml") and not Path(value).is_absolute()
    return str(record.path.parent / value) if is_file else value


def _entry(record: Record, table: Mapping[str, Any], number: int) -> Entry:
    """Return one log of a record."""
    for key in table:
        if key not in OF_LOG:
            raise _unknown(record, key, OF_LOG, number)
    told = {key: _checked(record, key, value, number) for key, value in table.items()}
    if "file" not in told:
        raise record.fail('without a file. Add one, like file = "cold.csv"', "", number)
    if "hold" in told and "closed" in told:
        raise record.fail("hold and closed contradict each other: give the stretch, or the moment of closing",
                          "closed", number)
    is_rig = told.get("rig_alone", False)
    for key in told:
        if is_rig and key in ("ambient", "warmed", "hold", "closed"):
            raise record.fail("does not go with rig_alone: the rig's log is read for its own leak alone", key, number)
    if "volume" in told and not is_rig:
        raise record.fail("belongs to a log with rig_alone = true; the system's volume stands above the logs",
                          "volume", number)
    if told.get("warmed", "all") not in WARMED:
        raise record.fail(f'"{told["warmed"]}" is none of {", ".join(WARMED)}', "warmed", number)
    between = told.get("hold") or (f"{told['closed']}..end" if "closed" in told else None)
    return Entry(
        file=_found(record, told["file"], number),
        note=told.get("note", ""),
        ambient=_converted(record, options.Quantity("temperature").convert, told, "ambient", number),
        warmed=told.get("warmed", ""),
        hold=None if between is None else _stretch(record, between, "hold" if "hold" in told else "closed", number),
        is_rig=is_rig,
        volume=told.get("volume", ""),
        reading={_field(key): _for_reading(key, told[key]) for key in OF_READING if key in told},
    )


def _field(key: str) -> str:
    return "temperature" if key == "temperature_column" else key


def _for_reading(key: str, value: Any) -> Any:
    if key == "over_range":
        return tuple(value) if isinstance(value, list) else (value,)
    return "\t" if value == "\\t" else value


def _stretch(record: Record, text: str, key: str, number: int) -> Any:
    try:
        return stretch.StretchType().convert(text, None, None)
    except click.BadParameter as problem:
        raise record.fail(problem.message, key, number) from problem


def _converted(
    record: Record, convert: Callable[..., Any], told: Mapping[str, Any], key: str, number: int
) -> Any:
    if key not in told:
        return None
    try:
        return convert(told[key], None, None)
    except click.BadParameter as problem:
        raise record.fail(problem.message, key, number) from problem


def _found(record: Record, name: str, number: int) -> str:
    """Return the path of a log that is there."""
    path = record.path.parent / name
    try:
        if path.is_file():
            return str(path)
        why = "is no regular file" if path.exists() else "is not there"
        around = [entry.name for entry in path.parent.iterdir()] if path.parent.is_dir() else []
    except (OSError, ValueError):  # a name too long, or with a null; a folder that cannot be read
        why, around = "cannot be looked for", []
    near = get_close_matches(path.name, around, n=1)
    meant = f' Did you mean "{near[0]}"?' if near else " Names count from the record's folder."
    raise record.fail(f"{path} {why}.{meant}", "file", number)


def _check_together(record: Record, entries: Sequence[Entry]) -> None:
    """Refuse what the logs of a job cannot be together."""
    seen: set[Path] = set()
    warm = rigs = 0
    for number, entry in enumerate(entries, 1):
        place = Path(entry.file).resolve()
        if place in seen:
            raise record.fail(f"{entry.file} is listed twice", "file", number)
        seen.add(place)
        warm, rigs = warm + bool(entry.warmed), rigs + entry.is_rig
        if warm > 1 and entry.warmed:
            raise record.fail("a second warm hold: two temperatures are compared by two holds", "warmed", number)
        if rigs > 1 and entry.is_rig:
            raise record.fail("a second rig: one log shows it alone", "rig_alone", number)
    if rigs == len(entries):
        raise record.fail("the rig alone is no job: list the system's logs too", "rig_alone", 1)


@dataclass(frozen=True, slots=True)
class Told:
    """One log as it is to be judged.

    Parameters
    ----------
    file : str
        The log.
    reading : ReadOptions
        How it is read.
    system : System
        What is known of the system during it.
    hold : tuple of str, or None
        The stretch to judge.
    note : str
        What the user wrote of it.
    """

    file: str
    reading: Any
    system: Any
    hold: tuple[str, str] | None = None
    note: str = ""

    def between(self, readings: Any) -> tuple[float, float] | None:
        """Return the stretch to judge, as times since the first row [s]; ``None`` for the holds that are found."""
        return None if self.hold is None else stretch.stretch_of(self.hold, readings)


def logs_of(job: Record | None, logs: Sequence[str], reading: Any, given: dict[str, Any]) -> list[Told]:
    """Return the logs of a command line, or those of the record that it names.

    Parameters
    ----------
    job : Record or None
        The record.
    logs : sequence of str
        The logs.
    reading : ReadOptions
        How they are read, but for what the record tells of one.
    given : dict
        What the options told, out of which those of the job are taken.

    Returns
    -------
    list of Told
        In the same order.
    """
    entries = (None,) * len(logs) if job is None else job.entries
    ambients = [None if entry is None else entry.ambient for entry in entries]
    own = [] if is_given("ambient") else ambients
    if own and None not in own and not given["ambient"]:
        given["ambient"] = tuple(own)
    systems = options.systems_of(given, len(logs))
    return [
        Told(log, for_log(reading, entry), system if not own or own[i] is None else replace(system, ambient=own[i]),
             None if entry is None else entry.hold, "" if entry is None else entry.note)
        for i, (log, entry, system) in enumerate(zip(logs, entries, systems, strict=True))
    ]


def for_log(reading: Any, entry: Entry | None) -> Any:
    """Return how a log of a record is read: as the job's are, but for what was told of it."""
    return reading if entry is None or not entry.reading else replace(reading, **entry.reading)
