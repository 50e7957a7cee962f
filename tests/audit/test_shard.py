"""One audit in pieces: any split gives the bytes of one run."""

from __future__ import annotations

import os
import shutil

import pytest
from click.testing import CliRunner

from decay import RangeError
from decay.audit.collect import Shard, parse_shard
from decay_cli.console import ExitCode
from decay_cli.main import decay
from tests.readme.shown import ROOT

pytestmark = pytest.mark.usefixtures("judged_once")  # the tests ask what becomes of the rows


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """Return a folder with five logs, one of them unreadable, and work beside it."""
    logs = tmp_path / "logs"
    logs.mkdir()
    for name in ("rig_leak", "leaking_slowly", "tight_but_damp", "free_water"):
        shutil.copyfile(ROOT / "sample_logs" / f"{name}.csv", logs / f"{name}.csv")
    (logs / "broken.csv").write_text("nothing\n")
    for path in logs.iterdir():
        os.utime(path, (1.7e9, 1.7e9))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def audit(*args):
    return CliRunner().invoke(decay, ["audit", "logs", "--no-plot", "--jobs", "1", *args])


def test_any_split_gives_the_bytes_of_one_run(shop):
    whole = audit("--out", "whole")
    for count in (2, 7):
        for number in range(1, count + 1):
            assert audit("--out", f"split{count}", "--shard", f"{number}/{count}").exit_code != ExitCode.USAGE
        merged = audit("--out", f"split{count}", "--merge", f"split{count}-*of*.jsonl")
        assert merged.exit_code == whole.exit_code
        assert merged.stdout == whole.stdout
        assert "5 of them done by an earlier run" not in whole.stderr
        for suffix in (".csv", ".jsonl"):
            assert (shop / f"split{count}{suffix}").read_bytes() == (shop / f"whole{suffix}").read_bytes()


def test_what_a_shard_did_not_judge_the_merge_judges(shop):
    audit("--out", "whole")
    audit("--out", "some", "--shard", "2/3")
    merged = audit("--out", "some", "--merge", "some-2of3.jsonl")
    assert "2 of them done" in merged.stderr
    assert (shop / "some.csv").read_bytes() == (shop / "whole.csv").read_bytes()


def test_shards_of_other_settings_are_not_mixed_in(shop):
    audit("--out", "a", "--shard", "1/2", "--allow", "2 micron/min")
    result = audit("--out", "a", "--merge", "a-1of2.jsonl")
    assert result.exit_code == ExitCode.USAGE
    assert "judged by other settings" in result.stderr


def test_a_shard_without_logs_is_no_error(shop):
    result = audit("--out", "a", "--shard", "9/9")
    assert result.exit_code == 0
    assert "has no log" in result.stderr
    assert not (shop / "a-9of9.jsonl").exists()


@pytest.mark.parametrize("args", [
    ["--shard", "0/3"], ["--shard", "4/3"], ["--shard", "1"], ["--merge", "none.jsonl"], ["--merge", "none*.jsonl"],
    ["--merge", "logs/broken.csv"], ["--shard", "1/2", "--report", "page.html"],
])
def test_what_makes_no_sense_is_refused(shop, args):
    assert audit(*args).exit_code == ExitCode.USAGE
    assert [path.name for path in shop.iterdir() if path.suffix == ".csv"] == []


def test_shards_part_the_logs():
    targets = tuple(range(23))
    parts = [Shard(number, 5).of(targets) for number in range(1, 6)]
    assert sorted(sum(parts, ())) == list(targets)
    assert max(map(len, parts)) - min(map(len, parts)) <= 1
    with pytest.raises(RangeError, match="like 3/10"):
        parse_shard("3 of 10")
