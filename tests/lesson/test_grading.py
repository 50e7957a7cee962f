"""A class against its key: what each answer is worth, and what cannot be read."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from decay import Interval, LogError
from decay.lesson.grading import KeyEntry, Marking, Reply, Said, grade, mark, read_answers, read_key
from decay.lesson.lesson_document import grades_document, grades_text
from decay.simulation.class_set import class_set, write_class_set
from decay_cli.main import decay

LEAK, NO_LEAK, OPEN = Said.LEAK, Said.NO_LEAK, Said.CANNOT_TELL


def entry(leak, is_met, proved, log="01.csv"):
    return KeyEntry(log, "some kind", "shows it", leak, is_met, proved, Interval(leak, leak / 2, leak * 2 + 0.01))


DAMP, HIDDEN = entry(0.0, False, NO_LEAK), entry(1.0, True, LEAK)
PLAIN, SHORT, SLOW = entry(1.0, False, LEAK), entry(1.0, None, OPEN), entry(0.0, True, OPEN)


@pytest.mark.parametrize(("about", "said", "expected"), [
    (DAMP, NO_LEAK, Marking.RIGHT), (DAMP, LEAK, Marking.FOOLED_BY_RISE), (DAMP, OPEN, Marking.LEFT_OPEN),
    (HIDDEN, LEAK, Marking.RIGHT), (HIDDEN, NO_LEAK, Marking.FOOLED_BY_LINE), (HIDDEN, OPEN, Marking.LEFT_OPEN),
    (PLAIN, LEAK, Marking.RIGHT), (PLAIN, NO_LEAK, Marking.MISSED),
    (SHORT, OPEN, Marking.RIGHT), (SHORT, LEAK, Marking.GUESSED), (SHORT, NO_LEAK, Marking.MISSED),
    (SLOW, OPEN, Marking.RIGHT), (SLOW, NO_LEAK, Marking.GUESSED), (SLOW, LEAK, Marking.FOOLED_BY_RISE),
    # Where the analysis is wrong, the truth counts.
    (entry(0.0, False, LEAK), NO_LEAK, Marking.RIGHT), (entry(0.0, False, LEAK), LEAK, Marking.FOOLED_BY_RISE)])
def test_an_answer_is_worth_what_the_log_proves(about, said, expected):
    assert mark(about, said) is expected


def test_logs_are_known_by_their_number_and_the_last_answer_counts():
    grades = grade((DAMP, entry(1.0, True, LEAK, "12.csv")), [
        Reply("Ann", "1", LEAK), Reply("Ann", "01", NO_LEAK), Reply("Ben", "12.CSV", NO_LEAK),
        Reply("Ben", "77", LEAK)])
    assert grades.marks == {("Ann", "01.csv"): Marking.RIGHT, ("Ben", "12.csv"): Marking.FOOLED_BY_LINE}
    assert grades.students == ("Ann", "Ben")
    assert grades.unknown == ("77",)
    assert grades.of_log("12.csv") == {Marking.FOOLED_BY_LINE: ("Ben",)}


def test_text_and_document_say_the_same(tmp_path):
    grades = grade((DAMP,), [Reply("Ann \x1b[2J", "01.csv", LEAK)])
    text = grades_text(grades)
    assert "CLASS: 0 of 1 answers right; 1 fooled by a rise, 0 by the line" in text
    assert "\x1b" not in text
    told = grades_document(grades)
    assert told["logs"][0]["marks"] == {"fooled by a rise": ["Ann \x1b[2J"]}
    assert told["students"][0]["fooled by a rise"] == 1


@pytest.mark.parametrize("text", ["student,log,answer\nAnn,1,leak\nAnn,2,\n", "log\tanswer\n1\tleaks\n",
                                  "\ufeffstudent;log;answer;why\nAnn;1;Yes;x\n"])
def test_answers_are_read_however_a_spreadsheet_saves_them(text, tmp_path):
    path = tmp_path / "Ann.csv"
    path.write_text(text, encoding="utf-8")
    assert read_answers([path]) == (Reply("Ann", "1", LEAK),)


@pytest.mark.parametrize(("content", "words"), [
    (b"student,log,answer\nAnn,1,perhaps\n", "line 2"), (b"student,log\nAnn,1\n", "no column 'answer'"),
    (b"\xff\xfe", "not text in UTF-8"), (b"", "no column")])
def test_answers_that_cannot_be_read_are_told(content, words, tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(content)
    with pytest.raises(LogError, match=words):
        read_answers([path])


@pytest.mark.usefixtures("answered_once")
def test_a_class_is_graded_from_its_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    write_class_set(class_set(8, 7), "monday")
    key = read_key(Path("monday"))
    assert len(key) == 8
    assert not any(one.is_contradicted for one in key)
    assert {one.proved for one in key} == set(Said)
    lines = ["student,log,answer", *(f"Ann,{one.log},{one.proved.value}" for one in key),
             *(f"Ben,{one.log},leak" for one in key)]
    Path("answers.csv").write_text("\n".join(lines))
    done = CliRunner().invoke(decay, ["lesson", "--key", "monday", "--answers", "answers.csv", "--json", "-q"])
    assert done.exit_code == 0, done.output
    told = {student["student"]: student for student in json.loads(done.stdout)["students"]}
    assert told["Ann"]["right"] == 8
    assert told["Ben"]["fooled by a rise"] == sum(one.leak == 0 for one in key)
    alone = CliRunner().invoke(decay, ["lesson", "--key", "monday", "-q"])
    assert alone.stdout.startswith("No answers: the key alone.")
    assert CliRunner().invoke(decay, ["lesson", "--key", "gone"]).exit_code == 4
    assert CliRunner().invoke(decay, ["lesson", "--answers", "answers.csv"]).exit_code == 2
