"""The record of a job, JOB.toml: its logs in order with what was told of each, read and checked before any log is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from decay.errors import CriterionError, DecayError
from decay.stretch import parse_stretch
from decay.toml_file import line_of_key, not_known, read_toml

if TYPE_CHECKING:
    from decay.log import PressureLog, ReadOptions

FACTS = ("volume", "refrigerant", "charge", "allow", "ambient", "gauge_accuracy", "criterion", "pump", "hose")
"""Facts of a job, by the names of options."""
READING = ("gauge", "unit", "time_column", "time_unit", "over_range", "temperature_column", "encoding", "delimiter",
           "decimal")  # fmt: skip
"""How its logs are read."""
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
_FLAGS = ("rig_alone", "day_first")


@dataclass(frozen=True, slots=True)
class RecordedLog:
    """One log of a job, with what the record tells of it."""

    file: str  # the log; a relative name counts from the record's folder
    note: str = ""  # what the user wrote of it
    ambient: float | None = None  # temperature of the system during its hold [K]
    warmed: str = ""  # what was warmed for it; empty where nothing was
    hold: tuple[str, str] | None = None  # the stretch to judge
    is_rig: bool = False  # it is the rig alone
    volume: str = ""  # the rig's volume, as written
    # Fields of `decay.log.ReadOptions` that differ from the job's
    reading: Mapping[str, Any] = field(default_factory=dict)

    def read_as(self, reading: ReadOptions) -> ReadOptions:
        """Return how the log is read: as the job's are, but for what was told of it."""
        return replace(reading, **self.reading) if self.reading else reading

    def log(self, reading: ReadOptions) -> PressureLog:
        """Return the log, read, with the record's note among its own."""
        from decay.log import WRITTEN, Note, read_log

        log = read_log(self.file, self.read_as(reading))
        return replace(log, notes=(Note(WRITTEN, self.note), *log.notes)) if self.note else log


@dataclass(frozen=True, slots=True)
class Record:
    """What a record says."""

    path: Path  # the file
    text: str  # its text, by which a message finds the line
    facts: Mapping[str, Any]  # what holds for the whole job, by the names of options, `FACTS` and `OF_READING`
    entries: tuple[RecordedLog, ...]  # the system's logs, in order
    rig: RecordedLog | None = None  # the rig's own log

    @property
    def logs(self) -> tuple[str, ...]:
        """Return the system's logs."""
        return tuple(entry.file for entry in self.entries)

    @property
    def warmed(self) -> str:
        """Return what was warmed for a later hold; empty where nothing was."""
        return next((entry.warmed for entry in self.entries if entry.warmed), "")

    def system(self) -> dict[str, Any]:
        """Return fields of `decay.system.System` as the job has them.

        Raises
        ------
        CriterionError
            If one of them cannot be read.
        """
        from decay.impact.volume_told import hose_sizes
        from decay.system import READ, in_si

        told: dict[str, Any] = {}
        for key in (key for key in FACTS if key in self.facts and key != "criterion"):
            name = "pump_speed" if key == "pump" else key
            try:
                if key == "hose":
                    told[key] = hose_sizes(self.facts[key])
                else:
                    told[name] = in_si(name, self.facts[key], READ[name]) if name in READ else self.facts[key]
            except DecayError as problem:
                raise self.fault(str(problem), key) from problem
        if self.rig is not None and self.rig.volume:
            told["rig_volume"] = in_si("rig_volume", self.rig.volume, READ["rig_volume"])
        return told

    @property
    def reading(self) -> dict[str, Any]:
        """Return fields of `decay.log.ReadOptions` as the job has them."""
        return _fields(self.facts)

    def fault(self, message: str, key: str = "", number: int = 0) -> CriterionError:
        """Return what is wrong with it, where: with the so manieth log, or 0 for the job."""
        line = line_of_key(self.text, key, "log" if number else "", max(number, 1))
        where = f"{self.path}" if line is None else f"{self.path}, line {line}"
        of = f"log {number}, " if number and line is None else ""
        return CriterionError(f"{where}: {of}{f'{key}: ' if key else ''}{message}")


