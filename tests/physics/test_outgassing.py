"""Outgassing laws: rises are the integrals of their rates, and the published exponents and limits hold."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from decay.errors import RangeError
from decay.physics import gauge, outgassing


def test_pool_rise_is_the_integral_of_its_rate() -> None:
    area, _ = quad(lambda t: float(outgassing.pool_rate(t, 30.0, 400.0)), 0.0, 900.0)
    assert float(outgassing.pool_rise(900.0, 30.0, 400.0)) == pytest.approx(area)


@pytest.mark.parametrize("exponent", [0.5, 0.999999, 1.0, 1.3])
def test_power_law_rise_is_the_integral_of_its_rate(exponent: float) -> None:
    area, _ = quad(lambda t: float(outgassing.power_law_rate(t, 0.1, 3600.0, exponent)), 1800.0, 5400.0)
    assert float(outgassing.power_law_rise(1800.0, 5400.0, 0.1, 3600.0, exponent)) == pytest.approx(area)


def test_exponents_of_metal_and_seals() -> None:
    """A vacuum-technology handbook, 1.3.3 (read): metals fall with 1/t, plastics and seals with its square root."""
    assert outgassing.power_law_rate(4.0, 1.0, 1.0, 1.0) == pytest.approx(0.25)
    assert outgassing.power_law_rate(4.0, 1.0, 1.0, 0.5) == pytest.approx(0.5)


def test_logarithm_is_the_power_law_with_exponent_one() -> None:
    by_log = float(outgassing.logarithmic_rise(600.0, 5.0, 1800.0))
    assert by_log == pytest.approx(float(outgassing.power_law_rise(1800.0, 2400.0, 5.0 / 1800.0, 1800.0, 1.0)))


def test_slab() -> None:
    """Crank: early a square root, late one exponential, the two joined smoothly."""
    x = np.array([0.0099999, 0.0100001])
    near = np.asarray(outgassing.slab_share(x, 1.0, 1.0))
    assert near[1] - near[0] == pytest.approx(4 / math.sqrt(math.pi) * (math.sqrt(x[1]) - math.sqrt(x[0])), rel=1e-3)
    late = 1 - float(outgassing.slab_share(0.5, 1.0, 1.0))
    assert late == pytest.approx(8 / math.pi**2 * math.exp(-(math.pi**2) * 0.5), rel=1e-9)
    assert float(outgassing.slab_share(0.0, 1.0, 1.0)) == 0.0


def test_nonsense_is_an_error() -> None:
    for call in (
        lambda: outgassing.pool_rise(1.0, 1.0, 0.0),
        lambda: outgassing.power_law_rate(0.0, 1.0, 1.0, 1.0),
        lambda: outgassing.power_law_rise(0.0, 1.0, 1.0, 1.0, 1.0),
        lambda: outgassing.logarithmic_rise(1.0, 1.0, 0.0),
        lambda: outgassing.slab_share(-1.0, 1.0, 1.0),
    ):
        with pytest.raises(RangeError):
            call()


def test_water_on_a_gauge_for_air() -> None:
    """A laboratory gauge manual (read): true = 0.5 x indicated for water vapour, 0.7 for R-12, 1 for air."""
    water, old, air = (gauge.gas_factor(gas) for gas in ("water", "R-12", "air"))
    assert water is not None
    assert old is not None
    assert air is not None
    assert (water.low, old.value, air.value) == (0.5, 0.7, 1.0)
    assert gauge.gas_factor("R-32") is None
    assert gauge.true_pressure(1.0, "R-32") is None
