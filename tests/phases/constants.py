"""By hand: what the phases answer when each of their constants is halved and doubled.

`python -m tests.phases.constants --jobs 10` finds the phases of jobs of the bench, of its zoo and of clean logs, all of
them synthetic and of known truth, and prints one row for each constant. What is worked out before a constant of the
tail counts (readings, knots, path) is kept, so that `--tail` costs a part only.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from inspect import getsource
from itertools import groupby
from types import ModuleType
from typing import Any

import numpy as np

from decay.errors import LogError
from decay.log.pressure_log import PressureLog
from decay.log.quality import inspect
from decay.phases import (
    Kind,
    course,
    edges,
    find,
    flat,
    label,
    noise,
    path,
    readings,
    rises,
    scale,
    search,
)  # fmt: skip
from decay.simulation.simulated_run import run
from tests.bench.jobs import KINDS
from tests.bench.jobs import random_job as bench_job
from tests.bench.score import _is_edge_visible, tolerance
from tests.bench.zoo.troubles import BY_NAME, sheet
from tests.phases.truth import holds_of, random_job

CONSTANTS: tuple[tuple[ModuleType, str], ...] = (
    (path, "TURN"), (path, "WRONG"), (path, "LEAST"), (path, "FEWEST"), (path, "SURGE"), (path, "FASTER"),
    (path, "FILLS"), (path, "COOLS"), (readings, "RANGE_JUMP"), (readings, "LEAVES"), (readings, "EXCURSION_LASTS"),
    (scale, "REPEATS"),
)  # fmt: skip
TAIL: tuple[tuple[ModuleType, str], ...] = tuple(
    (home, name)
    for home, names in (
        (flat, "SHORTEST EXPECTED_STEPS TOLD CONTROLLED"),
        (rises, "SURE JUST_BEFORE STRETCHES LOW FEWEST TOLD AS_LIKELY"),
        (edges, "EQUALISING STEEP LONG PLAIN CREEP_SHARE CREEP_RATIO LEAVES"),
        (label, "NEAR_ATMOSPHERE LETS_IN_AT WATER_CEILING WATER_LASTS HUMP_LASTS HUMP_SLOWER LEAST_HELD"),
        (search, "ONE_NUMBER_MORE AS_LIKELY MOST_ALIKE LONGEST_SETTLING"),
        (course, "LET_IN"),
        (noise, "LONG MANY LOW SHOWN BLURS FEWEST"),
    )
    for name in names.split()
)  # fmt: skip
"""What tells, beside the objective, a hold without a turn, an edge to the reading, and what a stretch is called."""
EARLY = (path, readings, scale, noise)
"""The rooms whose constants make readings, knots and path."""
ELSEWHERE = ("restarts", "clock_step")
"""Troubles of the zoo that the reader has to answer: their truth is on another clock than the log."""

Truth = tuple[PressureLog, list[tuple[float, float]], list[bool], float]


def bench_logs(jobs: int, seed: int) -> Iterator[Truth]:
    """Make so many logs of each kind of the bench; a closing leaves a mark where the gauge shows it in time."""
    for kind in KINDS:
        for number in range(seed, seed + jobs):
            job = bench_job(kind, number)
            made = run(job)
            begin = float(made.readings.time[0])
            held = [stretch for stretch in made.stretches if stretch.kind.value == "hold"]
            visible = [bool(_is_edge_visible(made, stretch.start)) for stretch in held]
            ends = [(stretch.start - begin, stretch.end - begin) for stretch in held]
            yield made.to_log(), ends, visible, tolerance(job.gauge.interval)


def zoo_logs(jobs: int, seed: int) -> Iterator[Truth]:
    """Make so many logs of each trouble; a closing leaves a mark where the hold's rise stands out of step and noise."""
    for name in BY_NAME:
        for number in range(seed, seed + jobs if name not in ELSEWHERE else seed):
            drawn = sheet(name, number)
            try:
                log = drawn.read()
            except LogError:
                continue
            marked = drawn.leaves_mark and drawn.has_answer
            yield log, list(drawn.holds), [marked] * len(drawn.holds), tolerance(drawn.scene.sampling)


def clean_logs(jobs: int, seed: int) -> Iterator[Truth]:
    """Make so many clean logs, all of whose closings leave a mark."""
    for number in range(seed, seed + jobs):
        log, edges = random_job(number)
        ends = [(edge.start, edge.end) for edge in holds_of(edges)]
        yield log, ends, [True] * len(ends), tolerance(log.sampling)


def logs(jobs: int, seed: int) -> Iterator[Truth]:
    """Make logs: each with its holds, whether their closings leave a mark, and how far a start may miss. [s]"""
    yield from bench_logs(jobs, seed)
    yield from zoo_logs(jobs, seed)
    yield from clean_logs(10 * jobs, seed)


