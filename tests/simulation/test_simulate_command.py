"""`decay simulate`: writes the log and its truth, says that they are synthetic, and refuses what makes no sense."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from decay.simulation import SHAPES
from decay.simulation.ready_jobs import PRESETS

ROOT = Path(__file__).resolve().parents[2]
_SPEC = importlib.util.spec_from_file_location("simulate_command_under_test", ROOT / "cli" / "simulate.py")
command = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(command)


def ask(*arguments):
    return CliRunner().invoke(command.simulate, [str(a) for a in arguments])


def test_the_options_make_the_job(tmp_path):
    out = tmp_path / "a.csv"
    done = ask("--volume", "4 L", "--leak", "5 micron/min", "--damp", "300 micron", "--target", "400 micron",
               "--hold", "10 min", "--seed", "7", "--dialect", "tab", "--unit", "mbar", "--out", out)
    assert done.exit_code == 0, done.output
    assert "synthetic" in done.stdout
    assert "True leak 5 micron/min into 4.15 L" in done.stdout
    told = tomllib.loads((tmp_path / "a.toml").read_text())
    assert told["seed"] == 7
    assert told["truth"]["isolated_volume_l"] == pytest.approx(4.15)
    hold = told["truth"]["holds"][0]
    assert hold["end_s"] - hold["start_s"] == pytest.approx(600.0)
    assert out.read_text().splitlines()[-1].endswith("\tmbar")


def test_the_truth_is_told_in_the_unit_that_is_asked_for(tmp_path):
    done = ask("--leak", "5 micron/min", "--hold", "10 min", "--units", "Pa", "--out", tmp_path / "a.csv")
    assert "True leak 0.6666 Pa/min into" in done.stdout  # a micron is 0.133322 Pa
    assert "outgassing rise 0 Pa" in done.stdout


def test_a_job_file_brings_its_dialect_and_expectation_and_an_option_drops_the_latter(tmp_path):
    job = PRESETS / "leaking_slowly.toml"
    assert ask(job, "--out", tmp_path / "a.csv").exit_code == 0
    assert (tmp_path / "a.csv").read_bytes() == (ROOT / "sample_logs" / "leaking_slowly.csv").read_bytes()
    assert "expected" in tomllib.loads((tmp_path / "a.toml").read_text())
    assert ask(job, "--leak", "1 micron/min", "--out", tmp_path / "b.csv").exit_code == 0
    assert "expected" not in tomllib.loads((tmp_path / "b.toml").read_text())


def test_an_existing_file_stays_without_force(tmp_path):
    out = tmp_path / "a.csv"
    out.write_text("mine")
    done = ask("--out", out)
    assert done.exit_code == 2
    assert "--force" in done.stderr
    assert out.read_text() == "mine"
    assert ask("--out", out, "--force").exit_code == 0


def test_a_job_file_is_never_replaced_by_the_truth(tmp_path):
    job = tmp_path / "a.toml"
    job.write_text('name = "mine"\n')
    done = ask(job, "--out", tmp_path / "a.csv", "--force")
    assert done.exit_code == 2
    assert job.read_text() == 'name = "mine"\n'


@pytest.mark.parametrize("arguments", [
    [], ["--leak", "5"], ["--leak", "5 g/yr"], ["--volume", "-3 L"], ["--volume", "5 micron"], ["--hold", "0 min"],
    ["--dialect", "morse"], ["--unit", "furlong"], ["--seed", "-1"], ["no-such-job.toml"], ["--interval", "0 s"],
])
def test_usage_errors_are_told_and_write_nothing(tmp_path, arguments):
    out = ["--out", tmp_path / "a.csv"] if arguments else []
    done = ask(*arguments, *out)
    assert done.exit_code == 2
    assert "Error" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_a_usage_error(tmp_path):
    done = ask("--out", tmp_path / "none" / "a.csv")
    assert done.exit_code == 2
    assert "cannot be written" in done.stderr


def test_the_dialects_on_offer_are_those_of_the_library():
    assert set(command.DIALECT_NAMES) == set(SHAPES)


def test_help_shows_an_example_and_loads_no_numpy():
    code = ("import sys, importlib.util as u; s = u.spec_from_file_location('m', sys.argv[1]);"
            "m = u.module_from_spec(s); s.loader.exec_module(m);"
            "print(*{'numpy', 'pandas', 'scipy', 'pint', 'matplotlib'} & set(sys.modules))")
    done = subprocess.run([sys.executable, "-c", code, str(ROOT / "cli" / "simulate.py")], capture_output=True,
                          text=True, check=True)
    assert done.stdout.split() == []
    assert "decay simulate --leak" in ask("--help").output


def test_a_log_without_names_is_read_back(tmp_path):
    from decay.log import ReadOptions, read_log

    out = tmp_path / "bare.csv"
    assert ask("--leak", "5 micron/min", "--hold", "5 min", "--dialect", "bare", "--out", out).exit_code == 0
    log = read_log(out, ReadOptions(unit="micron"))
    assert len(log.time) == log.rows > 1000
    assert log.gauge == "column 2"


def test_the_screen_is_no_place_for_two_files():
    done = ask("--leak", "5 micron/min", "--out", "-")
    assert done.exit_code == 2
    assert "--out needs the name of a file" in done.output
