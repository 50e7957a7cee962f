"""Unit factors against published ones, and the published factors that are wrong and must not be reproduced."""

from __future__ import annotations

import pytest

from decay import quantities
from decay.physics import gas
from tests.published.tables import half_last_digit, rows

HOUR, YEAR = 3600.0, 365.25 * 86400.0


def in_si(kind: str, stated: str) -> float:
    return quantities.read_allowance(stated).value if kind == "allowance" else quantities.read_quantity(stated, kind)


@pytest.mark.parametrize("row", rows("units.csv"), ids=lambda row: row["id"])
def test_unit_factor(row: dict[str, str]) -> None:
    ours = in_si(row["kind"], row["stated"]) / float(row["unit_si"])
    assert ours == pytest.approx(float(row["printed"]), rel=0, abs=half_last_digit(row["printed"]))


def test_micromole_a_second_in_standard_cubic_centimetres() -> None:
    """NIST: 1 umol/s is 1.3448 sccm (0 degC, 101325 Pa)."""
    flow = 1e-6 * gas.GAS_CONSTANT * 273.15
    assert quantities.throughput_in(flow, "sccm", 273.15, 273.15) == pytest.approx(1.3448, abs=5e-5)


def test_standard_flow_does_not_depend_on_the_temperature_it_was_measured_at() -> None:
    warm = 1e-6 * gas.GAS_CONSTANT * 298.15
    assert quantities.throughput_in(warm, "sccm", 273.15, 298.15) == pytest.approx(1.3448, abs=5e-5)


def test_mass_of_a_throughput_needs_the_reference_temperature() -> None:
    """A unit page labels 1e-2 mbar L/s = 4.3e-5 kg/h = 375 g/a of air as 0 degC; that is 20 degC (read)."""
    flow = quantities.read_allowance("1e-2 mbar*L/s").value
    warm, cold = (float(gas.mass_flow(flow, gas.AIR_MOLAR_MASS, t)) for t in (293.15, 273.15))
    assert warm * HOUR == pytest.approx(4.3e-5, abs=0.05e-5)
    assert warm * YEAR * 1000 == pytest.approx(375, abs=0.5)
    assert cold * HOUR != pytest.approx(4.3e-5, abs=0.05e-5)


def test_ounce_of_air_a_year() -> None:
    """A leak-standard page: 1 oz/yr of air is 0.000696 atm cm3/s, at 0 degC (read); so with a year of 365 days."""
    a_year = quantities.read_allowance("1 oz/yr").value * 365.25 / 365.0
    flow = a_year / gas.AIR_MOLAR_MASS * gas.GAS_CONSTANT * 273.15
    assert quantities.throughput_in(flow, "atm cc/s", 273.15, 273.15) == pytest.approx(0.000696, abs=5e-7)


def test_wrong_published_factors_are_not_reproduced() -> None:
    """A calculator page has 1 mbar L/s = 750 sccm = 1.26 atm cc/s (read): twelve times and a quarter too much."""
    flow = quantities.read_allowance("1 mbar*L/s").value
    assert quantities.throughput_in(flow, "sccm", 273.15, 273.15) < 750 / 10
    assert quantities.throughput_in(flow, "atm cc/s", 273.15, 273.15) < 1.0


def test_micron_and_millitorr_agree_to_a_few_parts_in_ten_million() -> None:
    """Conventional mmHg against torr: NIST SP 811 has 133.3224 Pa for both."""
    assert quantities.PRESSURE_UNITS["mTorr"] == pytest.approx(quantities.MICRON, rel=2e-7)
    assert quantities.PRESSURE_UNITS["mTorr"] != quantities.MICRON


def test_pressure_units_against_the_unit_library() -> None:
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(cache_folder=None)
    for ours, theirs in (("Torr", "torr"), ("mmHg", "mmHg"), ("inHg", "inHg"), ("psia", "psi"), ("bar", "bar")):
        factor = float(registry.Quantity(1.0, theirs).to("pascal").magnitude)
        assert quantities.PRESSURE_UNITS[ours] == pytest.approx(factor, rel=1e-6), ours


@pytest.mark.parametrize("celsius", [-20.0, 0.0, 24.0, 50.0])
def test_temperatures_against_the_unit_library(celsius: float) -> None:
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(cache_folder=None)
    kelvin = float(registry.Quantity(celsius, "degC").to("kelvin").magnitude)
    fahrenheit = float(registry.Quantity(celsius, "degC").to("degF").magnitude)
    assert quantities.read_temperature(f"{celsius} degC") == pytest.approx(kelvin)
    assert quantities.read_temperature(f"{fahrenheit} degF") == pytest.approx(kelvin)
