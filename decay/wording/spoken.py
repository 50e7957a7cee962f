"""In which unit of pressure answers are given: one setting for text, picture and table, micron unless another is asked.

What is judged, written and drawn while `speaking` holds is in that unit; keys of documents and tables name their own.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from decay.constants import MINUTE
from decay.errors import RangeError
from decay.quantities import PRESSURE_UNITS

UNITS = ("micron", "Pa", "mbar", "Torr")
"""What answers may be given in; names of `decay.quantities.PRESSURE_UNITS`."""
_chosen: ContextVar[str] = ContextVar("decay_unit_of_answers", default=UNITS[0])


def unit() -> str:
    """Return the unit of pressure in which answers are given, as it is printed."""
    return _chosen.get()


def size() -> float:
    """Return the size of that unit. [Pa]"""
    return PRESSURE_UNITS[_chosen.get()]


def rate_unit() -> str:
    """Return the unit of a rate of rise in which answers are given, as it is printed."""
    return f"{_chosen.get()}/min"


def rate_size() -> float:
    """Return the size of that unit. [Pa/s]"""
    return size() / MINUTE


@contextmanager
def speaking(name: str) -> Iterator[None]:
    """Give answers in a unit: those that are judged, written and drawn inside.

    Parameters
    ----------
    name : str
        One of `UNITS`.

    Raises
    ------
    RangeError
        If it is none of them.

    Examples
    --------
    >>> with speaking("Pa"):
    ...     rate_unit()
    'Pa/min'
    """
    if name not in UNITS:
        raise RangeError(f"answers are given in {', '.join(UNITS)}, not in {name!r}")
    before = _chosen.set(name)
    try:
        yield
    finally:
        _chosen.reset(before)
