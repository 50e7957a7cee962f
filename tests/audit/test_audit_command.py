"""The command as a whole: rows, order, codes, resumption, and files that are safe to open."""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
import time as clock
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from decay.audit import run as runner
from decay.audit.journal import Journal, json_line
from decay.audit.row import COLUMNS, NARROW, OTHERS, WIDE
from decay.audit.write import cell
from decay_cli.main import decay
from tests.audit.logs import readings, write
from tests.forked import ended, started

pytestmark = pytest.mark.usefixtures("judged_once")  # the tests ask what becomes of the rows
JOBS = 8
CRITERION = ("--criterion", "field-line")


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    """Logs of two rigs, one of which gets slower; broken files; names that a spreadsheet would run."""
    folder = tmp_path_factory.mktemp("made")
    for number in range(JOBS):
        # Rig 1 pulls its target later from job to job; its paths run against the order of its clocks.
        time, pressure = readings(seed=number, pull_s=900.0)
        slower = time * (1.0 + 0.15 * number)
        write(folder / f"rig1/{JOBS - number:02d}.csv", slower.round(), pressure, f"2026-03-{number + 1:02d}T08:00:00")
        write(folder / f"rig2/{number:02d}.csv", *readings(seed=number, leak=20.0 if number % 2 else 0.0))
    (folder / "rig2/99 broken.csv").write_text("this is not a log\n")
    (folder / "rig2/98 empty.csv").write_text("")
    write(folder / "=1+1.csv", *readings())
    write(folder / "@run.csv", *readings())
    return folder


@pytest.fixture
def logs(made, tmp_path, monkeypatch):
    shutil.copytree(made, tmp_path / "logs")
    monkeypatch.chdir(tmp_path)
    return tmp_path / "logs"


def invoke(*arguments, code=None):
    done = CliRunner().invoke(decay, ["audit", *arguments])
    if code is not None:
        assert done.exit_code == code, done.output
    return done


def records(path="audit.jsonl"):
    return [json.loads(line) for line in Path(path).read_text(encoding="ascii").splitlines()]


def rows(path="audit.jsonl"):
    return [record for record in records(path) if record["record"] == "hold"]


def table(path="audit.csv"):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_log_has_its_row_in_the_order_of_paths(logs):
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", code=4)
    first, *middle = records()
    assert first["record"] == "audit"
    found = rows()
    assert [row["path"] for row in found] == sorted(str(p.relative_to(logs.parent)) for p in logs.rglob("*.csv"))
    assert all(list(row) == ["record", "path", "job", "group", "technician", *COLUMNS[2:]] for row in found)
    assert [record["group"] for record in middle if record["record"] == "group"] == ["logs", "rig1", "rig2"]
    cells = table()
    assert [line["job"].lstrip("'") for line in cells] == [row["job"] for row in found]
    assert list(cells[0]) == list(NARROW)
    assert "rig1" in done.stdout
    assert not list(Path().glob(".*.part")) + list(Path().glob("*.part"))


def test_truth_comes_back_log_by_log(logs):
    invoke("logs/rig2", *CRITERION, "--no-plot", "--jobs", "1")
    by_job = {row["job"]: row for row in rows()}
    for number in range(JOBS):
        row = by_job[f"{number:02d}"]
        if number % 2:
            assert row["proof"] == "leak"
            assert row["leak_low_micron_per_min"] <= 20.0 <= row["leak_high_micron_per_min"]
        else:
            assert row["proof"] == "no leak seen"
            assert row["detection_limit_micron_per_min"] > 0


def test_bad_files_are_rows_with_their_error_and_code(logs):
    invoke("logs/rig2", "gone.csv", *CRITERION, "--no-plot", "--jobs", "1", code=4)
    bad = {row["path"]: row for row in rows() if row["error"] is not None}
    assert set(bad) == {"gone.csv", "logs/rig2/98 empty.csv", "logs/rig2/99 broken.csv"}
    assert {row["exit_code"] for row in bad.values()} == {4}
    assert "no such file" in bad["gone.csv"]["error"]
    assert "the file is empty" in bad["logs/rig2/98 empty.csv"]["error"]


@pytest.mark.parametrize(("take", "code"), [
    (["00.csv", "02.csv"], 0), (["00.csv", "01.csv"], 1), (["00.csv", "98 empty.csv", "01.csv"], 4)])
def test_the_worst_code_is_the_exit_code(logs, take, code):
    invoke(*(f"logs/rig2/{name}" for name in take), *CRITERION, "--no-plot", "--jobs", "1", code=code)


