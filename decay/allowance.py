"""The leak that the user tolerates, in the quantity in which it was stated."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class AllowKind(StrEnum):
    """The quantity in which the tolerated leak was stated."""

    RISE = "rise"                # Pa/s
    THROUGHPUT = "throughput"    # Pa m³/s
    LOSS = "loss"                # kg/s


@dataclass(frozen=True, slots=True)
class Allowance:
    """The leak that the user tolerates.

    Parameters
    ----------
    kind : AllowKind
        What it was stated as.
    value : float
        The limit. [Pa/s, Pa·m³/s or kg/s, by kind]
    text : str
        As the user wrote it.
    """

    kind: AllowKind
    value: float
    text: str
