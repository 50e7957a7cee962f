"""What every command owes: help that opens with an example whose options parse, one voice, plain ASCII where asked."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from decay_cli import console, options
from decay_cli.completion import SHELLS
from decay_cli.main import COMMANDS, decay
from tests.forked import ended

pytestmark = pytest.mark.usefixtures("planned_roughly")

ROOT = Path(__file__).resolve().parents[2]


def command_of(name):
    return decay.get_command(click.Context(decay), name)


def shown(name):
    """Return every command line that the help of a command shows, however long, and however click would wrap it."""
    command = command_of(name)
    text = "\n".join(part for part in (command.help, command.epilog) if part)
    return re.findall(r"^ *(decay (?!completion \w+ \|).*)$", text, re.MULTILINE)


PLAN = ["plan", "--volume", "6.5 L", "--ambient", "23 degC", "--no-plot"]
LINES = [pytest.param(name, line, id=line) for name in sorted(COMMANDS) for line in shown(name)]


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_help_opens_with_an_example_after_its_first_sentence(name):
    paragraphs = [part for part in command_of(name).help.split("\n\n") if part.strip()]
    assert paragraphs[0].rstrip().endswith(".")
    assert "xample" in paragraphs[1]
    assert f"  decay {name}" in paragraphs[1]


def test_the_help_of_the_program_shows_one_too():
    assert re.search(r"xample.*\n +decay analyze sample_logs/", decay.help)


@pytest.mark.parametrize(("name", "line"), LINES)
def test_an_example_names_the_command_and_its_options_parse(name, line, monkeypatch, tmp_path):
    (tmp_path / "sample_logs").symlink_to(ROOT / "sample_logs")
    monkeypatch.chdir(tmp_path)
    words = shlex.split(line)
    assert words[1] == name
    command_of(name).make_context(name, words[2:])


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_has_the_same_voice(name):
    known = {opt for parameter in command_of(name).params for opt in parameter.opts}
    assert {"-q", "--quiet", "-v", "--verbose", "--ascii"} <= known


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_option_and_every_help_says_something(name):
    for parameter in command_of(name).params:
        if isinstance(parameter, click.Option):
            assert parameter.help, parameter.name
            assert parameter.help.endswith((".", "]")), parameter.name


@pytest.mark.parametrize("words", [["explain", "--ascii"], ["explain", "H01", "--ascii"], ["criteria", "--ascii"],
                                   [*PLAN, "--ascii"]],
                         ids=" ".join)
def test_ascii_is_ascii(words):
    done = CliRunner().invoke(decay, words)
    assert done.exit_code == 0, done.output
    assert done.stdout.isascii()


def test_a_terminal_that_knows_ascii_only_gets_it_unasked():
    log = str(ROOT / "sample_logs" / "tight_but_damp.csv")
    words = ["analyze", log, "--ambient", "13 degC", "--detail", "--no-plot"]
    done = subprocess.run([sys.executable, "-m", "decay_cli.main", *words], capture_output=True, timeout=60,
                          env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}, check=False)
    assert done.returncode == 1, done.stderr
    assert b"13 deg C" in done.stdout


@pytest.mark.parametrize(("asked", "is_coloured"), [("always", True), ("never", False), ("auto", False)])
def test_when_to_colour_can_be_said(tmp_path, asked, is_coloured):
    result = CliRunner().invoke(
        decay, ["analyze", str(ROOT / "sample_logs" / "tight_but_damp.csv"), "--no-plot", "--color", asked], color=True)
    assert ("\x1b[" in result.stdout) is is_coloured


@pytest.mark.parametrize(("value", "is_coloured"), [(None, True), ("", True), ("1", False), ("0", False)])
def test_no_color_by_its_own_rule(monkeypatch, value, is_coloured):
    # no-color.org: "when present and not an empty string (regardless of its value)".
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    if value is not None:
        monkeypatch.setenv("NO_COLOR", value)
    assert console.is_coloured() is is_coloured


def test_quiet_says_nothing_on_standard_error():
    loud = CliRunner().invoke(decay, PLAN)
    quiet = CliRunner().invoke(decay, [*PLAN, "-q"])
    assert loud.stderr
    assert quiet.stderr == ""
    assert quiet.stdout == loud.stdout


@pytest.mark.parametrize("shell", SHELLS)
def test_the_completion_script_asks_the_program(shell):
    done = CliRunner().invoke(decay, ["completion", shell])
    assert done.exit_code == 0
    assert f"_DECAY_COMPLETE={shell}_complete" in done.stdout


def completed(words):
    """Return what bash would be offered at the end of a command line."""
    done = ended([], _DECAY_COMPLETE="bash_complete", COMP_WORDS=words, COMP_CWORD=str(len(words.split(" ")) - 1))
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_a_shell_is_offered_commands_options_names_and_files():
    assert completed("decay an") == ["plain,analyze"]
    assert completed("decay analyze --crit") == ["plain,--criterion"]
    assert completed("decay plan --criterion trip") == ["plain,triple-evacuation"]
    assert completed("decay watch sample") == ["file,sample"]


def test_names_are_completed():
    assert [item.value for item in options.complete_code(None, None, "h01")] == ["H01"]
    assert "R134a" in [item.value for item in options.complete_refrigerant(None, None, "r13")]
    assert options.complete_criterion(None, None, "my")[0].type == "file"
