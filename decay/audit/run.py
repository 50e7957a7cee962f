"""Judges many logs on several cores and hands the rows over in the order of the files, whatever happens to one."""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import threading
import traceback
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from itertools import chain, islice
from multiprocessing.connection import wait
from pathlib import Path

from decay import wording
from decay.audit.collect import Target
from decay.audit.extract import rows_of
from decay.audit.job_list import system_with
from decay.audit.row import INTERNAL, UNREADABLE, Row, failed
from decay.errors import DecayError
from decay.judge.criteria import Criterion
from decay.log import ReadOptions
from decay.report.document_numbers import Json
from decay.system import System

AHEAD = 16
"""Files that may wait for each worker: a slow one holds up the order, not the work. [-]"""
DEATHS = 2
"""Times that a file alone must end the process that judges it, before it is taken to be the file's doing: another
program, or a want of memory, may have ended it once. [-]"""
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""What keeps linear algebra from starting threads of its own beside the workers."""


@dataclass(frozen=True, slots=True)
class Settings:
    """How every log is judged."""

    criterion: Criterion | None  # the practice; ``None`` where each hold is judged by the longest stand that it answers
    system: System = field(default_factory=System)  # what the user told, the same for all logs
    reading: ReadOptions = field(default_factory=ReadOptions)  # how to read a log where its content does not settle it
    units: str = wording.UNITS[0]  # unit of pressure in the words of its rows

    def settings(self) -> Json:
        """Return all of it as JSON, by which an earlier run is known to have judged alike."""
        settings: Json = json.loads(json.dumps(asdict(self)))
        return settings


def rows_of_file(target: Target, plan: Settings) -> tuple[Row, ...]:
    """Return the rows of one file; whatever goes wrong is a row, and never an exception."""
    with wording.speaking(plan.units):
        return _judged(target, plan)


def _judged(target: Target, plan: Settings) -> tuple[Row, ...]:
    from decay.log import read_log
    from decay.pipeline import Ahead, analyze_log

    if target.fault is not None:
        return (failed(target, UNREADABLE, f"{target.path}: {target.fault}", is_to_retry=True),)
    try:
        system = system_with(plan.system, target.told)
        # What would settle an open hold takes longer than judging it, and in an audit nobody is still at the job.
        analysis = analyze_log(read_log(target.path, plan.reading), system, plan.criterion, ahead=Ahead.ODDS)
        return rows_of(target, analysis, plan.criterion)
    except DecayError as problem:
        # A missing permission or a share that is away says nothing of the file, and may be gone another time.
        is_to_retry = isinstance(problem.__cause__, OSError)
        return (failed(target, UNREADABLE, str(problem), is_to_retry=is_to_retry),)
    except Exception as problem:  # an audit of thousands does not end at one file: its row says what happened
        return (failed(target, INTERNAL, f"{target.path}: internal error: {_told(problem)}"),)


def _told(problem: Exception) -> str:
    """Return what is needed to find a fault: its kind, its words and the line that raised it."""
    last = traceback.extract_tb(problem.__traceback__)[-1]
    return f"{type(problem).__name__}: {problem} (line {last.lineno} of {Path(last.filename).name}, {last.name})"


def judge_files(targets: Iterable[Target], plan: Settings, jobs: int = 1) -> Iterator[tuple[Target, tuple[Row, ...]]]:
    """Judge files and yield their rows in the order of the files.

    Parameters
    ----------
    targets : iterable of Target
        The files.
    plan : Settings
        How to judge them.
    jobs : int
        Number of worker processes; 1 works in this process. [-]

    Yields
    ------
    Target, tuple of Row
        Each file with its rows. The rows do not depend on ``jobs``.

    Notes
    -----
    Only a bounded number of files is under way at any time, so that memory does not grow with their number. A worker
    that dies (memory, a crash of a library) takes its pool with it: the files then under way are judged again, one at
    a time, so that the one at fault gets its row and the others theirs. Where no worker can be started at all (a limit
    on processes, an interpreter that others may not run), this process judges them.
    """
    if jobs <= 1:
        for target in targets:
            yield target, rows_of_file(target, plan)
        return
    with _single_threaded():
        upcoming = iter(targets)
        waiting: deque[tuple[Target, Future[tuple[Row, ...]]]] = deque()
        pool = _pool(plan, jobs)
        try:
            while True:
                is_broken = False
                for added in islice(upcoming, AHEAD * jobs - len(waiting)):
                    try:
                        with _undisturbed():
                            future = pool.submit(_work, added)
                    except BrokenProcessPool as problem:
                        future = _with_exception(problem)
                    waiting.append((added, future))
                if not waiting:
                    return
                target, future = waiting[0]
                try:
                    rows = future.result()
                except BrokenProcessPool:
                    is_broken = True
                if not is_broken:
                    waiting.popleft()
                    yield target, rows
                    continue
                pool.shutdown(cancel_futures=True)
                if not _can_start(plan):
                    left = chain((target for target, _ in waiting), upcoming)
                    yield from ((target, rows_of_file(target, plan)) for target in left)
                    return
                yield from _one_by_one(waiting, plan)
                waiting.clear()
                pool = _pool(plan, jobs)
        finally:
            pool.shutdown(wait=False, cancel_futures=True)


def _with_exception(problem: BaseException) -> Future[tuple[Row, ...]]:
    future: Future[tuple[Row, ...]] = Future()
    future.set_exception(problem)
    return future


def _can_start(plan: Settings) -> bool:
    """Tell whether a worker can be started, before a file is blamed for its end."""
    pool = _pool(plan, 1)
    try:
        with _undisturbed():
            started = pool.submit(os.getpid)
        started.result()
    except (BrokenProcessPool, OSError):
        return False
    finally:
        pool.shutdown(wait=False, cancel_futures=True)
    return True


def _one_by_one(
    waiting: Iterable[tuple[Target, Future[tuple[Row, ...]]]], plan: Settings
) -> Iterator[tuple[Target, tuple[Row, ...]]]:
    """Judge again what a broken pool has lost, one file at a time, so that it is known which one breaks it."""
    pool = _pool(plan, 1)
    try:
        for target, future in waiting:
            if not future.cancelled() and future.exception() is None:
                yield target, future.result()
                continue
            rows = None
            for _ in range(DEATHS):
                try:
                    rows = pool.submit(_work, target).result()
                    break
                except BrokenProcessPool:
                    pool.shutdown()
                    pool = _pool(plan, 1)
            if rows is None:
                told = f"{target.path}: internal error: the process that judged this file died {DEATHS} times"
                rows = (failed(target, INTERNAL, told, is_to_retry=True),)
            yield target, rows
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _pool(plan: Settings, jobs: int) -> ProcessPoolExecutor:
    # Fresh interpreters: a forked one would inherit the threads and locks of this one.
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(jobs, mp_context=context, initializer=_begin, initargs=(plan,))


@contextmanager
def _single_threaded() -> Iterator[None]:
    """Keep the workers that start meanwhile to one thread each."""
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Hold back what interrupts while workers start: one that is cut off in its first breath prints a traceback."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    held: list[int] = []
    names = [name for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {getattr(signal, name): signal.getsignal(getattr(signal, name)) for name in names}
    for number in before:
        signal.signal(number, lambda arrived, _: held.append(arrived))
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler if handler is not None else signal.SIG_DFL)
        for arrived in held:
            signal.raise_signal(arrived)


_plan: Settings | None = None  # of this worker process, set once when it starts


def _begin(plan: Settings) -> None:
    """Prepare a worker: its plan, no interest in Ctrl-C, and an end with its parent."""
    global _plan
    _plan = plan
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent is interrupted, and ends its workers
    threading.Thread(target=_end_with_parent, daemon=True).start()
    import decay.log.reader
    import decay.pipeline  # noqa: F401 - loaded before the first file comes


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _work(target: Target) -> tuple[Row, ...]:
    if _plan is None:
        raise RuntimeError("a worker must be prepared before it works")
    return rows_of_file(target, _plan)
