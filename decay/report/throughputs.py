"""In which units a leak's throughput is told, and at which temperature each counts the gas."""

from __future__ import annotations

from dataclasses import dataclass

from decay.impact.impact import Impact
from decay.interval import Interval
from decay.quantities import STANDARD_TEMPERATURE, THROUGHPUT_UNITS, throughput_in


@dataclass(frozen=True, slots=True)
class Scale:
    """One unit of throughput.

    Parameters
    ----------
    key : str
        Name in the JSON document.
    unit : str
        Its name in `decay.quantities.THROUGHPUT_UNITS`.
    label : str
        As it is printed.
    is_standard : bool
        The gas counts at 0 °C, and not at its own temperature.
    """

    key: str
    unit: str
    label: str
    is_standard: bool = False


SCALES = (
    Scale("pa_m3_per_s", "Pa m3/s", "Pa·m³/s"),
    Scale("micron_l_per_s", "micron L/s", "micron·L/s"),
    Scale("mbar_l_per_s", "mbar L/s", "mbar·L/s"),
    Scale("atm_cc_per_s", "atm cc/s", "atm·cc/s"),
    Scale("sccm", "sccm", "sccm", is_standard=True),
)
"""In the order in which they are told."""


def leak_on(impact: Impact, scale: Scale) -> Interval | None:
    """Return a leak's throughput on a scale.

    Parameters
    ----------
    impact : Impact
        What the leak means.
    scale : Scale
        One of `SCALES`.

    Returns
    -------
    Interval or None
        ``None`` where the volume, or for a standard flow the temperature, was not told. [unit of the scale]
    """
    found = impact.standard_throughput if scale.is_standard else impact.throughput
    return None if found is None else found.scaled(1.0 / THROUGHPUT_UNITS[scale.unit])


def detectable_on(impact: Impact, scale: Scale) -> float | None:
    """Return the detection limit on a scale.

    Parameters
    ----------
    impact : Impact
        What the leak means.
    scale : Scale
        One of `SCALES`.

    Returns
    -------
    float or None
        As for `leak_on`. [unit of the scale]
    """
    limit = impact.detectable_throughput
    if limit is None:
        return None
    if not scale.is_standard:
        return limit / THROUGHPUT_UNITS[scale.unit]
    if impact.gas_temperature is None:
        return None
    return throughput_in(limit, scale.unit, STANDARD_TEMPERATURE, impact.gas_temperature)


def reference_temperature(impact: Impact, scale: Scale) -> float | None:
    """Return the temperature at which a scale counts the gas; ``None`` where it is the gas's own and not told. [K]"""
    return STANDARD_TEMPERATURE if scale.is_standard else impact.gas_temperature
