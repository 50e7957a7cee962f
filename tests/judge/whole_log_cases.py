"""Cases that the whole log decides, whatever was taken for a hold: a raising one and a near miss for each finding."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from decay.judge.answer import IfClosed
from decay.judge.case import Case
from decay.phases.phase import Begun, ClosingEvidence
from decay.quantities import MICRON
from tests.judge.factories import ISOLATION, make_case, make_fit, make_log, make_phase, rates

HOUR = 3600.0


def log_of(before: Any, hold: Any, after: Any = (), sampling: float = 10.0, **changes: Any) -> Any:
    """Return a log of microns before, in and after a hold that begins where the factories let it; nan is over range."""
    values = np.concatenate((np.asarray(before, float), np.asarray(hold, float), np.asarray(after, float)))
    log = make_log(values, sampling=sampling, **changes)
    return replace(log, time=log.time - sampling * len(np.asarray(before)))


def flat(micron: float, seconds: float, sampling: float = 10.0) -> np.ndarray:
    """Return readings that stand still."""
    return np.full(int(seconds / sampling), micron)


_FALL = 250.0 + 7e5 * np.exp(-np.arange(0.0, ISOLATION, 10.0) / 60.0)
PULL = np.where(_FALL > 25_000.0, np.nan, _FALL)
"""Half an hour from above the gauge's range to 250 micron."""


def after_hold(after: Any, *, begun: Begun = Begun.READINGS, **fit: Any) -> Case:
    """Return a quiet hour at 250 micron and what the log shows after it."""
    made = make_fit(**fit)
    phase = replace(make_phase(made), begun=begun)
    held = flat(250.0, made.duration + 10.0)
    held[3::7] += 1.0  # a gauge that reads stirs by a step; one number all the time may be the bottom of its range
    return make_case(made, log=log_of(PULL, held, after), phases=(phase,))


def before_hold(before: Any) -> Case:
    """Return a quiet hour, and what the log shows between the pull and it."""
    before = np.asarray(before, float)
    level = float(before[-1])
    fit = make_fit(start=level)
    return make_case(fit, log=log_of(np.concatenate((PULL, before)), flat(level, HOUR + 10.0)))


def at_pump(bottom: float) -> Case:
    """Return a pull that creeps to 240 micron, drops to another pressure within half a minute, and stands there."""
    creep = np.linspace(250.0, 240.0, 60)
    drop = bottom + (240.0 - bottom) * np.exp(-np.arange(1.0, 7.0))
    fit = make_fit(start=bottom, rise=0.0)
    log = log_of(np.concatenate((PULL, creep, drop)), flat(bottom, HOUR + 10.0))
    return make_case(fit, log=log, phases=(replace(make_phase(fit), begun=Begun.END_OF_FALL),))


def beside_hold(level: float, rise: float) -> Case:
    """Return a quiet hour with a second gauge that stands higher by a factor, and rises by itself [micron]."""
    log = log_of(PULL, 250.0 + np.linspace(0.0, 0.5, 361))
    other = level * log.pressure
    held = log.time >= ISOLATION
    other[held] += np.linspace(0.0, rise, np.count_nonzero(held)) * MICRON
    return make_case(log=replace(log, other_gauges={"far end": other}))


def at_bottom(before: np.ndarray, stir: float = 0.0) -> Case:
    """Return an hour at 40 micron, stirring now and then or not, and the last readings of the pull before it."""
    fit = make_fit(start=40.0, rise=0.0)
    held = flat(40.0, HOUR + 10.0)
    held[3::7] += stir
    return make_case(fit, log=log_of(np.concatenate((PULL, before)), held))


def no_hold_then(rise: Any, sampling: float = 1.0) -> Case:
    """Return a pull, a rise, and five minutes at what follows it, with no hold found."""
    tail = np.full(300, np.nan)
    return make_case(has_hold=False, log=log_of(PULL, flat(250.0, 20.0), (*rise, *tail), sampling))


JUMP_AT = 1800.0
"""When after the closing the gauge jumps. [s]"""


