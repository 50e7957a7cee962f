"""What is told of single logs: a table beside them that gives volume, charge and the like by file or pattern."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from decay import quantities
from decay.audit.collect import Target
from decay.errors import DecayError, LogError
from decay.physics.refrigerant_table import lookup
from decay.system import System

QUANTITIES = ("volume", "refrigerant", "charge", "ambient")
COLUMNS = ("log", *QUANTITIES, "technician")
MOST_BYTES = 8_000_000
"""Size of a job list beyond which it is none. [bytes]"""
_EXAMPLE = 'A line that works: log,volume,technician and below it: rig1/*.csv,"6.5 L",Ann'


@dataclass(frozen=True, slots=True)
class JobLine:
    """One line of a job list."""

    pattern: str  # name or path of the logs that it is about; ``*`` and ``?`` stand for anything
    values: tuple[tuple[str, str], ...]  # names of quantities with their texts, as far as given
    technician: str | None  # who did the job
    where: str  # file and line, for messages

    def is_about(self, path: str) -> bool:
        """Tell whether it is about a file: by its whole path, or by the end of it from a folder's name on."""
        # As it stands first: a name may hold the marks of a pattern.
        named = path == self.pattern or path.endswith(f"/{self.pattern}")
        return named or fnmatchcase(path, self.pattern) or fnmatchcase(path, f"*/{self.pattern}")


def read_job_list(path: Path) -> tuple[JobLine, ...]:
    """Read a job list.

    Parameters
    ----------
    path : Path
        A CSV file with the column ``log`` and any of volume, refrigerant, charge, ambient, technician; or a TOML file
        with tables ``[[job]]`` of the same names.

    Returns
    -------
    tuple of JobLine
        In the order of the file.

    Raises
    ------
    LogError
        If it cannot be used, with the line.
    """
    try:
        if not (path.is_file() or path.is_dir()) and path.exists():
            raise LogError(str(path), "it is a device or a pipe and no file", "Expected a job list.", _EXAMPLE)
        if path.stat().st_size > MOST_BYTES:
            raise LogError(str(path), f"the file is larger than {MOST_BYTES // 1_000_000} MB", "Expected a job list.",
                           _EXAMPLE)
        text = path.read_text(encoding="utf-8-sig")
    except OSError as problem:
        raise LogError(str(path), problem.strerror or str(problem), "Expected a job list.", _EXAMPLE) from problem
    except UnicodeDecodeError as problem:
        raise LogError(str(path), "it is not text in UTF-8", "Expected a job list.", "Save it as UTF-8.") from problem
    rows = _of_toml(path, text) if path.suffix.lower() == ".toml" else _of_csv(path, text)
    return tuple(_told(path, line, row) for line, row in rows)


def _of_csv(path: Path, text: str) -> Iterable[tuple[int, Mapping[str, Any]]]:
    first = text.partition("\n")[0]
    reader = csv.DictReader(text.splitlines(), delimiter=max(",;\t", key=first.count))
    names = [str(name).strip().lower() for name in reader.fieldnames or ()]
    if "log" not in names:
        raise LogError(str(path), 'there is no column "log"', f"Expected: {', '.join(COLUMNS)}.", _EXAMPLE, line=1)
    for row in reader:
        cells = [cell if isinstance(cell, str) else "" for cell in row.values()]
        found = {name: cell.strip() for name, cell in zip(names, cells, strict=False) if cell.strip()}
        if found:
            yield reader.line_num, found


def _of_toml(path: Path, text: str) -> Iterable[tuple[int | None, Mapping[str, Any]]]:
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as problem:
        raise LogError(str(path), f"it is not TOML: {problem}", "Expected tables [[job]].", _EXAMPLE) from problem
    jobs = data.get("job")
    if not isinstance(jobs, list) or not all(isinstance(job, Mapping) for job in jobs) or len(data) != 1:
        raise LogError(str(path), "it holds something else than tables [[job]]", "Expected tables [[job]].",
                       'A table that works: [[job]] and below it: log = "rig1/*.csv"')
    for job in jobs:
        yield None, job


def _told(path: Path, line: int | None, row: Mapping[str, Any]) -> JobLine:
    unknown = [name for name in row if name not in COLUMNS]
    if unknown or not isinstance(row.get("log"), str) or not all(isinstance(value, str) for value in row.values()):
        found = f'"{unknown[0]}" is not known' if unknown else 'a job needs "log", and texts in quotes'
        raise LogError(str(path), found, f"Expected: {', '.join(COLUMNS)}.", _EXAMPLE, line=line)
    values = tuple((name, row[name]) for name in QUANTITIES if name in row)
    where = str(path) if line is None else f"{path}, line {line}"
    told = JobLine(row["log"].replace("\\", "/"), values, row.get("technician"), where)
    try:
        system_with(System(), told.values)
    except DecayError as problem:
        raise LogError(str(path), str(problem), "Expected quantities with their units.", _EXAMPLE, line=line
                       ) from problem
    return told


def system_with(system: System, values: Iterable[tuple[str, str]]) -> System:
    """Return what is known of a system, with what the job list says in place of what it replaces.

    Parameters
    ----------
    system : System
        What holds for all logs.
    values : iterable of (str, str)
        Names of quantities with their texts.

    Raises
    ------
    DecayError
        If a text cannot be read.
    """
    for name, text in values:
        if name == "volume":
            volume = quantities.read_volume(text)
            origin = "stated" if volume.low > 0 else "stated as an upper bound"
            system = replace(system, volume=volume, volume_origin=origin)
        elif name == "refrigerant":
            system = replace(system, refrigerant=lookup(text).name)
        elif name == "charge":
            system = replace(system, charge=quantities.read_mass(text))
        else:
            system = replace(system, ambient=quantities.read_temperature(text))
    return system


def with_lines(told: Sequence[JobLine], targets: Iterable[Target]) -> tuple[tuple[Target, ...], tuple[str, ...]]:
    """Give each log what the list says of it, the later lines first; and tell where lines stand that are about none."""
    used = [False] * len(told)
    changed = []
    for target in targets:
        values: dict[str, str] = {}
        technician = None
        for index, line in enumerate(told):
            if line.is_about(target.path):
                used[index] = True
                values.update(line.values)
                technician = technician if line.technician is None else line.technician
        changed.append(replace(target, told=tuple(sorted(values.items())), technician=technician))
    idle = tuple(f"{line.where}: {line.pattern}" for line, is_used in zip(told, used, strict=True) if not is_used)
    return tuple(changed), idle
