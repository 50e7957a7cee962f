"""What a leak means for a system: throughput, grams a year and time left, each with its interval."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from decay.constants import STANDARD_ATMOSPHERE
from decay.errors import RangeError
from decay.interval import Interval
from decay.physics import leak_flow, refrigerant
from decay.physics.refrigerant_table import lookup
from decay.quantities import STANDARD_TEMPERATURE
from decay.system import AllowKind, System


class Doubt(StrEnum):
    """What makes the interval of a leak's meaning as wide as it is."""

    FIT = "fit"
    VOLUME = "volume"
    GAUGE = "gauge"
    TEMPERATURE = "temperature"
    FLOW = "law of flow"


OF_THROUGHPUT = (Doubt.FIT, Doubt.VOLUME, Doubt.GAUGE)
"""What the throughput rests on; temperature and flow regime widen the loss alone."""


@dataclass(frozen=True, slots=True)
class Bracket:
    """One quantity under the two laws of flow that a fine leak may follow."""

    # The same leak taken as laminar and as molecular [kg/s for a loss, s for a time]
    laminar: Interval
    molecular: Interval

    @property
    def laws(self) -> tuple[Interval, Interval]:
        """Both intervals, the laminar first. [unit of their ends]"""
        return self.laminar, self.molecular

    @property
    def least(self) -> float:
        """The smallest value, over both intervals. [unit of its ends]"""
        return min(self.laminar.low, self.molecular.low)

    @property
    def most(self) -> float:
        """The largest value, over both intervals. [unit of its ends]"""
        return max(self.laminar.high, self.molecular.high)


@dataclass(frozen=True, slots=True)
class Impact:
    """What the leak of one hold, and the smallest it could have shown, mean."""

    throughput: Interval | None  # gas throughput at the system's temperature; ``None`` without a volume [Pa·m³/s]
    detectable_throughput: float | None  # the same for the detection limit [Pa·m³/s]
    loss: Bracket | None  # loss of refrigerant; ``None`` without volume, refrigerant and temperature [kg/s]
    detectable_loss: tuple[float, float] | None  # the detection limit as a loss, laminar and molecular [kg/s]
    # Time until the charge has fallen so far; ``inf`` where nothing leaks [s]
    until_70_percent: Bracket | None
    until_empty: Bracket | None
    allowed_rise: float | None  # the user's ``--allow`` as a rate of rise, by the law that makes it smallest [Pa/s]
    dominant: Doubt | None  # which uncertainty is largest; ``None`` without a throughput
    remarks: tuple[str, ...] = ()  # what could not be said and why, one sentence each
    # Each uncertainty as half the natural logarithm of the ratio of its ends, so that 0.1 is about 10 % either way;
    # ``inf`` where an end is zero or open [-]
    spreads: tuple[tuple[Doubt, float], ...] = ()
    gas_temperature: float | None = None  # temperature at which ``throughput`` counts; ``None`` where not told [K]
    # The same amount of gas as it would flow at 0 degC, with the temperature's uncertainty [Pa·m³/s]
    standard_throughput: Interval | None = None


@dataclass(frozen=True, slots=True)
class Carry:
    """Loss of refrigerant over throughput of air through the same path."""

    # Over the temperatures of the system at rest, and over its volume where the fill decides the pressure [kg/s per
    # Pa·m³/s]
    laminar: Interval
    molecular: Interval
    remarks: tuple[str, ...]  # what the standing pressure rests on


