"""What readings show that a valve was closed, and what leaves the same readings under a pump: all synthetic."""

from __future__ import annotations

import numpy as np
import pytest

from decay.log.pressure_log import Mark, PressureLog, Valve
from decay.phases import Kind, Phase, find_phases
from decay.phases.phase import ClosingEvidence
from decay.phases.readings import prepare
from decay.phases.rises import turns_sharply
from decay.quantities import MICRON

AT = 1800.0
LASTS = 3600.0


def after_pull(follows, sampling: float = 2.0, marks: tuple[Mark, ...] = ()) -> PressureLog:
    """Return half an hour of pull to 40 micron and an hour of what follows it [micron over s]."""
    time = np.arange(0.0, AT + LASTS, sampling)
    since = np.maximum(time - AT, 0.0)
    pull = 40.0 + 7.6e5 * np.exp(-time / 40.0) + 300.0 * np.exp(-time / 250.0)
    noise = np.random.default_rng(3).normal(0.0, 0.4, len(time))
    micron = np.round(np.where(time > AT, 40.0 + follows(since), pull) + noise)
    count = len(time)
    return PressureLog("made", time, micron * MICRON, np.arange(count), np.zeros(count, bool),
                       np.full(count, MICRON), "g", "micron", count, marks=marks)  # fmt: skip


def hold_of(log: PressureLog) -> Phase:
    (hold,) = (phase for phase in find_phases(log) if phase.kind is Kind.HOLD)
    return hold


@pytest.mark.parametrize(
    "follows",
    [
        lambda t: 3.0 * t / 60.0,
        lambda t: 30.0 * (1.0 - np.exp(-t / 4.0)) + 1.0 * t / 60.0,
        lambda t: 120.0 * (1.0 - np.exp(-t / 900.0)),
        lambda t: 40.0 * np.log1p(t / 900.0),
    ],
    ids=["a leak", "a jump and a leak", "damp that levels off slowly", "walls"],
)
def test_a_rise_that_goes_on_shows_that_the_valve_was_closed(follows):
    hold = hold_of(after_pull(follows))
    assert hold.start == pytest.approx(AT, abs=60.0)
    assert hold.is_shown


@pytest.mark.parametrize(
    "follows",
    [
        lambda t: 25.0 * (1.0 - np.exp(-t / 8.0)),
        lambda t: np.where(t > 0.0, 12.0, 0.0),
        lambda t: 200.0 * (1.0 - np.exp(-t / 100.0)),
        lambda t: 60.0 * (1.0 - np.exp(-t / 8.0)) + 8.0 * (1.0 - np.exp(-t / 1500.0)),
    ],
    ids=["ballast opened", "another gauge", "a valve half closed", "ballast opened, and its oil warms"],
)
def test_what_comes_to_rest_as_under_a_pump_shows_nothing(follows):
    assert not hold_of(after_pull(follows)).is_shown


def test_a_mark_says_what_the_readings_do_not_show():
    assert hold_of(after_pull(lambda t: 0.0 * t, marks=(Mark(AT, Valve.CLOSED),))).is_shown


def turn_of(follows, falling: float = 0.0) -> bool:
    """Return whether the readings turn where a valve was closed, after a slow fall [micron/min] to 100 micron."""
    time = np.arange(0.0, 2.0 * AT, 2.0)
    level = np.where(time > AT, 100.0 + follows(np.maximum(time - AT, 0.0)), 100.0 + falling * (AT - time) / 60.0)
    micron = np.round(level + np.random.default_rng(5).normal(0.0, 0.5, len(time)))
    count = len(time)
    log = PressureLog("made", time, micron * MICRON, np.arange(count), np.zeros(count, bool),
                      np.full(count, MICRON), "g", "micron", count)  # fmt: skip
    return turns_sharply(prepare(log), int(AT / 2.0))


@pytest.mark.parametrize(
    ("turns", "falling", "follows"),
    [
        (True, 0.0, lambda t: 8.0 * (1.0 - np.exp(-t / 5.0))),
        (True, 2.0, lambda t: 0.0 * t),
        (True, 0.0, lambda t: 2.0 * t / 60.0),
        (False, 0.0, lambda t: 0.0 * t),
        (False, 0.0, lambda t: 5.0 * (1.0 - np.exp(-t / 2000.0))),
        (False, 1.0, lambda t: -t / 60.0),
    ],
    ids=["a step", "the end of a fall", "a leak", "a chamber kept at one pressure", "its pump's oil warms", "a fall"],
)
def test_a_closing_turns_the_readings_within_minutes(turns, falling, follows):
    assert turn_of(follows, falling) is turns


def test_a_log_that_begins_with_the_hold_shows_no_turn():
    time = np.arange(0.0, LASTS, 2.0)
    count = len(time)
    log = PressureLog("made", time, np.round(100.0 + 10.0 * time / LASTS) * MICRON, np.arange(count),
                      np.zeros(count, bool), np.full(count, MICRON), "g", "micron", count)  # fmt: skip
    hold = hold_of(log)
    assert not hold.turns
    assert hold.closing(2.0) is ClosingEvidence.CREEPING
