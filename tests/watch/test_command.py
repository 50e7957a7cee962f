"""`decay watch` at the command line: replay, standard input, Ctrl-C, and what goes where."""

from __future__ import annotations

import json
import os
import re
import signal
import time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from decay_cli.console import ExitCode
from decay_cli.main import decay

from ..forked import ended, piped, started
from .test_follow import HEAD, job

pytestmark = pytest.mark.usefixtures("followed_up_once")  # the looks of several replays are alike

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def leaking(tmp_path):
    path = tmp_path / "leaking.csv"
    path.write_text(HEAD + "".join(job(20.0, 15)))
    return path


def test_a_replay_shows_one_line_for_each_look_and_ends_with_the_ordinary_report(leaking):
    words = ["--allow", "2 micron/min"]
    done = CliRunner().invoke(decay, ["watch", str(leaking), "--replay", "--every", "10 s", *words])
    assert done.exit_code == ExitCode.FAIL
    looks = [line for line in done.stderr.splitlines() if "(look " in line and not line.startswith("Last look")]
    assert [f"(look {n})" in line for n, line in enumerate(looks, 1)] == [True] * len(looks)
    assert len(looks) >= 4
    assert "DECIDED" in looks[-1]
    assert "Lan and DeMets" in done.stderr
    ordinary = CliRunner().invoke(decay, ["analyze", str(leaking), "--no-plot", *words])
    assert done.stdout == ordinary.stdout


def test_a_flat_end_that_nothing_marks_is_told_with_what_it_would_prove_once_for_each_stand(tmp_path):
    """A dry, tight system at the pump's limit: the best job shows no closing."""
    rng = np.random.default_rng(5)
    moments = np.arange(0.0, 3300.0, 5.0)
    shown = 45.0 + np.minimum(7e5 * np.exp(-moments / 60.0), 7e5) + rng.normal(0.0, 0.4, len(moments))
    path = tmp_path / "flat.csv"
    path.write_text(HEAD + "".join(f"{t:.0f},{p:.0f}\n" for t, p in zip(moments, shown, strict=True)))
    done = CliRunner().invoke(decay, ["watch", str(path), "--replay", "--every", "10 s"])
    told = [line for line in done.stderr.splitlines() if "if the valve was closed by" in line]
    assert ["minute" in line for line in told] == [True, True]
    assert "10-minute line met" in told[0]
    assert "20-minute ceiling met" in told[1]
    assert all(re.search(r"no leak above 0\.\d+ micron/min", line) for line in told)
    assert all(re.search(r"then add --hold-from \d+\)", line) for line in told)
    assert done.exit_code == ExitCode.INCONCLUSIVE


def test_quiet_and_json(leaking):
    done = CliRunner().invoke(decay, ["watch", str(leaking), "--replay", "--every", "10 s", "--json", "-q",
                                      "--allow", "2 micron/min"])
    assert done.stderr == ""
    assert json.loads(done.stdout)["verdict"]["result"] == "fail"


def test_standard_input_ends_the_watch(leaking):
    with leaking.open("rb") as file:
        done = ended(["watch", "-", "--allow", "2 micron/min", "--every", "0.05 s"], stdin=file)
    assert done.returncode == ExitCode.FAIL, done.stderr
    assert "VERDICT: FAIL" in done.stdout
    assert "(look 1)" in done.stderr


@pytest.mark.skipif(os.name == "nt", reason="no SIGINT to send to one process")
def test_ctrl_c_ends_with_the_report(leaking, tmp_path):
    with leaking.open("a") as file:
        file.write("2100,3")  # the logger is writing
    words = ["watch", str(leaking), "--allow", "2 micron/min", "--every", "0.05 s"]
    with piped() as (reading, writing), open(tmp_path / "out", "w+", encoding="utf-8") as out:
        with started(words, stdout=out, stderr=writing) as watch:
            writing.close()
            seen = reading.readline()
            while "(look 1)" not in seen:
                seen = reading.readline()
                assert seen
            time.sleep(0.1)
            watch.send_signal(signal.SIGINT)
            watch.wait(60)
        err = reading.read()
        out.seek(0)
        assert watch.returncode == ExitCode.FAIL, err
        assert out.read().splitlines()[-1] == "VERDICT: FAIL"
    assert "half written" in err


def test_the_end_by_idleness(leaking):
    done = CliRunner().invoke(decay, ["watch", str(leaking), "--every", "0.05 s", "--until-idle", "0.2 s"])
    assert done.exit_code == ExitCode.FAIL, done.output
    assert "Waiting" not in done.stderr


@pytest.mark.parametrize(("words", "code"), [
    (["--every", "0 s"], ExitCode.USAGE),
    (["--replay", "--until-idle", "1 min"], ExitCode.USAGE),
    (["--allow", "2"], ExitCode.USAGE),
    (["--replay", "--hold-from", "soon"], ExitCode.USAGE),
], ids=str)
def test_nonsense_is_a_usage_error(leaking, words, code):
    assert CliRunner().invoke(decay, ["watch", str(leaking), *words]).exit_code == code


def test_a_file_that_never_becomes_a_log_is_unreadable(tmp_path):
    path = tmp_path / "empty.csv"
    path.write_text("nothing to see\n")
    done = CliRunner().invoke(decay, ["watch", str(path), "--every", "0.05 s", "--until-idle", "0.2 s"])
    assert done.exit_code == ExitCode.UNREADABLE
    assert "Waiting for readings" in done.stderr
    words = ["watch", str(tmp_path / "no.csv"), "--every", "0.05 s", "--until-idle", "0.1 s"]
    missing = CliRunner().invoke(decay, words)
    assert missing.exit_code == ExitCode.UNREADABLE
    assert "there is no file" in missing.stderr.splitlines()[0]
    assert "start the logger" in missing.stderr.splitlines()[0]
    assert "there is no such file" in missing.stderr.splitlines()[1]


def test_the_last_look_and_the_report_are_of_the_same_readings(leaking):
    """Both take the told moment, and what the look at the end holds, the report's interval lies within."""
    words = ["watch", str(leaking), "--replay", "--every", "10 s", "--allow", "2 micron/min", "--hold-from", "22 min",
             "--json"]
    done = CliRunner().invoke(decay, words)
    document = json.loads(done.stdout)
    hold = document["holds"][-1]
    assert hold["start_s"] == pytest.approx(1320, abs=2)
    last = next(line for line in done.stderr.splitlines() if line.startswith("Last look"))
    low, high = (float(x) for x in re.search(r"leak ([\d.]+) to ([\d.]+) micron/min", last).groups())
    told = hold["leak"]["rate_micron_per_min"]
    assert low <= told["low"] * 1.01
    assert told["high"] <= high * 1.01
    assert f"hold {hold['duration_s'] / 60:.0f} min" in last
