"""A cold and a warm log of one job, from readings to verdict and from the command line (synthetic)."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache

import pytest
from click.testing import CliRunner

from decay.judge.finding import Cause
from decay.log.pressure_log import PressureLog
from decay.pipeline import analyze_job
from decay.report.document import document
from decay.several.warm import Condition, Warmed
from decay.simulation.apparatus import Ambient
from decay.simulation.job import Job, Step
from decay.simulation.kinds import Gas, StepKind
from decay.simulation.simulated_run import SimulatedRun, run
from decay.simulation.sources import Leak, Pool
from decay.system import System
from decay_cli.main import decay
from tests.bench.jobs import RATE
from tests.report.test_document import VALIDATOR

# What would settle an open pair is not asked here.
pytestmark = pytest.mark.usefixtures("not_followed_up")

COLD, WARM = 294.15, 311.15
VOLUME = 3.15e-3
STARTED = datetime(2026, 3, 14, 8, 30)


@cache
def two_holds(leak: float, pool: float) -> SimulatedRun:
    """Return a run with a cold hold and, 17 K warmer, another: a leak and a slow pool, both in micron/min."""
    steps = (
        Step(StepKind.REST, 20.0), Step(StepKind.PUMP, 1800.0), Step(StepKind.HOLD, 1800.0),
        Step(StepKind.PUMP, 900.0, temperature=WARM), Step(StepKind.HOLD, 900.0, temperature=WARM),
    )
    slow = 6 * 1800.0
    sources = (Pool(pool * RATE * slow * VOLUME, slow, Gas.WATER, activation=55e3),) if pool else ()
    leaks = (Leak(leak * RATE),) if leak else ()
    return run(Job(leaks=leaks, pools=sources, steps=steps, seed=5, ambient=Ambient(temperature=COLD)))


def parts(simulated: SimulatedRun, *, is_dated: bool = True) -> list[PressureLog]:
    """Return the run as two logs, cut where the first hold ends, each on a clock of its own."""
    log = simulated.to_log()
    cut = simulated.holds[0].end - simulated.readings.time[0]
    logs = []
    for keep in (log.time <= cut, log.time > cut):
        arrays = {name: getattr(log, name)[keep] for name in ("pressure", "line", "is_over_range", "step")}
        begin = (STARTED + timedelta(seconds=float(log.time[keep][0]))).isoformat() if is_dated else None
        time = log.time[keep] - log.time[keep][0]
        logs.append(replace(log, time=time, rows=len(time), started=begin, **arrays))
    return logs


TOLD = (System(ambient=COLD), System(ambient=WARM))


def codes(analysis):
    return {f.code for f in (*analysis.verdict.reasons, *analysis.verdict.caveats)}


def test_a_leak_is_named_by_the_pair():
    last = analyze_job(parts(two_holds(6.0, 6.0)), TOLD, warmed=Warmed.ALL)[-1]
    assert last.verdict.cause in (Cause.LEAK, Cause.LEAK_AND_OUTGASSING)
    assert 0.0 < last.basis.leak.low < 6.0 * RATE < last.basis.leak.high
    assert last.basis.leak.width < last.warm.alone.width
    assert "J05" in codes(last)
    assert "J01" not in codes(last)


def test_a_leak_alone_has_no_energy():
    assert abs(analyze_job(parts(two_holds(12.0, 0.0)), TOLD, warmed=Warmed.ALL)[-1].warm.energy) < 8e3


def test_a_slow_source_is_not_named_and_shows_its_energy():
    last = analyze_job(parts(two_holds(0.0, 12.0)), TOLD, warmed=Warmed.ALL)[-1]
    assert last.basis.leak.low == 0.0
    assert last.basis.leak.high < last.warm.alone.high
    assert last.warm.energy > 20e3
    assert "J06" in codes(last)


@pytest.mark.parametrize(("told", "warmed", "is_dated", "missing"), [
    (TOLD, None, True, Condition.WARMED),
    (TOLD, Warmed.ALL, False, Condition.CLOCK),
    ((System(ambient=COLD), System(ambient=COLD + 12.0)), Warmed.ALL, True, Condition.DIFFERENCE),
])
def test_what_is_missing_is_named_and_each_hold_stands_alone(told, warmed, is_dated, missing):
    last = analyze_job(parts(two_holds(12.0, 0.0), is_dated=is_dated), told, warmed=warmed)[-1]
    assert last.warm.failed == (missing,)
    assert last.joint is None
    assert {"J07"} == codes(last) & {"J01", "J05", "J07"}


def test_at_one_temperature_the_holds_are_fitted_as_before():
    last = analyze_job(parts(two_holds(12.0, 0.0)), System(ambient=COLD))[-1]
    assert last.warm is None
    assert "J01" in codes(last)


def write(logs, folder):
    names = []
    for name, log in zip(("cold.csv", "warm.csv"), logs, strict=True):
        began = datetime.fromisoformat(log.started)
        rows = [f"{(began + timedelta(seconds=float(t))).isoformat()},{p / 0.133322387415:.0f}"
                for t, p in zip(log.time, log.pressure, strict=True) if p == p]
        (folder / name).write_text("time,pressure [micron]\n" + "\n".join(rows) + "\n")
        names.append(str(folder / name))
    return names


def ask(*words):
    return CliRunner().invoke(decay, ["analyze", *words, "--no-plot", "--quiet"])


def test_from_the_command_line(tmp_path):
    cold, warm = write(parts(two_holds(12.0, 0.0)), tmp_path)
    pair = (cold, warm, "--same-job", "--ambient", "21 degC", "--ambient", "38 degC")
    answered = ask(*pair, "--warmed", "all")
    assert "Cold and warm hold together (21 °C and 38 °C) show a leak" in " ".join(answered.output.split())
    assert "--warmed all" in ask(*pair).output
    assert ask(cold, warm, "--ambient", "21 degC", "--ambient", "38 degC").exit_code == 2
    assert ask(cold, warm, "--same-job", *("--ambient", "21 degC") * 3).exit_code == 2


def test_the_document_tells_what_the_warm_hold_added():
    analysis = analyze_job(parts(two_holds(4.0, 0.0)), TOLD, warmed=Warmed.ALL)
    told = document(analysis[-1])
    VALIDATOR.validate(told)
    warm = told["warm"]
    with_it, without = (warm[key]["rate_micron_per_min"] for key in ("leak", "leak_without_warm_hold"))
    assert 0.0 < with_it["low"] < 4.0 < with_it["high"]
    assert with_it["high"] - with_it["low"] < without["high"] - without["low"]
    assert warm["conditions_not_met"] == []
    assert warm["temperatures_k"] == [COLD, WARM]
    assert abs(warm["apparent_activation_energy_j_per_mol"]) < 10e3


def test_a_document_without_a_warm_hold_has_no_such_block():
    assert "warm" not in document(analyze_job(parts(two_holds(4.0, 0.0))[:1], TOLD[:1])[-1])