Holds = list[tuple[float, float]]
"""The holds that are found in one log. [s]"""


def answers(made: list[Truth]) -> list[Holds]:
    """Return the holds that are found in each log."""
    return [
        [(phase.start, phase.end) for phase in find.find_phases(log, inspect(log)) if phase.kind is Kind.HOLD]
        for log, *_ in made
    ]


def score(made: list[Truth], said: list[Holds]) -> tuple[int, int, int, int]:
    """Return marked holds, those found, those whose start is within the tolerance, and holds that are none."""
    marked = found = placed = extra = 0
    for (_, ends, visible, within), holds in zip(made, said, strict=True):
        used = set()
        for (start, end), is_visible in zip(ends, visible, strict=True):
            shared = [min(end, last) - max(start, first) for first, last in holds]
            best = int(np.argmax(shared)) if shared else -1
            is_same = best >= 0 and shared[best] >= 0.5 * min(holds[best][1] - holds[best][0], end - start)
            if is_same:
                used.add(best)
            if is_visible:
                miss = abs(holds[best][0] - start) if is_same else np.inf
                marked += 1
                found += miss <= max(0.25 * (end - start), within)
                placed += miss <= within
        extra += len(holds) - len(used)
    return marked, found, placed, extra


@contextmanager
def kept() -> Iterator[None]:
    """Work out readings, knots and path of each log once, for a while: what comes after them is tried many times."""
    memory: dict[tuple[str, int], tuple[Any, Any]] = {}

    def once(function: Callable[..., Any]) -> Callable[..., Any]:
        def remembered(first: Any, *more: Any) -> Any:
            key = function.__name__, id(first)
            if key not in memory:
                # What it was worked out from is kept as well, so that its id stays its own.
                memory[key] = first, function(first, *more)
            return memory[key][1]

        return remembered

    names = ("inspect", "prepare", "knots_of", "cheapest")
    homes = [globals() if name == "inspect" else vars(find) for name in names]
    usual = [home[name] for home, name in zip(homes, names, strict=True)]
    try:
        for home, name, function in zip(homes, names, usual, strict=True):
            home[name] = once(function)
        yield
    finally:
        for home, name, function in zip(homes, names, usual, strict=True):
            home[name] = function


@contextmanager
def changed(home: ModuleType, name: str, factor: float) -> Iterator[None]:
    """Multiply a constant wherever the room has it from its home, for a while."""
    value = getattr(home, name)
    rooms = [module for key, module in list(sys.modules.items()) if key.startswith("decay.phases.")]
    imported = re.compile(rf"from {home.__name__} import .*\b{name}\b")
    places = [home, *(module for module in rooms if imported.search(getsource(module)))]
    try:
        for module in places:
            setattr(module, name, type(value)(value * factor))
        yield
    finally:
        for module in places:
            setattr(module, name, value)


@dataclass(frozen=True, slots=True)
class Row:
    """What one constant does when it is halved and doubled: the score, and the logs whose holds are then others."""

    home: ModuleType
    name: str
    scores: tuple[tuple[int, int, int], ...]
    moved: tuple[int, ...]

    def __str__(self) -> str:
        text = f"{self.home.__name__.split('.')[-1]:9} {self.name:16} {getattr(self.home, self.name):6g}"
        for scored, moved in zip(self.scores, self.moved, strict=True):
            text += f"{', '.join(map(str, scored)):>18}{moved:6d}"
        return text


def row(made: list[Truth], usual: list[Holds], home: ModuleType, name: str) -> Row:
    """Halve and double one constant."""
    scores, moved = [], []
    for factor in (0.5, 2.0):
        with changed(home, name, factor):
            said = answers(made)
        scores.append(score(made, said)[1:])
        moved.append(sum(one != other for one, other in zip(said, usual, strict=True)))
    return Row(home, name, tuple(scores), tuple(moved))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=10, help="jobs of each kind and trouble")
    parser.add_argument("--seed", type=int, default=500, help="first seed")
    parser.add_argument("--tail", action="store_true", help="the constants beside the objective instead of its own")
    options = parser.parse_args()
    made = list(logs(options.jobs, options.seed))
    usual = answers(made)
    marked, *scored = score(made, usual)
    print(f"{len(made)} logs, {marked} holds that leave a mark: {scored[0]} found, {scored[1]} placed, "
          f"{scored[2]} extra")
    print(f"{'room':9} {'constant':16} {'value':>6}{'halved':>18} moved{'doubled':>18} moved")
    for is_early, constants in groupby(TAIL if options.tail else CONSTANTS, lambda one: one[0] in EARLY):
        with nullcontext() if is_early else kept():
            for home, name in constants:
                print(row(made, usual, home, name), flush=True)


if __name__ == "__main__":
    main()
