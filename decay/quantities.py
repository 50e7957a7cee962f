"""Text with a unit to SI numbers and back: the one place that knows how people write quantities, and `pint`.

"micron" is a pressure here, a thousandth of a conventional millimetre of mercury. Pressures, times and temperatures
are read from small tables of our own, so that the usual run never loads `pint`; every other kind goes through a
private registry that is built on first use.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from decay.errors import RangeError, UnitError
from decay.interval import Interval
from decay.system import Allowance, AllowKind

if TYPE_CHECKING:
    from pint import UnitRegistry

MICRON = 0.133322387415  # Pa; 1e-3 conventional mmHg (NIST SP 811, table B.8: 133.3224 Pa)
STANDARD_ATMOSPHERE = 101325.0  # Pa, exact
TORR = STANDARD_ATMOSPHERE / 760.0  # Pa, exact by definition
STANDARD_TEMPERATURE = 273.15  # K; of the standard cubic centimetre, 0 degC

PRESSURE_UNITS: Mapping[str, float] = MappingProxyType(
    {
        "micron": MICRON,
        "mTorr": TORR / 1000.0,
        "Torr": TORR,
        "mmHg": 1000.0 * MICRON,
        "Pa": 1.0,
        "kPa": 1e3,
        "hPa": 100.0,
        "mbar": 100.0,
        "bar": 1e5,
        "inHg": 25400.0 * MICRON,
        "psia": 6894.757293168,
        "atm": STANDARD_ATMOSPHERE,
    }
)

_PRESSURE_WORDS = {
    "micron": "micron microns umhg micronhg micronshg micrometerhg micrometerofmercury micronofmercury"
    " micronsofmercury umofhg",
    "mTorr": "mtorr millitorr millitorrs",
    "Torr": "torr torrs",
    "mmHg": "mmhg mmofhg millimetersofmercury millimetresofmercury millimeterofmercury",
    "Pa": "pa pascal pascals",
    "kPa": "kpa kilopascal kilopascals",
    "hPa": "hpa hectopascal hectopascals",
    "mbar": "mbar mb millibar millibars",
    "bar": "bar bars",
    "inHg": "inhg inchhg incheshg inofhg inchofmercury inchesofmercury",
    "psia": "psia psiabs",
    "atm": "atm atmosphere atmospheres",
}
_PRESSURE_NAMES = {word: name for name, words in _PRESSURE_WORDS.items() for word in words.split()}

_TIME_UNITS = {
    word: factor
    for words, factor in (
        ("s sec secs second seconds", 1.0),
        ("min mins minute minutes", 60.0),
        ("h hr hrs hour hours", 3600.0),
        ("d day days", 86400.0),
        ("wk week weeks", 604800.0),
        ("yr yrs year years a", 365.25 * 86400.0),
    )
    for word in words.split()
}

# Each spelling and what the registry calls it. Spellings are tried as written, then in lower case.
_UNIT_WORDS = {
    word: name
    for name, words in {
        "liter": "l L ltr liter liters litre litres lt",
        "milliliter": "ml mL milliliter milliliters millilitre millilitres",
        "centimeter**3": "cc ccm cubiccentimeters",
        "inch**3": "cuin ci",
        "foot**3": "cuft cf",
        "gallon": "gal gallon gallons",
        "fluid_ounce": "floz",
        "quart": "qt quart quarts",
        "kilogram": "kg kgs kilogram kilograms",
        "gram": "g gr gram grams gm",
        "milligram": "mg milligram milligrams",
        "tonne": "t tonne tonnes",
        "ounce": "oz ozs ounce ounces",
        "pound": "lb lbs pound pounds",
        "meter": "m meter meters metre metres",
        "centimeter": "cm centimeter centimeters centimetre centimetres",
        "millimeter": "mm millimeter millimeters millimetre millimetres",
        "inch": 'in inch inches "',
        "foot": "ft foot feet '",
        "watt": "W watt watts",
        "second": "s sec secs second seconds",
        "minute": "min mins minute minutes",
        "hour": "h hr hrs hour hours",
        "day": "d day days",
        "week": "wk week weeks",
        "year": "yr yrs year years a",
        "foot**3/minute": "cfm",
        "liter/minute": "lpm",
        "meter**3/hour": "cmh",
        # The standard cubic centimetre is an amount of gas; as a throughput it is what that amount is at 0 degC.
        "standard_atmosphere*centimeter**3/minute": "sccm",
        "standard_atmosphere*centimeter**3/second": "sccs",
        "standard_atmosphere*centimeter**3": "scc stdcc",
    }.items()
    for word in words.split()
}

_EXAMPLES = {
    "volume": ('"3.2 L"', "mL, L, cm3, m3, in3, ft3, gal"),
    "mass": ('"650 g"', "g, kg, oz, lb"),
    "temperature": ('"24 degC"', "degC, degF, K"),
    "pressure": ('"500 micron"', ", ".join(PRESSURE_UNITS)),
    "length": ('"1.5 m"', "mm, cm, m, in, ft"),
    "duration": ('"20 min"', "s, min, h, day, yr"),
    "flow": ('"6 cfm"', "cfm, L/min, L/s, m3/h"),
    "power": ('"20 W"', "W"),
    "fraction": ('"10 %"', "%"),
    "allowance": (
        '"5 g/yr", "2 micron/min" or "1e-5 mbar*L/s"',
        "g/yr, oz/yr, micron/min, Pa/s, mbar*L/s, Pa*m3/s, micron*L/s, atm*cc/s, sccm",
    ),
}
_DIMENSIONS = {"volume": "meter**3", "mass": "kilogram", "length": "meter", "flow": "meter**3/second",
               "power": "watt"}
_ALLOWED = {
    AllowKind.RISE: "pascal/second",
    AllowKind.THROUGHPUT: "pascal*meter**3/second",
    AllowKind.LOSS: "kilogram/second",
}
# Beyond these a number is a slip of the pen, not a refrigeration circuit. [SI]
_SENSE = {
    "volume": (1e-7, 1e4),
    "mass": (1e-6, 1e6),
    "temperature": (170.0, 500.0),
    "length": (1e-6, 1e5),
    "flow": (1e-9, 1e3),
    "power": (1e-3, 1e6),
}

_NUMBER = re.compile(
    r"\s*(?P<sign>[+-]?)(?:(?P<whole>\d+)[\s-]+)?"
    r"(?:(?P<top>\d+)\s*/\s*(?P<bottom>\d+)|(?P<plain>(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?))"
    r"\s*(?P<unit>.*?)\s*",
    re.DOTALL,
)
_UNIT = re.compile(r"(?P<word>[^\W\d_]+|[\"'])\s*(?:(?:\*\*|\^)?\s*(?P<power>-?\d))?")


def pressure_unit(text: str) -> str | None:
    """Return the canonical name of an absolute pressure unit, however it is written.

    Parameters
    ----------
    text : str
        A unit as logs and people write it. Gauge pressures (psig, vacuum in inHg) cannot be told from the unit alone.

    Returns
    -------
    str or None
        A key of `PRESSURE_UNITS`, or ``None`` where it is none.

    Examples
    --------
    >>> pressure_unit("µmHg"), pressure_unit("in Hg"), pressure_unit("millitorr"), pressure_unit("furlong")
    ('micron', 'inHg', 'mTorr', None)
    """
    bare = text.strip().strip("[](){}").replace("µ", "u").replace("μ", "u")
    if bare in ("MPa", "MPA", "mPa", "Mbar", "MBAR"):  # mega or milli: their case is their meaning
        return None
    word = re.sub(r"[\s._-]+", "", bare).lower()
    if word not in _PRESSURE_NAMES:
        word = re.sub(r"\(?(?:absolute|abs|\(a\))\)?$", "", word)
    return _PRESSURE_NAMES.get(word)


def parse(text: str, kind: str) -> float:
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
    >>> parse("10 min", "time")
    600.0
    """
    readers = {
        "volume": lambda t: volume(t).value,
        "mass": mass,
        "temperature": temperature,
        "pressure": pressure,
        "length": length,
        "duration": duration,
        "time": duration,
        "flow": flow,
        "fraction": fraction,
    }
    if kind not in readers:
        raise UnitError(f"no kind of quantity is called {kind!r}; known are {', '.join(readers)}")
    return readers[kind](text)