def assess(rise: Interval, detection_limit: float, system: System) -> Impact:
    """Return what a hold's leak, and the smallest it could have shown, mean.

    Parameters
    ----------
    rise : Interval
        Steady rise, as the gauge showed it; ``low`` may be 0 and ``high`` infinite. [Pa/s]
    detection_limit : float
        Smallest steady rise that the hold would have shown. [Pa/s]
    system : System
        What the user told us.

    Returns
    -------
    Impact
        What can be said; the rest is ``None``, with a remark.

    Raises
    ------
    RangeError
        If the refrigerant's name is not in the table, or the volume is not positive.

    Notes
    -----
    The path is the same under pressure as under vacuum; the pressure outside counts as 101.325 kPa. Time until empty
    assumes that the loss goes on at its first rate, which holds while liquid is left.
    """
    remarks: list[str] = []
    volume = system.volume
    carry = None if volume is None else _carry(system, remarks)
    limit = allowed_rise(system)
    if volume is None:
        remarks.append('Without the volume (--volume "3.2 L") the rise cannot be turned into a leak rate or a loss.')
        return Impact(None, None, None, None, None, None, limit, None, tuple(remarks))
    if volume.value <= 0:
        raise RangeError('the volume must be larger than zero, rig included: --volume "3.2 L"')
    if volume.low <= 0:
        remarks.append(
            "Only an upper bound of the volume is known: throughput and loss are upper bounds too. They can rule a "
            "leak out, and never prove that one is too large."
        )
    if volume.width == 0:
        remarks.append('The volume is assumed exact. Add how well it is known: --volume "3.2 L +- 10 %".')
    if system.gauge_accuracy is None:
        remarks.append('The gauge is assumed exact. Add its accuracy: --gauge-accuracy "10 %".')
    factors = {Doubt.VOLUME: volume, Doubt.GAUGE: _gain(system)}
    throughput = _product(rise, *factors.values())
    spreads = {Doubt.FIT: _spread(rise)} | {name: _spread(factor) for name, factor in factors.items()}
    standard = None
    if system.ambient is not None:
        to_standard = _to_standard(system.ambient, system.ambient_spread)
        standard = _product(rise, *factors.values(), to_standard)
        spreads[Doubt.TEMPERATURE] = _spread(to_standard)
    loss = detectable_loss = None
    if carry is not None:
        loss = Bracket(
            _product(rise, *factors.values(), carry.laminar), _product(rise, *factors.values(), carry.molecular)
        )
        shown = detection_limit * volume.value
        detectable_loss = (shown * carry.laminar.value, shown * carry.molecular.value)
        spreads[Doubt.TEMPERATURE] = max(spreads[Doubt.TEMPERATURE], _spread(carry.laminar), _spread(carry.molecular))
        spreads[Doubt.FLOW] = _law_spread(carry)
        remarks.extend(carry.remarks)
    times = _times(loss, system, remarks)
    return Impact(
        throughput=throughput,
        detectable_throughput=detection_limit * volume.value,
        loss=loss,
        detectable_loss=detectable_loss,
        until_70_percent=None if times is None else Bracket(times.laminar.scaled(0.3), times.molecular.scaled(0.3)),
        until_empty=times,
        allowed_rise=limit,
        dominant=max(spreads, key=lambda name: spreads[name]),
        remarks=tuple(remarks),
        spreads=tuple(spreads.items()),
        gas_temperature=system.ambient,
        standard_throughput=standard,
    )


def allowed_rise(system: System) -> float | None:
    """Return the tolerated leak as the smallest rate of rise by which it could show.

    Parameters
    ----------
    system : System
        What the user told us.

    Returns
    -------
    float or None
        Rate of rise; ``None`` where nothing was allowed or something that it takes was not told. [Pa/s]

    Raises
    ------
    RangeError
        If the refrigerant's name is not in the table.

    Notes
    -----
    A rise is taken as it was stated. A throughput shows smallest in the largest volume that the stated one may be, on
    a gauge that reads low. A loss is carried back by the law of flow and the temperature that give the smallest rise.
    What lies above that number is then excluded whichever of these is true.
    """
    allow = system.allow
    if allow is None:
        return None
    if allow.kind is AllowKind.RISE:
        return allow.value
    if system.volume is None:
        return None
    lowest_reading = 1.0 - (system.gauge_accuracy or 0.0)
    if allow.kind is AllowKind.THROUGHPUT:
        return allow.value / system.volume.high * lowest_reading
    carry = _carry(system, [])
    if carry is None:
        return None
    most = max(carry.laminar.high, carry.molecular.high)
    return None if most == 0 else allow.value / most / system.volume.high * lowest_reading


