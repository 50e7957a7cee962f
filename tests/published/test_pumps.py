"""Pumpdown times, conductances and molecular speeds against published examples."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from decay.errors import RangeError
from decay.physics import gas, pump
from tests.published.tables import half_last_digit, rows


def line_conductance(speed: float, effective: float) -> float:
    """Return the conductance that takes a pump's speed down to the effective one. [m³/s]"""
    return float(brentq(lambda c: float(pump.effective_speed(speed, c)) - effective, 1e-6, 1.0))


FUNCTIONS = {
    "pumpdown_time": pump.pumpdown_time,
    "effective_speed": pump.effective_speed,
    "mean_speed": gas.mean_speed,
    "laminar_conductance": pump.laminar_conductance,
    "molecular_conductance": pump.molecular_conductance,
    "line_conductance": line_conductance,
}


@pytest.mark.parametrize("row", rows("pumps.csv"), ids=lambda row: row["id"])
def test_published_example(row: dict[str, str]) -> None:
    result = float(FUNCTIONS[row["function"]](*map(float, row["arguments"].split()))) / float(row["unit"])
    printed = float(row["printed"])
    tolerance = float(row["relative"]) * printed if row["relative"] else half_last_digit(row["printed"])
    assert result == pytest.approx(printed, rel=0, abs=tolerance)


def handbook_air(diameter_cm: float, length_cm: float, mean_mbar: float) -> float:
    """Return the handbook's conductance of a tube for air at 20 degC. [L/s]"""
    x = diameter_cm * mean_mbar
    transition = 12.1 * diameter_cm**3 / length_cm * (1 + 192 * x) / (1 + 237 * x)
    return 135 * diameter_cm**4 / length_cm * mean_mbar + transition


@pytest.mark.parametrize("micron", [0.001, 1, 10, 50, 200, 500, 1000, 10000])
@pytest.mark.parametrize(("bore", "length"), [(0.00635, 1.524), (0.009525, 0.9144)])
def test_tube_conductance_is_the_handbooks_for_air(micron: float, bore: float, length: float) -> None:
    """A vacuum handbook's eq. 1.26 (read): its constants are rounded to 1 %."""
    ours = 1000 * float(pump.tube_conductance(bore, length, micron * 0.133322, 293.15))
    assert ours == pytest.approx(handbook_air(100 * bore, 100 * length, micron * 0.00133322), rel=0.01)


def test_conductance_takes_the_mean_pressure_not_the_drop() -> None:
    """The trap: a public copy of eq. 1.26 calls p the pressure drop. Laminar Q = pi d^4 (p1^2 - p2^2)/(256 eta l)."""
    p1, p2, d, length, eta = 500.0, 300.0, 0.01, 1.0, 1.82e-5
    exact = math.pi * d**4 * (p1**2 - p2**2) / (256 * eta * length)
    with_mean = float(pump.laminar_conductance(d, length, (p1 + p2) / 2, eta)) * (p1 - p2)
    with_drop = float(pump.laminar_conductance(d, length, p1 - p2, eta)) * (p1 - p2)
    assert with_mean == pytest.approx(exact, rel=1e-12)
    assert with_drop < 0.6 * exact


def test_molecular_conductance_goes_with_the_cube_and_the_root() -> None:
    """The trap: tables that print 12.1 d^4/l, or divide by sqrt(M) where the air's M is in the 12.1 already."""
    one = pump.molecular_conductance(0.01, 1.0, 293.15)
    assert pump.molecular_conductance(0.02, 1.0, 293.15) == pytest.approx(8 * one)
    assert pump.molecular_conductance(0.01, 1.0, 293.15, 4 * gas.AIR_MOLAR_MASS) == pytest.approx(one / 2)
    d_cm, l_cm = 2.0, 100.0
    wrong = 12.1 * d_cm**3 / (l_cm * math.sqrt(28.96))
    assert 1000 * pump.molecular_conductance(d_cm / 100, l_cm / 100, 293.15) > 5 * wrong


def test_mean_speed_of_air_is_not_nitrogens() -> None:
    """The trap: a handbook quotes 471 m/s as air at 293 K; that is nitrogen."""
    assert gas.mean_speed(293.0) == pytest.approx(462.8, abs=0.1)


def test_minimum_of_knudsens_curve() -> None:
    """Computed from the handbook's equation: C/C_mol falls to 0.952 in transition flow before laminar flow sets in."""
    pressures = np.logspace(-2, 3, 2001)
    ratio = np.asarray(pump.tube_conductance(0.01, 1.0, pressures, 293.15)) / pump.molecular_conductance(
        0.01, 1.0, 293.15
    )
    assert ratio.min() == pytest.approx(0.952, abs=0.004)


def test_viscosity_of_air_matches_the_property_library() -> None:
    from CoolProp.CoolProp import PropsSI

    for kelvin in (238.0, 269.0, 293.15, 301.0, 337.0):
        assert gas.air_viscosity(kelvin) == pytest.approx(PropsSI("V", "T", kelvin, "P", 101325, "Air"), rel=0.0015)


def test_a_target_below_the_ultimate_pressure_is_never_reached() -> None:
    assert pump.pumpdown_time(1.0, 1.0, 1e5, 5.0, 5.0) == math.inf


def test_nonsense_is_an_error() -> None:
    for call in (
        lambda: pump.pumpdown_time(0.0, 1.0, 1e5, 1e3),
        lambda: pump.pumpdown_time(1.0, 1.0, 1e3, 1e5),
        lambda: pump.effective_speed(1.0, 0.0),
        lambda: pump.tube_conductance(0.0, 1.0, 1.0, 293.15),
        lambda: gas.air_viscosity(20.0),
    ):
        with pytest.raises(RangeError):
            call()
