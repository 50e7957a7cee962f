"""Several logs of one job: order, clock, one leak for all, and a change in between that is named."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

import decay
from decay import wording
from decay.analysis import Analysis
from decay.interface import log_from
from decay.judge.finding import Result
from decay.log.pressure_log import Mark, PressureLog, Valve
from decay.pipeline import Ahead, analyze_job, analyze_log
from decay.quantities import MICRON
from decay.report.detail import summary
from decay.report.document import document
from decay.simulation.job import Job, Step
from decay.simulation.kinds import StepKind
from decay.simulation.simulated_run import run
from decay.simulation.sources import Leak, Surface
from decay.system import System
from decay.together import order_of

PER_MINUTE = MICRON / 60.0
WHOLE = 3.15e-3
WARM = System(ambient=296.0)


@cache
def whole_job(leak: float, repaired: float | None = None, seed: int = 4) -> PressureLog:
    """Return three holds in one log; a repair lets the leak fall before the third."""
    steps = [Step(StepKind.REST, 30.0), Step(StepKind.PUMP, 2400.0), Step(StepKind.HOLD, 1200.0)]
    for _ in range(2):
        steps += [Step(StepKind.SWEEP, 120.0, until=60000.0), Step(StepKind.PUMP, 1500.0), Step(StepKind.HOLD, 1200.0)]
    leaks = [Leak(leak * PER_MINUTE)] if leak else []
    if repaired is not None:
        # The forward model's leaks only open: a leak that opens before the third hold is the change.
        leaks.append(Leak(repaired * PER_MINUTE, opens_at=6500.0))
    job = Job(
        leaks=tuple(leaks),
        surfaces=(Surface(3.0 * PER_MINUTE * WHOLE, 0.9),),
        steps=tuple(steps),
        seed=seed,
        name="three holds",
    )
    return run(job).to_log()


def parted(log: PressureLog, *cuts: float) -> list[PressureLog]:
    """Return one log cut into several at times, each on a clock of its own."""
    edges = [float("-inf"), *cuts, float("inf")]
    parts = []
    for number, (a, b) in enumerate(pairwise(edges)):
        keep = (log.time >= a) & (log.time < b)
        arrays = {name: getattr(log, name)[keep] for name in ("pressure", "line", "is_over_range", "step")}
        time = log.time[keep]
        hour, minute = divmod(int(time[0]) // 60, 60)
        begin = f"2026-03-20T{8 + hour:02d}:{minute:02d}:{int(time[0]) % 60:02d}"
        parts.append(replace(log, time=time - time[0], rows=int(keep.sum()), source=f"part {number + 1}",
                             started=begin, **arrays))
    return parts


CUTS = (3650.0, 6450.0)


@pytest.fixture(autouse=True)
def answers_alone(monkeypatch):
    """Rank no tests that would settle a hold: what is asked here is what the logs say together."""
    monkeypatch.setattr("decay.pipeline.next_tests", lambda *_, **__: ())


@cache
def judged_apart() -> tuple[Analysis, ...]:
    """Return the answers about the three logs of a job that leaks all the time."""
    return analyze_job(parted(whole_job(6.0), *CUTS), WARM)


def test_logs_of_one_job_give_what_one_log_gives():
    together = analyze_log(whole_job(6.0), WARM, ahead=Ahead.NOTHING).joint
    apart = judged_apart()
    assert len(apart) == 3
    joint = apart[-1].joint
    assert len(joint.each) == len(together.each) == 3
    assert joint.elsewhere == (("part 1", 0), ("part 2", 0))
    assert joint.holds_used == (0,)
    assert joint.leak.low <= 6.0 * PER_MINUTE <= joint.leak.high
    assert together.leak.low <= 6.0 * PER_MINUTE <= together.leak.high
    # Cut within a sweep, the logs no longer tell it from a vent; the upper end does not depend on that.
    assert joint.leak.high == pytest.approx(together.leak.high, rel=0.15)


def test_the_job_resolves_what_its_last_log_does_not():
    apart = judged_apart()
    last = apart[-1]
    assert last.joint.is_leak_seen
    assert last.joint.leak.low > last.holds[-1].fit.leak.low
    assert "J01" in {finding.code for finding in last.verdict.reasons}
    assert "J03" in {finding.code for finding in last.verdict.caveats}


def test_order_is_that_of_the_clocks():
    parts = parted(whole_job(6.0), *CUTS)
    shuffled = [parts[2], parts[0], parts[1]]
    assert [shuffled[i].source for i in order_of(shuffled)] == ["part 1", "part 2", "part 3"]
    # Without a clock the given order stands.
    unknown = [replace(log, started=None) for log in shuffled]
    assert [unknown[i].source for i in order_of(unknown)] == ["part 3", "part 1", "part 2"]


def test_without_a_clock_less_is_claimed():
    parts = parted(whole_job(6.0), *CUTS)
    known = judged_apart()[-1].joint
    unknown = analyze_job([replace(log, started=None) for log in parts], WARM)[-1].joint
    assert unknown.leak.low <= known.leak.low + 0.05 * PER_MINUTE


def test_a_change_between_logs_is_named():
    apart = analyze_job(parted(whole_job(2.0, 60.0), *CUTS), WARM)
    last = apart[-1]
    assert not last.joint.is_homogeneous
    (finding,) = [finding for finding in last.verdict.reasons if finding.code == "J02"]
    assert "part 1" in finding.summary
    assert "homogeneity" in finding.summary


def test_a_pull_that_stands_still_is_not_fitted_as_a_hold():
    analysis = analyze_log(whole_job(6.0), WARM, ahead=Ahead.NOTHING)
    assert all(analysis.holds[i].fit.rise > 0 for i in analysis.joint.holds_used)


def test_every_report_of_a_joint_verdict_takes_the_same_leak_and_limit():
    analysis = analyze_log(whole_job(4.0), WARM)
    basis, joint = analysis.basis, analysis.joint
    assert basis.is_joint
    assert (basis.leak, basis.detection_limit) == (joint.leak, joint.detection_limit)
    assert basis.detection_limit != analysis.holds[analysis.decisive].fit.detection_limit  # else nothing is shown here
    verdict = document(analysis)["verdict"]
    assert verdict["detection_limit_micron_per_min"] == pytest.approx(basis.detection_limit / PER_MINUTE)
    assert verdict["leak"]["high"] == pytest.approx(basis.leak.high / PER_MINUTE)
    front = summary(analysis).split("Log\n")[0]
    assert wording.rate_interval(basis.leak) in front
    assert wording.bound(basis.detection_limit) in front


def test_a_stretch_before_the_valve_was_closed_by_the_logs_own_word_denies_no_leak():
    # Synthetic: the pull stands at its limit for minutes before the mark, and 0.45 micron/min leak after it.
    walls = Surface(0.1 * PER_MINUTE * WHOLE, 0.9)
    job = Job(leaks=(Leak(0.45 * PER_MINUTE),), surfaces=(walls,), seed=1002, name="marked",
              steps=(Step(StepKind.REST, 30.0), Step(StepKind.PUMP, 2440.0), Step(StepKind.HOLD, 915.0)))
    made = run(job)
    closed = Mark(float(made.holds[-1].start), Valve.CLOSED, "CLOSED", "valve", None)
    analysis = analyze_log(replace(made.to_log(), marks=(closed,)), WARM, ahead=Ahead.NOTHING)
    assert analysis.joint is None
    assert analysis.basis.leak.high >= 0.45 * PER_MINUTE


def damp_then(second: float, steady: float) -> Analysis:
    """Return the answer about a damp hold and a later one: a share of the first one's curve and a steady rise more."""
    rng = np.random.default_rng(3)
    time = np.arange(0.0, 3600.0, 10.0)

    def rise(elapsed: np.ndarray) -> np.ndarray:
        return 700.0 * (1.0 - np.exp(-elapsed / 1400.0)) + 1.0 * elapsed / 60.0

    micron = np.select(
        [time < 270.0, time < 2080.0, time < 2210.0],
        [180.0 + 60000.0 * np.exp(-time / 25.0), 187.0 + rise(time - 270.0),
         84.0 + 680.0 * np.exp(-(time - 2080.0) / 18.0)],
        84.0 + second * rise(time - 2210.0) + steady * (time - 2210.0) / 60.0,
    )
    frame = pd.DataFrame({"s": time, "micron": np.round(micron + rng.normal(0.0, 0.4, len(time)))})
    return decay.analyze(frame, pressure="micron", time="s", unit="micron")