def jumping(rise: np.ndarray, size: float) -> Any:
    """Return the pull and an hour of microns with noise, which jump by so much after half of it."""
    time = 10.0 * np.arange(len(rise))
    noise = np.random.default_rng(4).normal(0.0, 0.4, len(rise))
    return log_of(PULL, rise + noise + np.where(time > JUMP_AT, size, 0.0))


LOOSE = rates(0.0, 0.0, 5.0)
IF_CLOSED = IfClosed(ISOLATION + 60.0, ISOLATION + HOUR, rates(0.0, 0.0, 0.1), 0.1 * MICRON, make_case().outcome)
CREEP = 250.0 + np.linspace(0.0, 80.0, 60)
"""Ten minutes at 8 micron/min."""
TO_ATMOSPHERE = (250.0, 90_000.0, 400_000.0, 760_000.0, 760_000.0, 760_000.0)
STRAIGHT = np.arange(2_000.0, 24_000.0, 1_000.0)
"""To a range of 25,000 micron at 60,000 micron/min, in readings of a second."""
SLOWING = 17_000.0 * (1.0 - np.exp(-np.arange(1.0, 60.0) / 12.0))
"""Towards the saturation of water at 20 °C (17,500 micron), where this gauge ends."""

CASES: list[tuple[str, Case, Case]] = [
    # What follows: the hold goes on and rises; near miss: somebody let air in.
    ("P12", after_hold(CREEP), after_hold(TO_ATMOSPHERE)),
    # The same sudden rise where nothing tells that the valve had been closed.
    ("P12", after_hold(TO_ATMOSPHERE, begun=Begun.END_OF_FALL), after_hold(flat(252.0, 600.0))),
    # What leads up: the end of the range after a gross rise; near miss: rig and system meet.
    ("P12", before_hold((250.0, 6_000.0, 12_000.0, 20_000.0)), before_hold((250.0, 300.0, 330.0, 340.0))),
    # A hold cut in pieces, of which the last is judged.
    ("P12", before_hold(CREEP), before_hold(250.0 + 0.1 * (CREEP - 250.0))),
    # Slower than the hold excludes, and above the line of 500 micron at the end.
    ("P13", after_hold(np.linspace(250.0, 620.0, 800), leak=LOOSE),
     after_hold(np.linspace(250.0, 480.0, 800), leak=LOOSE)),
    # At 60,000 micron/min off the range; near miss: after an hour's hold that readings tell it is gas let in.
    ("H25", no_hold_then(STRAIGHT), after_hold((*STRAIGHT, *np.full(60, np.nan)))),
    # Within a second, as somebody lets air in or a fitting comes off; near miss: after such a hold.
    ("H25", no_hold_then(()), after_hold(np.full(60, np.nan))),
    # Nobody said that the valve was closed, and the readings do not show it; near miss: they do.
    ("P19", make_case(closing=ClosingEvidence.STEP), make_case()),
    ("P19", make_case(closing=ClosingEvidence.CREEPING), make_case()),
    # A fall within a minute to the pump's own limit, after a pull that had become slow; near miss: the pull goes on.
    ("P15", at_pump(15.0), at_pump(230.0)),
    ("P15", beside_hold(1.5, 600.0), beside_hold(1.5, 0.0)),
    ("P16", beside_hold(1.25, 0.0), beside_hold(1.05, 0.0)),
    # A gauge whose range ends at 40 micron meets it at full speed; near miss: a pull that slows down to it.
    ("P14", at_bottom(np.array((300.0, 200.0, 120.0, 70.0))), at_bottom(np.array((43.0, 42.0, 41.0, 41.0)), 1.0)),
    # A gauge exchanged for one that reads 40 micron more; near miss: the same within two minutes.
    ("P18", make_case(log=jumping(np.full(361, 250.0), 40.0)),
     make_case(log=jumping(250.0 + np.clip((np.arange(361) - 180.0) / 0.3, 0.0, 40.0), 0.0))),
    ("P17", make_case(has_hold=False, if_closed=IF_CLOSED), make_case(has_hold=False)),
    ("H25", no_hold_then(SLOWING), after_hold((*STRAIGHT, *np.full(60, np.nan)))),
]  # fmt: skip