def pressure(text: str) -> float:
    """Return an absolute pressure; ``"500 micron"``. [Pa]

    Examples
    --------
    >>> round(pressure("500 micron"), 3), pressure("1 mbar")
    (66.661, 100.0)
    """
    number, unit = _split(text, "pressure")
    name = pressure_unit(unit)
    if name is None:
        raise _wrong_unit(text, unit, "pressure")
    if number < 0:
        raise _out_of_range(text, "pressure", "an absolute pressure is not negative")
    return number * PRESSURE_UNITS[name]


def duration(text: str) -> float:
    """Return a duration; ``"20 min"``. [s]

    Examples
    --------
    >>> duration("20 min"), duration("1.5 h")
    (1200.0, 5400.0)
    """
    number, unit = _split(text, "duration")
    factor = _TIME_UNITS.get(unit.rstrip(".").lower())
    if factor is None:
        raise _wrong_unit(text, unit, "duration")
    if number < 0:
        raise _out_of_range(text, "duration", "a duration is not negative")
    return number * factor


def temperature(text: str) -> float:
    """Return a temperature; ``"24 degC"``. [K]

    Examples
    --------
    >>> temperature("24 degC"), round(temperature("75 degF"), 2), temperature("24 C")
    (297.15, 297.04, 297.15)
    """
    number, unit = _split(text, "temperature")
    word = re.sub(r"^(?:°|º|deg(?:rees?)?[ .]*)", "", unit.replace("℃", "C").replace("℉", "F").strip()).lower()
    if word in ("c", "celsius", "centigrade"):
        kelvin = number + 273.15
    elif word in ("f", "fahrenheit"):
        kelvin = (number + 459.67) / 1.8
    elif word in ("k", "kelvin", "kelvins"):
        kelvin = number
    else:
        raise _wrong_unit(text, unit, "temperature")
    return _sensible(kelvin, text, "temperature")


