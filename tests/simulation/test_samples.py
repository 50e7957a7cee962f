"""The sample logs are what their jobs make, byte for byte, and say what they are."""

from __future__ import annotations

import gzip
import tomllib
from pathlib import Path

import pytest

from decay.simulation.make_samples import PAIRS, make_pairs, make_samples
from decay.simulation.ready_jobs import PRESETS

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
LOGS = sorted(p for p in SAMPLES.iterdir() if p.is_file() and p.suffix in (".csv", ".gz"))


def content(path):
    data = path.read_bytes()
    return gzip.decompress(data) if path.suffix == ".gz" else data


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    target = tmp_path_factory.mktemp("samples")
    make_samples(PRESETS, target)
    return target


def test_each_job_has_its_log_and_its_truth(made):
    standing = {p.name for p in SAMPLES.iterdir() if p.suffix in (".csv", ".gz", ".toml")}
    assert {p.name for p in made.iterdir()} == standing
    assert len(LOGS) == len(list(PRESETS.glob("*.toml"))) >= 6


@pytest.mark.parametrize("log", LOGS, ids=lambda p: p.name)
def test_a_sample_is_made_again_byte_for_byte(log, made):
    # A compressed log is compared by what it holds: the compression itself may differ between zlib releases.
    assert content(made / log.name) == content(log)
    truth = log.name.removesuffix(".gz").removesuffix(".csv") + ".toml"
    assert (made / truth).read_bytes() == (SAMPLES / truth).read_bytes()


@pytest.mark.parametrize("log", LOGS, ids=lambda p: p.name)
def test_a_sample_says_that_it_is_synthetic_and_stays_small(log):
    assert content(log).decode().splitlines()[0].startswith("# synthetic")
    assert log.stat().st_size < 200_000
    told = tomllib.loads((SAMPLES / (log.name.removesuffix(".gz").removesuffix(".csv") + ".toml")).read_text())
    assert told["synthetic"] is True
    assert told["origin"].startswith("synthetic")
    assert {"options", "result", "cause", "exit_code"} <= set(told["expected"])
    assert told["expected"]["exit_code"] == {"pass": 0, "fail": 1, "inconclusive": 3}[told["expected"]["result"]]
    assert told["truth"]["holds"]


def test_the_cold_and_the_warm_log_are_made_again_byte_for_byte(tmp_path):
    logs = make_pairs(PAIRS, tmp_path)
    assert [log.name for log in logs] == ["cold.csv", "warm.csv"]
    for log in [*logs, logs[0].parent / "truth.toml"]:
        standing = SAMPLES / log.parent.name / log.name
        assert log.read_bytes() == standing.read_bytes(), standing
        assert standing.read_text().startswith(("# synthetic", "# Truth"))
    assert "Synthetic" in (SAMPLES / "cold_and_warm" / "job.toml").read_text()
