"""What a steady rise means: throughput, refrigerant a year, and the day the charge is gone."""

from __future__ import annotations

from dataclasses import dataclass

from decay.interval import Interval


@dataclass(frozen=True, slots=True)
class Bracket:
    """One quantity under the two laws of flow that a fine leak may follow.

    Parameters
    ----------
    laminar, molecular : Interval
        The same leak taken as laminar and as molecular. [kg/s for a loss, s for a time]
    """

    laminar: Interval
    molecular: Interval


@dataclass(frozen=True, slots=True)
class Impact:
    """What the leak of one hold, and the smallest it could have shown, mean.

    Parameters
    ----------
    throughput : Interval or None
        Gas throughput at the system's temperature; ``None`` without a volume. [Pa·m³/s]
    detectable_throughput : float or None
        The same for the detection limit. [Pa·m³/s]
    loss : Bracket or None
        Loss of refrigerant; ``None`` without volume, refrigerant and temperature. [kg/s]
    detectable_loss : tuple of float, or None
        The detection limit as a loss, laminar and molecular. [kg/s]
    until_70_percent, until_empty : Bracket or None
        Time until the charge has fallen so far; ``inf`` where nothing leaks. [s]
    allowed_rise : float or None
        The user's ``--allow`` as a rate of rise, by the law that makes it smallest. [Pa/s]
    dominant : str
        Which uncertainty is largest: ``"fit"``, ``"volume"``, ``"gauge"``, ``"temperature"``, or ``"law of flow"``.
    remarks : tuple of str
        What could not be said and why, one sentence each.
    spreads : tuple of (str, float)
        Each of those uncertainties as half the natural logarithm of the ratio of its ends, so that 0.1 is about 10 %
        either way; ``inf`` where an end is zero or open. [-]
    gas_temperature : float or None
        Temperature at which ``throughput`` counts; ``None`` where not told. [K]
    standard_throughput : Interval or None
        The same amount of gas as it would flow at 0 degC, with the temperature's uncertainty. [Pa·m³/s]
    """

    throughput: Interval | None
    detectable_throughput: float | None
    loss: Bracket | None
    detectable_loss: tuple[float, float] | None
    until_70_percent: Bracket | None
    until_empty: Bracket | None
    allowed_rise: float | None
    dominant: str
    remarks: tuple[str, ...] = ()
    spreads: tuple[tuple[str, float], ...] = ()
    gas_temperature: float | None = None
    standard_throughput: Interval | None = None
