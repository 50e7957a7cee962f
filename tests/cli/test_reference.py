"""What scripts and pipes ask for: pages and criteria as JSON, a search in the pages, a picture on standard output."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

import decay
from decay.quantities import MICRON
from decay_cli import console
from decay_cli.console import ExitCode
from decay_cli.main import decay as command

SAMPLE = Path(__file__).resolve().parents[2] / "sample_logs" / "tight_and_dry.csv"


def run(*words: str):
    return CliRunner().invoke(command, list(words))


def test_a_search_lists_codes_with_the_word_titles_first():
    told = run("explain", "--search", "FREE water").stdout.splitlines()
    assert told[0].startswith("H09  Free water")
    shown = [line.split()[0] for line in told]
    assert len(shown) > 3
    assert all("free water" in " ".join(decay.explain(code).casefold().split()) for code in shown if code[0] != "A")
    assert "H09" in shown


def test_a_search_that_finds_nothing_or_stands_beside_a_code_is_a_usage_error():
    assert 'no page has the word "zxcv"' in run("explain", "--search", "zxcv").stderr
    assert run("explain", "H01", "--search", "leak").exit_code == ExitCode.USAGE


def test_a_page_is_a_document_with_its_sections():
    (page,) = json.loads(run("explain", "h04", "--json").stdout)["codes"]
    assert page["code"] == "H04"
    assert page["title"] == decay.finding_titles()["H04"]
    assert page["what_to_do"] in " ".join(decay.explain("H04").split())
    every = json.loads(run("explain", "--json").stdout)["codes"]
    assert {entry["code"] for entry in every} >= set(decay.finding_codes())
    assert all(entry["when_it_is_wrong"] for entry in every)


def test_a_criterion_is_a_document_with_its_numbers():
    found = json.loads(run("criteria", "--json").stdout)
    assert [each["name"] for each in found["criteria"]] == list(decay.criterion_names())
    stand = next(each for each in found["criteria"] if each["name"] == "one-hour-stand")
    # UFGS 15182, 3.3.3: 300 micron, held an hour, not above 500.
    assert (stand["target_micron"], stand["hold_s"], stand["passes_micron"]) == (300.0, 3600.0, 500.0)
    assert json.loads(run("criteria", "one-hour-stand", "--json").stdout)["criteria"] == [stand]
    line = next(each for each in found["criteria"] if each["name"] == "field-line")
    assert line["source"] is None
    assert decay.load_criterion("field-line").passes == pytest.approx(line["passes_micron"] * MICRON)


def test_the_criteria_of_a_log_are_a_document():
    found = json.loads(run("criteria", str(SAMPLE), "--json").stdout)
    met = {each["name"]: each["met"] for each in found["criteria"]}
    assert met["one-hour-stand"] is True
    assert found["hold_s"][1] > found["hold_s"][0]


def test_a_picture_goes_to_standard_output_and_the_text_to_standard_error(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = run("analyze", str(SAMPLE), "--plot", "-")
    assert done.exit_code == ExitCode.PASS
    assert done.stdout_bytes.startswith(b"\x89PNG")
    assert done.stdout_bytes.endswith(b"IEND\xaeB`\x82")  # the last chunk of a PNG file (ISO/IEC 15948)
    assert "VERDICT: PASS" in done.stderr
    assert not list(tmp_path.iterdir())
    assert run("analyze", str(SAMPLE), "--plot", "-", "-q").stderr == ""


def test_a_picture_is_not_thrown_at_a_terminal_or_beside_a_document(monkeypatch):
    assert "both ask for standard output" in run("analyze", str(SAMPLE), "--plot", "-", "--json").stderr
    assert "--no-plot contradict" in run("analyze", str(SAMPLE), "--plot", "-", "--no-plot").stderr
    assert "name a file" in run("lesson", "--plot", "-", "--shares").stderr
    monkeypatch.setattr(console, "is_terminal", lambda stream: True)
    done = run("analyze", str(SAMPLE), "--plot", "-")
    assert done.exit_code == ExitCode.USAGE
    assert "> hold.png" in done.stderr
    assert done.stdout == ""


def test_help_on_a_misspelt_name_names_the_topic_or_the_command_that_may_be_meant():
    assert 'Did you mean the command "volume"?' in run("help", "volumne").stderr
    assert 'Did you mean "limits"?' in run("help", "limit").stderr
    assert "Did you mean" not in run("help", "xyz").stderr
