"""How much quicker a thermally activated source is when it is warmer: Arrhenius' law and its inverse."""

from __future__ import annotations

import numpy as np

from decay.errors import RangeError
from decay.physics.gas import GAS_CONSTANT


def arrhenius_factor(energy: float, cold: float, warm: float) -> float:
    r"""Return by how much a thermally activated source is quicker at one temperature than at another.

    .. math:: F = \exp\left[\frac{E}{R} \left(\frac{1}{T_1} - \frac{1}{T_2}\right)\right]

    Parameters
    ----------
    energy : float
        Activation energy. [J/mol]
    cold, warm : float
        The two temperatures. [K]

    Returns
    -------
    float
        Rate at the second temperature over that at the first. [-]

    Raises
    ------
    RangeError
        If a temperature is not positive.

    Notes
    -----
    Valid for one process with one energy. A source that runs dry does so by the same factor sooner.

    Examples
    --------
    15 K above 23 °C, by hand: 40,000 / 8.314 x (1/296.15 - 1/311.15) = 0.783, and exp(0.783) = 2.19:

    >>> round(arrhenius_factor(40e3, 296.15, 311.15), 2)
    2.19

    References
    ----------
    .. [1] Arrhenius, *Zeitschrift fuer physikalische Chemie* 4 (1889) 226.
    """
    _positive(cold=cold, warm=warm)
    return float(np.exp(energy / GAS_CONSTANT * (1.0 / cold - 1.0 / warm)))


def activation_energy(factor: float, cold: float, warm: float) -> float:
    """Return the energy whose `arrhenius_factor` is the given one.

    Parameters
    ----------
    factor : float
        Rate at the second temperature over that at the first. [-]
    cold, warm : float
        The two temperatures. [K]

    Returns
    -------
    float
        Activation energy; negative where the rate fell. [J/mol]

    Raises
    ------
    RangeError
        If the factor or a temperature is not positive, or the temperatures are the same.

    Examples
    --------
    >>> round(activation_energy(2.19, 296.15, 311.15) / 1e3)
    40
    """
    _positive(factor=factor, cold=cold, warm=warm)
    if cold == warm:
        raise RangeError("an activation energy needs two temperatures, and both are the same")
    return float(GAS_CONSTANT * np.log(factor) / (1.0 / cold - 1.0 / warm))


def _positive(**arguments: float) -> None:
    for name, value in arguments.items():
        if value <= 0:
            raise RangeError(f"{name.replace('_', ' ')} must be positive, got {value:g}")
