"""The command as a whole: rows, order, codes, resumption, and files that are safe to open."""

from __future__ import annotations

import csv
import json
import os
import shutil
import subprocess
import sys
import time as clock
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from decay.audit.journal import Journal, line_of
from decay.audit.row import COLUMNS
from decay.audit.write import CSV_COLUMNS, cell
from decay_cli.main import decay
from tests.audit.logs import readings, write

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
    assert all(list(row) == ["record", "path", "job", "group", *COLUMNS[2:]] for row in found)
    assert [record["group"] for record in middle if record["record"] == "group"] == ["logs", "rig1", "rig2"]
    cells = table()
    assert [line["job"].lstrip("'") for line in cells] == [row["job"] for row in found]
    assert list(cells[0]) == list(CSV_COLUMNS)
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
    invoke("logs/short.csv", "logs/rig2/01.csv", *CRITERION, "--no-plot", "--jobs", "1", code=1)


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
    journal = first + b"".join(line_of({k: v for k, v in json.loads(line).items() if k != "group"}) for line in lines)
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
    for number in range(20):
        shutil.copy(logs / "rig2/01.csv", logs / f"rig2/more {number}.csv")
    command = [sys.executable, "-c", "from decay_cli.main import main; main()", "audit", "logs/rig2", *CRITERION,
               "--no-plot", "--jobs", "2"]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    run = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment,
                           start_new_session=True)
    journal, waited = Path("audit.jsonl.part"), clock.monotonic()
    while not (journal.exists() and journal.read_bytes().count(b"\n") > 3):
        assert run.poll() is None
        assert clock.monotonic() - waited < 60
        clock.sleep(0.01)
    run.kill()
    run.communicate()
    assert not Path("audit.jsonl").exists()
    assert not Path("audit.csv").exists()
    # Workers end with the process that started them.
    while _is_group_alive(run.pid):
        assert clock.monotonic() - waited < 60
        clock.sleep(0.05)
    done = subprocess.run(command, capture_output=True, text=True, env=environment, timeout=120, check=False)
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
    from decay.audit import run as runner

    whole = runner.run

    def stopped(targets, plan, jobs):
        for number, found in enumerate(whole(targets, plan, 1)):
            if number == 3:
                raise KeyboardInterrupt
            yield found

    monkeypatch.setattr(runner, "run", stopped)
    done = invoke("logs", *CRITERION, "--no-plot", code=130)
    assert "The same command goes on" in done.stderr
    assert not Path("audit.jsonl").exists()
    monkeypatch.setattr(runner, "run", whole)
    done = invoke("logs", *CRITERION, "--no-plot", "--jobs", "1", code=4)
    assert "3 of them done by an earlier run" in done.stderr
    assert len(rows()) == 20


def test_two_audits_do_not_write_the_same_files(logs):
    pytest.importorskip("fcntl")
    with Journal(Path("audit.jsonl"), {}, "0", ()):
        done = invoke("logs/rig2/00.csv", "--no-plot", "--jobs", "1", code=2)
    assert "another audit is writing" in done.stderr


@pytest.mark.skipif(os.name != "posix", reason="needs a terminal to be made up")
def test_a_bar_stands_on_a_terminal_and_only_there(logs):
    import pty

    code = "from decay_cli.main import main; main()"
    command = [sys.executable, "-c", code, "audit", "logs/rig2", *CRITERION, "--no-plot", "--jobs", "1"]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "TERM": "xterm"}
    ours, theirs = pty.openpty()
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=theirs, env=environment, timeout=120, check=False)
    os.close(theirs)
    shown = os.read(ours, 1 << 16).decode()
    os.close(ours)
    assert done.returncode == 4
    assert "Judging" in shown
    assert "10/10" in shown
    assert b"Judging" not in done.stdout
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
