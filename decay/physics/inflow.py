"""How a leak's inflow fades as the vessel fills towards the pressure outside."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.constants import STANDARD_ATMOSPHERE
from decay.errors import RangeError


def laminar_inflow(
    pressure: float | FloatArray, atmosphere: float = STANDARD_ATMOSPHERE
) -> float | FloatArray:
    r"""Return the inflow through a long fine path as a share of that into an empty volume.

    .. math:: Q/Q_0 = 1 - (p/p_a)^2

    Parameters
    ----------
    pressure : float or ndarray, shape (n,)
        Pressure inside. [Pa]
    atmosphere : float
        Pressure outside. [Pa]

    Returns
    -------
    float or ndarray, shape (n,)
        The share, zero from the pressure outside on. [-]

    Examples
    --------
    >>> laminar_inflow(101325.0 / 2)
    0.75

    References
    ----------
    .. [1] Poiseuille's law of a compressible gas, throughput as the difference of squared pressures; any vacuum
       handbook.
    """
    ratio = np.clip(np.asarray(pressure, dtype=float) / atmosphere, 0.0, 1.0)
    share = 1.0 - ratio**2
    return float(share) if share.ndim == 0 else share


def orifice_inflow(
    pressure: float | FloatArray, atmosphere: float = STANDARD_ATMOSPHERE, heat_ratio: float = 1.4
) -> float | FloatArray:
    r"""Return the inflow through an orifice as a share of that into an empty volume.

    .. math:: Q/Q_0 = \sqrt{\frac{x^{2/k} - x^{(k+1)/k}}{x_c^{2/k} - x_c^{(k+1)/k}}}, \quad x = p/p_a

    One up to the critical ratio :math:`x_c`, where the flow is choked.

    Parameters
    ----------
    pressure : float or ndarray, shape (n,)
        Pressure inside. [Pa]
    atmosphere : float
        Pressure outside. [Pa]
    heat_ratio : float
        Ratio of specific heats. [-]

    Returns
    -------
    float or ndarray, shape (n,)
        The share, zero from the pressure outside on. [-]

    Raises
    ------
    RangeError
        If the ratio of specific heats is not above one.

    Examples
    --------
    >>> orifice_inflow(50e3)
    1.0
    >>> round(orifice_inflow(0.9 * 101325.0), 3)
    0.617

    References
    ----------
    .. [1] de Saint-Venant and Wantzel, *Journal de l'École Polytechnique* 16 (1839) 85; the isentropic nozzle of any
       gas-dynamics text.
    """
    k = heat_ratio
    if k <= 1:
        raise RangeError(f"the ratio of specific heats is above one, got {k:g}")
    critical = (2.0 / (k + 1.0)) ** (k / (k - 1.0))
    ratio = np.clip(np.asarray(pressure, dtype=float) / atmosphere, critical, 1.0)
    most = critical ** (2.0 / k) - critical ** ((k + 1.0) / k)
    share = np.sqrt(np.maximum(ratio ** (2.0 / k) - ratio ** ((k + 1.0) / k), 0.0) / most)
    return float(share) if share.ndim == 0 else share
