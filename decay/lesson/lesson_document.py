"""A lesson as a JSON document, and a graded class in words and as one: who was right, who was fooled by what."""

from __future__ import annotations

from collections.abc import Iterable

from decay import wording
from decay.constants import DAY, MICRON
from decay.lesson.grading import Grades, KeyEntry, Marking, Said
from decay.lesson.holds import Pair, Shown
from decay.lesson.lesson_text import lesson_rests_on, second_document
from decay.lesson.passing import KINDS, Proof, RuleCurve, share
from decay.lesson.teaching import Lesson
from decay.lesson.terms import Terms
from decay.report.document import document
from decay.report.document_numbers import Json, by_law, json_interval, json_number
from decay.wording import GRAM_PER_YEAR, MICRON_PER_MINUTE
from decay.wording.lines import Block, Entry, finished, numbers_in_columns, set_blocks

LESSON_VERSION = 1


def lesson_document(terms: Terms, pair: Pair, lesson: Lesson | None = None) -> Json:
    """Return the JSON document of a lesson, with the shares where they were counted."""
    t = terms
    return {
        "schema_version": LESSON_VERSION,
        "synthetic": True,
        "terms": {
            "volume_l": json_interval(t.volume, 1e-3),
            "criterion": {"name": t.criterion.name, "title": t.criterion.title, "source": t.criterion.source,
                          "standing": t.criterion.standing},
            "hold_s": json_number(t.hold),
            "refrigerant": t.system.refrigerant,
            "charge_g": json_number(t.charge * 1e3),
            "ambient_k": json_number(t.ambient),
            "gauge_step_micron": json_number(t.gauge.steps[0][1], MICRON),
            "gauge_noise_micron": json_number(t.gauge.noise, MICRON),
            "gauge_interval_s": json_number(t.gauge.interval),
            "gauge_accuracy": json_number(t.gauge_accuracy),
            "damp_micron": json_number(t.damp, MICRON),
            "runs": t.runs,
            "analysed_runs": t.proof_runs,
            "seed": t.seed,
        },
        "pair": {"damp": _shown_document(pair.damp), "leaking": _shown_document(pair.leaking)},
        **_shares(lesson),
    }


def _shares(lesson: Lesson | None) -> Json:
    if lesson is None:
        return dict.fromkeys(("leaks", "rule_by_hold", "rule_by_volume", "proof_by_hold", "rests_on"))
    return {
        "leaks": [_leak(lesson, index) for index in range(len(lesson.terms.leaks))],
        "rule_by_hold": [_curve(curve) for curve in lesson.rules],
        "rule_by_volume": [_curve(curve) for curve in lesson.volumes],
        "proof_by_hold": [_proof(proof) for proof in lesson.proofs],
        "rests_on": list(lesson_rests_on(lesson)),
    }


def _leak(lesson: Lesson, index: int) -> Json:
    return {
        "rate_micron_per_min": json_number(float(lesson.terms.leaks[index]), MICRON_PER_MINUTE),
        "loss_g_per_year": by_law(lesson.loss(index), GRAM_PER_YEAR),
        "half_charge_days": by_law(lesson.half(index), DAY),
    }


def _curve(curve: RuleCurve) -> Json:
    return {
        "volume_l": json_number(curve.volume * 1e3),
        "hold_s": json_number(curve.hold),
        "passes": [json_interval(curve.interval(index)) for index in range(len(curve.passes))],
    }


def _proof(proof: Proof) -> Json:
    return {
        "hold_s": json_number(proof.hold),
        "leak_indices": proof.indices.tolist(),
        "smallest_detectable_micron_per_min": [json_number(float(x), MICRON_PER_MINUTE) for x in proof.smallest_shown],
        **{name: [json_interval(share(int(n), proof.runs)) for n in getattr(proof, name)] for name in KINDS},
    }


def _shown_document(shown: Shown | None) -> Json | None:
    if shown is None:
        return None
    return {
        "true_leak_micron_per_min": json_number(shown.made.leak_rate, MICRON_PER_MINUTE),
        "jobs_tried": shown.tried,
        "analysis": document(shown.analysis),
        "second_hold": second_document(shown.second),
    }


