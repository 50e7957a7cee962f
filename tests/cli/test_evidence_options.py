"""Several logs, the rig, the pump and the comparison from the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from decay_cli.console import ExitCode
from decay_cli.main import decay

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
LEAKING, DAMP, RIG, BOTH = (
    str(SAMPLES / f"{name}.csv") for name in ("leaking_slowly", "tight_but_damp", "rig_leak", "leak_with_damp")
)


def invoke(*arguments, **options):
    return CliRunner().invoke(decay, list(arguments), **options)


def test_several_logs_are_one_collection_and_the_worst_code():
    done = invoke("analyze", LEAKING, RIG, "--no-plot", "--json", "-q")
    document = json.loads(done.stdout)
    assert [one["log"]["path"] for one in document["documents"]] == [LEAKING, RIG]
    assert document["unreadable"] == []
    worst = {"pass": 0, "inconclusive": 3, "fail": 1}
    codes = [worst[one["verdict"]["result"]] for one in document["documents"]]
    assert done.exit_code == (1 if 1 in codes else max(codes))


def test_a_log_that_cannot_be_read_does_not_stop_the_rest():
    done = invoke("analyze", "no such.csv", LEAKING, "--no-plot", "--json", "-q")
    assert done.exit_code == ExitCode.UNREADABLE
    document = json.loads(done.stdout)
    assert len(document["documents"]) == 1
    assert document["unreadable"][0]["path"] == "no such.csv"
    assert "no such.csv" in done.stderr


@pytest.mark.parametrize("arguments", [
    [LEAKING, "--same-job"],
    [LEAKING, RIG, "--hold", "300..900"],
    [LEAKING, RIG, "--plot", "x.png"],
    ["-", "-"],
    [LEAKING, "--rig-volume", "0.2 L"],
    [LEAKING, "--hose", "6 mm x 1.5 m"],
    [LEAKING, "--pump", "6 cfm", "--hose", "6 mm"],
])
def test_what_makes_no_sense_is_a_usage_error(arguments):
    done = invoke("analyze", *arguments, "-q")
    assert done.exit_code == ExitCode.USAGE
    assert done.stdout == ""


def test_the_same_job_reports_its_holds_together():
    done = invoke("analyze", LEAKING, RIG, "--same-job", "--no-plot", "--json", "-q")
    joint = json.loads(done.stdout)["documents"][-1]["joint"]
    assert len(joint["each_rate_micron_per_min"]) == 2
    assert len(joint["holds_of_other_logs"]) == 1
    assert joint["is_homogeneous"] is False


def test_rig_and_pump_stand_in_text_and_document():
    arguments = ["analyze", LEAKING, "--volume", "12.15 L", "--rig-log", RIG, "--rig-volume", "0.3 L",
                 "--pump", "6 cfm", "--hose", "6 mm x 1.5 m", "--no-plot", "-q"]
    text = " ".join(invoke(*arguments, "--detail").stdout.split())
    for word in ("The rig alone", "without the rig's share", "The pull against the pump", "gas pulled", "[R01]"):
        assert word in text
    document = json.loads(invoke(*arguments, "--json").stdout)
    rig = next(hold["rig"] for hold in document["holds"] if hold["is_decisive"])
    whole, left = rig["whole_rate_micron_per_min"], rig["left_rate_micron_per_min"]
    assert 0 <= left["low"] <= left["value"] < whole["value"]
    load = next(pull["against_pump"] for pull in document["pumpdowns"] if pull["against_pump"])
    assert load["rated_speed_m3_per_s"] == pytest.approx(6 * 0.3048**3 / 60)
    assert load["bands"]


def test_compare_answers_in_text_document_picture_and_code(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = invoke("compare", BOTH, LEAKING)
    assert done.exit_code == ExitCode.PASS
    assert done.stdout.startswith("LEAK: the leak is smaller than it was")
    assert Path("leak_with_damp-to-leaking_slowly.png").stat().st_size > 10_000
    worse = invoke("compare", LEAKING, BOTH, "--no-plot", "--json", "-q")
    assert worse.exit_code == ExitCode.FAIL
    assert json.loads(worse.stdout)["comparison"]["leak"]["change"] == "worse"


def test_compare_reads_standard_input_once_only():
    assert invoke("compare", "-", "-", "--no-plot").exit_code == ExitCode.USAGE
    piped = invoke("compare", "-", DAMP, "--no-plot", "-q", input=Path(LEAKING).read_text())
    assert piped.exit_code in (ExitCode.PASS, ExitCode.FAIL, ExitCode.INCONCLUSIVE)
    assert "standard input" in piped.stdout
