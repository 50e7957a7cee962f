"""The short summary: what stands in it and where, how long it is, and that nothing which decides is left out."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from decay.analysis import Analysis
from decay.judge.answer import CriterionOutcome, Part
from decay.judge.finding import Cause, Finding, Level, Result
from decay.phases.phase import Kind, Phase
from decay.report.answers import headline, leak_answer, picture_text, practice_answer
from decay.report.short_summary import ask_for_the_closing, short_summary, table
from decay.wording.lines import width_of
from tests.report import factories
from tests.report.test_text import FREE

LIMITS = [(60, 40), (80, 25), (100, 25)]


@pytest.mark.parametrize(("width", "most"), LIMITS)
def test_it_keeps_to_its_lines_and_columns(made: Analysis, width: int, most: int) -> None:
    lines = short_summary(made, width=width).splitlines()
    assert len(lines) <= most
    assert max(map(len, lines)) <= width


def test_result_reason_leak_and_next_step_stand_within_twelve_lines(made: Analysis) -> None:
    top = short_summary(made).splitlines()[:12]
    assert top[0].startswith(f"{made.verdict.result.value.upper()}: ")
    assert any(line.startswith("Leak: ") for line in top)
    assert any(line.startswith("Practice: ") for line in top)
    assert any(re.match(r"  1\. ", line) for line in top)


def test_it_opens_and_closes_with_the_result(made: Analysis) -> None:
    lines = short_summary(made).splitlines()
    word = made.verdict.result.value.upper()
    assert lines[0].startswith(f"{word}: ")
    assert lines[-1] == f"VERDICT: {word}"


def test_nothing_is_called_free_of_leaks(made: Analysis) -> None:
    assert not re.search(FREE, short_summary(made), re.IGNORECASE)


def test_plain_ascii_and_colour_only_where_asked(made: Analysis) -> None:
    plain = short_summary(made)
    assert short_summary(made, ascii_only=True).isascii()
    coloured = short_summary(made, color=True)
    assert "\x1b" not in plain
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain


def blocking(number: int) -> Finding:
    return Finding(f"H{40 + number}", Level.BLOCKS, f"Invented circumstance {number} keeps this from a pass.",
                   headline=f"circumstance {number}")


def test_whatever_decides_stands_in_the_summary_however_many() -> None:
    made = factories.bare()
    found = tuple(blocking(number) for number in range(5))
    verdict = replace(made.verdict, result=Result.INCONCLUSIVE, reasons=(*made.verdict.reasons, *found[:3]),
                      caveats=(*made.verdict.caveats, *found[3:]))
    text = short_summary(replace(made, verdict=verdict))
    assert text.startswith("INCONCLUSIVE: circumstance 0; circumstance 1; 3 more")
    assert all(f"[{finding.code}]" in text for finding in found)


STAND = CriterionOutcome("one-hour-stand", "Deep vacuum, one-hour stand", "spec", "read", False, "in full",
                         part=Part.TARGET, short="one-hour stand", brief="isolated at 2,850 micron, target 300")


def test_a_stand_that_the_doubt_of_its_closing_made_long_enough_says_so() -> None:
    made = factories.tight()
    lent = replace(STAND, met=True, part=Part.ALL, lent=64.0)
    said = practice_answer(replace(made, verdict=replace(made.verdict, criterion=lent, others=())))
    assert said == "one-hour stand met (64 s short, within the doubt of the closing)"


MISSED = Finding("C03", Level.FAILS, "Deep vacuum, not met.", headline=STAND.brief)


@pytest.mark.parametrize(
    ("cause", "ending"),
    [
        (Cause.UNRESOLVED, "leak not ruled out"),
        (Cause.TIGHT, "no leak seen above 0.6 micron/min"),
        (Cause.FREE_WATER, "free water"),
        (Cause.LEAK_AND_OUTGASSING, "leak and outgassing seen"),
    ],
)
def test_the_headline_names_the_reason_and_then_the_leak(cause: Cause, ending: str) -> None:
    made = factories.leaking() if cause is not Cause.TIGHT else factories.tight()
    verdict = replace(made.verdict, result=Result.FAIL, cause=cause, criterion=STAND, reasons=(MISSED,))
    made = replace(made, verdict=verdict, basis=replace(made.basis, cause=cause))
    assert headline(made) == f"FAIL: isolated at 2,850 micron, target 300; {ending}"


def test_a_headline_that_names_a_missed_practice_names_a_rise_off_the_range_too() -> None:
    made = factories.leaking()
    rise = Finding("H25", Level.BLOCKS, "Gas let in or a gross leak: off the range.", headline="gas let in or a leak")
    verdict = replace(made.verdict, result=Result.FAIL, cause=Cause.UNRESOLVED, reasons=(MISSED, rise))
    made = replace(made, verdict=verdict, basis=replace(made.basis, cause=Cause.UNRESOLVED))
    assert headline(made) == "FAIL: isolated at 2,850 micron, target 300; gas let in or a leak"


def test_a_leak_that_is_likely_is_graded_and_its_odds_are_told() -> None:
    made = factories.bare()
    likely = replace(made, basis=replace(made.basis, odds_of_leak=0.97))
    assert leak_answer(likely).startswith("likely, up to ")
    assert "odds of a leak over 95 %" in leak_answer(likely)
    open_still = replace(made, basis=replace(made.basis, odds_of_leak=0.6))
    assert leak_answer(open_still).startswith("not ruled out, up to ")


def test_practice_names_the_stand_that_judges_first_and_what_the_others_lack() -> None:
    made = factories.tight()
    met = replace(STAND, name="field-line", short="ten-minute line", met=True, part=Part.ALL, brief="")
    short = replace(STAND, met=None, part=Part.LENGTH, missing=1980.0)
    found = replace(made, verdict=replace(made.verdict, criterion=met, others=(short,)))
    assert practice_answer(found) == "ten-minute line met; one-hour stand needs 33 min more"
    failed = replace(made, verdict=replace(made.verdict, criterion=STAND, others=(replace(met, met=False),)))
    assert practice_answer(failed) == (
        "one-hour stand not met (isolated at 2,850 micron, target 300); ten-minute line not met"
    )


def test_where_no_hold_is_found_it_asks_for_the_closing() -> None:
    made = factories.no_hold()
    verdict = replace(made.verdict, criterion=replace(made.verdict.criterion, part=Part.NO_HOLD))
    flat = Phase(Kind.UNCLEAR, 0, 1, 1200.0, 1800.0, 33.0, 33.0, closings=(1210.0, 1500.0))
    asked = replace(made, verdict=verdict, phases=(*made.phases, flat))
    text = " ".join(short_summary(asked).split())
    assert "When did you close the valve? Add --hold 09:35:10..end." in text
    assert "0:20:10 (09:35:10)" in text
    assert "0:25:00 (09:40:00)" in text
    clockless = replace(asked, log=replace(asked.log, started=None))
    assert "Add --hold 0:20:10..end." in ask_for_the_closing(clockless)


def test_a_picture_says_the_same_in_four_lines(made: Analysis) -> None:
    lines = picture_text(made)
    assert len(lines) == 4
    assert lines[0] == headline(made)
    assert lines[2] == f"Leak: {leak_answer(made)}"
    assert lines[3] == f"Practice: {practice_answer(made)}"


def test_several_logs_take_a_row_each() -> None:
    found = [factories.tight(), factories.leaking(), factories.long_name(), factories.no_hold()]
    text = table(found, width=100)
    assert "4 logs: 1 fail, 2 inconclusive, 1 pass." in text
    assert text.endswith("VERDICT: FAIL\n")
    for width in (60, 80, 100):
        assert max(map(len, table(found, width=width).splitlines())) <= width
    first = [line.split()[0] for line in text.splitlines() if line and not line.startswith(" ")]
    assert first[0] == "log"
    assert len(first) == 1 + 4 + 1 + 1  # head, rows, count, verdict


@pytest.mark.parametrize(("columns", "terminal", "width"), [("60", None, 60), (None, 200, 120), ("5", 100, 40)])
def test_columns_are_heeded_in_a_pipe_too(columns: str | None, terminal: int | None, width: int) -> None:
    assert width_of(columns, terminal) == width
