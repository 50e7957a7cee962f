"""The job sheet: one page that says what the summary says, and how to make it again."""

from __future__ import annotations

import hashlib
import sys
from functools import cache

import pytest
from click.testing import CliRunner
from matplotlib.text import Text

from decay import RangeError, analyze, read_log
from decay.report.answers import picture_text
from decay.report.plot_job_sheet import MOST_NOTES, PAPERS, JobSheet, draw_job_sheet
from decay_cli import sheet
from decay_cli.console import ExitCode
from decay_cli.main import decay
from tests.readme.shown import ROOT
from tests.report import factories

LOG = ROOT / "sample_logs" / "tight_but_damp.csv"
EVERY = pytest.mark.parametrize("make", factories.EVERY, ids=lambda make: make.__name__)


def content(analysis, notes=("Customer: Harbour Bakery",), paper="A4"):
    headline, _, *answers = picture_text(analysis)
    return JobSheet(headline, tuple(answers), notes, "decay analyze hold.csv --report sheet.pdf", "SHA-256 " + 64 * "e",
                    paper)


@cache
def page(make, paper="A4"):
    """Return an analysis and its page with more notes than most, which nobody changes."""
    made = make()
    notes = ("Customer: Harbour Bakery", *("A note of some length, as they are: " + 12 * "word ",) * 4)
    return made, draw_job_sheet(made, content(made, notes, paper))


def written(figure):
    return " ".join(text.get_text().replace("\n", " ") for text in figure.texts)


@EVERY
def test_the_page_says_what_a_customer_and_an_inspector_ask(make):
    made, figure = page(make)
    shown = written(figure)
    criterion = made.verdict.criterion
    for words in (made.verdict.result.value.upper(), "Customer: Harbour Bakery", criterion.title, criterion.standing,
                  "SHA-256", "decay analyze hold.csv", "Signature"):
        assert words in shown


def test_what_the_test_never_says_and_the_cautions_stand_on_the_page():
    made = analyze(read_log(LOG))
    shown = written(draw_job_sheet(made, content(made)))
    for code in ("K01", "K02", "S02"):
        assert f"[{code}]" in shown


@EVERY
@pytest.mark.parametrize("paper", PAPERS)
def test_everything_stands_on_the_page_and_nothing_on_another(make, paper):
    _, figure = page(make, paper)
    figure.draw_without_rendering()
    assert tuple(figure.get_size_inches()) == PAPERS[paper]
    boxes = [(text.get_text(), text.get_window_extent()) for text in figure.texts]
    for ax in figure.axes:
        found = [*ax.texts, ax.xaxis.label, ax.yaxis.label, ax._left_title]
        boxes += [(text.get_text(), Text.get_window_extent(text)) for text in found if text.get_text()]
    for text, box in boxes:
        assert box.x0 >= 0, text
        assert box.y0 >= 0, text
        assert box.x1 <= figure.bbox.width, text
        assert box.y1 <= figure.bbox.height, text
    own = [box for _, box in boxes[: len(figure.texts)]]
    for position, box in enumerate(own):
        for other in own[position + 1 :]:
            across = min(box.x1, other.x1) - max(box.x0, other.x0)
            down = min(box.y1, other.y1) - max(box.y0, other.y0)
            assert across < 2 or down < 2


def test_more_notes_than_a_page_holds_and_unknown_paper_are_refused():
    made = factories.leaking()
    with pytest.raises(RangeError, match="holds 8 notes, got 9"):
        draw_job_sheet(made, content(made, ("a",) * (MOST_NOTES + 1)))
    with pytest.raises(RangeError, match="A4, Letter"):
        draw_job_sheet(made, content(made, paper="A3"))


def test_the_command_writes_one_page_with_the_log_s_own_checksum(tmp_path, monkeypatch):
    target = tmp_path / "sheet.pdf"
    args = ["analyze", str(LOG), "--no-plot", "--report", str(target), "--note", "Customer: $ome \x1b[2J one"]
    monkeypatch.setattr(sys, "argv", ["decay", *args])
    result = CliRunner().invoke(decay, args)
    assert result.exit_code == ExitCode.FAIL, result.output
    first = target.read_bytes()
    assert first.startswith(b"%PDF")
    assert first.count(b"/Type /Page ") == 1
    assert sheet.checksum(str(LOG)) == "SHA-256 " + hashlib.sha256(LOG.read_bytes()).hexdigest()
    assert CliRunner().invoke(decay, args).exit_code == ExitCode.USAGE  # nothing is replaced unasked
    CliRunner().invoke(decay, [*args, "--force"])
    monkeypatch.setattr(sys, "argv", ["decay", *args])
    assert target.read_bytes() == first


def test_a_stream_has_no_checksum():
    assert sheet.checksum("-") == ""


@pytest.mark.parametrize(("args", "says"), [
    (["--note", "Customer"], "add --report"),
    (["--report", "sheet.txt"], "must end in .pdf"),
    (["--report", "nowhere/sheet.pdf"], "does not exist"),
    ([str(LOG), "--report", "sheet.pdf"], "--same-job"),
    (["--report", "sheet.pdf", *["--note", "x"] * 9], "holds 8 notes"),
])
def test_what_makes_no_sheet_is_refused(tmp_path, monkeypatch, args, says):
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(decay, ["analyze", str(LOG), "--no-plot", *args])
    assert result.exit_code == ExitCode.USAGE
    assert says in result.stderr
    assert list(tmp_path.iterdir()) == []
