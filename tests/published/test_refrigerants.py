"""The packaged refrigerant table against the property library, at temperatures between its rows."""

from __future__ import annotations

import pytest

from decay.errors import RangeError
from decay.physics import refrigerant
from decay.physics.make_refrigerant_table import REFRIGERANTS

MUST_HAVE = {
    *("R-134a", "R-1234yf", "R-1234ze(E)", "R-410A", "R-32", "R-454B", "R-290", "R-600a", "R-744", "R-22"),
    *("R-12", "R-404A", "R-407C", "R-448A", "R-449A", "R-452A", "R-513A", "R-507A", "R-152a", "R-717"),
}
CELSIUS = (-27.3, -12.6, 2.2, 17.6, 26.9, 38.4)


def test_the_usual_refrigerants_are_there() -> None:
    assert set(refrigerant.names()) >= MUST_HAVE
    assert set(refrigerant.names()) == set(REFRIGERANTS)


def thin_viscosity(fluid: str, kelvin: float, pressure: float) -> float:
    """Return the library's viscosity at a low pressure, or at a lower one where its solver finds no root."""
    from CoolProp.CoolProp import PropsSI

    for share in (1.0, 0.9, 0.8, 0.7, 0.5):
        try:
            return float(PropsSI("V", "T", kelvin, "P", share * pressure, fluid))
        except ValueError:
            continue
    pytest.fail(f"no viscosity of {fluid} at {kelvin} K in the library")


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_table_matches_the_property_library(name: str) -> None:
    """Pressure within 0.1 %, density within 0.5 %, viscosity within 0.3 %; 2 % in the last tenth below critical."""
    from CoolProp.CoolProp import PropsSI

    fluid, ours = REFRIGERANTS[name], refrigerant.lookup(name)
    assert ours.molar_mass == pytest.approx(PropsSI("M", fluid), rel=1e-6)
    compared = 0
    for celsius in CELSIUS:
        kelvin = celsius + 273.15
        if kelvin > 0.985 * ours.critical_temperature:
            continue
        loose = 20 if kelvin > 0.9 * ours.critical_temperature else 1
        try:
            pressure = PropsSI("P", "T", kelvin, "Q", 0, fluid)
            density = PropsSI("D", "T", kelvin, "Q", 1, fluid)
        except ValueError:
            continue  # the library's own mixture solver fails at single states
        assert refrigerant.saturation_pressure(ours, kelvin) == pytest.approx(pressure, rel=1e-3)
        assert refrigerant.vapour_density(ours, kelvin) == pytest.approx(density, rel=min(5e-3 * loose, 0.02))
        viscosity = PropsSI("V", "T", kelvin, "Q", 1, fluid)
        saturated = refrigerant.vapour_viscosity(ours, kelvin, is_saturated=True)
        assert saturated == pytest.approx(viscosity, rel=min(3e-3 * loose, 0.02))
        # Thin vapour does not depend on pressure: half an atmosphere must give the table's number within 1.5 %.
        thin = thin_viscosity(fluid, kelvin, min(50e3, 0.5 * pressure))
        assert refrigerant.vapour_viscosity(ours, kelvin) == pytest.approx(thin, rel=0.015)
        compared += 1
    assert compared >= (3 if name == "R-23" else 4)


@pytest.mark.parametrize("written", ["R134a", "R-134a", "r 134A", "HFC-134a", "r134A", " R-134A "])
def test_a_name_is_found_however_it_is_written(written: str) -> None:
    assert refrigerant.lookup(written).name == "R-134a"


def test_other_names() -> None:
    for written, name in (("propane", "R-290"), ("CO2", "R-744"), ("R1234ze", "R-1234ze(E)"), ("R507", "R-507A")):
        assert refrigerant.lookup(written).name == name


def test_an_unknown_name_lists_the_nearest() -> None:
    with pytest.raises(RangeError, match=r"R-134a"):
        refrigerant.lookup("R-134b")
    with pytest.raises(RangeError, match=r"known are R-12"):
        refrigerant.lookup("water glass")


def test_saturated_r134a_against_a_printed_value() -> None:
    """R-134a at 20 degC: 571.7 kPa (check values; refrigerant tables print 571.7 to 572.1)."""
    assert refrigerant.saturation_pressure(refrigerant.lookup("R134a"), 293.15) == pytest.approx(571.7e3, abs=60)


def test_above_the_critical_temperature_there_is_no_saturation() -> None:
    co2 = refrigerant.lookup("R744")
    with pytest.raises(RangeError, match="no saturation"):
        refrigerant.saturation_pressure(co2, 308.15)
    alone = refrigerant.standing_state(co2, 308.15)
    assert alone.pressure == co2.critical_pressure
    assert not alone.is_saturated
    assert "depends on the fill" in alone.remarks[0]


@pytest.mark.parametrize("density", [50.0, 150.0, 300.0, 450.0])
@pytest.mark.parametrize("kelvin", [308.15, 323.15, 341.0])
def test_pressure_of_a_supercritical_charge(density: float, kelvin: float) -> None:
    """Peng and Robinson's equation against the library's reference equation for carbon dioxide: 6 %."""
    from CoolProp.CoolProp import PropsSI

    expected = PropsSI("P", "T", kelvin, "D", density, "CO2")
    standing = refrigerant.standing_state(refrigerant.lookup("R744"), kelvin, charge=density * 0.01, volume=0.01)
    assert standing.pressure == pytest.approx(expected, rel=0.06)


def test_a_charge_too_small_for_liquid_stands_below_saturation() -> None:
    r32 = refrigerant.lookup("R32")
    saturated = refrigerant.standing_state(r32, 298.15)
    little = refrigerant.standing_state(r32, 298.15, charge=0.010, volume=0.010)
    assert saturated.is_saturated
    assert not little.is_saturated
    assert little.pressure < 0.1 * saturated.pressure


def test_outside_the_table_is_an_error() -> None:
    with pytest.raises(RangeError, match="reaches from -40 to 70"):
        refrigerant.saturation_pressure(refrigerant.lookup("R134a"), 373.15)


def test_the_table_is_what_its_script_makes() -> None:
    from decay.physics.make_refrigerant_table import refrigerant_row, state_row

    head = refrigerant_row("R-134a", "R134a")
    ours = refrigerant.lookup("R-134a")
    assert float(head[3]) == pytest.approx(ours.critical_temperature, rel=1e-6)
    fresh = [float(cell) for cell in state_row("R-134a", "R134a", 293.15, float(head[3]))[2:]]
    at = list(ours.temperature).index(293.15)
    table = [float(column[at]) for column in (ours.standing_pressure, ours.vapour_density, ours.vapour_viscosity)]
    assert fresh[:3] == pytest.approx(table, rel=1e-4)