GRADES_VERSION = 1
LONGEST_STUDENT = 24  # characters
SAID = {Marking.RIGHT: "right", Marking.FOOLED_BY_RISE: "called moisture or slow outgassing a leak",
        Marking.FOOLED_BY_LINE: "let the line hide a leak", Marking.MISSED: "missed the leak",
        Marking.GUESSED: "guessed: true, and not proved by the log", Marking.LEFT_OPEN: "left open what the log proves"}
MARK_HEADS = {Marking.RIGHT: "right", Marking.FOOLED_BY_RISE: "rise", Marking.FOOLED_BY_LINE: "line",
              Marking.MISSED: "missed", Marking.GUESSED: "guessed", Marking.LEFT_OPEN: "open"}
RULE_SAID = {True: "pass", False: "FAIL", None: "hold too short"}


def grades_text(grades: Grades, *, ascii_only: bool = False, width: int = 88) -> str:
    """Return what a class got right, as text."""
    lines: list[str] = []
    if grades.marks:
        lines += [_headline(grades), "", *numbers_in_columns(_students(grades)), ""]
        legend = Block("What the columns count", [Entry(MARK_HEADS[kind], SAID[kind]) for kind in Marking])
        lines += [*legend.lines(width), ""]
    else:
        lines += ["No answers: the key alone.", ""]
    lines += set_blocks(
        (Block(f"{entry.log}  {entry.kind}", list(_about(grades, entry))) for entry in grades.key), width)
    if grades.unknown:
        lines += [f"Logs that the key does not know: {', '.join(grades.unknown)}", ""]
    return finished(lines[:-1], ascii_only=ascii_only)


def _headline(grades: Grades) -> str:
    right = sum(found is Marking.RIGHT for found in grades.marks.values())
    fooled = {kind: sum(found is kind for found in grades.marks.values()) for kind in Marking}
    return (f"CLASS: {right} of {len(grades.marks)} answers right; {fooled[Marking.FOOLED_BY_RISE]} fooled by a rise, "
            f"{fooled[Marking.FOOLED_BY_LINE]} by the line")


def _students(grades: Grades) -> list[list[str]]:
    rows = [["student", "answers", *MARK_HEADS.values()]]
    for student in grades.students:
        numbers_in_columns = grades.of_student(student)
        name = student if len(student) <= LONGEST_STUDENT else f"{student[: LONGEST_STUDENT - 3]}..."
        rows.append([name, str(numbers_in_columns.total()), *(str(numbers_in_columns[kind]) for kind in Marking)])
    return rows


def _about(grades: Grades, entry: KeyEntry) -> Iterable[Entry]:
    leak = "no leak" if entry.leak == 0 else f"a leak of {wording.rate(entry.leak)}"
    yield Entry("Truth", f"{leak}; {entry.about}")
    yield Entry("Rule", RULE_SAID[entry.is_met])
    yield Entry("Log proves", _proved(entry))
    if entry.is_contradicted:
        yield Entry("Note", "the analysis is wrong about this log; the truth counts as right")
    for kind, students in grades.of_log(entry.log).items():
        if kind is not Marking.RIGHT:
            yield Entry(MARK_HEADS[kind], ", ".join(students))


def _proved(entry: KeyEntry) -> str:
    leak = entry.proved_leak
    if leak is None:
        return "nothing: no usable hold"
    if entry.proved is Said.LEAK:
        return f"a leak of {wording.rate_interval(leak)}"
    if entry.proved is Said.NO_LEAK:
        return f"no leak above {wording.rate_high(leak)}"
    return f"nothing: it may be a leak of up to {wording.rate_high(leak)}, and may be none"


def grades_document(grades: Grades) -> Json:
    """Return a graded class as a JSON document."""
    return {
        "schema_version": GRADES_VERSION,
        "synthetic": True,
        "logs": [{
            "log": entry.log, "kind": entry.kind, "about": entry.about,
            "true_leak_micron_per_min": json_number(entry.leak, MICRON_PER_MINUTE),
            "rule_met": entry.is_met, "proved": entry.proved.value,
            "leak_micron_per_min": None if entry.proved_leak is None
            else json_interval(entry.proved_leak, MICRON_PER_MINUTE),
            "marks": {kind.value: list(students) for kind, students in grades.of_log(entry.log).items()},
        } for entry in grades.key],
        "students": [{"student": student, **{kind.value: grades.of_student(student)[kind] for kind in Marking}}
                     for student in grades.students],
        "unknown_logs": list(grades.unknown),
    }
