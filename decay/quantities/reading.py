"""Text with a unit to an SI float, one function for each kind of quantity."""

from __future__ import annotations

import math
import re

from decay.allowance import Allowance, AllowKind
from decay.constants import ZERO_CELSIUS, ZERO_FAHRENHEIT
from decay.errors import UnitError
from decay.interval import Interval
from decay.quantities import registry
from decay.quantities.units import PRESSURE_UNITS, STANDARD_TEMPERATURE, TIME_UNITS, pressure_unit
from decay.quantities.written import number_and_unit, out_of_range, sensible, wrong_unit

_ALLOWED = {
    AllowKind.RISE: "pascal/second",
    AllowKind.THROUGHPUT: "pascal*meter**3/second",
    AllowKind.LOSS: "kilogram/second",
}
_POUNDS_AND_OUNCES = re.compile(
    r"\s*(?P<pounds>\d+\s*(?:lbs?|pounds?)\.?)\s*(?:,|and\b)?\s*(?P<ounces>\d[\d./\s]*(?:ozs?|ounces?)\.?)\s*",
    re.IGNORECASE,
)
_AT_MOST = re.compile(r"\s*(?:at most|up to|<=|≤)\s*", re.IGNORECASE)


def read_quantity(text: str, kind: str) -> float:
    """Return a quantity of a named kind.

    Parameters
    ----------
    text : str
        Number and unit.
    kind : str
        ``"volume"``, ``"mass"``, ``"temperature"``, ``"pressure"``, ``"length"``, ``"duration"`` or ``"time"``,
        ``"flow"``, ``"fraction"``.

    Returns
    -------
    float
        The quantity. [SI unit of its kind]

    Raises
    ------
    UnitError
        If there is no number, no unit, an unknown unit or one of another kind.
    RangeError
        If the number makes no sense for its kind.

    Examples
    --------
    >>> read_quantity("10 min", "time")
    600.0
    """
    readers = {
        "volume": lambda t: read_volume(t).value,
        "mass": read_mass,
        "temperature": read_temperature,
        "pressure": read_pressure,
        "length": read_length,
        "duration": read_duration,
        "time": read_duration,
        "flow": read_flow,
        "fraction": read_fraction,
    }
    if kind not in readers:
        raise UnitError(f"no kind of quantity is called {kind!r}; known are {', '.join(readers)}")
    return readers[kind](text)


def read_pressure(text: str) -> float:
    """Return an absolute pressure; ``"500 micron"``. [Pa]

    Examples
    --------
    >>> round(read_pressure("500 micron"), 3), read_pressure("1 mbar")
    (66.661, 100.0)
    """
    number, unit = number_and_unit(text, "pressure")
    name = pressure_unit(unit)
    if name is None:
        raise wrong_unit(text, unit, "pressure")
    if number < 0:
        raise out_of_range(text, "pressure", "an absolute pressure is not negative")
    return number * PRESSURE_UNITS[name]


def read_duration(text: str) -> float:
    """Return a duration; ``"20 min"``. [s]

    Examples
    --------
    >>> read_duration("20 min"), read_duration("1.5 h")
    (1200.0, 5400.0)
    """
    number, unit = number_and_unit(text, "duration")
    factor = TIME_UNITS.get(unit.rstrip(".").lower())
    if factor is None:
        raise wrong_unit(text, unit, "duration")
    if number < 0:
        raise out_of_range(text, "duration", "a duration is not negative")
    return number * factor


def read_temperature(text: str) -> float:
    """Return a temperature; ``"24 degC"``. [K]

    Examples
    --------
    >>> read_temperature("24 degC"), round(read_temperature("75 degF"), 2), read_temperature("24 C")
    (297.15, 297.04, 297.15)
    """
    number, unit = number_and_unit(text, "temperature")
    word = re.sub(r"^(?:°|º|deg(?:rees?)?[ .]*)", "", unit.replace("℃", "C").replace("℉", "F").strip()).lower()
    if word in ("c", "celsius", "centigrade"):
        kelvin = number + ZERO_CELSIUS
    elif word in ("f", "fahrenheit"):
        kelvin = (number + ZERO_FAHRENHEIT) / 1.8
    elif word in ("k", "kelvin", "kelvins"):
        kelvin = number
    else:
        raise wrong_unit(text, unit, "temperature")
    return sensible(kelvin, text, "temperature")


def read_fraction(text: str) -> float:
    """Return a share; ``"10 %"``. [-]

    Examples
    --------
    >>> read_fraction("10 %")
    0.1
    """
    number, unit = number_and_unit(text, "fraction")
    if unit.lower() not in ("%", "percent", "pct"):
        raise wrong_unit(text, unit, "fraction")
    if number < 0:
        raise out_of_range(text, "fraction", "a share is not negative")
    return number / 100.0