def test_a_fail_is_worse_than_an_inconclusive_log(logs):
    write(logs / "short.csv", *readings(hold_s=300.0))
    invoke("logs/short.csv", *CRITERION, "--no-plot", "--jobs", "1", code=3)
    invoke("logs/short.csv", "logs/rig2/01.csv", *CRITERION, "--no-plot", "--jobs", "1", "--force", code=1)


def test_the_rig_that_gets_slower_is_told_once_and_the_other_not(logs):
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", "--json")
    found = [row for row in rows() if "A05" in [f["code"] for f in row["findings"]]]
    # The last job by its clock is the first by its path.
    assert [row["path"] for row in found] == ["logs/rig1/01.csv"]
    told = json.loads(done.stdout)
    assert [trend["code"] for trend in told["trends"]] == ["A05"]
    assert {g["group"]: g["ordered_by"] for g in told["groups"]} == {"logs": "path", "rig1": "clock", "rig2": "path"}
    assert next(f["count"] for f in told["findings"] if f["code"] == "A05") == 1


def test_a_second_run_does_nothing_anew_and_writes_the_same(logs):
    invoke("logs", *CRITERION, "--no-plot", "--jobs", "1")
    before = Path("audit.csv").read_bytes(), Path("audit.jsonl").read_bytes()
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", code=4)
    assert "20 of them done by an earlier run" in done.stderr
    assert (Path("audit.csv").read_bytes(), Path("audit.jsonl").read_bytes()) == before


def test_only_what_changed_is_done_again(logs):
    invoke("logs", *CRITERION, "--no-plot", "--jobs", "1")
    write(logs / "rig2/00.csv", *readings(leak=50.0))
    (logs / "rig2/99 broken.csv").unlink()
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1")
    assert "19 logs, 18 of them done" in done.stderr
    assert next(row for row in rows() if row["path"] == "logs/rig2/00.csv")["proof"] == "leak"
    assert not [row for row in rows() if "broken" in row["path"]]
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", "--ambient", "21 degC")
    assert "other settings" in done.stderr
    assert "done by an earlier run" not in done.stderr
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", "--ambient", "21 degC", "--fresh")
    assert "done by an earlier run" not in done.stderr


def test_groups_can_change_without_judging_again(logs):
    invoke("logs", *CRITERION, "--no-plot", "--jobs", "1")
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", "--group", r"rig(\d)")
    assert "20 of them done" in done.stderr
    assert {row["group"] for row in rows()} == {"(none)", "1", "2"}


@pytest.mark.parametrize("keep", [0.0, 0.02, 0.71, 0.9999])
def test_an_interrupted_run_goes_on_from_any_byte(logs, keep):
    invoke("logs", *CRITERION, "--no-plot", "--jobs", "1")
    whole, cells = Path("audit.jsonl").read_bytes(), Path("audit.csv").read_bytes()
    first, *lines = [line for line in whole.splitlines(keepends=True) if b'"record": "group"' not in line]
    # What the journal holds while a run is under way: rows as they come, without group and group's findings.
    records = [{k: v for k, v in json.loads(line).items() if k not in ("group", "technician")} for line in lines]
    journal = first + b"".join(map(json_line, records))
    Path("audit.jsonl").unlink()
    Path("audit.csv").unlink()
    cut = journal[: int(keep * len(journal))]
    Path("audit.jsonl.part").write_bytes(cut)
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", code=4)
    finished = max(cut.count(b"\n") - 1, 0)
    assert (f"{finished} of them done" in done.stderr) == (finished > 0)
    assert Path("audit.jsonl").read_bytes() == whole
    assert Path("audit.csv").read_bytes() == cells


@pytest.mark.skipif(os.name != "posix", reason="needs a signal that cannot be caught")
def test_a_killed_run_goes_on_with_two_workers(logs):
    for number in range(9):
        shutil.copy(logs / "rig2/01.csv", logs / f"rig2/more {number}.csv")
    command = ["audit", "logs/rig2", *CRITERION, "--no-plot", "--jobs", "2"]
    journal, waited = Path("audit.jsonl.part"), clock.monotonic()
    with started(command) as run:
        while not (journal.exists() and journal.read_bytes().count(b"\n") > 2):
            assert run.poll() is None
            assert clock.monotonic() - waited < 60
            clock.sleep(0.01)
        run.send_signal(signal.SIGKILL)
        run.wait()
    assert not Path("audit.jsonl").exists()
    assert not Path("audit.csv").exists()
    # Workers end with the process that started them.
    while _is_group_alive(run.pid):
        assert clock.monotonic() - waited < 60
        clock.sleep(0.05)
    done = ended(command)
    assert done.returncode == 4, done.stderr
    assert "of them done by an earlier run" in done.stderr
    two_workers = Path("audit.jsonl").read_bytes(), Path("audit.csv").read_bytes()
    invoke("logs/rig2", *CRITERION, "--no-plot", "--jobs", "1", "--fresh", code=4)
    assert (Path("audit.jsonl").read_bytes(), Path("audit.csv").read_bytes()) == two_workers


