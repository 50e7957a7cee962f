"""Volumes from parts, by expansion, and as the bound that a pull gives."""

from __future__ import annotations

import math

import pytest

from decay.errors import DecayError, RangeError, UnitError
from decay.impact import volume_told as volume
from decay.impact.volume_told import read_hose, read_tube
from decay.interval import Interval
from decay.physics import pump

INCH = 0.0254


def test_tubes_by_their_bore() -> None:
    by_hand = math.pi * 0.01**2 / 4
    for text in ("10 mm bore x 1 m", "10 mm ID × 1 m long", "10 mm inside diameter by 1 m"):
        assert read_tube(text).volume.value == pytest.approx(by_hand)
    long = read_tube("3/8 in bore x 50 ft")
    assert long.volume.value == pytest.approx(math.pi * (0.375 * INCH) ** 2 / 4 * 50 * 0.3048)
    assert long.words == "3/8 in bore x 50 ft"


@pytest.mark.parametrize(("text", "area"), [
    # "Cross sectional area of bore", square inches: engineering web page "ASTM B280 Copper Tube" (read).
    ("1/4 in OD x 0.030 in wall", 0.0284),
    ("3/8 in OD x 0.032 in wall", 0.076),
    ("1/2 in OD x 0.035 in", 0.145),
    ("5/8 in outside x 0.035 in wall", 0.242),
    ("7/8 in", 0.484),
    ("1 1/8 in OD", 0.825),
    ("1 3/8 in copper", 1.26),
])
def test_tubes_by_outside_diameter_have_the_published_bore(text: str, area: float) -> None:
    tube = read_tube(f"{text} x 10 ft")
    assert tube.volume.value / (120.0 * INCH) / INCH**2 == pytest.approx(area, rel=0.006)


def test_a_bare_diameter_is_an_outside_one_and_says_what_was_taken() -> None:
    """Volumes were a third too large where 3/8 in tube was taken by its outside diameter as a bore."""
    bare, told = read_tube("3/8 in x 25 ft"), read_tube("3/8 in OD x 0.032 in wall x 25 ft")
    assert bare.volume.value == pytest.approx(told.volume.value)
    assert bare.volume.high > bare.volume.value  # a drawn length has the thinner wall
    assert "copper by ASTM B280" in bare.words
    assert read_tube("9.52 mm OD x 7.62 m").volume.value == pytest.approx(told.volume.value)


def test_hoses_are_named_by_their_bore() -> None:
    assert read_hose("6 mm x 1.5 m").volume.value == pytest.approx(math.pi * 0.006**2 / 4 * 1.5)
    for text in ("6 mm OD x 1.5 m", "6 mm x 1 mm x 1.5 m"):
        with pytest.raises(UnitError, match="bore"):
            read_hose(text)


def test_parts_add_up_and_keep_their_own_uncertainty() -> None:
    total = volume.from_parts(["10 mm bore x 1 m"], ["receiver 1.2 L +- 5 %", "2 L"], spread=0.1)
    tube = math.pi * 0.01**2 / 4
    assert total.value == pytest.approx(tube + 0.0032)
    assert total.high - total.value == pytest.approx(0.1 * tube + 0.05 * 0.0012 + 0.1 * 0.002)


@pytest.mark.parametrize("text", [
    "9.5 mm", "11 mm OD x 15 m", "15 m x 9.5 mm", "9.5 x 15 m", "0 mm x 1 m", "a x b", "9 mm bore x 1 mm x 15 m",
    "3/8 in OD x 0.2 in wall x 25 ft", "1 in x 1 in x 1 in x 1 in",
])
def test_bad_tubes_show_one_that_works(text: str) -> None:
    with pytest.raises(DecayError, match=r"like \"\d"):
        read_tube(text)


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
