"""How a thermal-conductivity gauge calibrated for air reads other gases: stated intervals, never corrections."""

from __future__ import annotations

from decay.interval import Interval

VAPOUR_READING = 2.0
"""What a thermal-conductivity gauge reads of water vapour, over its true pressure, at most: manuals of laboratory
gauges have true pressures of 0.5 to 0.65 of indicated ones. [-]"""

# True pressure over indicated pressure, between 1 and 100 Pa; a factor without a spread is a handbook's mean value.
# Source: a general laboratory gauge manual's table ("mean values"); water: that table's 0.5, and 0.6 from the ratio of
# such gauges to capacitance gauges in freeze-drying papers (from memory: Nail 1991; Patel, Doen and Pikal 2010).
_FACTORS = {
    "air": (1.0, 1.0, 1.0),
    "nitrogen": (1.0, 1.0, 1.0),
    "water": (0.6, 0.5, 0.65),
    "carbon dioxide": (0.9, 0.9, 0.9),
    "helium": (0.8, 0.8, 0.8),
    "hydrogen": (0.5, 0.5, 0.5),
    "argon": (1.7, 1.7, 1.7),
    "R-744": (0.9, 0.9, 0.9),
    "R-12": (0.7, 0.7, 0.7),
}


def gas_factor(gas: str) -> Interval | None:
    """Return true over indicated pressure for a gas.

    Parameters
    ----------
    gas : str
        ``"air"``, ``"nitrogen"``, ``"water"``, ``"carbon dioxide"``, ``"helium"``, ``"hydrogen"``, ``"argon"``,
        ``"R-744"`` or ``"R-12"``.

    Returns
    -------
    Interval or None
        The factor, ``None`` where no published number is known: most refrigerants. [-]

    Examples
    --------
    >>> gas_factor("water").low, gas_factor("water").high, gas_factor("R-410A")
    (0.5, 0.65, None)
    """
    factor = _FACTORS.get(gas)
    return None if factor is None else Interval(*factor)


def refrigerant_factor(name: str | None) -> tuple[Interval, bool]:
    """Return true over indicated pressure for a refrigerant's vapour.

    Parameters
    ----------
    name : str or None
        As the refrigerant table spells it; ``None`` where it was not told.

    Returns
    -------
    tuple of Interval and bool
        The factor [-], and whether it is that refrigerant's own; else the span of the refrigerants with a published
        number stands in for it.

    Examples
    --------
    >>> refrigerant_factor("R-744")[0].value, refrigerant_factor("R-134a")
    (0.9, (Interval(value=0.8, low=0.7, high=0.9, level=0.95), False))
    """
    own = None if name is None else gas_factor(name)
    if own is not None:
        return own, True
    known = [factor for gas, factor in _FACTORS.items() if gas.startswith("R-")]
    low, high = min(factor[1] for factor in known), max(factor[2] for factor in known)
    return Interval((low + high) / 2.0, low, high), False