def _is_group_alive(group):
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def test_ctrl_c_keeps_what_is_done(logs, monkeypatch):
    whole = runner.judge_files

    def stopped(targets, plan, jobs):
        for number, found in enumerate(whole(targets, plan, 1)):
            if number == 3:
                raise KeyboardInterrupt
            yield found

    monkeypatch.setattr(runner, "judge_files", stopped)
    done = invoke("logs", *CRITERION, "--no-plot", code=130)
    assert "The same command goes on" in done.stderr
    assert not Path("audit.jsonl").exists()
    monkeypatch.setattr(runner, "judge_files", whole)
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", code=4)
    assert "3 of them done by an earlier run" in done.stderr
    assert len(rows()) == 20


def test_two_audits_do_not_write_the_same_files(logs):
    pytest.importorskip("fcntl")
    with Journal(Path("audit.jsonl"), {}, "0", (), ["logs/rig2/00.csv"]):
        done = invoke("logs/rig2/00.csv", "--no-plot", "--jobs", "1", code=2)
    assert "another audit is writing" in done.stderr


@pytest.mark.skipif(os.name != "posix", reason="needs a terminal to be made up")
def test_a_bar_stands_on_a_terminal_and_only_there(logs):
    import pty

    ours, theirs = pty.openpty()
    with open(theirs, "wb", buffering=0) as terminal:
        done = ended(["audit", "logs/rig2", *CRITERION, "--no-plot", "--jobs", "1"], stderr=terminal, TERM="xterm")
        shown = os.read(ours, 1 << 16).decode()
    os.close(ours)
    assert done.returncode == 4
    assert "Judging" in shown
    assert "10/10" in shown
    assert "Judging" not in done.stdout
    assert "Judging" not in invoke("logs/rig2", *CRITERION, "--no-plot", "--jobs", "1", "--fresh").output


def test_nothing_that_is_not_ours_is_replaced(logs):
    Path("audit.csv").write_text("mine")
    invoke("logs/rig2/00.csv", "--no-plot", "--jobs", "1", code=2)
    Path("audit.csv").rename("audit.png")
    invoke("logs/rig2/00.csv", "--jobs", "1", code=2)
    Path("audit.png").rename("audit.jsonl")
    invoke("logs/rig2/00.csv", "--no-plot", "--jobs", "1", "--force", "--fresh", code=2)
    assert Path("audit.jsonl").read_text() == "mine"
    Path("audit.jsonl").rename("audit.jsonl.part")
    invoke("logs/rig2/00.csv", "--no-plot", "--jobs", "1", code=2)
    assert Path("audit.jsonl.part").read_text() == "mine"


def test_own_output_is_not_read_as_a_log(logs):
    invoke("logs/rig2", *CRITERION, "--no-plot", "--jobs", "1", "--out", "logs/rig2/audit")
    invoke("logs/rig2", *CRITERION, "--no-plot", "--jobs", "1", "--out", "logs/rig2/audit")
    assert not [row for row in rows("logs/rig2/audit.jsonl") if row["job"] == "audit"]


def test_other_inputs_under_the_same_name_ask_for_force(logs):
    invoke("logs/rig2/00.csv", "--no-plot", "--jobs", "1", *CRITERION, code=0)
    before = Path("audit.csv").read_bytes()
    refused = invoke("logs/rig2/02.csv", "--no-plot", "--jobs", "1", *CRITERION, code=2)
    assert "audit.jsonl is an audit of logs/rig2/00.csv, and this one is of logs/rig2/02.csv" in refused.stderr
    assert Path("audit.csv").read_bytes() == before
    done = invoke("logs/rig2/00.csv", "logs/rig2/02.csv", "--no-plot", "--jobs", "1", *CRITERION, "--force", code=0)
    assert "1 of them done" in done.stderr


