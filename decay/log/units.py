"""Which pressure unit stands in a piece of text, and whether it says "below atmosphere"."""

from __future__ import annotations

import re
from functools import lru_cache

from decay import quantities

LONGEST_TEXT = 200  # characters in which a unit is looked for
_PAIRS = re.compile(r"\b(in|inch|inches|mm|um|µm|μm|microns?)\s*\.?\s*(?:of\s+)?(hg|mercury)\b", re.IGNORECASE)
_WORD = re.compile(r"[A-Za-zµμ]+")
_LENGTHS = {"um", "µm", "μm"}  # the trade writes them for micrometres of mercury, but a file may mean a length
_GAUGE = re.compile(
    r"\b(inhg|kpa|psi|mbar|bar|mmhg|torr|cmhg)[\s_.,()\[\]-]*(vac(uum)?|v|g|gauge|ga|rel|relative)\b|\bpsig\b|\bbarg\b",
    re.IGNORECASE,
)
_ABSOLUTE = re.compile(r"\b(abs|absolute|psia|bara)\b|[\s_(\[]a[)\]]", re.IGNORECASE)


def unit_in(text: str) -> str | None:
    """Return the pressure unit that a header, a suffix or a unit cell names, or ``None``.

    Examples
    --------
    >>> unit_in("Pressure (mb)"), unit_in("Vacuum [in. Hg]"), unit_in("pump")
    ('mbar', 'inHg', None)
    """
    return _unit_in(text[:LONGEST_TEXT])


@lru_cache(maxsize=4096)
def _unit_in(text: str) -> str | None:
    joined = _join(text)
    bracketed = re.findall(r"[(\[{/]\s*([^)\]}]*)", joined)
    found: list[str] = []
    for part in [*bracketed, joined]:
        words = [word for word in _WORD.findall(part.replace("_", " ")) if word.lower() not in _LENGTHS]
        found = [unit for unit in map(quantities.pressure_unit, words) if unit is not None]
        if found:
            break
    return found[-1] if found else None


def says_gauge(text: str) -> bool:
    """Return whether text names a pressure counted from the atmosphere, such as ``inHg vac`` or ``psig``."""
    return bool(_GAUGE.search(_join(text[:LONGEST_TEXT])))


def says_absolute(text: str) -> bool:
    """Return whether text says that a pressure is absolute."""
    return bool(_ABSOLUTE.search(text[:LONGEST_TEXT]))


def pascals(unit: str) -> float:
    """Return the size of a unit that `unit_in` returned. [Pa]"""
    return quantities.PRESSURE_UNITS[unit]


def _join(text: str) -> str:
    return _PAIRS.sub(lambda match: _prefix(match.group(1)) + "Hg", text)


def _prefix(text: str) -> str:
    text = text.lower()
    return "in" if text.startswith("in") else "mm" if text == "mm" else "um"