def fraction(text: str) -> float:
    """Return a share; ``"10 %"``. [-]

    Examples
    --------
    >>> fraction("10 %")
    0.1
    """
    number, unit = _split(text, "fraction")
    if unit.lower() not in ("%", "percent", "pct"):
        raise _wrong_unit(text, unit, "fraction")
    if number < 0:
        raise _out_of_range(text, "fraction", "a share is not negative")
    return number / 100.0


def mass(text: str) -> float:
    """Return a mass; ``"650 g"``. [kg]

    Examples
    --------
    >>> round(mass("650 g"), 9), round(mass("23 oz"), 4)
    (0.65, 0.652)
    """
    return _converted(text, "mass")


def length(text: str) -> float:
    """Return a length; ``"1.5 m"``, ``"3/8 in"``, ``"50 ft"``. [m]

    Examples
    --------
    >>> round(length("3/8 in"), 6), round(length("50 ft"), 6), round(length("1 1/8 in"), 6)
    (0.009525, 15.24, 0.028575)
    """
    return _converted(text, "length")


def flow(text: str) -> float:
    """Return a pumping speed; ``"6 cfm"``, ``"120 L/min"``. [m³/s]

    Examples
    --------
    >>> round(flow("6 cfm"), 7), round(flow("120 L/min"), 7)
    (0.0028317, 0.002)
    """
    return _converted(text, "flow")


def power(text: str) -> float:
    """Return a heating; ``"20 W"``. [W]

    Examples
    --------
    >>> power("20 W")
    20.0
    """
    return _converted(text, "power")


def volume(text: str) -> Interval:
    """Return a volume and how well it is known; ``"3.2 L"``, ``"3.2 L +- 10 %"``, ``"3.2 L ± 0.3 L"``. [m³]

    Parameters
    ----------
    text : str
        Number and unit, and after ``+-`` a share or another volume.

    Returns
    -------
    Interval
        The volume; without a stated uncertainty both ends are the value. [m³]

    Raises
    ------
    UnitError, RangeError
        As for `parse`; also where the uncertainty is as large as the volume.

    Examples
    --------
    >>> v = volume("3.2 L +- 10 %")
    >>> round(v.value, 6), round(v.low, 6), round(v.high, 6)
    (0.0032, 0.00288, 0.00352)
    """
    stated, mark, spread = (part.strip() for part in re.sub(r"\+\s*/?\s*-", "±", text).partition("±"))
    value = _converted(stated, "volume", text)
    if not mark:
        return Interval(value, value, value)
    half = value * fraction(spread) if spread.endswith(("%", "percent", "pct")) else _converted(spread, "volume", text)
    if half >= value:
        raise _out_of_range(text, "volume", "the uncertainty is as large as the volume")
    return Interval(value, value - half, value + half)