def test_a_misspelt_folder_writes_nothing(logs):
    done = invoke("typo-folder", code=2)
    assert "there is no such file or folder" in done.stderr
    assert [path.name for path in Path().iterdir()] == ["logs"]


def test_the_table_says_first_what_matters_and_everything_when_asked(logs):
    invoke("logs/rig2", "--no-plot", "--jobs", "1", *CRITERION)
    first = table()
    assert list(first[0])[:6] == ["job", "group", "technician", "date", "result", "reason"]
    assert [line["result"] for line in first[:2]] == ["pass", "fail"]
    assert float(first[1]["result_leak_low_micron_per_min"]) > 0
    invoke("logs/rig2", "--no-plot", "--jobs", "1", *CRITERION, "--wide")
    assert list(table()[0]) == list(WIDE)
    assert {name: table()[1][name] for name in NARROW} == first[1]


def test_a_table_for_a_spreadsheet(logs):
    invoke("logs/rig2", "--no-plot", "--jobs", "1", *CRITERION, "--excel")
    raw = Path("audit.csv").read_bytes()
    assert raw.startswith(b"\xef\xbb\xbfjob;group;")
    invoke("logs/rig2", "--no-plot", "--jobs", "1", *CRITERION, "--excel-comma")
    text = Path("audit.csv").read_text(encoding="utf-8-sig")
    found = list(csv.DictReader(text.splitlines(), delimiter=";"))[1]["result_leak_low_micron_per_min"]
    assert "," in found
    point = list(csv.DictReader(raw.decode("utf-8-sig").splitlines(), delimiter=";"))[1]
    assert float(found.replace(",", ".")) == float(point["result_leak_low_micron_per_min"])


def test_every_column_is_explained():
    said = CliRunner().invoke(decay, ["audit", "--columns"])
    assert said.exit_code == 0
    assert all(f"  {name}" in said.stdout for name in WIDE)
    assert set(WIDE) - {"group", "technician", "finding_codes", "finding_texts"} == set(COLUMNS) - {"findings"}
    assert len(set(WIDE)) == len(WIDE)
    assert all(column.meaning for column in OTHERS)


def test_the_worst_jobs_and_groups_come_first(logs):
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", "--json")
    told = json.loads(done.stdout)
    leaks = [job["result_leak_micron_per_min"] for job in told["worst"]]
    assert {job["result"] for job in told["worst"]} == {"fail"}
    assert leaks == sorted(leaks, reverse=True)
    text = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1").stdout
    assert text.index("rig2 ") < text.index("rig1 ")
    assert text.index("Worst jobs first") < text.index("Unreadable")


