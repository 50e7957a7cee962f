"""Volumes from parts, by expansion, and as the bound that a pull gives."""

from __future__ import annotations

import math

import pytest

from decay.errors import DecayError, RangeError, UnitError
from decay.impact import volume
from decay.interval import Interval
from decay.physics import pump


def test_tubes() -> None:
    assert volume.tube("10 mm bore x 1 m") == pytest.approx(math.pi * 0.01**2 / 4)
    assert volume.tube("10 mm × 1 m") == volume.tube("10 mm ID x 1 m long") == volume.tube("10 mm bore x 1 m")
    assert volume.tube("3/8 in bore x 50 ft") == pytest.approx(math.pi * (0.375 * 0.0254) ** 2 / 4 * 50 * 0.3048)


def test_parts_add_up_and_keep_their_own_uncertainty() -> None:
    total = volume.from_parts(["10 mm bore x 1 m"], ["receiver 1.2 L +- 5 %", "2 L"], spread=0.1)
    tube = volume.tube("10 mm bore x 1 m")
    assert total.value == pytest.approx(tube + 0.0032)
    assert total.high - total.value == pytest.approx(0.1 * tube + 0.05 * 0.0012 + 0.1 * 0.002)


@pytest.mark.parametrize("text", ["9.5 mm", "9.5 mm OD x 15 m", "15 m x 9.5 mm", "9.5 x 15 m", "0 mm x 1 m", "a x b"])
def test_bad_tubes_show_one_that_works(text: str) -> None:
    with pytest.raises(DecayError, match=r"like \"\d"):
        volume.tube(text)


def test_bad_parts() -> None:
    with pytest.raises(UnitError, match=r"receiver 1\.2 L"):
        volume.part("receiver")
    with pytest.raises(UnitError):
        volume.from_parts()
    with pytest.raises(RangeError):
        volume.from_parts(["10 mm bore x 1 m"], spread=1.5)


def test_expansion_conserves_gas() -> None:
    known, system, before, vacuum = 0.001, 0.0042, 2.5e5, 40.0
    after = (known * before + system * vacuum) / (known + system)
    found = volume.by_expansion(Interval(known, 0.00099, 0.00101), before, vacuum, after, accuracy=0.002)
    assert found.value == pytest.approx(system)
    assert found.low < system < found.high
    assert found.high / found.low < 1.05


def test_expansion_refuses_readings_that_cannot_be() -> None:
    one = Interval(0.001, 0.001, 0.001)
    with pytest.raises(RangeError, match="between the two"):
        volume.by_expansion(one, 2e5, 0.0, 2.1e5)
    with pytest.raises(RangeError, match="close together"):
        volume.by_expansion(one, 1.01e5, 1e5, 1.005e5, accuracy=0.02)


def test_a_pull_bounds_the_volume_from_above_behind_any_hose() -> None:
    speed, true_volume = 0.0028, 0.005
    for conductance in (1e-4, 1e-3, 1.0):
        tau = true_volume / float(pump.effective_speed(speed, conductance))
        assert volume.upper_bound(speed, Interval(tau, tau, tau)) >= true_volume
    with pytest.raises(RangeError):
        volume.upper_bound(0.0, Interval(1.0, 1.0, 1.0))
