"""A finding: one thing the log shows, coded, weighed, and worded for the person with the gauge."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum, StrEnum


class Level(IntEnum):
    """How much a finding weighs."""

    NOTE = 0      # worth knowing
    CAVEAT = 1    # limits what the result means
    BLOCKS = 2    # keeps the result from being a pass
    FAILS = 3     # makes the result a fail


class Cause(StrEnum):
    """What the rise of a hold is made of, as far as the log proves it."""

    TIGHT = "tight"
    OUTGASSING = "outgassing"
    LEAK = "leak"
    LEAK_AND_OUTGASSING = "leak_and_outgassing"
    FREE_WATER = "free_water"
    UNRESOLVED = "unresolved"


class Result(StrEnum):
    """The answer."""

    PASS = "pass"
    FAIL = "fail"
    INCONCLUSIVE = "inconclusive"


@dataclass(frozen=True, slots=True)
class Finding:
    """One coded statement.

    Parameters
    ----------
    code : str
        Stable for ever; its manual page is ``decay explain CODE``.
    level : Level
        How much it weighs.
    summary : str
        One line; numbers with unit and interval, rounded to what they know.
    evidence : mapping of str to float
        The numbers behind it, each key naming its unit.
    span : tuple of float, or None
        Stretch of the log that shows it. [s]
    headline : str
        The same in a few words, in lower case and without a full stop, where the finding can be the reason for the
        result: the headline of every report names the heaviest ones. Empty where it cannot.
    """

    code: str
    level: Level
    summary: str
    evidence: Mapping[str, float] = field(default_factory=dict)
    span: tuple[float, float] | None = None
    headline: str = ""