@pytest.mark.parametrize(("second", "steady", "disagree"), [(0.25, 13.0, True), (0.95, 0.0, False)])
def test_a_leak_that_opens_behind_damp_walls_is_no_outgassing(second, steady, disagree):
    # Synthetic, by formula: what the first hold gives off would nearly make the second one, were it not to bend.
    found = damp_then(second, steady)
    assert len(found.holds) == 2
    assert ("J02" in {finding.code for finding in found.verdict.reasons}) is disagree
    if disagree:
        assert found.verdict.result is not Result.PASS
        assert "a leak stays" in found.summary(detail=True).replace("\n    ", " ")


def after_air(second: float, steady: float) -> Analysis:
    """Return the answer about two logs of one job, air let in between: a damp hold, then a share of it and a rise."""
    rng = np.random.default_rng(5)
    time = np.arange(0.0, 2000.0, 10.0)
    elapsed = np.maximum(time - 200.0, 0.0)
    logs = []
    for number, (share, more) in enumerate(((1.0, 0.5), (second, steady))):
        rise = share * 200.0 * (1.0 - np.exp(-elapsed / 500.0)) + more * elapsed / 60.0
        micron = np.where(time < 200.0, 760000.0 * np.exp(-np.maximum(time - 30.0, 0.0) / 11.0), 0.0) + 90.0 + rise
        stamps = pd.Timestamp("2026-03-02T08:00:00") + pd.to_timedelta(time + 4000.0 * number, unit="s")
        frame = pd.DataFrame({"time": stamps, "micron": np.round(micron + rng.normal(0.0, 0.4, len(time)))})
        logs.append(log_from(frame, pressure="micron", unit="micron"))
    return analyze_job(logs)[-1]


@pytest.mark.parametrize(("second", "steady", "disagree"), [(1.0, 4.0, True), (1.0, 0.5, False)])
def test_a_hold_before_air_came_in_does_not_excuse_a_faster_one(second, steady, disagree):
    # Synthetic, by formula. Air fills the walls anew, and then they explain any rise; a leak may have opened as well.
    found = after_air(second, steady)
    assert ("J02" in {finding.code for finding in found.verdict.reasons}) is disagree
    assert (found.joint.leak.high >= 4.0 * PER_MINUTE) is False
    assert (found.leak.high >= 4.0 * PER_MINUTE) is disagree