def allowance(text: str, gas_temperature: float | None = None) -> Allowance:
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
    >>> a = allowance("2 micron/min")
    >>> a.kind.value, round(a.value, 6)
    ('rise', 0.004444)
    """
    number, unit = _split(text, "allowance")
    expression = _expression(text, unit, "allowance")
    registry = _registry()
    quantity = registry.Quantity(number, registry.parse_units(expression))
    kind = next((kind for kind, si in _ALLOWED.items() if quantity.is_compatible_with(si)), None)
    if kind is None:
        raise _wrong_unit(text, unit, "allowance")
    value = float(quantity.to(_ALLOWED[kind]).magnitude)
    if gas_temperature is not None and kind is AllowKind.THROUGHPUT and re.match(r"scc|std", unit.lower()):
        value *= gas_temperature / STANDARD_TEMPERATURE
    if not 0 < value < math.inf:
        raise _out_of_range(text, "allowance", "a leak that is allowed is larger than nothing")
    return Allowance(kind, value, text.strip())


THROUGHPUT_UNITS: Mapping[str, float] = MappingProxyType(
    {
        "Pa m3/s": 1.0,
        "mbar L/s": 0.1,
        "micron L/s": MICRON * 1e-3,
        "Torr L/s": TORR * 1e-3,
        "atm cc/s": STANDARD_ATMOSPHERE * 1e-6,
        "sccm": STANDARD_ATMOSPHERE * 1e-6 / 60.0,
    }
)


def throughput_in(value: float, unit: str, reference_temperature: float, gas_temperature: float) -> float:
    """Return a throughput in another unit and as it would be at a reference temperature.

    Parameters
    ----------
    value : float
        Throughput at the temperature of the gas. [Pa·m³/s]
    unit : str
        A key of `THROUGHPUT_UNITS`.
    reference_temperature : float
        Temperature at which the same amount of gas is to be expressed; 273.15 for sccm. [K]
    gas_temperature : float
        Temperature of the gas. [K]

    Returns
    -------
    float
        The number in that unit. [unit]

    Raises
    ------
    UnitError
        If the unit is unknown.
    RangeError
        If a temperature is not positive.

    Examples
    --------
    >>> round(throughput_in(1.0, "mbar L/s", 293.15, 293.15), 6)
    10.0
    >>> round(throughput_in(0.00168875, "sccm", 273.15, 273.15), 6)
    1.0
    """
    if unit not in THROUGHPUT_UNITS:
        raise UnitError(f"no unit of throughput is called {unit!r}; use one of {', '.join(THROUGHPUT_UNITS)}")
    if not (reference_temperature > 0 and gas_temperature > 0):
        raise RangeError("temperatures must be positive; in kelvin, 20 degC is 293.15")
    return value * reference_temperature / gas_temperature / THROUGHPUT_UNITS[unit]


def rounded(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Return a number and its interval with the digits that the interval lets it keep.

    Parameters
    ----------
    value, low, high : float
        Estimate and interval; an end may be infinite. [unit]

    Returns
    -------
    tuple of str
        The three numbers. Without a finite width three significant digits are kept.

    Notes
    -----
    The half width stands for the uncertainty: two digits where its three leading digits are 100 to 354, one from 355
    to 949, and two of what is then 1000.

    Examples
    --------
    >>> rounded(0.827, 0.708, 0.946)
    ('0.83', '0.71', '0.95')
    >>> rounded(0.827, 0.460, 1.194)
    ('0.8', '0.5', '1.2')

    References
    ----------
    .. [1] Particle Data Group, *Review of Particle Physics*, Introduction, section 5.3 "Rounding".
    """
    sides = [abs(end - value) for end in (low, high) if math.isfinite(end)]
    half = sum(sides) / len(sides) if sides else 0.0
    if half > 0:
        exponent = math.floor(math.log10(half))
        leading = round(half / 10.0**exponent * 100)
        places = 1 - exponent if leading <= 354 else -exponent
    elif value == 0 or not math.isfinite(value):
        places = 0
    else:
        places = 2 - math.floor(math.log10(abs(value)))

    def text(x: float) -> str:
        return f"{round(x, places) + 0.0:.{max(places, 0)}f}" if math.isfinite(x) else f"{x:g}"

    return text(value), text(low), text(high)


@cache
def _registry() -> UnitRegistry[Any]:
    from pint import UnitRegistry  # here, not at the top: it costs a third of a second

    registry: UnitRegistry[Any] = UnitRegistry(cache_folder=None)
    for name, factor in PRESSURE_UNITS.items():
        registry.define(f"decay_{name} = {factor!r} * pascal")
    return registry


