"""A graded class in words: who was right, who was fooled by what, and what each log was."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from decay import wording
from decay.lesson.grading import Grades, KeyEntry, Mark, Said
from decay.quantities import MICRON
from decay.report.document_numbers import Json, interval, number
from decay.wording import MICRON_PER_MINUTE
from decay.wording.charset import clean, to_ascii
from decay.wording.lines import Block, Entry

SCHEMA_VERSION = 1
LONGEST_NAME = 24  # characters
SAID = {Mark.RIGHT: "right", Mark.FOOLED_BY_RISE: "called moisture or slow outgassing a leak",
        Mark.FOOLED_BY_LINE: "let the line hide a leak", Mark.MISSED: "missed the leak",
        Mark.GUESSED: "guessed: true, and not proved by the log", Mark.LEFT_OPEN: "left open what the log proves"}
HEADS = {Mark.RIGHT: "right", Mark.FOOLED_BY_RISE: "rise", Mark.FOOLED_BY_LINE: "line", Mark.MISSED: "missed",
         Mark.GUESSED: "guessed", Mark.LEFT_OPEN: "open"}
RULE = {True: "pass", False: "FAIL", None: "hold too short"}


def grades_text(grades: Grades, *, ascii_only: bool = False, width: int = 88) -> str:
    """Return what a class got right, as text.

    Parameters
    ----------
    grades : Grades
        The class against its key.
    ascii_only : bool
        Whether the text must do with plain ASCII.
    width : int
        Longest line, tables aside. [characters]

    Returns
    -------
    str
        Ends in a line feed.
    """
    lines: list[str] = []
    if grades.marks:
        lines += [_headline(grades), "", *_columns(_students(grades)), ""]
        lines += [*Block("What the columns count", [Entry(HEADS[kind], SAID[kind]) for kind in Mark]).lines(width), ""]
    else:
        lines += ["No answers: the key alone.", ""]
    for entry in grades.key:
        lines += [*Block(f"{entry.log}  {entry.kind}", list(_about(grades, entry))).lines(width), ""]
    if grades.unknown:
        lines += [f"Logs that the key does not know: {', '.join(grades.unknown)}", ""]
    lines = [clean(line) for line in lines[:-1]]
    return "\n".join(to_ascii(line) if ascii_only else line for line in lines) + "\n"


def _headline(grades: Grades) -> str:
    right = sum(found is Mark.RIGHT for found in grades.marks.values())
    fooled = {kind: sum(found is kind for found in grades.marks.values()) for kind in Mark}
    return (f"CLASS: {right} of {len(grades.marks)} answers right; {fooled[Mark.FOOLED_BY_RISE]} fooled by a rise, "
            f"{fooled[Mark.FOOLED_BY_LINE]} by the line")


def _students(grades: Grades) -> list[list[str]]:
    rows = [["student", "answers", *HEADS.values()]]
    for student in grades.students:
        counted = grades.of_student(student)
        name = student if len(student) <= LONGEST_NAME else f"{student[: LONGEST_NAME - 3]}..."
        rows.append([name, str(counted.total()), *(str(counted[kind]) for kind in Mark)])
    return rows


def _columns(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return ["  ".join([row[0].ljust(widths[0]), *(cell.rjust(size) for cell, size in
                                                  zip(row[1:], widths[1:], strict=True))]) for row in rows]


def _about(grades: Grades, entry: KeyEntry) -> Iterable[Entry]:
    leak = "no leak" if entry.leak == 0 else f"a leak of {wording.rate(entry.leak)}"
    yield Entry("Truth", f"{leak}; {entry.about}")
    yield Entry("Rule", RULE[entry.is_met])
    yield Entry("Log proves", _proved(entry))
    if entry.is_contradicted:
        yield Entry("Note", "the analysis is wrong about this log; the truth counts as right")
    for kind, students in grades.of_log(entry.log).items():
        if kind is not Mark.RIGHT:
            yield Entry(HEADS[kind], ", ".join(students))


def _proved(entry: KeyEntry) -> str:
    leak = entry.proved_leak
    if leak is None:
        return "nothing: no usable hold"
    if entry.proved is Said.LEAK:
        return f"a leak of {wording.rate_interval(leak)}"
    if entry.proved is Said.NO_LEAK:
        return f"no leak above {wording.bound(leak.high)}"
    return f"nothing: it may be a leak of up to {wording.bound(leak.high)}, and may be none"


def grades_document(grades: Grades) -> Json:
    """Return a graded class as a JSON document.

    Parameters
    ----------
    grades : Grades
        The class against its key.

    Returns
    -------
    dict
        Strict JSON.
    """
    return {
        "schema_version": SCHEMA_VERSION,
        "synthetic": True,
        "logs": [{
            "log": entry.log, "kind": entry.kind, "about": entry.about,
            "true_leak_micron_per_min": number(entry.leak / (MICRON / 60.0)),
            "rule_met": entry.is_met, "proved": entry.proved.value,
            "leak_micron_per_min": None if entry.proved_leak is None
            else interval(entry.proved_leak, MICRON_PER_MINUTE),
            "marks": {kind.value: list(students) for kind, students in grades.of_log(entry.log).items()},
        } for entry in grades.key],
        "students": [{"student": student, **{kind.value: grades.of_student(student)[kind] for kind in Mark}}
                     for student in grades.students],
        "unknown_logs": list(grades.unknown),
    }