def test_no_more_groups_hide_the_worst(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("decay.audit.text.MOST_GROUPS", 3)
    for number in range(5):
        leak = 120.0 if number == 4 else 0.0
        write(tmp_path / f"logs/g{number:02d}/a.csv", *readings(hold_s=660.0, seed=number, leak=leak))
    text = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", code=1).stdout
    assert text.splitlines()[1].startswith("g04 ")
    assert "and 2 more groups, none with more than 0 % failed" in text


@pytest.mark.parametrize("make", ["pipe", "device"])
def test_what_is_no_file_is_a_row_and_holds_nothing_up(logs, make):
    if make == "pipe":
        os.mkfifo("logs/rig2/pipe.csv")
    else:
        os.symlink("/dev/zero", "logs/rig2/endless.csv")
    invoke("logs/rig2", *CRITERION, "--no-plot", "--jobs", "1", code=4)
    bad = [row for row in rows() if row["error"] is not None and "pipe, a device" in row["error"]]
    assert len(bad) == 1
    assert bad[0]["is_to_retry"] is True


def test_a_folder_that_cannot_be_read_is_told(logs, monkeypatch):
    scan = os.scandir

    def closed(path="."):
        if str(path).endswith("rig1"):
            raise PermissionError(13, "Permission denied", str(path))
        return scan(path)

    monkeypatch.setattr(os, "scandir", closed)
    invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", code=4)
    bad = {row["path"]: row["error"] for row in rows() if row["error"] is not None}
    assert bad["logs/rig1"] == "logs/rig1: the folder cannot be read: Permission denied"


def test_a_fault_that_may_pass_is_tried_again(logs, monkeypatch, judged_once):
    from decay.table import source

    sized = source._sized

    def closed(file, size, name):
        if name.endswith("00.csv"):
            raise PermissionError(13, "Permission denied", name)
        return sized(file, size, name)

    with monkeypatch.context() as patch:
        patch.setattr(source, "_sized", closed)
        patch.setattr(runner, "rows_of_file", judged_once)
        invoke("logs/rig2", *CRITERION, "--no-plot", "--jobs", "1", code=4)
    assert "Permission denied" in next(row for row in rows() if row["job"] == "00")["error"]
    done = invoke("logs/rig2", *CRITERION, "--no-plot", "--jobs", "1", code=4)
    assert "9 of them done" in done.stderr
    assert next(row for row in rows() if row["job"] == "00")["error"] is None


def test_what_the_job_list_says_is_used_and_a_change_judges_that_log_again(logs):
    Path("list.csv").write_text("log,volume,technician\nrig2/01.csv,3 L,Ann\nrig2/*,,Ben\n")
    options = [*CRITERION, "--no-plot", "--jobs", "1", "--job-list", "list.csv"]
    invoke("logs/rig2", *options, code=4)
    found = {row["job"]: row for row in rows()}
    assert (found["01"]["told"], found["01"]["technician"]) == ("volume 3 L", "Ben")  # the later line says who
    assert found["01"]["leak_pa_m3_per_s"] is not None
    assert found["00"]["leak_pa_m3_per_s"] is None
    Path("list.csv").write_text("log,volume,technician\nrig2/01.csv,4 L,Ann\n")
    done = invoke("logs/rig2", *options, code=4)
    assert "9 of them done" in done.stderr
    assert next(row for row in rows() if row["job"] == "01")["told"] == "volume 4 L"


@pytest.mark.parametrize(("text", "words"), [
    ("log,volume\nrig2/*,3\n", "line 2"), ("log,colour\n*,red\n", '"colour" is not known'),
    ("volume\n3 L\n", 'no column "log"')])
def test_a_job_list_that_cannot_be_used_is_told(logs, text, words):
    Path("list.csv").write_text(text)
    done = invoke("logs/rig2", "--no-plot", "--job-list", "list.csv", code=2)
    assert words in done.stderr


def test_a_job_list_in_toml(logs):
    Path("logs/decay-jobs.toml").write_text('[[job]]\nlog = "rig2/0?.csv"\nambient = "21 degC"\n')
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", code=4)
    assert "about 8 of 20 logs" in done.stderr
    assert {row["told"] for row in rows() if row["path"].startswith("logs/rig2/0")} == {"ambient 21 degC"}


def test_an_expression_that_runs_away_is_given_up(logs, monkeypatch):
    from decay.audit import collect

    Path(f"logs/{'a' * 40}.csv").write_text("x")
    with monkeypatch.context() as patch:
        patch.setattr(collect, "LONGEST_SEARCH", 0.5)
        done = invoke("logs", "--group", "(a+)+$", "--no-plot", code=2)
    assert "takes longer than" in done.stderr
    assert invoke("logs/rig2", "--group", "(r)i(g)", "--no-plot", "--jobs", "1").exit_code == 4


def test_usage_errors_are_told(logs):
    assert "does not exist" in invoke("logs", "--out", "gone/audit", code=2).output
    assert "folder level" in invoke("logs", "--group", "0", "--no-plot", code=2).output
    assert "must end in" in invoke("logs", "--plot", "a.bmp", code=2).output
    Path("bare").mkdir()
    assert "no log was found" in invoke("bare", "--no-plot", code=2).output


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "  =1", "＝1", "－1"])
def test_no_text_cell_begins_as_a_formula(text):
    made = cell(text)
    assert isinstance(made, str)
    assert made.startswith("'")
    assert "\n" not in made
    assert "\r" not in made
    assert "\t" not in made


@pytest.mark.parametrize("value", [-1.5, 3, "van 7", "1-2", ""])
def test_harmless_cells_stay_as_they_are(value):
    assert cell(value) == value


def test_formulas_in_names_are_neutralised_in_the_table(logs):
    invoke("logs/=1+1.csv", "logs/@run.csv", *CRITERION, "--no-plot", "--jobs", "1")
    assert [line["job"] for line in table()] == ["'=1+1", "'@run"]
    text = Path("audit.csv").read_text()
    assert not [part for line in csv.reader(text.splitlines()) for part in line
                if part[:1] in ("=", "+", "@", "\t") or (part[:1] == "-" and not _is_number(part))]


def _is_number(text):
    try:
        return np.isfinite(float(text))
    except ValueError:
        return False
