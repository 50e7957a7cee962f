"""What the user told us about the job. `None` means not told: it becomes a caveat, never a guess."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from decay.interval import Interval


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


@dataclass(frozen=True, slots=True)
class System:
    """The system under test and the rig at it, as far as the user told us.

    Parameters
    ----------
    volume : Interval or None
        Gas volume behind the closed valve, rig included. [m³]
    volume_origin : str
        How the volume is known: ``"stated"``, ``"from parts"``, ``"by gas expansion"``; empty where it is not known.
    refrigerant : str or None
        Name of the refrigerant, as the packaged table spells it.
    charge : float or None
        Nominal charge. [kg]
    ambient : float or None
        Temperature of the system during the hold. [K]
    ambient_spread : float
        Half width of the interval in which that temperature lay. [K]
    allow : Allowance or None
        The leak that matters.
    gauge_accuracy : float or None
        Half width of the gauge's gain error, relative; ``None`` where not told. [-]
    pump_speed : float or None
        Rated speed of the pump. [m³/s]
    hose : tuple of float, or None
        Bore and length of the hose to the pump. [m]
    rig_volume : Interval or None
        Gas volume of pump hoses and gauge when the rig is held alone. [m³]
    """

    volume: Interval | None = None
    volume_origin: str = ""
    refrigerant: str | None = None
    charge: float | None = None
    ambient: float | None = None
    ambient_spread: float = 3.0
    allow: Allowance | None = None
    gauge_accuracy: float | None = None
    pump_speed: float | None = None
    hose: tuple[float, float] | None = None
    rig_volume: Interval | None = None
