"""The names of gases, places and steps, and how a job refuses what makes no sense."""

from __future__ import annotations

from enum import StrEnum

from decay.errors import RangeError


class Gas(StrEnum):
    """The gases that the model carries."""

    AIR = "air"
    WATER = "water"
    REFRIGERANT = "refrigerant"
    NITROGEN = "nitrogen"


class Place(StrEnum):
    """One of the two gas volumes."""

    SYSTEM = "system"
    RIG = "rig"


class StepKind(StrEnum):
    """What the technician does next."""

    REST = "rest"
    PUMP = "pump"
    HOLD = "hold"
    SWEEP = "sweep"
    VENT = "vent"


def require(condition: bool, what: str, found: object) -> None:
    """Raise RangeError with what was wanted and what was found."""
    if not condition:
        raise RangeError(f"{what}, got {found!r}")
