"""A job's record on the command line, in place of logs and options; an option that is given goes first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click
from click.core import ParameterSource

from decay.errors import CriterionError
from decay.job_record import Record, read_record
from decay_cli import defaults, options
from decay_cli.defaults import Default

_KEPT = "decay.record"  # under this name a context keeps it


class Command(defaults.CommandWithDefaults):
    """A command that takes a job's record in place of its logs and options; an option that is given goes first."""

    def make_context(
        self, info_name: str | None, args: list[str], parent: click.Context | None = None, **extra: Any
    ) -> click.Context:
        """Return the context, with the record where one was named."""
        record = None if extra.get("resilient_parsing") else named_record(self.files(args))
        try:
            ctx = super().make_context(info_name, args, parent, **extra)
        except click.BadParameter as problem:
            raise _placed(problem, record, None) from problem
        ctx.meta[_KEPT] = record
        return ctx

    def offered(self, args: Sequence[str]) -> dict[str, Default]:
        """Return the defaults of the record's folder, and before them what the record says."""
        record = named_record(self.files(args))
        offered = super().offered(args)
        if record is None:
            return offered
        told = _offered(record)
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
            raise click.UsageError(str(record.fault(str(problem), "criterion"))) from problem


def of_context() -> Record | None:
    """Return the record that the present command line names; ``None`` where it names logs."""
    record: Record | None = click.get_current_context().meta.get(_KEPT)
    return record


def is_given(option: str) -> bool:
    """Tell whether the command line itself gives an option: it then holds for all logs of a record."""
    return click.get_current_context().get_parameter_source(option) is ParameterSource.COMMANDLINE


def named_record(paths: Sequence[Path]) -> Record | None:
    """Return the record among what a command line names; ``None`` where they are logs.

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
    try:
        return read_record(records[0])
    except CriterionError as problem:
        raise click.UsageError(str(problem)) from problem


def _offered(record: Record) -> dict[str, Any]:
    """Return the job's facts as options take them."""
    told = {name: value for name, value in record.facts.items() if name != "about"}
    rig = {} if record.rig is None else {"rig_log": record.rig.file, "rig_volume": record.rig.volume}
    return {name: value for name, value in {**told, **rig, "warmed": record.warmed}.items() if value != ""}


def _placed(problem: click.BadParameter, record: Record | None, ctx: click.Context | None) -> click.UsageError:
    """Return a refused option as the line of the record that gave it, where it did."""
    hint = problem.param_hint if isinstance(problem.param_hint, str) else ""
    spelt = hint or (max(problem.param.opts, key=len) if problem.param is not None else "")
    name = spelt.strip("'\"").lstrip("-").replace("-", "_")
    if record is None or name not in _offered(record):
        return problem
    if ctx is not None and any(p.name == name and ctx.get_parameter_source(name) is ParameterSource.COMMANDLINE
                               for p in ctx.command.params):
        return problem
    number = next((i for i, table in enumerate(_tables(record), 1) if name in table), 0)
    return click.UsageError(str(record.fault(problem.message, name, number if name not in record.facts else 0)))


def _tables(record: Record) -> list[Mapping[str, Any]]:
    """Return what each log of a record was told under the names of options."""
    return [{"rig_volume": "", "rig_log": ""} if entry.is_rig else {"warmed": ""} if entry.warmed else {}
            for entry in record.entries]


@dataclass(frozen=True, slots=True)
class Told:
    """One log as it is to be judged."""

    file: str  # the log
    reading: Any  # how it is read
    system: Any  # what is known of the system during it
    hold: tuple[str, str] | None = None  # the stretch to judge
    note: str = ""  # what the user wrote of it

    def between(self, readings: Any) -> tuple[float, float] | None:
        """Return the stretch to judge, as times since the first row [s]; ``None`` for the holds that are found."""
        return None if self.hold is None else options.stretch_in(self.hold, readings)


def logs_of(job: Record | None, logs: Sequence[str], reading: Any, given: dict[str, Any]) -> list[Told]:
    """Return the logs of a command line or of its record; the job's options are taken out of what was given."""
    entries = (None,) * len(logs) if job is None else job.entries
    ambients = [None if entry is None else entry.ambient for entry in entries]
    own = [] if is_given("ambient") else ambients
    if own and None not in own and not given["ambient"]:
        given["ambient"] = tuple(own)
    systems = options.systems_of(given, len(logs))
    return [
        Told(log, reading if entry is None else entry.read_as(reading),
             system if not own or own[i] is None else replace(system, ambient=own[i]),
             None if entry is None else entry.hold, "" if entry is None else entry.note)
        for i, (log, entry, system) in enumerate(zip(logs, entries, systems, strict=True))
    ]
