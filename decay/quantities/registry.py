"""Every unit that takes arithmetic of units, by way of `pint`, which only this file imports."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

from decay.quantities.units import PRESSURE_UNITS, pressure_unit
from decay.quantities.written import number_and_unit, sensible, wrong_unit

if TYPE_CHECKING:
    from pint import UnitRegistry

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
_DIMENSIONS = {
    "volume": "meter**3",
    "mass": "kilogram",
    "length": "meter",
    "flow": "meter**3/second",
    "power": "watt",
}
_UNIT = re.compile(r"(?P<word>[^\W\d_]+|[\"'])\s*(?:(?:\*\*|\^)?\s*(?P<power>-?\d))?")


def converted(text: str, kind: str, whole: str | None = None) -> float:
    """Return a quantity of a kind that has one dimension.

    Parameters
    ----------
    text : str
        Number and unit.
    kind : str
        ``"volume"``, ``"mass"``, ``"length"``, ``"flow"`` or ``"power"``.
    whole : str, optional
        What the user wrote, where ``text`` is only a part of it.

    Returns
    -------
    float
        The quantity. [SI unit of its kind]

    Raises
    ------
    UnitError, RangeError
        If the text is no such quantity, or its number makes no sense.
    """
    _, value = converted_to_first(text, kind, (_DIMENSIONS[kind],))
    return sensible(value, whole or text, kind)


def converted_to_first(text: str, kind: str, dimensions: Sequence[str]) -> tuple[int, float]:
    """Return which of several dimensions a quantity has, and its size.

    Parameters
    ----------
    text : str
        Number and unit.
    kind : str
        What it is called in an error.
    dimensions : sequence of str
        SI units in the registry's words.

    Returns
    -------
    tuple of int and float
        Place in ``dimensions`` and the number in that unit. [any unit]

    Raises
    ------
    UnitError, RangeError
        If the text is no quantity, or of none of the dimensions.
    """
    number, unit = number_and_unit(text, kind)
    registry = _registry()
    quantity = registry.Quantity(number, registry.parse_units(_expression(text, unit, kind)))
    place = next((n for n, dimension in enumerate(dimensions) if quantity.is_compatible_with(dimension)), None)
    if place is None:
        raise wrong_unit(text, unit, kind)
    return place, float(quantity.to(dimensions[place]).magnitude)


@cache
def _registry() -> UnitRegistry[Any]:
    from pint import UnitRegistry  # here, not at the top: it costs a third of a second

    registry: UnitRegistry[Any] = UnitRegistry(cache_folder=None)
    for name, factor in PRESSURE_UNITS.items():
        registry.define(f"decay_{name} = {factor!r} * pascal")
    return registry


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
            raise wrong_unit(text, unit, kind)
        for piece in pieces:
            match = _UNIT.fullmatch(piece)
            name = None if match is None else _unit_name(match["word"])
            if match is None or name is None:
                raise wrong_unit(text, unit, kind)
            power = int(match["power"] or 1) * (-1 if place else 1)
            factors.append(f"({name})**({power})")
    return " * ".join(factors)


def _unit_name(word: str) -> str | None:
    known = _UNIT_WORDS.get(word) or _UNIT_WORDS.get(word.lower())
    if known is not None:
        return known
    name = pressure_unit(word)
    return None if name is None else f"decay_{name}"
