"""Before and after on jobs of the forward model whose truth is known."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from decay.analysis import Analysis
from decay.comparison import Change, compare
from decay.errors import FitError
from decay.pipeline import Ahead, analyze_log
from decay.quantities import MICRON, read_allowance
from decay.report.compare_report import compare_document, compare_text, headlines
from decay.report.document import dumps
from decay.report.plot_overlay import draw_compare
from decay.simulation.job import Job, Step
from decay.simulation.kinds import StepKind
from decay.simulation.simulated_run import run
from decay.simulation.sources import Leak, Pool, Surface
from decay.system import System

from .pairs import counted

PER_MINUTE = MICRON / 60.0
WHOLE = 3.15e-3


def judged(leak: float, damp: float, seed: int = 1, *, hold: float = 1800.0) -> Analysis:
    """Judge a job with a leak [micron/min] and a part that levels off at a pressure [micron] within minutes."""
    pools = ()
    if damp:
        held = damp * MICRON * WHOLE
        pools = (Pool(60.0 * held, 200.0 * 60.0, equilibrium=damp * MICRON),)
    job = Job(
        leaks=(Leak(leak * PER_MINUTE),) if leak else (),
        pools=pools,
        surfaces=(Surface(0.05 * PER_MINUTE * WHOLE),),
        steps=(Step(StepKind.REST, 30.0), Step(StepKind.PUMP, 3000.0), Step(StepKind.HOLD, hold)),
        seed=seed,
        name=f"leak {leak:g}, damp {damp:g}",
    )
    simulated = run(job)
    # Where the hold lies is told: in the dry, tight job it leaves no mark, and finding it is not what is tried here.
    first, truth = simulated.readings.time[0], simulated.holds[0]
    return analyze_log(simulated.to_log(), System(ambient=296.0), hold=(truth.start - first, truth.end - first),
                   ahead=Ahead.NOTHING)


@pytest.fixture(scope="module")
def holds():
    return {(leak, damp): judged(leak, damp, seed) for seed, (leak, damp) in enumerate(
        [(40.0, 0.0), (10.0, 0.0), (10.0, 200.0), (0.0, 0.0), (0.0, 200.0)], start=1)}


@pytest.mark.parametrize(("before", "after", "change"), [
    ((40.0, 0.0), (10.0, 0.0), Change.BETTER),     # a repair
    ((10.0, 0.0), (40.0, 0.0), Change.WORSE),      # a fitting opened
    ((40.0, 0.0), (0.0, 0.0), Change.BETTER),
    ((10.0, 0.0), (10.0, 0.0), Change.CANNOT_TELL),  # the interval of the difference is a little too wide for "same"
    ((0.0, 0.0), (0.0, 0.0), Change.SAME),
])
def test_a_leak_that_changed_is_told(holds, before, after, change):
    found = compare(holds[before], holds[after])
    assert found.leak.change is change
    truth = (after[0] - before[0]) * PER_MINUTE
    assert found.leak.difference.low <= truth <= found.leak.difference.high


def test_drier_is_never_called_a_smaller_leak(holds):
    # A sweep: the damp is gone and the leak has grown. Less rise in the first minutes must not hide that.
    found = compare(holds[10.0, 200.0], holds[40.0, 0.0])
    assert found.leak.change is Change.WORSE
    assert found.outgassing.difference.value < 0


def test_dryness_is_an_answer_of_its_own(holds):
    found = compare(holds[0.0, 200.0], holds[0.0, 0.0])
    assert found.outgassing.change is Change.BETTER
    assert found.leak.change in (Change.SAME, Change.CANNOT_TELL)


def test_a_hold_too_short_to_tell_says_so(holds):
    short = judged(10.0, 200.0, 9, hold=300.0)
    found = compare(short, judged(9.0, 200.0, 10, hold=300.0))
    assert found.leak.change is Change.CANNOT_TELL
    assert found.span < 310.0


def test_a_wide_interval_is_never_called_the_same(holds):
    """Five damp minutes leave several micron/min open either way: whether a leak grew by one cannot be told."""
    found = compare(judged(0.0, 200.0, 11, hold=300.0), judged(1.0, 200.0, 12, hold=300.0))
    assert max(-found.leak.difference.low, found.leak.difference.high) > found.leak.same_within
    assert found.leak.change is Change.CANNOT_TELL


def test_what_is_allowed_counts_as_the_same(holds):
    before, after = holds[10.0, 0.0], holds[40.0, 0.0]
    hold = after.holds[after.decisive].fit
    system = replace(after.system, allow=read_allowance("50 micron/min"))
    told = analyze_log(after.log, system, hold=(hold.start, hold.end))
    assert compare(before, told).leak.same_within == pytest.approx(50 * PER_MINUTE)


def test_no_pair_is_called_the_opposite_of_the_truth():
    """A quick look; `python -m tests.comparison.pairs` draws five hundred pairs."""
    for counts in counted(14, 60).values():
        assert not [answer for answer in counts if "against" in answer]
        assert sum(counts.values()) == 60


def test_a_gauge_at_zero_is_no_improvement(holds):
    before, after = holds[(40.0, 0.0)], holds[(0.0, 0.0)]
    hold = after.holds[after.decisive].fit
    log = after.log
    dead = analyze_log(replace(log, pressure=np.where(log.time >= hold.start, 0.0, log.pressure)), after.system,
                   hold=(hold.start, hold.end))
    assert compare(before, after).leak.change is Change.BETTER
    found = compare(before, dead)
    assert found.leak.change is found.outgassing.change is Change.CANNOT_TELL
    assert "zero" in compare_text(found).splitlines()[0]


def test_a_hold_against_itself_is_said_to_be_the_same_one(holds):
    same, other = (compare(holds[10.0, 0.0], holds[after]) for after in ((10.0, 0.0), (40.0, 0.0)))
    assert all("nothing to compare" in line for line in headlines(same))
    assert not any("nothing to compare" in line for line in headlines(other))


def test_a_log_without_a_hold_cannot_be_compared(holds):
    job = Job(steps=(Step(StepKind.REST, 30.0), Step(StepKind.PUMP, 600.0)), seed=1)
    empty = analyze_log(run(job).to_log())
    if empty.decisive is None:
        with pytest.raises(FitError, match="nothing to compare"):
            compare(holds[0.0, 0.0], empty)
    else:
        pytest.fail("a pull alone was taken for a hold")


def test_text_document_and_picture_say_the_same(holds):
    found = compare(holds[40.0, 0.0], holds[10.0, 0.0])
    text = compare_text(found)
    assert text.startswith("LEAK: the leak is smaller than it was, by ")
    assert text.splitlines()[1].startswith("DRYNESS: ")
    assert "\nVERDICT: LEAK BETTER, DRYNESS " in text
    assert "smallest leak it could show" in text
    assert compare_text(found, ascii_only=True).isascii()
    document = json.loads(dumps(compare_document(found)))
    assert document["comparison"]["leak"]["change"] == "better"
    assert document["comparison"]["leak"]["difference"]["rate_micron_per_min"]["high"] < 0
    assert document["before"]["holds"]
    figure = draw_compare(found)
    rises, leak, outgassing = figure.axes
    assert "[micron]" in rises.get_ylabel()
    assert "[micron/min]" in leak.get_title(loc="left")
    assert "[micron]" in outgassing.get_title(loc="left")
    assert sum("fitted rise" in text for text in rises.get_legend_handles_labels()[1]) == 2
