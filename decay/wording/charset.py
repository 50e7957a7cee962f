"""Which characters may reach a terminal or a picture, and what plain ASCII writes instead."""

from __future__ import annotations

import unicodedata

PLAIN = {
    "µ": "u",
    "μ": "u",
    "·": "*",
    "×": "x",
    "±": "+-",
    "³": "3",
    "²": "2",
    "°": "deg ",
    "–": "-",
    "—": "-",
    "−": "-",
    "…": "...",
    "≤": "<=",
    "≥": ">=",
    "τ": "tau",
    "κ": "kappa",
    "“": '"',
    "”": '"',
    "’": "'",
    "→": "->",
    "½": "1/2",
}
"""What ASCII writes for the characters of the field."""


def clean(text: str) -> str:
    """Return text in which nothing can move the cursor: control characters of a file's name or header are spelled out.

    Parameters
    ----------
    text : str
        Text that may carry anything a log or a file name holds.

    Returns
    -------
    str
        The same in one line.

    Examples
    --------
    >>> clean("hold\\x1b[2J.csv")
    'hold\\\\x1b[2J.csv'
    """
    return "".join(_spelled(character) for character in text)


def _spelled(character: str) -> str:
    # Cc: controls; Cf: direction marks, which can reverse a line; Cs: bytes of a file name that are no text.
    if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Zl", "Zp"):
        return character.encode("unicode_escape").decode("ascii")
    return character


def to_ascii(text: str) -> str:
    """Return text in plain ASCII.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The field's characters as their usual stand-ins, letters without their accents, the rest as ``?``.

    Examples
    --------
    >>> to_ascii("2.1e-5 ± 0.3e-5 Pa·m³/s at 24 °C, µmHg, Kühlraum")
    '2.1e-5 +- 0.3e-5 Pa*m3/s at 24 deg C, umHg, Kuhlraum'
    """
    replaced = "".join(PLAIN.get(character, character) for character in text)
    decomposed = unicodedata.normalize("NFKD", replaced)
    bare = "".join(character for character in decomposed if not unicodedata.combining(character))
    return bare.encode("ascii", "replace").decode("ascii")
