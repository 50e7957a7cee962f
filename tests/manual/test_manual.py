"""The manual: every topic has its page, every page fits a terminal, and `decay help` finds what is asked for."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from decay import RangeError, manual
from decay.audit.manual import row_titles
from decay_cli.console import ExitCode
from decay_cli.main import COMMANDS, decay
from tests.readme.shown import README, ROOT

PAGES = Path(manual.__file__).parent


def shown(*args):
    result = CliRunner().invoke(decay, ["help", *args])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_every_page_is_a_topic_and_every_topic_a_page():
    assert {path.stem for path in PAGES.glob("*.md")} == set(manual.ORDER) - {manual.CODES}
    assert list(manual.topics()) == list(manual.ORDER)


@pytest.mark.parametrize("topic", manual.ORDER)
def test_a_page_opens_with_its_title_and_fits_a_terminal(topic):
    text = manual.page(topic)
    assert text.startswith("# ")
    prose = [line for line in text.splitlines() if not line.startswith("decay ")]
    assert max(map(len, prose)) <= 80
    assert text.count("```") % 2 == 0


def test_without_a_topic_all_are_listed():
    assert all(f"  {topic} " in shown() for topic in manual.ORDER)


@pytest.mark.parametrize("topic", manual.ORDER)
def test_a_topic_is_shown_as_it_stands(topic):
    assert shown(topic) == manual.page(topic)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_a_command_gets_its_own_help(name):
    if name not in manual.ORDER:
        assert shown(name).startswith(f"Usage: decay {name} ")


def test_a_code_gets_its_page_in_either_case():
    assert shown("h01") == shown("H01") == CliRunner().invoke(decay, ["explain", "H01"]).stdout


def test_every_code_is_listed_with_its_title():
    assert all(f"- {code}: {title}\n" in manual.page(manual.CODES) for code, title in row_titles().items())


def test_a_near_miss_is_named():
    result = CliRunner().invoke(decay, ["help", "glosary"])
    assert result.exit_code == ExitCode.USAGE
    assert 'Did you mean "glossary"?' in result.stderr
    with pytest.raises(RangeError, match="Topics: first-job"):
        manual.page("../../errors")


def test_the_html_page_holds_every_topic_and_needs_nothing_from_elsewhere(tmp_path):
    target = tmp_path / "manual.html"
    shown("--html", str(target))
    text = target.read_text(encoding="utf-8")
    assert all(f'<section id="{topic}">' in text for topic in manual.ORDER)
    assert all(title in text for title in row_titles().values() if "<" not in title and "'" not in title)
    for outside in ("http:", "https:", "<script", "<link", "<img", "@import", "url("):
        assert outside not in text


@pytest.mark.skipif(shutil.which("groff") is None, reason="groff is not installed")
def test_the_man_page_is_taken_without_a_warning(tmp_path):
    target = tmp_path / "decay.1"
    shown("--man", str(target))
    command = ["groff", "-k", "-man", "-ww", "-Tutf8", str(target)]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    assert "pressure" in run.stdout
    # A command line of an example may be longer than a page is wide.
    assert [line for line in run.stderr.splitlines() if "break" not in line and "adjust" not in line] == []


def test_the_man_page_lets_no_line_pass_for_an_instruction(tmp_path):
    target = tmp_path / "decay.1"
    shown("--man", str(target))
    known = {".TH", ".SH", ".SS", ".B", ".TP", ".IP", ".PP", ".nf", ".fi", ".RS", ".RE", ".br"}
    lines = target.read_text(encoding="utf-8").splitlines()
    assert {line.split(" ")[0] for line in lines if line.startswith((".", "'"))} <= known


def test_the_manual_replaces_nothing_unasked_and_takes_no_topic(tmp_path):
    target = tmp_path / "manual.html"
    target.write_text("mine")
    for args in (["--html", str(target)], ["--html", str(tmp_path / "manual.txt")],
                 ["units", "--man", str(tmp_path / "decay.1")]):
        assert CliRunner().invoke(decay, ["help", *args]).exit_code == ExitCode.USAGE
    assert target.read_text() == "mine"
    shown("--html", str(target), "--force")
    assert target.read_text().startswith("<!DOCTYPE html>")


PYTHON = [*re.findall(r"^```python\n(.*?)^```$", manual.page("python"), re.DOTALL | re.MULTILINE),
          *re.findall(r"^```python\n(.*?)^```$", README.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE)]


def test_the_code_for_a_notebook_runs_and_says_what_it_is_said_to(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    names: dict[str, object] = {}
    assert len(PYTHON) == 7
    exec(PYTHON[0], names)
    shown = capsys.readouterr().out
    assert "fail" in shown
    assert "FAIL: leak of 3.0 micron/min" in shown
    assert {"time_s", "pressure_micron", "phase"} <= set(names["frame"].columns)
    assert len(names["figure"].axes) >= 3
    exec(PYTHON[1], names)
    in_pascal = capsys.readouterr().out
    assert "leak of 0.40 Pa/min" in in_pascal  # 3.0 micron/min
    assert "micron" not in in_pascal
    exec(PYTHON[2], names)
    assert names["found"].leak.high * 60 / 133.322e-3 == pytest.approx(3.0, rel=0.1)
    capsys.readouterr()
    exec(PYTHON[3], names)
    assert capsys.readouterr().out.startswith("Interval(")  # the leak of a job by its record
    exec(PYTHON[4], names)
    assert capsys.readouterr().out.endswith("better\n")
    exec(PYTHON[5], names)
    assert capsys.readouterr().out.splitlines() == [str(names["planned"].pull.to_target), "leak"]
    exec(PYTHON[6], names)
    assert "VERDICT: FAIL" in capsys.readouterr().out
