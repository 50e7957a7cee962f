"""How large the units of the trade are, and the many ways in which people write a pressure's.

"micron" is a pressure here, a thousandth of a conventional millimetre of mercury.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from decay.constants import DAY, HOUR, MICRON, MINUTE, STANDARD_ATMOSPHERE, YEAR, ZERO_CELSIUS
from decay.errors import RangeError, UnitError

TORR = STANDARD_ATMOSPHERE / 760.0  # Pa, exact by definition
STANDARD_TEMPERATURE = ZERO_CELSIUS  # of the standard cubic centimetre, 0 degC

PRESSURE_UNITS: Mapping[str, float] = MappingProxyType(
    {
        "micron": MICRON,
        "mTorr": TORR / 1000.0,
        "Torr": TORR,
        "mmHg": 1000.0 * MICRON,
        "mPa": 1e-3,
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

_PRESSURE_WORDS = {
    "micron": "micron microns uhg umhg micronhg micrometershg micrometreshg micrometersofmercury"
    " micrometresofmercury micronshg micrometerhg micrometerofmercury micronofmercury"
    " micronsofmercury umofhg micra micras micrones mikron mikrons",
    "mTorr": "mtorr millitorr millitorrs",
    "Torr": "torr torrs",
    "mmHg": "mmhg mmofhg millimetersofmercury millimetresofmercury millimeterofmercury",
    "mPa": "millipascal millipascals",
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

TIME_UNITS = {
    word: factor
    for words, factor in (
        ("s sec secs second seconds", 1.0),
        ("min mins minute minutes", MINUTE),
        ("h hr hrs hour hours", HOUR),
        ("d day days", DAY),
        ("wk week weeks", 604800.0),
        ("yr yrs year years a", YEAR),
    )
    for word in words.split()
}


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
    word = re.sub(r"[\s._-]+", "", bare).lower()
    if word == "mpa" or bare == "Mbar":  # mega or milli: their case is their meaning
        return "mPa" if bare.replace(" ", "").replace("-", "") == "mPa" else None
    if word not in _PRESSURE_NAMES:
        word = re.sub(r"\(?(?:absolute|abs|\(a\))\)?$|(?<=bar|kpa|hpa|nhg|mhg|orr)a$", "", word)
    return _PRESSURE_NAMES.get(word)


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
