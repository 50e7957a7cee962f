"""Which files an audit takes, in which order, and how they are grouped."""

from __future__ import annotations

import os

import pytest

from decay.audit.collect import NO_GROUP, collect, grouping
from decay.errors import RangeError


@pytest.fixture
def jobs(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("jobs/b/2.csv", "jobs/a/1.CSV", "jobs/a/3.txt.gz", "jobs/a/notes.md", "jobs/.hidden/4.csv",
                 "jobs/a/.5.csv", "other/6.prn"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name)
    return tmp_path


def paths(*asked, **more):
    return [target.path for target in collect(asked, **more)]


def test_a_folder_gives_its_logs_sorted(jobs):
    assert paths("jobs") == ["jobs/a/1.CSV", "jobs/a/3.txt.gz", "jobs/b/2.csv"]


def test_files_globs_and_folders_give_each_file_once_in_one_order(jobs):
    expected = ["jobs/a/1.CSV", "jobs/a/3.txt.gz", "jobs/b/2.csv", "other/6.prn"]
    assert paths("other/6.prn", "jobs/**/*.csv", "jobs", "jobs/b/2.csv") == expected
    assert paths("jobs/b/2.csv", "jobs", "other/*.prn") == expected


def test_own_output_is_left_out_and_missing_files_are_kept(jobs):
    found = collect(["jobs", "gone.csv", "no*where"], leave_out=["jobs/b/2.csv"])
    assert [target.path for target in found] == ["gone.csv", "jobs/a/1.CSV", "jobs/a/3.txt.gz", "no*where"]
    assert [target.size for target in found] == [None, 12, 15, None]
    assert found[1].modified == os.stat("jobs/a/1.CSV").st_mtime_ns // 1000


def test_a_name_with_brackets_is_a_name_where_it_exists(jobs):
    (jobs / "van [7].csv").write_text("x")
    assert paths("van [7].csv") == ["van [7].csv"]


@pytest.mark.parametrize("asked", [["-"], ["jobs/.hidden"], []])
def test_nothing_to_read_is_told(jobs, asked):
    if asked == ["jobs/.hidden"]:
        (jobs / "jobs/.hidden/4.csv").unlink()
    with pytest.raises(RangeError):
        collect(asked)


@pytest.mark.parametrize(("rule", "path", "group"), [
    ("1", "jobs/north/rig7/a.csv", "rig7"), ("2", "jobs/north/rig7/a.csv", "north"), ("1", "a.csv", NO_GROUP),
    ("3", "b/a.csv", NO_GROUP), ("1", "/jobs/a.csv", "jobs"), (r"rig\d", "jobs/north/rig7/a.csv", "rig7"),
    (r"rig(\d)", "jobs/north/rig7/a.csv", "7"), (r"rig(\d)?", "jobs/rig/a.csv", NO_GROUP),
])
def test_groups(rule, path, group):
    assert grouping(rule)(path) == group


@pytest.mark.parametrize("rule", ["0", "-1", "rig(", "*"])
def test_a_rule_that_is_none_is_told(rule):
    with pytest.raises(RangeError):
        grouping(rule)
