"""Numbers in words: nothing shown that is not known, nothing known that is lost."""

from __future__ import annotations

import math

import pytest

from decay import wording
from decay.interval import Interval


@pytest.mark.parametrize(
    ("x", "shown"),
    [(0, "0"), (0.5, "0.5"), (12345.6, "12,300"), (999.6, "1,000"), (1e-9, "1.00e-9"), (math.inf, "no limit")],
)
def test_number(x, shown):
    assert wording.number(x) == shown


@pytest.mark.parametrize(
    ("interval", "shown"),
    [
        # Particle Data Group's examples of its rounding rule: 0.827 +- 0.119 -> 0.83 +- 0.12, +- 0.367 -> 0.8 +- 0.4.
        # The ends go outward, which is ours.
        (Interval(0.827, 0.827 - 0.119, 0.827 + 0.119), "0.83 u (0.70 to 0.95)"),
        (Interval(0.827, 0.827 - 0.367, 0.827 + 0.367), "0.8 u (0.4 to 1.2)"),
        (Interval(17535.0, 14500.0, 21000.0), "17,500 u (14,500 to 21,000)"),
        (Interval(3.0, 3.0, 3.0), "3.00 u"),
        (Interval(3.0, 2.0, math.inf), "3.0 u (2.0 to no limit)"),
    ],
)
def test_interval(interval, shown):
    assert wording.with_interval(interval, 1.0, "u") == shown


@pytest.mark.parametrize(
    ("seconds", "shown"), [(8, "8 s"), (600, "10 min"), (86400, "24 h"), (10 * 86400, "10 days"), (1e8, "3.2 years")]
)
def test_duration(seconds, shown):
    assert wording.duration(seconds) == shown


def test_units():
    # 1 micron of mercury is 0.133322 Pa (NIST SP 811)
    assert wording.pressure(66.661) == "500 micron"
    assert wording.rate(0.133322 / 60) == "1 micron/min"
    assert wording.celsius(288.71) == "15.6 °C"
    assert wording.between(*[1e-3 / (365.25 * 86400)] * 2) == "1 g/year"
