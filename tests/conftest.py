"""Set before the program loads: one thread, as it sets itself, files compiled once for all; and long ways made short.

The fixtures are for tests that ask what becomes of an answer or a picture, not what it says.
"""

import gc
import io
import os
import pickle
import sys
from dataclasses import replace
from functools import partial, wraps
from importlib import import_module
from pathlib import Path

import pytest
from _pytest.doctest import DoctestModule

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

# Whatever the shell says: workers, the processes that tests start, and the next run else compile 500 files each.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

_KEPT: dict[object, object] = {}
_SHORTENED: dict[str, bool] = {}  # what is left out of answers at the moment: those are not for tests that want it


@pytest.hookimpl(wrapper=True)
def pytest_collection():
    """Look for no garbage while tests are collected, for that stays to the end; and then as seldom as the program."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()
        gc.freeze()
        gc.set_threshold(100_000)


@pytest.hookimpl(wrapper=True)
def pytest_collect_file():
    """Look for examples in the program alone: tests have none in their docstrings, and looking takes seconds."""
    return [found for found in (yield) if not isinstance(found, DoctestModule)]


LONGEST = ("test_same_out.py", "test_promises.py", "test_verdict.py", "test_bench.py", "test_zoo.py", "test_lesson.py")
"""Files whose tests take longest."""


def pytest_collection_modifyitems(items):
    """Begin with what takes longest: at the end the other cores would wait for it."""
    items.sort(key=lambda item: LONGEST.index(item.path.name) if item.path.name in LONGEST else len(LONGEST))


def pytest_sessionfinish():
    """Let go of what was kept, and look for garbage once: pytest looks five times more, and that takes seconds."""
    _KEPT.clear()
    gc.collect()
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


def kept(function):
    """Return a function that works once in a run of the tests for what it is given and the unit that is spoken."""
    from decay.wording.spoken import unit

    @wraps(function)
    def once(*args, **options):
        given = *args, *options.values()
        key = function, unit(), *_SHORTENED, tuple(options), *map(_known, given)
        if key not in _KEPT:
            _KEPT[key] = function(*args, **options), given  # what is known by its place keeps it
        return _KEPT[key][0]

    return once


def _known(given):
    """Return what tells one thing given from another: its content, or its place where that cannot be written down."""
    try:
        return pickle.dumps(given)
    except (AttributeError, TypeError, pickle.PicklingError):
        return id(given)


@pytest.fixture
def followed_up_once(monkeypatch):
    """Rank the tests that would settle a hold once in a run of the tests."""
    from decay.several.next_test import next_tests

    for place in ("decay.pipeline", "decay.watch.sequence", "decay.planning.hold_lengths"):
        monkeypatch.setattr(f"{place}.next_tests", kept(next_tests))


@pytest.fixture
def not_followed_up(monkeypatch):
    """Leave an open hold as it is, without odds and further tests, for tests that do not ask what these say."""
    monkeypatch.setitem(_SHORTENED, "follow-up", True)
    monkeypatch.setattr("decay.pipeline._followed_up", lambda stage, case, ahead: case)


@pytest.fixture
def answered_once(monkeypatch, judged_once, followed_up_once):
    """Judge and plan once in a run of the tests what was read and told alike; and find and fit what was read alike."""
    for place, name in (("decay", "analyze"), ("decay", "analyze_job"), ("decay.comparison", "compare"),
                        ("decay.planning", "make_plan"), ("decay.lesson.grading", "analyze_log"),
                        ("decay.examine", "find_phases"), ("decay.examine", "fit_hold"),
                        ("decay.examine", "fit_pumpdown"), ("decay.pipeline", "odds_of_leak"),
                        ("decay.lesson.holds", "run"), ("decay.lesson.passing", "run"),
                        ("decay.simulation.class_set", "run")):
        monkeypatch.setattr(f"{place}.{name}", kept(getattr(import_module(place), name)))
    for place in ("decay", "decay.lesson.grading"):
        monkeypatch.setattr(f"{place}.read_log", read_once(import_module(place).read_log))
    pair_of = kept(import_module("decay.lesson").find_pair)
    # A pair is picked from a fixed series: how many jobs are counted beside it changes nothing.
    monkeypatch.setattr("decay.lesson.find_pair", lambda terms: pair_of(replace(terms, runs=1, proof_runs=1)))


def read_once(read_log):
    """Return a reader that reads a file once in a run of the tests, as long as it holds the same bytes."""

    @wraps(read_log)
    def once(source, *args, **options):
        if not isinstance(source, str | Path) or not Path(source).is_file() or not os.access(source, os.R_OK):
            return read_log(source, *args, **options)
        key = read_log, str(source), Path(source).read_bytes(), _known((args, options))
        if key not in _KEPT:
            _KEPT[key] = read_log(source, *args, **options)
        return _KEPT[key]

    return once


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
def drawn_blank(monkeypatch):
    """Write pictures and pages as empty sheets, for tests that ask where they go; what writes the whole is returned."""
    from matplotlib.figure import Figure

    save = Figure.savefig

    def blank(figure, *args, **options):
        figure.clear()
        return save(figure, *args, **options)

    monkeypatch.setattr(Figure, "savefig", blank)
    return save


@pytest.fixture
def planned_roughly(monkeypatch):
    """Let a plan take a formula for what its holds tell, in place of the estimator on drawn holds."""
    def told(conditions, duration):
        return conditions.floor + (2.0 if conditions.levelling else 1.0) * 0.2 * (600.0 / duration) ** 1.5 / 60.0

    monkeypatch.setitem(_SHORTENED, "plan", True)
    monkeypatch.setattr("decay.planning.hold_lengths._told", told)


@pytest.fixture
def few_moments(monkeypatch):
    """Let a film have three pictures."""
    from decay.lesson import growing

    monkeypatch.setattr(growing, "grow", partial(growing.grow, count=3))
    monkeypatch.setattr("decay.lesson.plot_film.STANDS", 1)


@pytest.fixture
def few_sizes(monkeypatch):
    """Let a lesson have nine leak sizes, of which the smallest and the largest are analysed, and one between."""
    for name, value in (("teaching.SIZES", 9), ("terms.SIZES", 9), ("teaching.EVERY", 4)):
        monkeypatch.setattr(f"decay.lesson.{name}", value)
