"""Rises, leaks and their scaling against published examples, with the published ones that are wrong as traps."""

from __future__ import annotations

import math

import numpy as np
import pytest

from decay.errors import RangeError
from decay.physics import gas, leak
from tests.published.tables import half_last_digit, rows

FUNCTIONS = {
    "rise_rate": lambda first, last, time: (last - first) / time,
    "rise_throughput": lambda rise, time, volume: leak.rise_throughput(rise / time, volume),
    "spread_over_time": lambda amount, time: leak.rise_throughput(1.0 / time, amount),
    "laminar_ratio": leak.laminar_ratio,
    "critical_ratio": leak.critical_pressure_ratio,
}


@pytest.mark.parametrize("row", rows("rises.csv"), ids=lambda row: row["id"])
def test_published_example(row: dict[str, str]) -> None:
    result = float(FUNCTIONS[row["quantity"]](*map(float, row["arguments"].split()))) / float(row["unit"])
    printed = float(row["printed"])
    tolerance = float(row["relative"]) * printed if row["relative"] else half_last_digit(row["printed"])
    assert result == pytest.approx(printed, rel=0, abs=tolerance)


def test_molar_leak_of_the_regulation() -> None:
    """RR-1, 40 CFR 1065.644: 2 L from 25.3 to 50.6 kPa in 70 s at 293.15 K (inputs read; 0.00030 mol/s from memory)."""
    flow = gas.molar_flow(leak.rise_throughput((50600.0 - 25300.0) / 70.0, 0.0020000), 293.15)
    assert flow == pytest.approx(0.00030, abs=5e-6)


def test_ten_grams_of_refrigerant_as_gas() -> None:
    """RR-8: a handbook has "about 224 Pa m3" for 10 g R-134a (read): 0.6 % off at 0 degC, 7 % at 20 degC."""
    at_zero, at_twenty = (0.010 / 0.102 * gas.GAS_CONSTANT * t for t in (273.15, 293.15))
    assert at_zero == pytest.approx(224, rel=0.007)
    assert at_twenty == pytest.approx(239, rel=0.001)
    assert float(gas.mass_flow(at_zero, 0.102, 273.15)) == pytest.approx(0.010)


def test_choked_orifice() -> None:
    """Computed: 19.86 L/s a square centimetre for air at 20 degC, and 158.1 mbar L/s through 1 mm from atmosphere."""
    assert leak.choked_throughput(1e-4, 1.0, 293.15) * 1000 == pytest.approx(19.86, abs=0.01)
    assert leak.choked_throughput(math.pi / 4 * 1e-6, 101325.0, 293.15) * 10 == pytest.approx(158.1, abs=0.1)


def test_choked_orifice_is_not_the_articles() -> None:
    """The trap: an article has m = 0.0404 Cd A p/101325 (read), nearly six thousand times too little at 293 K."""
    area, pressure, temperature = 1e-6, 101325.0, 293.15
    right = float(
        gas.mass_flow(leak.choked_throughput(area, pressure, temperature), gas.AIR_MOLAR_MASS, temperature)
    )
    assert right == pytest.approx(0.0404 * area * pressure / math.sqrt(temperature), rel=0.002)
    assert right / (0.0404 * area * pressure / 101325.0) == pytest.approx(5920, rel=0.002)


def test_choked_ratio_is_downstream_over_upstream() -> None:
    assert leak.critical_pressure_ratio() < 1


def test_textbook_throat_pressure() -> None:
    """Cengel and Cimbala, Ex. 12.4: CO2 at 1.4 MPa and k = 1.289 chokes at 767 kPa (read; rounding from memory)."""
    assert 1.4e6 * leak.critical_pressure_ratio(1.289) == pytest.approx(767e3, abs=500)


@pytest.mark.parametrize(
    ("fluid", "molar_mass", "viscous", "molecular"),
    [
        ("Air", gas.AIR_MOLAR_MASS, 1.078, 0.3717),
        ("Nitrogen", 0.0280134, 1.116, 0.3780),
        ("Hydrogen", 0.00201588, 2.230, 1.409),
        ("R134a", 0.102032, 1.688, 0.1981),
        ("CO2", 0.0440098, 1.337, 0.3016),
    ],
)
def test_helium_to_other_gases(fluid: str, molar_mass: float, viscous: float, molecular: float) -> None:
    """Computed from the property library's viscosities at 20 degC and 1 atm; the law itself is the published part."""
    from CoolProp.CoolProp import PropsSI

    eta, helium = (PropsSI("V", "T", 293.15, "P", 101325, name) for name in (fluid, "Helium"))
    assert leak.laminar_ratio(2.0, 1.0, eta, 2.0, 1.0, helium) == pytest.approx(viscous, abs=0.001)
    assert leak.molecular_ratio(2.0, 1.0, molar_mass, 2.0, 1.0, 0.004002602) == pytest.approx(molecular, abs=2e-4)


def test_laminar_rise_solves_its_equation() -> None:
    time = np.linspace(0.0, 40_000.0, 4001)
    p = np.asarray(leak.laminar_rise(time, 100.0, 5.0))
    slope = np.gradient(p, time)[1:-1]
    assert slope == pytest.approx(5.0 * (1 - (p[1:-1] / 101325.0) ** 2), rel=1e-4, abs=1e-6)
    assert p[0] == pytest.approx(100.0)
    assert float(leak.laminar_rise(1e9, 100.0, 5.0)) == pytest.approx(101325.0)


def test_nonsense_is_an_error() -> None:
    for call in (
        lambda: leak.rise_throughput(1.0, 0.0),
        lambda: leak.laminar_ratio(2.0, 1.0, 0.0, 2.0, 1.0, 1.0),
        lambda: leak.molecular_ratio(2.0, 1.0, 0.1, 1.0, 1.0, 0.1),
        lambda: leak.critical_pressure_ratio(1.0),
        lambda: leak.choked_throughput(0.0, 1.0, 293.15),
        lambda: leak.laminar_rise(1.0, 2e5, 1.0),
    ):
        with pytest.raises(RangeError):
            call()
