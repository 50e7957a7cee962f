"""Water against published tables, a general property library, and its own triple point."""

from __future__ import annotations

import math

import numpy as np
import pytest

from decay.errors import RangeError
from decay.physics import water
from tests.published.tables import half_last_digit, rows


@pytest.mark.parametrize("row", rows("water.csv"), ids=lambda row: row["id"])
def test_saturation_pressure_matches_the_table(row: dict[str, str]) -> None:
    kelvin = float(row["kelvin"]) if row["kelvin"] else float(row["celsius"]) + 273.15
    of = water.saturation_pressure_over_ice if row["phase"] == "ice" else water.saturation_pressure_over_liquid
    unit, printed = float(row["unit_pa"]), float(row["printed"])
    tolerance = float(row["relative"]) * printed if row["relative"] else half_last_digit(row["printed"])
    assert float(of(kelvin)) / unit == pytest.approx(printed, rel=0, abs=tolerance)


@pytest.mark.parametrize("celsius", [0.5, 7.0, 18.0, 24.0, 33.0, 61.0, 120.0])
def test_liquid_matches_the_property_library(celsius: float) -> None:
    from CoolProp.CoolProp import PropsSI

    expected = PropsSI("P", "T", celsius + 273.15, "Q", 0, "Water")
    assert water.saturation_pressure(celsius + 273.15) == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize("kelvin", [275.0, 293.15, 310.0])
def test_the_vapour_s_viscosity_is_the_property_library_s(kelvin: float) -> None:
    from CoolProp.CoolProp import PropsSI

    expected = PropsSI("V", "T", kelvin, "P", 100.0, "Water")
    assert water.thin_viscosity(kelvin) == pytest.approx(expected, rel=2e-3)


def test_ice_and_liquid_meet_at_the_triple_point_only() -> None:
    t = water.TRIPLE_POINT_TEMPERATURE
    ice, liquid = water.saturation_pressure_over_ice(t), water.saturation_pressure_over_liquid(t)
    assert ice == pytest.approx(liquid, rel=1e-6)
    # 20 K below it supercooled liquid stands a fifth higher than ice: the curves must not be mixed up.
    assert water.saturation_pressure_over_liquid(t - 20) / water.saturation_pressure_over_ice(t - 20) > 1.2
    assert water.saturation_pressure(t - 20) == water.saturation_pressure_over_ice(t - 20)
    assert water.saturation_pressure(t + 20) == water.saturation_pressure_over_liquid(t + 20)


@pytest.mark.parametrize(
    ("millimetres", "celsius"),
    # Hygrometer manual, table A-1 (read), ice; a reference table in kPa (read), liquid: the same as in water.csv, read
    # the other way round.
    [(0.776, -20), (1.950, -10), (3.013, -5), (0.8726 / 0.133322, 5), (1.2281 / 0.133322, 10), (2.3388 / 0.133322, 20)],
)
def test_saturation_temperature(millimetres: float, celsius: float) -> None:
    assert water.saturation_temperature(millimetres * 133.322) - 273.15 == pytest.approx(celsius, abs=0.03)


def test_saturation_pressure_of_an_array_keeps_nan() -> None:
    result = np.asarray(water.saturation_pressure(np.array([250.0, math.nan, 300.0])))
    assert np.isnan(result[1])
    assert np.isfinite(result[[0, 2]]).all()


def test_outside_the_equations_is_an_error() -> None:
    for call in (
        lambda: water.saturation_pressure(700.0),
        lambda: water.saturation_pressure_over_ice(280.0),
        lambda: water.saturation_temperature(-1.0),
    ):
        with pytest.raises(RangeError):
            call()


def test_share_that_must_evaporate_to_freeze_the_rest() -> None:
    """A university's answer page: a gram that evaporates freezes more than one gram (7.5 g by the latent heats)."""
    rest = water.LATENT_HEAT_VAPORISATION / water.LATENT_HEAT_FUSION
    assert rest == pytest.approx(7.5, abs=0.05)
    assert 1 / (1 + rest) == pytest.approx(0.1176, abs=5e-5)


def test_latent_heat_follows_from_the_curve_by_clausius_clapeyron() -> None:
    for kelvin, rel in ((250.0, 0.005), (283.15, 0.01), (303.15, 0.01)):
        up, down = (float(water.saturation_pressure(kelvin + d)) for d in (0.05, -0.05))
        slope = math.log(up / down) / 0.1
        expected = slope * 8.314462618 * kelvin**2 / 0.018015268
        assert water.latent_heat(kelvin) == pytest.approx(expected, rel=rel)
