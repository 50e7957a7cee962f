"""The runner: order, several workers, and files that take a worker down with them."""

from __future__ import annotations

import multiprocessing
import os
from pathlib import Path

import pytest

from decay import ReadOptions, System, load_criterion
from decay.audit import run as runner
from decay.audit.collect import Target, collect
from decay.audit.run import THREADS, Settings, judge_files
from decay.quantities import read_allowance
from tests.audit.logs import readings, write

PLAN = Settings(load_criterion("field-line"))


class Deadly(Target):
    """A file whose very arrival ends the worker."""

    def __reduce__(self):
        return os._exit, (3,)


@pytest.fixture(scope="module")
def targets(tmp_path_factory):
    folder = tmp_path_factory.mktemp("logs")
    for number in range(6):
        write(folder / f"{number}.csv", *readings(seed=number, leak=20.0 * number))
    return collect([str(folder)])


def test_two_workers_give_the_rows_of_one_in_the_same_order(targets):
    assert list(judge_files(targets, PLAN, 2)) == list(judge_files(targets, PLAN, 1))


@pytest.fixture
def quick_workers(monkeypatch):
    """Fork workers from a process that has loaded the program: how they end is asked here, not how they start."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["decay.audit.run", "decay.pipeline", "decay.log.reader"])
    monkeypatch.setattr(runner.multiprocessing, "get_context", lambda _: context)


@pytest.mark.usefixtures("quick_workers")
def test_a_file_that_kills_its_worker_is_a_row_and_the_others_are_judged(targets):
    deadly = Deadly("deadly.csv", 1, 1)
    found = list(judge_files([*targets[:3], deadly, *targets[3:]], PLAN, 2))
    assert [target.path for target, _ in found] == [*(t.path for t in targets[:3]), "deadly.csv",
                                                    *(t.path for t in targets[3:])]
    (row,) = found[3][1]
    assert row.exit_code == 70
    assert "died" in row.error
    alone = [rows for _, rows in judge_files(targets, PLAN, 1)]
    assert [rows for _, rows in found if rows[0].path != "deadly.csv"] == alone


class Frail(Target):
    """A file whose first arrival alone ends the worker, as a want of memory may."""

    def __reduce__(self):
        return _arrive, (self.path, self.size, self.modified)


def _arrive(path, size, modified):
    mark = Path(f"{path}.died")
    deaths = len(mark.read_text()) if mark.exists() else 0
    if deaths < 2:  # once among the others, once alone
        mark.write_text("x" * (deaths + 1))
        os._exit(3)
    return Target(path, size, modified)


@pytest.mark.usefixtures("quick_workers")
def test_a_worker_that_is_killed_once_more_costs_no_log_its_row(targets):
    frail = Frail(targets[0].path, targets[0].size, targets[0].modified)
    found = list(judge_files([frail, *targets[1:3]], PLAN, 2))
    assert [rows for _, rows in found] == [rows for _, rows in judge_files(targets[:3], PLAN, 1)]


@pytest.mark.usefixtures("quick_workers")
def test_where_no_worker_can_be_started_no_file_is_blamed(targets, monkeypatch):
    monkeypatch.setattr(runner, "_begin", os._exit)  # a worker ends in its first breath, whatever it is told
    assert list(judge_files(targets[:3], PLAN, 2)) == list(judge_files(targets[:3], PLAN, 1))


def test_a_fault_of_the_program_is_a_row(targets, monkeypatch):
    def broken(*_):
        raise ZeroDivisionError("nothing to divide")

    monkeypatch.setattr(runner, "rows_of", broken)
    ((_, (row,)),) = judge_files(targets[:1], PLAN, 1)
    assert row.exit_code == 70
    assert "ZeroDivisionError: nothing to divide" in row.error
    assert row.job == "0"


def test_the_environment_is_as_before(targets, monkeypatch):
    monkeypatch.setenv(THREADS[0], "7")
    monkeypatch.delenv(THREADS[1], raising=False)
    before = dict(os.environ)
    assert len(list(judge_files(targets[:1], PLAN, 2))) == 1
    assert dict(os.environ) == before


def test_settings_tell_apart_what_changes_a_row():
    known = [PLAN, Settings(load_criterion("one-hour-stand")), Settings(PLAN.criterion, System(ambient=300.0)),
             Settings(PLAN.criterion, System(allow=read_allowance("1 micron/min"))),
             Settings(PLAN.criterion, System(), ReadOptions(unit="Pa"))]
    settings = [plan.settings() for plan in known]
    assert all(one != other for place, one in enumerate(settings) for other in settings[place + 1 :])
    assert Settings(load_criterion("field-line")).settings() == PLAN.settings()
