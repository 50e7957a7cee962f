"""The leaks that rules tolerate, by the property library's numbers, against what the impact room makes of them."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from decay import quantities
from decay.impact.assess import allowed_rise, assess
from tests.impact.test_assess import YEAR, car, exactly, grams_a_year


def test_order_of_magnitude_of_the_leaks_that_rules_tolerate() -> None:
    """A car's air conditioner may lose 40 g a year (EU Directive 2006/40/EC, one evaporator; second-hand).

    By Poiseuille's and Knudsen's laws with the property library's numbers, 20 degC and 3 L, a ten-minute hold then
    rises by a few tenths of a micron up to some thirteen: far below any customary line, and under a gauge's step.
    """
    from CoolProp.CoolProp import PropsSI

    def eased(pressure: float) -> float:
        density, eta = (PropsSI(what, "T", 293.15, "P", pressure, "R134a") for what in "DV")
        return float(density / eta)

    standing = PropsSI("P", "T", 293.15, "Q", 1, "R134a")
    drive, _ = quad(eased, 101325.0, standing * (1 - 1e-7))
    amount = 0.040 / YEAR / 0.102032 * 8.314462618 * 293.15  # Pa m3/s of refrigerant
    laminar = 0.040 / YEAR / drive * 101325.0**2 / (2 * PropsSI("V", "T", 293.15, "P", 101325, "Air"))
    molecular = amount * 101325.0 / (standing - 101325.0) * math.sqrt(0.102032 / 0.0289647)
    by_hand = [air / 0.003 * 600.0 / quantities.MICRON for air in (laminar, molecular)]
    assert 0.3 < by_hand[0] < 1.0
    assert 10.0 < by_hand[1] < 20.0
    for air, micron in zip((laminar, molecular), by_hand, strict=True):
        impact = assess(exactly(air / 0.003), 0.0, car(ambient=293.15))
        assert impact.loss is not None
        law = impact.loss.laminar if air == laminar else impact.loss.molecular
        assert grams_a_year(law) == pytest.approx(40.0, rel=0.003), micron
    rise = allowed_rise(car(allow=quantities.read_allowance("40 g/yr"), ambient=293.15, ambient_spread=0.0))
    assert rise is not None
    assert rise * 600.0 / quantities.MICRON == pytest.approx(by_hand[0], rel=0.003)
