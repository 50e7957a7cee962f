"""Answers in another unit of pressure: the same numbers converted, and no micron left where Pa was asked for."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from matplotlib.text import Text

import decay
from decay import wording
from decay.analysis import Analysis
from decay.errors import RangeError
from decay.interval import Interval
from decay.quantities import MICRON, PRESSURE_UNITS
from decay.report.answers import picture_text
from decay.report.detail import summary
from decay.report.document import document, dumps
from decay.report.plot import draw
from decay.report.short_summary import short_summary, table
from decay_cli.main import decay as command

from .test_one_number import JOBS, RATES, SAMPLES, is_spelling_of, rates_in, spelled

RATES_IN_PASCAL = re.compile(RATES.pattern.replace("micron", "Pa"))
TOLD = ("leak", "damp", "rig")


@cache
def in_pascal(name: str) -> Analysis:
    file, told = JOBS[name]
    if not (SAMPLES / file).exists():
        pytest.skip(f"{file} is not among the samples")
    with wording.speaking("Pa"):
        return decay.analyze(SAMPLES / file, **told)


@pytest.mark.parametrize("unit", wording.UNITS)
def test_a_pressure_and_a_rate_are_said_in_the_unit_that_was_asked_for(unit: str) -> None:
    with wording.speaking(unit):
        assert wording.pressure(2.0 * PRESSURE_UNITS[unit]) == f"2 {unit}"
        assert wording.rate(0.25 * PRESSURE_UNITS[unit] / 60.0) == f"0.25 {unit}/min"
        # A bound is rounded up in the unit that is said.
        assert wording.bound(0.1201 * PRESSURE_UNITS[unit] / 60.0) == f"0.13 {unit}/min"
        rate = Interval(*(x * PRESSURE_UNITS[unit] / 60.0 for x in (2.3456, 1.9876, 2.9012)))
        assert wording.rate_interval(rate) == f"2.3 {unit}/min (1.9 to 3.0)"
    assert wording.pressure(2.0 * MICRON) == "2 micron"


def test_another_unit_is_refused_with_the_choice() -> None:
    with pytest.raises(RangeError, match="micron, Pa, mbar, Torr"), wording.speaking("furlong"):
        pass


@pytest.mark.parametrize("name", TOLD)
def test_no_micron_is_left_in_a_report_in_pascal(name: str) -> None:
    made = in_pascal(name)
    with wording.speaking("Pa"):
        texts = [short_summary(made), summary(made, verbose=True), table([made, made]), *picture_text(made)]
        texts += [artist.get_text() for artist in draw(made).findobj(Text)]
    told = "\n".join(texts)
    assert "Pa" in told
    # The log's own heading and the option that states its unit may name it; an answer does not.
    assert not [line for line in told.splitlines()
                if "micron" in line and "--unit " not in line and "pressure [micron]" not in line]


@pytest.mark.parametrize("name", TOLD)
def test_every_rate_in_pascal_is_one_of_the_document_converted(name: str) -> None:
    made = in_pascal(name)
    with wording.speaking("Pa"):
        told = short_summary(made, width=120) + summary(made, width=120)
    values = [x * MICRON for x in rates_in(document(made))]
    found = spelled(told, RATES_IN_PASCAL)
    assert found
    assert not [number for number, is_low in found if not is_spelling_of(number, values, is_low=is_low)]


def test_the_keys_of_the_document_keep_their_unit() -> None:
    made = in_pascal("leak")
    with wording.speaking("Pa"):
        in_pa = json.loads(dumps(document(made)))
    in_micron = json.loads(dumps(document(decay.analyze(SAMPLES / JOBS["leak"][0], **JOBS["leak"][1]))))
    assert without_words(in_pa) == without_words(in_micron)


def without_words(content: Any) -> Any:
    """Return a document without its sentences, which are for people."""
    if isinstance(content, dict):
        return {key: without_words(value) for key, value in content.items() if not isinstance(value, str)}
    return [without_words(value) for value in content] if isinstance(content, list) else content


@pytest.mark.parametrize("arguments", [
    ["analyze", "tight_and_dry.csv", "--no-plot", "--units", "Pa"],
    ["compare", "leak_with_damp.csv", "tight_but_damp.csv", "--no-plot", "--units", "Pa"],
    ["criteria", "tight_but_damp.csv", "--units", "pa"],
    ["criteria", "--units", "Pa"],
], ids=" ".join)
def test_every_command_answers_in_pascal(arguments: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    given = [str(SAMPLES / arg) if arg.endswith(".csv") else arg for arg in arguments]
    done = CliRunner().invoke(command, given)
    told = done.stdout + done.stderr
    assert " Pa" in told
    assert not [line for line in told.splitlines() if "micron" in line and "--unit " not in line]
    assert wording.unit() == "micron", "the unit holds for its command line alone"


def test_the_unit_may_be_a_default_of_the_shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("DECAY_UNITS", "mbar")
    done = CliRunner().invoke(command, ["analyze", str(SAMPLES / "tight_and_dry.csv"), "--no-plot"])
    assert " mbar" in done.stdout
    assert "DECAY_UNITS" in done.stderr
