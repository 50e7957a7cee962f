"""The criteria as a table, one in full, and what a hold meets."""

from __future__ import annotations

import pytest

from decay.judge.answer import CriterionOutcome, Part
from decay.judge.criteria import criterion_names, default_criteria, load_criterion
from decay.report.criteria_report import criteria_of_hold, criteria_table, criterion_page, limit_in_words
from tests.report import factories

KNOWN = [load_criterion(name) for name in criterion_names()]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("one-hour-stand", "at most 500"),
        ("field-line", "at most 1,000, at the end"),
        ("two-lines-15-min", "below 700, fails from 800"),
        ("vehicle-dial", "rise at most 50,800"),
        ("chiller-standing", "rise less than 1,270"),
        ("chiller-dehydration", "no change in the gauge's last digit"),
    ],
)
def test_a_limit_in_words(name: str, words: str) -> None:
    assert limit_in_words(load_criterion(name)).startswith(words)


@pytest.mark.parametrize("width", [60, 80, 100])
def test_every_criterion_has_its_row_and_its_page(width: int) -> None:
    text = criteria_table(KNOWN, default_criteria(), width=width)
    for known in KNOWN:
        assert any(line.startswith(f"{known.name} ") for line in text.splitlines())
        page = criterion_page(known, width=width)
        assert known.title in " ".join(page.split())
        assert max(map(len, page.splitlines())) <= width
    assert sum(" * " in line for line in text.splitlines()) == 3
    assert max(map(len, text.splitlines())) <= width


def test_what_a_hold_meets_stands_with_the_reason_where_it_does_not() -> None:
    met = CriterionOutcome("a", "A", "s", "read", True, "in full", part=Part.ALL, brief="in full")
    missed = CriterionOutcome("b", "B", "s", "read", False, "d", part=Part.TARGET, brief="isolated at 400, target 300")
    short = CriterionOutcome("c", "C", "s", "read", None, "d", part=Part.LENGTH, missing=1980.0)
    rows = criteria_of_hold(factories.tight(), (met, missed, short)).splitlines()
    assert rows[-3].split() == ["a", "met"]
    assert rows[-2].split(maxsplit=3)[3] == "isolated at 400, target 300"
    assert rows[-1].split(maxsplit=3)[3] == "needs 33 min more"
