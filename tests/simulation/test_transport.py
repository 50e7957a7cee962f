"""The exact step of two joined volumes, and the fast hose, against general methods."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import expm

from decay.physics.gas import AIR_MOLAR_MASS, WATER_MOLAR_MASS
from decay.physics.pump import tube_conductance
from decay.simulation.transport import HoseFlow, advance_alone, advance_pair


@pytest.mark.parametrize("pressure", [1e-3, 0.5, 13.3, 66.7, 1e3, 1e5])
@pytest.mark.parametrize(("index", "mass"), [(0, AIR_MOLAR_MASS), (1, WATER_MOLAR_MASS)])
def test_the_fast_hose_is_the_physics_hose(pressure, index, mass):
    hose = HoseFlow(0.006, 1.5, 293.15, (AIR_MOLAR_MASS, WATER_MOLAR_MASS))
    expected = tube_conductance(0.006, 1.5, pressure, 293.15, molar_mass=mass)
    assert hose.conductance(index, pressure) == pytest.approx(float(expected), rel=1e-12)


@pytest.mark.parametrize("bore_pressure", [0.05, 0.4, 5.0, 60.0])
def test_the_hose_agrees_with_the_handbook_interpolation(bore_pressure):
    # Handbook form for air at 20 °C in L/s, cm, mbar: 135 d^4 p/l + 12.1 d^3/l (1 + 192 d p)/(1 + 237 d p);
    # source: Fundamentals of Vacuum Technology, eq. 1.26, through public code that quotes it. Its constants have
    # three digits.
    d, length = 0.6, 150.0
    p = bore_pressure / d
    handbook = 135 * d**4 * p / length + 12.1 * d**3 / length * (1 + 192 * d * p) / (1 + 237 * d * p)
    hose = HoseFlow(d / 100, length / 100, 293.15, (AIR_MOLAR_MASS,))
    assert hose.conductance(0, p * 100) * 1000 == pytest.approx(handbook, rel=0.01)


@pytest.mark.parametrize("conductance", [0.0, 1e-6, 5e-5, 0.1])
@pytest.mark.parametrize("losses", [(0.0, 0.0), (0.0, 1.4e-3), (2e-4, 3e-5)])
@pytest.mark.parametrize("h", [1e-3, 0.7, 15.0])
def test_a_step_is_the_matrix_exponential(conductance, losses, h):
    volumes, sources, start = (3e-3, 1.5e-4), (2e-4, 7e-5), (40.0, 900.0)
    v1, v2 = volumes
    matrix = np.zeros((5, 5))
    matrix[0, :3] = [-(conductance + losses[0]) / v1, conductance / v1, sources[0] / v1]
    matrix[1, :3] = [conductance / v2, -(conductance + losses[1]) / v2, sources[1] / v2]
    matrix[3, 0] = matrix[4, 1] = 1.0      # the integrals
    expected = expm(matrix * h) @ np.array([*start, 1.0, 0.0, 0.0])
    got = advance_pair(volumes, conductance, losses, sources, start, h)
    assert np.array(got) == pytest.approx(expected[[0, 1, 3, 4]], rel=1e-9)


def test_a_closed_pair_loses_nothing():
    volumes = (3e-3, 1.5e-4)
    x = (10.0, 5000.0)
    before = volumes[0] * x[0] + volumes[1] * x[1]
    for h in (1e-4, 0.1, 3.0, 100.0):
        x = advance_pair(volumes, 5e-5, (0.0, 0.0), (0.0, 0.0), x, h)[:2]
    assert volumes[0] * x[0] + volumes[1] * x[1] == pytest.approx(before, rel=1e-13)
    assert x[0] == pytest.approx(x[1], rel=1e-6)


def test_a_volume_alone_relaxes():
    x, area = advance_alone(0.5, 3.0, 10.0, 2.0)
    assert x == pytest.approx(6.0 + 4.0 * np.exp(-1.0), rel=1e-14)
    assert area == pytest.approx(12.0 + 8.0 * (1.0 - np.exp(-1.0)), rel=1e-14)