def _converted(text: str, kind: str, whole: str | None = None) -> float:
    number, unit = _split(text, kind)
    registry = _registry()
    quantity = registry.Quantity(number, registry.parse_units(_expression(text, unit, kind)))
    if not quantity.is_compatible_with(_DIMENSIONS[kind]):
        raise _wrong_unit(text, unit, kind)
    return _sensible(float(quantity.to(_DIMENSIONS[kind]).magnitude), whole or text, kind)


def _split(text: str, kind: str) -> tuple[float, str]:
    """Return the number and the unit's text."""
    match = _NUMBER.fullmatch(text.replace("−", "-"))
    example, choices = _EXAMPLES[kind]
    if match is None:
        raise UnitError(f"{text!r} does not start with a number: write it like {example}")
    if match["top"]:
        if int(match["bottom"]) == 0:
            raise UnitError(f"{text!r} divides by zero: write it like {example}")
        number = int(match["top"]) / int(match["bottom"]) + int(match["whole"] or 0)
    else:
        plain = match["plain"]
        if re.fullmatch(r"\d{1,3},\d{3}", plain) and not plain.startswith("0"):
            joined, decimal = plain.replace(",", ""), plain.replace(",", ".")
            raise UnitError(f"the comma in {text!r} can be read two ways: write {joined} or {decimal}")
        if match["whole"]:
            raise UnitError(f"{text!r} has two numbers: write it like {example}")
        number = float(plain.replace(",", "."))
    if not math.isfinite(number):
        raise RangeError(f"{text!r} is too large to mean anything: write it like {example}")
    if not match["unit"]:
        raise UnitError(f"{text!r} has no unit: write it like {example}. Units known here: {choices}")
    return (-number if match["sign"] == "-" else number), match["unit"]


def _expression(text: str, unit: str, kind: str) -> str:
    """Return the unit in the registry's words, with everything after the first stroke in the denominator."""
    tidy = re.sub(r"\s+per\s+", "/", unit.replace("²", "2").replace("³", "3").replace("⋅", "·"))
    tidy = re.sub(r"\b(in|mm)\.?\s+(hg)\b", r"\1\2", tidy, flags=re.IGNORECASE)
    tidy = re.sub(r"\b(?:[uµμ]m|microns?)\s*hg\b", "micron", tidy, flags=re.IGNORECASE)
    tidy = re.sub(r"\bcu\.?\s*(ft|in)\b", r"\g<1>3", tidy, flags=re.IGNORECASE)
    tidy = re.sub(r"\b(fl\.?\s*oz)\b", "floz", tidy, flags=re.IGNORECASE)
    tidy = re.sub(r"\b(?:std|standard)\.?\s*(cc|cm3|cm\^3)\b", "scc", tidy, flags=re.IGNORECASE)
    factors: list[str] = []
    for place, part in enumerate(tidy.split("/")):
        pieces = [piece for piece in re.split(r"[\s·]+|(?<!\*)\*(?!\*)|\.(?=\D)|\.$|-(?=[^\W\d])", part) if piece]
        if not pieces:
            raise _wrong_unit(text, unit, kind)
        for piece in pieces:
            match = _UNIT.fullmatch(piece)
            name = None if match is None else _unit_name(match["word"])
            if match is None or name is None:
                raise _wrong_unit(text, unit, kind)
            power = int(match["power"] or 1) * (-1 if place else 1)
            factors.append(f"({name})**({power})")
    return " * ".join(factors)


def _unit_name(word: str) -> str | None:
    known = _UNIT_WORDS.get(word) or _UNIT_WORDS.get(word.lower())
    if known is not None:
        return known
    name = pressure_unit(word)
    return None if name is None else f"decay_{name}"


def _sensible(number: float, text: str, kind: str) -> float:
    low, high = _SENSE[kind]
    if not low <= number <= high:
        why = "it must be larger than zero" if number <= 0 and kind != "temperature" else "that is beyond all practice"
        raise _out_of_range(text, kind, why)
    return number


def _wrong_unit(text: str, unit: str, kind: str) -> UnitError:
    example, choices = _EXAMPLES[kind]
    what = {"flow": "a pumping speed", "fraction": "a share"}.get(kind, f"a {kind}")
    what = "a leak that can be allowed" if kind == "allowance" else what
    return UnitError(
        f"{text!r}: {unit!r} is not the unit of {what}: write it like {example}. "
        f"Units known here: {choices}"
    )


def _out_of_range(text: str, kind: str, why: str) -> RangeError:
    return RangeError(f"{text!r} cannot be right, {why}: write it like {_EXAMPLES[kind][0]}")
