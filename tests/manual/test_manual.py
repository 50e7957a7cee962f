"""The manual: every topic has its page, every page fits a terminal, and `decay help` finds what is asked for."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from decay import RangeError, manual
from decay.audit.manual import titles
from decay_cli.exit_codes import ExitCode
from decay_cli.main import COMMANDS, decay

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
    assert all(f"- {code}: {title}\n" in manual.page(manual.CODES) for code, title in titles().items())


def test_a_near_miss_is_named():
    result = CliRunner().invoke(decay, ["help", "glosary"])
    assert result.exit_code == ExitCode.USAGE
    assert 'Did you mean "glossary"?' in result.stderr
    with pytest.raises(RangeError, match="Topics: first-job"):
        manual.page("../../errors")
