"""What is noise and what is rise: synthetic holds with a gauge that wanders by a known amount, or not at all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from decay.fit.measured import measure

from .holds import MICRON, hold_log, levelling, steady


def wander_of(rise, seed, *, wander=0.0, memory=60.0, **options):
    """Return the wander that is found in a hold whose gauge wanders by so much. [micron, s]"""
    log, phase = hold_log(rise, step=1e-6, seed=seed, **options)
    distance = float(log.time[1])
    kept = np.exp(-distance / memory)
    drawn = wander * np.random.default_rng([seed, 1]).standard_normal(len(log.time))
    slow = np.empty_like(drawn)
    slow[0] = drawn[0]
    for i in range(1, len(drawn)):
        slow[i] = kept * slow[i - 1] + (1 - kept**2) ** 0.5 * drawn[i]
    log = replace(log, pressure=log.pressure + slow * MICRON)
    return measure(log, phase, None, 3.0).noise.wander / MICRON


@pytest.mark.parametrize("height", [50.0, 500.0, 2000.0])
@pytest.mark.parametrize("length", [900.0, 3600.0, 14400.0])
def test_a_rise_that_levels_off_is_no_wander(height, length):
    found = [wander_of(levelling(height, 600.0), seed, length=length) for seed in range(5)]
    assert np.median(found) < 0.07


@pytest.mark.parametrize("rise", [steady(0.0), levelling(500.0, 600.0)], ids=["dry", "damp"])
def test_a_true_wander_is_found(rise):
    found = [wander_of(rise, seed, wander=1.0, length=3600.0) for seed in range(20)]
    assert np.mean(found) == pytest.approx(1.0, abs=0.15)
