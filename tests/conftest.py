"""Set before the program loads: one thread, as it sets itself, files compiled once for all; and long ways made short.

The fixtures are for tests that ask what becomes of an answer or a picture, not what it says.
"""

import gc
import io
import os
import pickle
import sys
from functools import partial
from pathlib import Path

import pytest

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

# Whatever the shell says: workers, the processes that tests start, and the next run else compile 500 files each.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

_KEPT: dict[object, object] = {}


@pytest.hookimpl(wrapper=True)
def pytest_collection():
    """Look for no garbage while tests are collected: what is made then stays to the end."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()
        gc.freeze()


@pytest.fixture
def judged_once(monkeypatch):
    """Judge a log of an audit once in a run of the tests; what judges it each time is returned."""
    from decay.audit import run as runner

    judge = runner.rows_of_file

    def once(target, plan):
        if not Path(target.path).is_file() or not os.access(target.path, os.R_OK):
            return judge(target, plan)
        key = repr(target), repr(plan), Path(target.path).read_bytes()
        if key not in _KEPT:
            _KEPT[key] = judge(target, plan)
        return _KEPT[key]

    monkeypatch.setattr(runner, "rows_of_file", once)
    return judge


@pytest.fixture
def followed_up_once(monkeypatch):
    """Rank the tests that would settle a hold once in a run of the tests."""
    from decay import pipeline

    next_tests = pipeline.next_tests

    def once(*about):
        key = pickle.dumps(about)
        if key not in _KEPT:
            _KEPT[key] = next_tests(*about)
        return _KEPT[key]

    monkeypatch.setattr(pipeline, "next_tests", once)


@pytest.fixture
def drawn_once(monkeypatch):
    """Draw a picture of the same words once in a run of the tests; what draws it each time is returned."""
    from matplotlib.text import Text

    from decay.report import plot_style

    write = plot_style._write

    def once(figure, stream, kind):
        key = kind, *figure.get_size_inches(), *(text.get_text() for text in figure.findobj(Text))
        if key not in _KEPT:
            drawn = io.BytesIO()
            write(figure, drawn, kind)
            _KEPT[key] = drawn.getvalue()
        stream.write(_KEPT[key])

    monkeypatch.setattr(plot_style, "_write", once)
    return write


@pytest.fixture
def few_moments(monkeypatch):
    """Let a film have three pictures."""
    from decay.lesson import growing

    monkeypatch.setattr(growing, "grow", partial(growing.grow, count=3))
    monkeypatch.setattr("decay.lesson.plot_film.STANDS", 1)


@pytest.fixture
def few_sizes(monkeypatch):
    """Let a lesson analyse the smallest and the largest leak, and one between."""
    from decay.lesson import teaching

    monkeypatch.setattr(teaching, "EVERY", 16)
