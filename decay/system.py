"""What the user told us about the job. `None` means not told: it becomes a caveat, never a guess."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from decay.allowance import Allowance, AllowKind
from decay.errors import RangeError, UnitError
from decay.interval import Interval

__all__ = ["AllowKind", "Allowance", "System"]

# What a stated temperature lies between: beyond it a number in degrees Celsius or Fahrenheit was given as kelvin. [K]
COLDEST, WARMEST = 170.0, 400.0
# Kind of quantity, read by `decay.quantities.read_<kind>` -> its SI unit, and how it is written.
KINDS = {
    "volume": ("m^3", '"6.5 L"'), "mass": ("kg", '"650 g"'), "temperature": ("kelvin", '"24 degC"'),
    "fraction": ("", '"10 %"'), "flow": ("m^3/s", '"6 cfm"'), "allowance": ("", '"5 g/yr"'),
    "pressure": ("pascal", '"500 micron"'), "duration": ("second", '"10 min"'), "power": ("watt", '"20 W"'),
    "rise_rate": ("pascal/second", '"5 micron/min"'),
}
# Field -> its kind.
READ = {
    "volume": "volume", "rig_volume": "volume", "charge": "mass", "ambient": "temperature",
    "gauge_accuracy": "fraction", "pump_speed": "flow", "allow": "allowance",
}


@dataclass(frozen=True, slots=True)
class System:
    """The system under test and the rig at it, as far as the user told us.

    Every quantity may be given as text with its unit (``volume="6.5 L +- 10 %"``, ``ambient="24 degC"``), or as a
    quantity of pint; it is kept in SI.

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

    def __post_init__(self) -> None:
        for name, kind in READ.items():
            object.__setattr__(self, name, in_si(name, getattr(self, name), kind))
        if isinstance(self.volume, float) or isinstance(self.rig_volume, float):
            raise TypeError('a volume needs its unit: volume="6.5 L", or "6.5 L +- 10 %"')
        if self.volume is not None and not self.volume_origin:
            object.__setattr__(self, "volume_origin", "stated" if self.volume.low > 0 else "stated as an upper bound")


def in_si(name: str, value: Any, kind: str) -> Any:
    """Return what the user told under a name in SI: from text, a quantity with units, or a whole number."""
    if value is None or isinstance(value, (float, Interval, Allowance)):
        return value
    from decay import quantities

    unit, shown = KINDS[kind]
    if isinstance(value, str):
        return getattr(quantities, f"read_{kind}")(value)
    if hasattr(value, "m_as") and unit:
        if not value.is_compatible_with(unit):
            raise UnitError(f"{name} is {value}; expected a {kind}, like {shown}")
        number = float(value.m_as(unit))
        return Interval(number, number, number) if kind == "volume" else number
    if isinstance(value, int) and not isinstance(value, bool) and kind != "allowance":
        return _sensible(float(value)) if name == "ambient" else float(value)
    raise TypeError(f"{name} is {value!r}; expected text with a unit, like {shown}, or a quantity of pint")


def _sensible(ambient: float) -> float:
    """Return a stated temperature [K]; refuse one that was meant in degrees Celsius."""
    if COLDEST <= ambient <= WARMEST:
        return ambient
    raise RangeError(
        f"a temperature of {ambient:g} K is outside {COLDEST:g} to {WARMEST:g} K. A bare number is kelvin: write "
        f'ambient="{ambient:g} degC" for degrees Celsius'
    )