def read_mass(text: str) -> float:
    """Return a mass; ``"650 g"``, ``"5 lb 8 oz"``. [kg]

    Examples
    --------
    >>> round(read_mass("650 g"), 9), round(read_mass("23 oz"), 4), round(read_mass("5 lb 8 oz"), 4)
    (0.65, 0.652, 2.4948)
    """
    both = _POUNDS_AND_OUNCES.fullmatch(text)
    if both is None:
        return registry.converted(text, "mass")
    return registry.converted(both["pounds"], "mass", text) + registry.converted(both["ounces"], "mass", text)


def read_length(text: str) -> float:
    """Return a length; ``"1.5 m"``, ``"3/8 in"``, ``"50 ft"``. [m]

    Examples
    --------
    >>> round(read_length("3/8 in"), 6), round(read_length("50 ft"), 6), round(read_length("1 1/8 in"), 6)
    (0.009525, 15.24, 0.028575)
    """
    return registry.converted(text, "length")


def read_flow(text: str) -> float:
    """Return a pumping speed; ``"6 cfm"``, ``"120 L/min"``. [m³/s]

    Examples
    --------
    >>> round(read_flow("6 cfm"), 7), round(read_flow("120 L/min"), 7)
    (0.0028317, 0.002)
    """
    return registry.converted(text, "flow")


def read_power(text: str) -> float:
    """Return a heating; ``"20 W"``. [W]

    Examples
    --------
    >>> read_power("20 W")
    20.0
    """
    return registry.converted(text, "power")


def read_volume(text: str) -> Interval:
    """Return a volume and how well it is known; ``"3.2 L"``, ``"3.2 L +- 10 %"``, ``"at most 50 L"``. [m³]

    Parameters
    ----------
    text : str
        Number and unit, and after ``+-`` a share or another volume; or ``at most`` before it.

    Returns
    -------
    Interval
        The volume; without a stated uncertainty both ends are the value. Of a bound the lower end is zero, and the
        bound itself stands for the value. [m³]

    Raises
    ------
    UnitError, RangeError
        As for `parse`; also where the uncertainty is as large as the volume.

    Examples
    --------
    >>> v = read_volume("3.2 L +- 10 %")
    >>> round(v.value, 6), round(v.low, 6), round(v.high, 6)
    (0.0032, 0.00288, 0.00352)
    >>> v = read_volume("at most 50 L")
    >>> round(v.value, 6), v.low, round(v.high, 6)
    (0.05, 0.0, 0.05)
    """
    bound = _AT_MOST.match(text)
    if bound is not None:
        most = registry.converted(text[bound.end() :], "volume", text)
        return Interval(most, 0.0, most)
    stated, mark, spread = (part.strip() for part in re.sub(r"\+\s*/?\s*-", "±", text).partition("±"))
    value = registry.converted(stated, "volume", text)
    if not mark:
        return Interval(value, value, value)
    is_share = spread.endswith(("%", "percent", "pct"))
    half = value * read_fraction(spread) if is_share else registry.converted(spread, "volume", text)
    if half >= value:
        raise out_of_range(text, "volume", "the uncertainty is as large as the volume")
    return Interval(value, value - half, value + half)


def read_allowance(text: str, gas_temperature: float | None = None) -> Allowance:
    """Return the tolerated leak: a loss, a rate of rise or a throughput, told by its unit.

    Parameters
    ----------
    text : str
        ``"5 g/yr"``, ``"2 micron/min"``, ``"1e-5 mbar*L/s"``, ``"3 sccm"``, ``"1e-4 atm cc/s"``.
    gas_temperature : float, optional
        Temperature of the gas, by which a standard (0 degC) amount becomes a throughput; without it the standard
        amount counts at 0 degC, which makes the limit up to 8 % smaller: the safe side. [K]

    Returns
    -------
    Allowance
        Kind, value in SI, and the text.

    Raises
    ------
    UnitError, RangeError
        If the unit belongs to none of the three, or the number is not positive.

    Examples
    --------
    >>> a = read_allowance("2 micron/min")
    >>> a.kind.value, round(a.value, 6)
    ('rise', 0.004444)
    """
    place, value = registry.converted_to_first(text, "allowance", tuple(_ALLOWED.values()))
    kind = tuple(_ALLOWED)[place]
    _, unit = number_and_unit(text, "allowance")
    if gas_temperature is not None and kind is AllowKind.THROUGHPUT and re.match(r"scc|std", unit.lower()):
        value *= gas_temperature / STANDARD_TEMPERATURE
    if not 0 < value < math.inf:
        raise out_of_range(text, "allowance", "a leak is larger than nothing")
    return Allowance(kind, value, text.strip())


def read_rise_rate(text: str) -> float:
    """Return a rate of rise; ``"5 micron/min"``. [Pa/s]

    Examples
    --------
    >>> round(read_rise_rate("5 micron/min"), 5)
    0.01111
    """
    stated = read_allowance(text)
    if stated.kind is not AllowKind.RISE:
        raise UnitError(f'{text!r} is not a rate of rise, write it like "5 micron/min"')
    return stated.value
