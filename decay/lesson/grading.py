"""What a class wrote about its logs, against what each log proves and what was true: who was fooled by what."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from decay.errors import LogError
from decay.interval import Interval
from decay.judge.criteria import load_criterion
from decay.judge.finding import Cause
from decay.judge.verdict import NAMED, QUIET
from decay.lesson.terms import RULE_OF_THUMB
from decay.log import read_log
from decay.pipeline import Ahead, analyze_log
from decay.simulation.class_set import HANDED_OUT, KEPT, KEY, KEY_COLUMNS, SHEET_COLUMNS
from decay.wording import MICRON_PER_MINUTE

MOST_BYTES = 4_000_000
"""Size of a file of answers beyond which it is none. [bytes]"""


_TABLE = f"Expected a table with the columns {', '.join(SHEET_COLUMNS)}."
_SAVE = f"Fill in {HANDED_OUT}/answers.csv of the class set, and save it as CSV UTF-8."


class Said(Enum):
    """What one can say of a log."""

    LEAK = "leak"
    NO_LEAK = "no leak"
    CANNOT_TELL = "cannot tell"


SPELLINGS: dict[str, Said] = {
    **dict.fromkeys(("leak", "leaks", "yes", "y", "fail"), Said.LEAK),
    **dict.fromkeys(("no leak", "none", "no", "n", "tight", "pass"), Said.NO_LEAK),
    **dict.fromkeys(("cannot tell", "can't tell", "unclear", "inconclusive", "?"), Said.CANNOT_TELL),
}
"""How a class writes it."""


class Marking(Enum):
    """How an answer stands."""

    RIGHT = "right"
    FOOLED_BY_RISE = "fooled by a rise"
    FOOLED_BY_LINE = "fooled by the line"
    MISSED = "missed the leak"
    GUESSED = "guessed"
    LEFT_OPEN = "left open"


@dataclass(frozen=True, slots=True)
class KeyEntry:
    """One log of a class set with its truth."""

    # Its file, what kind of job it is, and what it teaches
    log: str
    kind: str
    about: str
    leak: float  # the true leak [Pa/s]
    is_met: bool | None  # whether the rule of thumb is met; ``None`` where it cannot be answered
    proved: Said  # what the log proves, by the analysis
    proved_leak: Interval | None  # its leak [Pa/s]

    @property
    def is_contradicted(self) -> bool:
        """Whether the analysis says of the log what is not true."""
        return (self.proved is Said.LEAK and self.leak == 0) or (self.proved is Said.NO_LEAK and self.leak > 0)


@dataclass(frozen=True, slots=True)
class Reply:
    """What somebody wrote about one log."""

    student: str
    log: str
    said: Said


def read_key(folder: Path, told: Callable[[str], None] = lambda log: None) -> tuple[KeyEntry, ...]:
    """Read the key of a class set, and judge each of its logs.

    Parameters
    ----------
    folder : Path
        What `decay simulate --class` wrote.
    told : callable
        Told the name of each log before it is judged.

    Returns
    -------
    tuple of KeyEntry
        In the order of the key.

    Raises
    ------
    LogError
        If the key or a log is missing or cannot be read.
    """
    path = folder / KEPT / KEY
    if not path.is_file():
        raise LogError(str(folder), f"there is no {KEPT}/{KEY} in it", "Expected the folder of a class set.",
                       "Make one with: decay simulate --class 12 --out FOLDER")
    rule = load_criterion(RULE_OF_THUMB)
    entries = []
    for _, row in _rows(path, KEY_COLUMNS):
        told(row["log"])
        analysis = analyze_log(read_log(str(folder / HANDED_OUT / row["log"])), criterion=rule, ahead=Ahead.NOTHING)
        entries.append(KeyEntry(
            log=row["log"], kind=row["kind"], about=row["about"],
            leak=float(row["leak_micron_per_min"]) * MICRON_PER_MINUTE, is_met=analysis.verdict.criterion.met,
            proved=_proved(analysis.verdict.cause), proved_leak=analysis.basis.leak))
    return tuple(entries)


def _proved(cause: Cause | None) -> Said:
    if cause in NAMED:
        return Said.LEAK
    return Said.NO_LEAK if cause in QUIET else Said.CANNOT_TELL


def read_answers(paths: Iterable[Path]) -> tuple[Reply, ...]:
    """Read what the class wrote.

    Parameters
    ----------
    paths : iterable of Path
        CSV files with the columns student, log and answer. Lines without an answer are left out.

    Returns
    -------
    tuple of Reply
        In the order of the files. Where a student's name is left out the file's name stands for it.

    Raises
    ------
    LogError
        If a file lacks a column, or an answer is none of those that are known; with the line.
    """
    found = []
    for path in paths:
        for line, row in _rows(path, SHEET_COLUMNS[1:3]):
            text = " ".join(row["answer"].lower().split())
            if not text:
                continue
            if text not in SPELLINGS:
                raise LogError(str(path), f"the answer is {row['answer']!r}, which is not known",
                               f"Expected one of: {', '.join(said.value for said in Said)}.",
                               "Correct the line; one without an answer is left out.", line=line)
            found.append(Reply(row.get("student") or path.stem, row["log"], SPELLINGS[text]))
    return tuple(found)


def _rows(path: Path, columns: tuple[str, ...]) -> Iterable[tuple[int, dict[str, str]]]:
    """Yield the rows of a table with their lines; the separator is whichever of comma, semicolon and tab is there."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise LogError(str(path), f"the file is larger than {MOST_BYTES // 1_000_000} MB", _TABLE, _SAVE)
        text = path.read_text(encoding="utf-8-sig")
    except OSError as problem:
        raise LogError(str(path), problem.strerror or str(problem), _TABLE, _SAVE) from problem
    except UnicodeDecodeError as problem:
        raise LogError(str(path), "the file is not text in UTF-8", _TABLE, _SAVE) from problem
    first = text.partition("\n")[0]
    separator = max(",;\t", key=first.count)
    reader = csv.DictReader(text.splitlines(), delimiter=separator)
    names = [str(name).strip().lower() for name in reader.fieldnames or ()]
    missing = [name for name in columns if name not in names]
    if missing:
        raise LogError(str(path), f"there is no column {missing[0]!r}", f"Expected: {', '.join(columns)}.", _SAVE,
                       line=1)
    for row in reader:
        cells = [cell if isinstance(cell, str) else "" for cell in row.values()]
        yield reader.line_num, {name: cell.strip() for name, cell in zip(names, cells, strict=False)}


def mark(entry: KeyEntry, said: Said) -> Marking:
    """Return how an answer stands.

    Right is what the log proves. Beyond that, what is true was guessed, and what is not tells what fooled.
    """
    is_leaking = entry.leak > 0
    sound = entry.proved
    if entry.is_contradicted:
        sound = Said.LEAK if is_leaking else Said.NO_LEAK
    if said is sound:
        return Marking.RIGHT
    if said is Said.CANNOT_TELL:
        return Marking.LEFT_OPEN
    if said is Said.LEAK:
        return Marking.GUESSED if is_leaking else Marking.FOOLED_BY_RISE
    if not is_leaking:
        return Marking.GUESSED
    return Marking.FOOLED_BY_LINE if entry.is_met else Marking.MISSED


@dataclass(frozen=True, slots=True)
class Grades:
    """A class against its key."""

    key: tuple[KeyEntry, ...]  # the logs with their truth
    marks: dict[tuple[str, str], Marking]  # how each answer stands, by student and log
    unknown: tuple[str, ...]  # logs in the answers that the key does not know

    @property
    def students(self) -> tuple[str, ...]:
        """Who answered, in the order of their names."""
        return tuple(sorted({student for student, _ in self.marks}))

    def of_student(self, student: str) -> Counter[Marking]:
        """Return how often each mark stands with a student."""
        return Counter(found for (who, _), found in self.marks.items() if who == student)

    def of_log(self, log: str) -> dict[Marking, tuple[str, ...]]:
        """Return who has which mark with a log."""
        by_mark: dict[Marking, list[str]] = {}
        for (student, name), found in sorted(self.marks.items(), key=lambda item: item[0]):
            if name == log:
                by_mark.setdefault(found, []).append(student)
        return {found: tuple(students) for found, students in by_mark.items()}


def grade(key: tuple[KeyEntry, ...], answers: Iterable[Reply]) -> Grades:
    """Hold the answers of a class against its key; of two answers of a student about one log the later counts."""
    by_log = {_stem(entry.log): entry for entry in key}
    marks: dict[tuple[str, str], Marking] = {}
    unknown = []
    for answer in answers:
        entry = by_log.get(_stem(answer.log))
        if entry is None:
            unknown.append(answer.log)
            continue
        marks[answer.student, entry.log] = mark(entry, answer.said)
    return Grades(key, marks, tuple(dict.fromkeys(unknown)))


def _stem(log: str) -> str:
    """Return a log's name as a class may write it: without its ending and leading zeros."""
    return log.lower().removesuffix(".csv").lstrip("0")
