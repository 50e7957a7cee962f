"""Inflow into a vessel that fills, against published tables of the nozzle and Poiseuille's law."""

from __future__ import annotations

import math

import numpy as np
import pytest

from decay.errors import RangeError
from decay.physics import leak_flow


@pytest.mark.parametrize(
    ("pressure_ratio", "area_ratio"), [(0.9725, 2.9635), (0.8430, 1.3398), (0.6560, 1.0382), (0.5283, 1.0)]
)
def test_orifice_inflow_is_the_isentropic_nozzle_s(pressure_ratio: float, area_ratio: float) -> None:
    """NACA Report 1135 (1953), table I, k = 1.4, M = 0.2, 0.5, 0.8, 1.0 (from memory): p/p_t and A/A*, flow as A*/A."""
    share = leak_flow.orifice_inflow(pressure_ratio * 101325.0)
    assert share == pytest.approx(1.0 / area_ratio, rel=1e-3)


def test_an_orifice_is_choked_below_the_critical_ratio() -> None:
    assert leak_flow.orifice_inflow(np.array([0.0, 10e3, 53e3])) == pytest.approx(1.0)
    assert leak_flow.orifice_inflow(np.array([101325.0, 2e5])) == pytest.approx(0.0)


def test_laminar_inflow_is_poiseuille_s() -> None:
    """Poiseuille for a gas: Q = pi d^4 / (256 eta L) (p1^2 - p2^2), as vacuum handbooks print it (from memory)."""
    d, length, eta, outside = 20e-6, 0.01, 18.2e-6, 101325.0
    inside = np.array([0.0, 20e3, 60e3, 101325.0])
    flow = math.pi * d**4 / (256 * eta * length) * (outside**2 - inside**2)
    assert leak_flow.laminar_inflow(inside) == pytest.approx(flow / flow[0])


def test_nonsense_is_an_error() -> None:
    with pytest.raises(RangeError):
        leak_flow.orifice_inflow(1.0, heat_ratio=1.0)
