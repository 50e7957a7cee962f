"""Linear algebra runs on one thread while a log is judged, and as before when that is done."""

from __future__ import annotations

import contextlib

import numpy as np
import scipy.linalg
from threadpoolctl import threadpool_info, threadpool_limits

from decay import pipeline
from decay.planning import make
from decay.threads import on_one_thread
from decay.watch.sequence import Watcher


def blas_threads():
    scipy.linalg.lu(np.eye(2))
    return [library["num_threads"] for library in threadpool_info() if library["user_api"] == "blas"]


def test_work_is_done_on_one_thread_and_the_process_left_as_it_was():
    with threadpool_limits(2, user_api="blas"):
        before = blas_threads()
        assert set(on_one_thread(blas_threads)()) == {1}
        assert blas_threads() == before


def test_a_failure_leaves_the_process_as_it_was_too():
    def fail():
        raise ValueError("no")

    with threadpool_limits(2, user_api="blas"):
        before = blas_threads()
        with contextlib.suppress(ValueError):
            on_one_thread(fail)()
        assert blas_threads() == before


def test_judging_planning_and_watching_are_such_work():
    for work in (pipeline.analyze_log, pipeline.analyze_job, pipeline.examine_rig, make.make_plan,
                 Watcher.see, Watcher.see_hold, Watcher.finish):
        assert hasattr(work, "__wrapped__")
