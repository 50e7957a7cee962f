"""What stands at the system: pump, hoses and gauge, as far as a plan needs them."""

from __future__ import annotations

from dataclasses import dataclass

from decay.errors import RangeError
from decay.impact.volume_told import HOSE_EXAMPLE, hose_sizes
from decay.quantities import MICRON


@dataclass(frozen=True, slots=True)
class Hose:
    """One hose, or the narrowest bore of one with its core depressor."""

    bore: float  # inner diameter [m]
    length: float  # length [m]

    def __post_init__(self) -> None:
        if not 0 < self.bore < self.length:
            raise RangeError(f"a hose is longer than wide: the bore comes first, like {HOSE_EXAMPLE}")


@dataclass(frozen=True, slots=True)
class Equipment:
    """The pump and what leads to it."""

    speed: float  # the pump's rated speed [m³/s]
    ultimate: float = 0.0  # pressure below which the pump moves nothing [Pa]
    hoses: tuple[Hose, ...] = ()  # side by side, each from the system to the pump; empty for a pump right at the system

    def __post_init__(self) -> None:
        if self.speed <= 0:
            raise RangeError('the pump\'s speed must be larger than zero: write it like "6 cfm"')
        if self.ultimate < 0:
            raise RangeError('the pump\'s ultimate pressure is not negative: write it like "25 micron"')


@dataclass(frozen=True, slots=True)
class GaugeKind:
    """How finely and how often the gauge writes."""

    noise: float = 0.7 * MICRON  # standard deviation of one reading [Pa]
    step: float = 1.0 * MICRON  # step of the readings [Pa]
    interval: float = 2.0  # time between readings [s]
    wander: float = 0.0  # standard deviation of slow wandering [Pa]
    wander_time: float = 60.0  # its correlation time [s]

    def __post_init__(self) -> None:
        if self.interval <= 0:
            raise RangeError('the time between readings must be larger than zero: write it like "2 s"')
        if min(self.noise, self.step, self.wander) < 0 or self.wander_time <= 0:
            raise RangeError("noise, step and wander of a gauge are not negative")


def parse_hose(text: str) -> Hose:
    """Return a hose from its bore and length, like ``"6 mm x 1.5 m"`` or ``"1/4 in x 5 ft"``.

    Raises
    ------
    UnitError
        If it is not a bore and a length, or an outside diameter.
    RangeError
        If it is wider than long.

    Examples
    --------
    >>> parse_hose("6 mm x 1.5 m")
    Hose(bore=0.006, length=1.5)
    """
    return Hose(*hose_sizes(text))