def _carry(system: System, remarks: list[str]) -> Carry | None:
    if system.refrigerant is None:
        remarks.append("Without the refrigerant (--refrigerant R134a) the loss cannot be stated.")
        return None
    fluid = lookup(system.refrigerant)
    if system.ambient is None:
        remarks.append(
            'Without the temperature (--ambient "24 degC") the standing pressure, and so the loss, is not known.'
        )
        return None
    # A bound says nothing about how much of the charge is liquid.
    volume = None if system.volume is None or system.volume.low <= 0 else system.volume.value
    low, middle, high = (system.ambient + d for d in (-system.ambient_spread, 0.0, system.ambient_spread))
    try:
        standing = refrigerant.standing_state(fluid, middle, system.charge, volume)
        at = [_factors(standing, middle)]
        for temperature in (low, high):
            # At the table's edge its last row stands in for what lies a few kelvin beyond.
            inside = min(max(temperature, float(fluid.temperature[0])), float(fluid.temperature[-1]))
            at.append(_factors(refrigerant.standing_state(fluid, inside, system.charge, volume), inside))
        if system.volume is not None and volume is not None and not standing.is_saturated:
            # Where the fill decides, so does the volume that it fills.
            at += [_factors(refrigerant.standing_state(fluid, middle, system.charge, end), middle)
                   for end in (system.volume.low, system.volume.high)]
    except RangeError as problem:
        remarks.append(f"The loss cannot be stated: {problem}.")
        return None
    laminar, molecular = ([pair[law] for pair in at] for law in (0, 1))
    notes = list(standing.remarks)
    if laminar[0] == 0:
        notes.append(
            f"{fluid.name} stands below atmospheric pressure at this temperature: at rest air leaks in, and nothing "
            "leaks out."
        )
    return Carry(
        Interval(laminar[0], min(laminar), max(laminar)),
        Interval(molecular[0], min(molecular), max(molecular)),
        tuple(notes),
    )


def _factors(standing: refrigerant.Standing, temperature: float) -> tuple[float, float]:
    return leak_flow.outward_flows(
        standing.pressure, standing.laminar_drive, standing.molar_mass, temperature, STANDARD_ATMOSPHERE
    )


def _to_standard(ambient: float, spread: float) -> Interval:
    """Return the flow at 0 degC over the flow of the same amount of gas at the system's temperature."""
    middle, low, high = (STANDARD_TEMPERATURE / t for t in (ambient, ambient + spread, ambient - spread))
    return Interval(middle, low, high)


def _gain(system: System) -> Interval:
    """Return true over indicated rise."""
    accuracy = system.gauge_accuracy or 0.0
    if not 0 <= accuracy < 1:
        raise RangeError(f'a gauge\'s accuracy lies between 0 and 100 %, got {accuracy * 100:g} %: write "10 %"')
    return Interval(1.0, 1.0 / (1.0 + accuracy), 1.0 / (1.0 - accuracy))


def _product(fitted: Interval, *factors: Interval) -> Interval:
    """Return the product of an estimate and independent positive factors, in quadrature on a log scale."""
    value = fitted.value * math.prod(factor.value for factor in factors)
    if any(factor.value == 0 for factor in factors):
        highest = math.prod(factor.high for factor in factors)
        return Interval(0.0, 0.0, 0.0 if highest == 0 else fitted.high * highest, fitted.level)
    scale = math.prod(factor.value for factor in factors)
    down = math.hypot(*(_log(factor.value, factor.low) for factor in factors))
    up = math.hypot(*(_log(factor.high, factor.value) for factor in factors))
    fit_down, fit_up = min(_log(fitted.value, fitted.low), 1.0), min(_log(fitted.high, fitted.value), 1.0)
    low = fitted.low * scale * math.exp(fit_down - math.hypot(fit_down, down)) if fitted.low > 0 else 0.0
    high = fitted.high * scale * math.exp(math.hypot(fit_up, up) - fit_up) if fitted.high > 0 else 0.0
    return Interval(value, min(low, value), max(high, value), fitted.level)


def _log(upper: float, lower: float) -> float:
    if upper == lower:
        return 0.0
    return math.log(upper / lower) if lower > 0 and upper < math.inf else math.inf


def _spread(interval: Interval) -> float:
    return _log(interval.high, interval.low) / 2.0


def _law_spread(carry: Carry) -> float:
    low, high = sorted((carry.laminar.value, carry.molecular.value))
    return 0.0 if high == 0 else _log(high, low) / 2.0


def _times(loss: Bracket | None, system: System, remarks: list[str]) -> Bracket | None:
    if loss is None:
        return None
    if system.charge is None:
        remarks.append('Without the charge (--charge "650 g") the time until it is gone is not known.')
        return None
    return Bracket(_time(system.charge, loss.laminar), _time(system.charge, loss.molecular))


def _time(charge: float, loss: Interval) -> Interval:
    def until(rate: float) -> float:
        return math.inf if rate == 0 else charge / rate

    return Interval(until(loss.value), until(loss.high), until(loss.low), loss.level)