def read_record(path: Path) -> Record:
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
    CriterionError
        If it cannot be used: the file, the line, what was found, and what would do.
    """
    try:
        tables = read_toml(path, LARGEST)
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as problem:
        raise CriterionError(f"there is no file {path}") from problem
    except IsADirectoryError as problem:
        raise CriterionError(f"{path} is a folder and no record of a job") from problem
    except OSError as problem:
        raise CriterionError(f"{path}: {problem.strerror or problem}") from problem
    except ValueError as problem:
        raise CriterionError(f"{path}: no record of a job: {problem}.\n{EXAMPLE}") from problem
    empty = Record(path, text, {}, ())
    for key in tables:
        if key not in OF_JOB:
            raise _unknown(empty, key, OF_JOB, 0)
    logs = tables.pop("log", [])
    if not isinstance(logs, list) or not logs or not all(isinstance(log, dict) for log in logs):
        raise CriterionError(f"{path}: it lists no log. Each begins with [[log]].\n{EXAMPLE}")
    if len(logs) > MOST_LOGS:
        raise CriterionError(f"{path}: {len(logs)} logs; a job has {MOST_LOGS} at most. Many jobs: decay audit")
    facts = {key: _beside(empty, key, _checked(empty, key, value, 0)) for key, value in tables.items()}
    entries = [_entry(empty, log, number) for number, log in enumerate(logs, 1)]
    _check_together(empty, entries)
    rig = next((entry for entry in entries if entry.is_rig), None)
    return Record(path, text, facts, tuple(entry for entry in entries if not entry.is_rig), rig)


def _unknown(record: Record, key: str, known: Sequence[str], number: int) -> CriterionError:
    line = line_of_key(record.text, key, "log" if number else "", max(number, 1)) or line_of_key(record.text, "", key)
    where = f"{record.path}" if line is None else f"{record.path}, line {line}"
    return CriterionError(f"{where}: {not_known(key, known)}\n       A .toml is read as the record of a job.")


def _checked(record: Record, key: str, value: Any, number: int) -> Any:
    """Return a value that is of the kind which its key asks for."""
    if key in _FLAGS:
        if isinstance(value, bool):
            return value
        raise record.fault(f"expected true or false without quotes, found {value!r}", key, number)
    if key == "over_range" and isinstance(value, list) and all(isinstance(word, str) for word in value):
        return value
    if not isinstance(value, str) or not value.strip():
        raise record.fault(f'expected text in quotes, like {key} = "...", found {value!r}', key, number)
    return value


def _beside(record: Record, key: str, value: Any) -> Any:
    """Return the user's own criterion as a file beside the record."""
    is_file = key == "criterion" and str(value).endswith(".toml") and not Path(value).is_absolute()
    return str(record.path.parent / value) if is_file else value


def _entry(record: Record, table: Mapping[str, Any], number: int) -> RecordedLog:
    """Return one log of a record."""
    for key in table:
        if key not in OF_LOG:
            raise _unknown(record, key, OF_LOG, number)
    told = {key: _checked(record, key, value, number) for key, value in table.items()}
    if "file" not in told:
        raise record.fault('without a file. Add one, like file = "cold.csv"', "", number)
    if "hold" in told and "closed" in told:
        raise record.fault("hold and closed contradict each other: give the stretch, or the moment of closing",
                          "closed", number)
    is_rig = told.get("rig_alone", False)
    for key in told:
        if is_rig and key in ("ambient", "warmed", "hold", "closed"):
            raise record.fault("does not go with rig_alone: the rig's log is read for its own leak alone", key, number)
    if "volume" in told and not is_rig:
        raise record.fault("belongs to a log with rig_alone = true; the system's volume stands above the logs",
                          "volume", number)
    if told.get("warmed", "all") not in WARMED:
        raise record.fault(f'"{told["warmed"]}" is none of {", ".join(WARMED)}', "warmed", number)
    between = told.get("hold") or (f"{told['closed']}..end" if "closed" in told else None)
    return RecordedLog(
        file=_found(record, told["file"], number),
        note=told.get("note", ""),
        ambient=_temperature(record, told["ambient"], number) if "ambient" in told else None,
        warmed=told.get("warmed", ""),
        hold=None if between is None else _stretch(record, between, "hold" if "hold" in told else "closed", number),
        is_rig=is_rig,
        volume=told.get("volume", ""),
        reading=_fields(told),
    )


def _fields(told: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was told of how a log is read as fields of `decay.log.ReadOptions`."""
    found = {key: told[key] for key in OF_READING if key in told}
    if "temperature_column" in found:
        found["temperature"] = found.pop("temperature_column")
    if "over_range" in found:
        words = found["over_range"]
        found["over_range"] = tuple(words) if isinstance(words, list) else (words,)
    return {key: "\t" if value == "\\t" else value for key, value in found.items()}


def _stretch(record: Record, text: str, key: str, number: int) -> tuple[str, str]:
    try:
        return parse_stretch(text)
    except DecayError as problem:
        raise record.fault(str(problem), key, number) from problem


def _temperature(record: Record, text: str, number: int) -> float:
    from decay import quantities

    try:
        return quantities.read_temperature(text)
    except DecayError as problem:
        raise record.fault(str(problem), "ambient", number) from problem


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
    raise record.fault(f"{path} {why}.{meant}", "file", number)


def _check_together(record: Record, entries: Sequence[RecordedLog]) -> None:
    """Refuse what the logs of a job cannot be together."""
    seen: set[Path] = set()
    warm = rigs = 0
    for number, entry in enumerate(entries, 1):
        place = Path(entry.file).resolve()
        if place in seen:
            raise record.fault(f"{entry.file} is listed twice", "file", number)
        seen.add(place)
        warm, rigs = warm + bool(entry.warmed), rigs + entry.is_rig
        if warm > 1 and entry.warmed:
            raise record.fault("a second warm hold: two temperatures are compared by two holds", "warmed", number)
        if rigs > 1 and entry.is_rig:
            raise record.fault("a second rig: one log shows it alone", "rig_alone", number)
    if rigs == len(entries):
        raise record.fault("the rig alone is no job: list the system's logs too", "rig_alone", 1)
