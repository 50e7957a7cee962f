"""How gas moves between two volumes in one step of time: hose conductance, and the exact answer of the linear pair.

Scalar on purpose: one step costs microseconds. The tests hold these against `decay.physics` and against a general
matrix exponential.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, expm1, sqrt

from decay.physics.gas import GAS_CONSTANT, air_viscosity
from decay.physics.pump import KNUDSEN_RATIO, laminar_conductance, molecular_conductance


class HoseFlow:
    """The hose between the two volumes, ready for fast answers.

    Parameters
    ----------
    bore, length : float
        Of the hose. [m]
    temperature : float
        Of the gas. [K]
    molar_masses : sequence of float
        Of the gases, in the order in which they are asked for. [kg/mol]

    Notes
    -----
    As `decay.physics.pump.tube_conductance`, with the viscosity of air for the bulk flow whatever the mixture.
    Partial pressures level out as if each gas flowed by itself: true of molecular flow, and faster than
    true where the flow is viscous and the mixtures at both ends differ. Choking near atmosphere, which lasts
    seconds here, is left out.
    """

    def __init__(self, bore: float, length: float, temperature: float, molar_masses: Sequence[float]) -> None:
        viscosity = air_viscosity(temperature)
        self.laminar = float(laminar_conductance(bore, length, 1.0, viscosity))
        self.molecular = [molecular_conductance(bore, length, temperature, mass) for mass in molar_masses]
        self.knudsen = [bore / (viscosity * sqrt(GAS_CONSTANT * temperature / mass)) for mass in molar_masses]

    def conductance(self, gas: int, mean_pressure: float) -> float:
        """Return the conductance for one gas at a mean total pressure [Pa]. [m³/s]"""
        x = self.knudsen[gas] * mean_pressure
        return self.laminar * mean_pressure + self.molecular[gas] * (1.0 + x) / (1.0 + KNUDSEN_RATIO * x)


def _phi(z: float) -> tuple[float, float, float]:
    """Return exp(z), (exp(z) - 1)/z and ((exp(z) - 1)/z - 1)/z, also near zero."""
    if abs(z) < 1e-2:
        phi2 = 0.5 + z * (1 / 6 + z * (1 / 24 + z * (1 / 120 + z * (1 / 720 + z / 5040))))
        phi1 = 1.0 + z * phi2
        return 1.0 + z * phi1, phi1, phi2
    phi1 = expm1(z) / z
    return exp(z), phi1, (phi1 - 1.0) / z


def advance_alone(loss: float, source: float, pressure: float, h: float) -> tuple[float, float]:
    """Advance ``x' = source - loss x`` by ``h``; return x and its integral over the step. [Pa], [Pa·s]"""
    e, phi1, phi2 = _phi(-loss * h)
    return e * pressure + h * phi1 * source, h * (phi1 * pressure + h * phi2 * source)


def advance_pair(
    volumes: tuple[float, float],
    conductance: float,
    losses: tuple[float, float],
    sources: tuple[float, float],
    pressures: tuple[float, float],
    h: float,
) -> tuple[float, float, float, float]:
    """Advance two joined volumes by one step, exactly, with constant coefficients.

    ``V1 x1' = C (x2 - x1) - k1 x1 + q1`` and likewise for 2.

    Parameters
    ----------
    volumes : tuple of float
        The two volumes. [m³]
    conductance : float
        Between them. [m³/s]
    losses, sources : tuple of float
        ``k`` [m³/s] and ``q`` [Pa·m³/s] of each.
    pressures : tuple of float
        At the start. [Pa]
    h : float
        Length of the step. [s]

    Returns
    -------
    tuple of float
        The two pressures at the end [Pa] and their integrals over the step [Pa·s].
    """
    (v1, v2), (k1, k2), (q1, q2), (x1, x2) = volumes, losses, sources, pressures
    b1, b2 = q1 / v1, q2 / v2
    if conductance == 0.0:
        y1, i1 = advance_alone(k1 / v1, b1, x1, h)
        y2, i2 = advance_alone(k2 / v2, b2, x2, h)
        return y1, y2, i1, i2
    a11, a12 = -(conductance + k1) / v1, conductance / v1
    a21, a22 = conductance / v2, -(conductance + k2) / v2
    half, difference = 0.5 * (a11 + a22), 0.5 * (a11 - a22)
    root = sqrt(difference * difference + a12 * a21)
    fast = half - root
    # The slow eigenvalue from the product, not from the difference: it is exactly zero when nothing is lost.
    slow = (conductance * (k1 + k2) + k1 * k2) / (v1 * v2) / fast
    e_slow, f_slow, g_slow = _phi(slow * h)
    e_fast, f_fast, g_fast = _phi(fast * h)
    gap = slow - fast
    e, f, g = (e_slow - e_fast) / gap, (f_slow - f_fast) / gap, (g_slow - g_fast) / gap
    # Newton's form of a matrix function: f(A) v = f(s) v + f[s, t] (A - s) v.
    m11, m22 = a11 - slow, a22 - slow
    r1, r2 = m11 * x1 + a12 * x2, a21 * x1 + m22 * x2
    s1, s2 = m11 * b1 + a12 * b2, a21 * b1 + m22 * b2
    y1 = e_slow * x1 + e * r1 + h * (f_slow * b1 + f * s1)
    y2 = e_slow * x2 + e * r2 + h * (f_slow * b2 + f * s2)
    i1 = h * (f_slow * x1 + f * r1 + h * (g_slow * b1 + g * s1))
    i2 = h * (f_slow * x2 + f * r2 + h * (g_slow * b2 + g * s2))
    return y1, y2, i1, i2
