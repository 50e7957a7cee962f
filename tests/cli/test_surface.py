"""The surface that scripts rely on: commands, options, exit codes, codes and criteria that can be asked for."""

from __future__ import annotations

import json
import re
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from decay_cli.console import MEANINGS, ExitCode
from decay_cli.main import COMMANDS, decay


def surface():
    context = click.Context(decay)
    commands = {name: decay.get_command(context, name) for name in decay.list_commands(context)}
    return {name: sorted(opt for p in command.params for opt in ([*p.opts, *p.secondary_opts]))
            for name, command in commands.items()}


def test_the_options_are_those_of_the_snapshot():
    # A change here is a change of public surface: say so in the change list of DEVELOPERS.md.
    assert surface() == json.loads((Path(__file__).parent / "surface.json").read_text())


def test_exit_codes_are_those_of_the_contract_and_stand_in_the_help():
    assert {code.name: code.value for code in ExitCode} == {
        "PASS": 0, "FAIL": 1, "USAGE": 2, "INCONCLUSIVE": 3, "UNREADABLE": 4, "INTERNAL": 70, "INTERRUPTED": 130}
    for command in ([], ["analyze"]):
        text = CliRunner().invoke(decay, [*command, "--help"]).stdout
        for code in MEANINGS:
            assert re.search(rf"^ *{code.value}  ", text, re.MULTILINE)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_help_has_an_example(name):
    text = CliRunner().invoke(decay, [name, "--help"]).stdout
    assert f"  decay {name}" in text
    assert re.search(r"^  Examples?(?:, from the project's folder)?:$", text, re.MULTILINE)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_help_ends_with_the_exit_codes(name):
    text = CliRunner().invoke(decay, [name, "--help"]).stdout
    assert re.search(r"^  Exit codes[:,]", text, re.MULTILINE)
    assert re.search(r"^ *2  usage: an option that makes no sense", text, re.MULTILINE)


def test_a_name_that_is_no_criterion_and_no_file_is_told_the_criteria():
    done = CliRunner().invoke(decay, ["criteria", "field-lime"])
    assert done.exit_code == ExitCode.USAGE
    assert "Nearest: field-line" in done.stderr


def test_no_such_command_is_a_usage_error():
    assert CliRunner().invoke(decay, ["analise"]).exit_code == ExitCode.USAGE


def test_explain_lists_shows_and_names_the_nearest():
    assert "H01  Leak seen" in CliRunner().invoke(decay, ["explain"]).stdout
    assert "Why it matters" in CliRunner().invoke(decay, ["explain", "h01"]).stdout
    done = CliRunner().invoke(decay, ["explain", "H99"])
    assert done.exit_code == ExitCode.USAGE
    assert "H09" in done.stderr


def test_criteria_are_listed_and_each_has_its_source_and_status():
    text = CliRunner().invoke(decay, ["criteria"]).stdout
    assert text.splitlines()[1].split() == ["one-hour-stand", "*", "300", "60", "min", "at", "most", "500"]
    page = CliRunner().invoke(decay, ["criteria", "one-hour-stand"]).stdout
    assert "15182" in page
    assert "status" in page
    assert "for teaching only" in CliRunner().invoke(decay, ["criteria", "older-car-dial"]).stdout
