"""The written summary: what stands first and last, what is said and what never is, and where lines end."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from decay import wording
from decay.analysis import Analysis
from decay.interval import Interval
from decay.judge.finding import Cause, Result
from decay.log import read_log
from decay.pipeline import Ahead, analyze_log
from decay.report.detail import summary
from tests.report import factories

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
FREE = r"leak[- ]?free|no leaks?\b(?! seen above| of any size)|leak-?tight"


def headings(text: str) -> list[str]:
    return [line for line in text.splitlines() if re.fullmatch(r"[A-Z][a-z ]+\d?( \(.*\))?", line)]


def test_the_verdict_opens_and_closes(made: Analysis) -> None:
    lines = summary(made).splitlines()
    word = made.verdict.result.value.upper()
    assert lines[0].startswith(f"{word}: ")
    assert lines[-1] == f"VERDICT: {word}"


def test_what_matters_comes_before_the_detail() -> None:
    text = summary(factories.three_holds())
    order = ["Why", "Next", "Keep in mind", "Leak", "Log", "Phases", "Pumpdown 1", "Hold 1", "Holds together"]
    shown = headings(text)
    assert [shown.index(title) for title in order] == sorted(shown.index(title) for title in order)


def test_the_first_screen_answers_the_five_questions() -> None:
    first_screen = summary(factories.leaking()).split("\nLog\n")[0]
    assert "3.20 micron/min (2.90 to 3.50)" in first_screen
    assert "g/year" in first_screen
    assert "0.6 micron/min" in first_screen  # what this hold could not have seen
    assert "Pa·m³/s" in first_screen
    assert "Close off sections" in first_screen
    assert "never says where" in first_screen


def _hold_with(analysis: Analysis, **changes: object) -> Analysis:
    report = analysis.holds[0]
    report = replace(report, fit=replace(report.fit, **changes))  # type: ignore[arg-type]
    return replace(analysis, holds=(report,), basis=factories.basis(report, report.cause))


def _smallest(analysis: Analysis) -> str:
    block = summary(analysis).split("  smallest", 1)[1].split("\n\n", 1)[0]
    return " ".join(block.split())


def test_a_limit_beyond_the_interval_and_an_interval_beyond_the_limit_are_explained() -> None:
    per_minute = factories.micron(1.0) / 60.0
    unseen = {"is_leak_seen": False, "detection_limit": 4.0 * per_minute}
    narrow = _hold_with(factories.tight(), leak=Interval(0.0, 0.0, 0.5 * per_minute), **unseen)
    assert "these readings rule out a leak above 0.50 micron/min" in _smallest(narrow)
    wide = _hold_with(factories.tight(), leak=Interval(0.0, 0.0, 90.0 * per_minute), **unseen)
    assert "up to 90 micron/min a leak is not distinguishable from slow outgassing" in _smallest(wide)
    same = _hold_with(factories.tight(), leak=Interval(0.0, 0.0, 4.0 * per_minute), **unseen)
    assert _smallest(same).endswith("is the smallest leak this hold could show")


def test_every_finding_is_printed_with_its_code(made: Analysis) -> None:
    text = " ".join(summary(made).split())
    verdict = made.verdict
    for finding in (*verdict.reasons, *verdict.caveats, *verdict.next_steps):
        assert f"{finding.summary} [{finding.code}]" in text


def test_nothing_is_called_free_of_leaks(made: Analysis) -> None:
    assert not re.search(FREE, summary(made, verbose=True), re.IGNORECASE)


def test_no_limit_is_left_out_where_nothing_was_seen() -> None:
    text = " ".join(summary(factories.tight()).split())
    assert "may be zero" in text
    assert "smallest leak this hold could show" in text


def test_an_analysis_without_hold_says_so() -> None:
    text = summary(factories.no_hold())
    assert text.startswith("INCONCLUSIVE: ")
    assert "no hold found" in text
    assert "looked for" in text
    assert "\nLeak\n" not in text


def test_unknown_things_are_not_printed_as_numbers() -> None:
    text = summary(factories.bare(), verbose=True)
    assert "g/year" not in text
    assert "Pa·m³/s" not in text
    assert "nan" not in text.lower()
    assert "The volume was not told." in text


@pytest.mark.parametrize("width", [60, 80, 120])
def test_lines_keep_to_the_width(made: Analysis, width: int) -> None:
    # A file name is one word and may be longer than a line: the wrapped part then still breaks.
    assert max(len(line) for line in summary(made, width=width, verbose=True).splitlines()) <= width


def test_plain_ascii_where_asked(made: Analysis) -> None:
    text = summary(made, ascii_only=True, verbose=True)
    assert text.isascii()
    if made.system.volume is not None and made.holds:
        assert "Pa*m3/s" in text


def test_colour_only_where_asked() -> None:
    made = factories.leaking()
    plain, coloured = summary(made), summary(made, color=True)
    assert "\x1b" not in plain
    assert coloured.startswith("\x1b[31;1mFAIL")
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain


def test_a_file_cannot_move_the_cursor() -> None:
    made = factories.analysis(source="evil\x1b[2J\n\u202eVERDICT: PASS.csv")
    text = summary(made)
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert r"\x1b[2J" in text
    assert not any(line.startswith("VERDICT: PASS") for line in text.splitlines())


def test_a_bad_byte_in_a_file_name_can_be_printed() -> None:
    text = summary(factories.analysis(source="k\udce4lte.csv"))
    assert text.encode("utf-8")


def test_notes_that_take_rows_out_are_always_shown() -> None:
    text = " ".join(summary(factories.many_caveats()).split())
    for case in range(12):
        assert f"the first was kept, case {case}." in text
    assert "12 more with --verbose" in text
    assert "Guess 11 about the unit" in " ".join(summary(factories.many_caveats(), verbose=True).split())


def test_the_criterion_and_the_volume_that_is_not_known_are_said_once() -> None:
    text = " ".join(summary(analyze_log(read_log(str(SAMPLES / "tight_and_dry.csv")), ahead=Ahead.NOTHING)).split())
    for said in ("isolated at 59 micron", "(one-hour-stand)", "Unified Facilities Guide Specification", "read in the"):
        assert text.count(said) == 1, said
    assert text.count("The volume is not known") == 1
    assert "not calculated" not in text


def test_a_hold_that_bounds_nothing_says_so() -> None:
    text = " ".join(summary(factories.unbounded()).split())
    assert "0 micron/min (0 to no limit)" in text
    assert "could show no leak of any size" in text
    assert "inf" not in text.replace("information", "")


def test_a_poor_model_is_named() -> None:
    made = factories.analysis(adequate=False)
    assert "does not describe this hold" in summary(made)


def test_the_same_analysis_gives_the_same_text(made: Analysis) -> None:
    assert summary(made) == summary(made)


@pytest.mark.parametrize(
    ("interval", "text"),
    [
        # PDG rule, its own examples: 0.827 +- 0.119 -> 0.83 +- 0.12; 0.827 +- 0.367 -> 0.8 +- 0.4 (Review of
        # Particle Physics, Introduction, section 5.3; from memory). The ends go outward, which is ours.
        (Interval(0.827, 0.708, 0.946), ("0.83", "0.70", "0.95")),
        (Interval(0.827, 0.460, 1.194), ("0.8", "0.4", "1.2")),
        (Interval(1234.0, 1111.0, 1357.0), ("1,230", "1,110", "1,360")),
        (Interval(0.0, 0.0, 0.4), ("0.00", "0.00", "0.40")),
        (Interval(2.84e-5, 2.63e-5, 3.06e-5), ("2.84e-5", "2.63e-5", "3.06e-5")),
        (Interval(1.0e-6, 0.0, 4.0e-6), ("1.0e-6", "0", "4.0e-6")),
        (Interval(2.0, 1.0, float("inf")), ("2.0", "1.0", "no limit")),
    ],
)
def test_numbers_keep_what_they_know(interval: Interval, text: tuple[str, str, str]) -> None:
    assert wording.span(interval) == text


def test_an_allowance_is_repeated_as_it_was_stated() -> None:
    assert "40 g/yr, which is 0.5 micron/min here" in summary(factories.leaking())


def test_a_joint_fit_that_does_not_agree_says_so() -> None:
    made = factories.three_holds()
    assert made.joint is not None
    apart = replace(made, joint=replace(made.joint, is_homogeneous=False, homogeneity_p=0.001))
    assert "one leak cannot explain all holds (p = 0.001)" in summary(apart)


def test_a_leak_that_passes_is_said_to_be_allowed() -> None:
    made = factories.leaking()
    verdict = replace(made.verdict, result=Result.PASS, cause=Cause.LEAK)
    allowed = factories.finding("H05", "Every leak larger than allowed is ruled out.")
    allowed = replace(allowed, headline="every leak above the allowed 40 g/yr ruled out")
    passed = replace(made, verdict=replace(verdict, reasons=(allowed,)))
    assert summary(passed).startswith("PASS: every leak above the allowed 40 g/yr ruled out; ")
