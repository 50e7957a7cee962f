"""`decay volume` from outside: the three ways, what they print, and what is refused with an example."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from decay_cli.console import ExitCode
from decay_cli.main import decay

ROOT = Path(__file__).resolve().parents[2]
LEAK = str(ROOT / "sample_logs/leaking_slowly.csv")
PARTS = ["--tube", "9.5 mm bore x 15 m", "--part", "receiver 1.2 L"]
EXPANSION = ["--vessel", "1 L +- 1 %", "--vessel-pressure", "2 bar", "--after", "0.5 bar"]


def ask(*words):
    return CliRunner().invoke(decay, ["volume", *words])


def test_parts_with_the_rig():
    done = ask(*PARTS, "--rig-hose", "6 mm bore x 1.5 m", "--rig", "0.1 L", "--json")
    assert done.exit_code == 0, done.output
    document = json.loads(done.stdout)
    # pi/4 (9.5 mm)^2 15 m + 1.2 L + pi/4 (6 mm)^2 1.5 m + 0.1 L, by hand
    assert document["volume_l"]["value"] == pytest.approx(1.06323 + 1.2 + 0.04241 + 0.1, abs=1e-4)
    assert document["is_rig_counted"] is True
    assert len(document["pieces"]) == 4


def test_the_text_asks_for_the_rig_and_gives_what_to_paste():
    done = ask(*PARTS)
    assert done.exit_code == 0
    assert "not known, and not counted" in done.stdout
    option, text = shlex.split(re.search(r"paste +(.*)", done.stdout)[1])
    analysed = CliRunner().invoke(decay, ["analyze", LEAK, option, text, "--json", "--no-plot"])
    found = json.loads(analysed.stdout)["holds"][0]["system"]["volume_m3"]
    assert found["low"] < 0.002263 < found["high"]


def test_expansion():
    document = json.loads(ask(*EXPANSION, "--accuracy", "1 %", "--no-rig", "--json").stdout)
    low, value, high = (document["volume_l"][key] for key in ("low", "value", "high"))
    assert value == pytest.approx(3.0)
    # The vessel's 1 %; 1 % of 2 bar in 1.5 bar of difference; 1 % of 0.5 bar, once in 1.5 bar and once in 0.5 bar.
    assert high / value - 1 == pytest.approx((0.01**2 + 0.01333**2 + 0.01333**2) ** 0.5, rel=0.05)
    assert low < value < high
    assert "nitrogen" in ask(*EXPANSION).stdout


def test_pressures_are_said_in_the_unit_of_the_answer():
    assert "stood at 200 kPa and both stood at 50 kPa" in " ".join(ask(*EXPANSION).stdout.split())
    told = ask(*EXPANSION, "--units", "mbar").stdout
    assert "stood at 2,000 mbar and both stood at 500 mbar" in " ".join(told.split())


def test_a_pull_gives_a_bound_and_no_volume():
    document = json.loads(ask("--pump", "4 cfm", "--log", LEAK, "--json").stdout)
    assert document["volume_l"] is None
    assert document["upper_bound_l"] > 12.15
    text = ask("--pump", "4 cfm", "--log", LEAK, "--ascii")
    assert text.stdout.startswith("At most ")
    assert "no estimate" in text.stdout
    assert text.stdout.isascii()
    assert "Reading" in text.stderr
    assert ask("--pump", "4 cfm", "--log", LEAK, "-q").stderr == ""


@pytest.mark.parametrize(("words", "hint"), [
    ([], "receiver 1.2 L"),
    ([*PARTS, *EXPANSION], "one way"),
    ([*PARTS, "--pump", "6 cfm"], "one way"),
    (["--tube", "11 mm OD x 15 m"], "9.5 mm bore x 15 m"),
    (["--tube", "9.5 mm"], "9.5 mm bore x 15 m"),
    (["--part", "receiver"], "receiver 1.2 L"),
    (["--part", "receiver 0 L"], "3.2 L"),
    (["--part", "receiver 1.2 kg"], "3.2 L"),
    ([*PARTS, "--spread", "150 %"], "10 %"),
    ([*PARTS, "--no-rig", "--rig", "0.1 L"], "contradict"),
    ([*PARTS, "--rig-hose", "6 mm"], "6 mm bore x 1.5 m"),
    (["--vessel", "1 L"], "--after"),
    (["--vessel", "at most 1 L", *EXPANSION[2:]], "1 L +- 1 %"),
    (["--part", "receiver at most 1.2 L"], "receiver 1.2 L"),
    (["--vessel", "0 L", *EXPANSION[2:]], "3.2 L"),
    ([*EXPANSION[:4], "--after", "3 bar"], "between the two"),
    ([*EXPANSION[:2], "--vessel-pressure", "30 psig", "--after", "1 bar"], "500 micron"),
    ([*EXPANSION, "--accuracy", "80 %"], "close together"),
    (["--pump", "6 cfm"], "--log FILE"),
    (["--log", LEAK], "6 cfm"),
    (["--pump", "6 L", "--log", LEAK], "6 cfm"),
    (["--pump", "6 cfm", "--log", LEAK, "--no-rig"], "together"),
])
def test_what_makes_no_sense_is_a_usage_error_with_a_way_out(words, hint):
    done = ask(*words)
    assert done.exit_code == ExitCode.USAGE, done.output
    assert done.stdout == ""
    assert hint in done.stderr
    assert "Traceback" not in done.output


def test_an_unreadable_log_is_code_4():
    assert ask("--pump", "6 cfm", "--log", "absent.csv").exit_code == ExitCode.UNREADABLE


def test_a_bound_is_never_headed_by_less_than_it_is():
    """50.03 L were headed "at most 50 L"."""
    from decay.impact.known_volume import KnownVolume
    from decay.report.impact_report import volume_text

    known = KnownVolume("upper bound from the pull", None, 0.05003, (), True, "", ())
    assert volume_text(known).splitlines()[0] == "At most 50.1 L, an upper bound from the pull"
    assert known.option == '--volume "at most 50.1 L"'
