"""A volume with how it is known: the sum of parts, a gas expansion, or the bound that a logged pull gives."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from decay import wording
from decay.errors import RangeError
from decay.fit.results import PumpdownFit
from decay.impact.volume_told import by_expansion, from_parts, read_tube, upper_bound
from decay.interval import Interval
from decay.log.pressure_log import PressureLog
from decay.log.quality import inspect
from decay.phases import find_phases
from decay.phases.phase import Kind
from decay.pull.pumpdown import fit_pumpdown

NO_RIG = (
    'The rig is not counted. What lies between the closed valve and the system belongs to the volume: add --rig-hose '
    '"6 mm bore x 1.5 m" or --rig "0.3 L", or --no-rig where the valve sits at the system.'
)


@dataclass(frozen=True, slots=True)
class KnownVolume:
    """A volume and what it rests on."""

    origin: str  # ``"from parts"``, ``"by gas expansion"`` or ``"upper bound from the pull"``
    volume: Interval | None  # gas volume behind the closed valve; ``None`` where only a bound is known [m³]
    bound: float | None  # largest volume that the pull allows; ``None`` where the volume itself is known [m³]
    pieces: tuple[tuple[str, Interval], ...]  # what was added up, each in the user's words [m³]
    is_rig_counted: bool | None  # ``False`` where there is none to count, ``None`` where it was not told
    basis: str  # how it was found, in one sentence with its numbers
    remarks: tuple[str, ...] = ()  # what to mind, one sentence each

    @property
    def option(self) -> str:
        """The text that carries the volume over to another command."""
        if self.volume is None:
            return f'--volume "at most {self.bound_in_litres} L"'
        value = float(f"{self.volume.value * 1e3:.3g}")
        if abs(value - self.volume.value * 1e3) > self.volume.width * 1e3 / 20:  # it is known to more than three digits
            value = float(f"{self.volume.value * 1e3:.4g}")
        if self.volume.width == 0:
            return f'--volume "{value:g} L"'
        # Rounded up, so that what is carried over is never surer than what was found.
        side = max(self.volume.high * 1e3 - value, value - self.volume.low * 1e3)
        return f'--volume "{value:g} L +- {math.ceil(side / value * 1000 - 1e-6) / 10:g} %"'

    @property
    def bound_in_litres(self) -> str:
        """The bound in litres with three digits, rounded up: a smaller one would not hold."""
        litres = (self.bound or 0.0) * 1e3
        places = 2 - math.floor(math.log10(litres)) if litres > 0 else 0
        return f"{math.ceil(litres * 10.0**places - 1e-9) / 10.0**places:g}"


def sum_of_parts(
    tubes: Sequence[str],
    parts: Sequence[str],
    rig: Sequence[tuple[str, Interval]] | None,
    spread: float,
) -> KnownVolume:
    """Return the volume of a system from its parts, with the rig.

    Parameters
    ----------
    tubes, parts : sequence of str
        As for `decay.impact.volume_told.from_parts`.
    rig : sequence of (str, Interval), or None
        The rig's pieces; empty where there are none, ``None`` where they were not told. [m³]
    spread : float
        Relative uncertainty of every tube and part that states none. [-]

    Returns
    -------
    KnownVolume
        The half widths are added, because nominal sizes tend to err the same way.

    Raises
    ------
    UnitError, RangeError
        If there is nothing to add, or one of them cannot be read.

    Examples
    --------
    >>> sum_of_parts(["9.5 mm bore x 15 m"], ["receiver 1.2 L"], [], 0.1).option
    '--volume "2.26 L +- 10.2 %"'
    """
    from_parts(tubes, parts, spread)  # says what is wrong, in its own words
    pieces = [(read_tube(text).words, from_parts([text], (), spread)) for text in tubes]
    pieces += [(text, from_parts((), [text], spread)) for text in parts]
    pieces += [(f"rig: {name}", volume) for name, volume in rig or ()]
    return KnownVolume(
        "from parts",
        _sum([volume for _, volume in pieces]),
        None,
        tuple(pieces),
        None if rig is None else bool(rig),
        f"each size that states no uncertainty of its own is assumed known to {spread * 100:g} % (a guess, unless you "
        "stated it)",
        (NO_RIG,) if rig is None else (),
    )


def expansion(
    vessel: Interval,
    vessel_before: float,
    system_before: float | None,
    after: float,
    accuracy: float | None,
    rig: Sequence[tuple[str, Interval]] | None,
) -> KnownVolume:
    """Return the volume that gas from a known vessel fills.

    Parameters
    ----------
    vessel : Interval
        The known volume. [m³]
    vessel_before, after : float
        Absolute pressures, before and after the valve opens. [Pa]
    system_before : float or None
        Of the system before; ``None`` for an evacuated one. [Pa]
    accuracy : float or None
        Relative accuracy of the pressures; ``None`` where not told. [-]
    rig : sequence of (str, Interval), or None
        Pieces of the rig that the gas did not reach and that the hold will; as for `sum_of_parts`. [m³]

    Returns
    -------
    KnownVolume
        The system's volume, and the rig's added.

    Raises
    ------
    RangeError
        If the pressures cannot be right, as for `decay.impact.volume_told.by_expansion`.
    """
    found = by_expansion(vessel, vessel_before, system_before or 0.0, after, accuracy or 0.0)
    remarks = [
        "Whatever was open to the gas is in it; what the hold adds (hoses, gauge tree) must be given as the rig."
    ]
    if system_before is None:
        remarks.append('The system is assumed evacuated before; otherwise state --system-pressure "1 bar" (absolute).')
    if accuracy is None:
        remarks.append('The pressures are assumed exact. Add how well they are known: --accuracy "1 %".')
    if vessel.width == 0:
        remarks.append('The vessel is assumed exact. Add how well it is known: --vessel "1 L +- 1 %".')
    remarks.append(
        "Dry nitrogen only, through a regulator with relief and never above the low side's limit; wait until the "
        "pressure and the temperature have come to rest. The maker's instructions and local codes come first."
    )
    pieces = [("system", found), *((f"rig: {name}", volume) for name, volume in rig or ())]
    basis = (
        f"the known vessel stood at {_said(vessel_before)} and both stood at {_said(after)} after the valve opened"
    )
    return KnownVolume(
        "by gas expansion",
        _sum([volume for _, volume in pieces]),
        None,
        tuple(pieces),
        None if rig is None else bool(rig),
        basis,
        tuple(remarks),
    )


def bound_from_pull(log: PressureLog, speed: float) -> KnownVolume:
    r"""Return the largest volume that the pulls of a log allow, :math:`V \le S \tau`.

    Parameters
    ----------
    log : PressureLog
        The readings.
    speed : float
        Rated speed of the pump. [m³/s]

    Returns
    -------
    KnownVolume
        A bound and no volume.

    Raises
    ------
    RangeError
        If no stretch of a pull falls fast enough to bound anything.

    Notes
    -----
    The fastest fall counts, whatever its pressure: hoses and a gas load only make a fall slower, and the pump is
    nowhere faster than its rated speed. A volume several times smaller is as possible.
    """
    pulls = [fit_pumpdown(log, p) for p in find_phases(log, inspect(log)) if p.kind is Kind.PUMPDOWN]
    falls = [fall for pull in pulls for fall in _falls(pull)]
    if not falls:
        raise RangeError(
            "the log shows no pull whose fall bounds the volume: log the pull from the start, with a reading every few "
            'seconds, or use parts: decay volume --tube "9.5 mm bore x 15 m"'
        )
    fastest = min(falls, key=lambda fall: fall.high)
    basis = (
        f"the fastest fall of the pressure has a time constant of at most {fastest.high:.3g} s, and the pump's rated "
        f"speed is {speed * 1e3:.3g} L/s"
    )
    return KnownVolume(
        "upper bound from the pull",
        None,
        upper_bound(speed, fastest),
        (),
        True,
        basis,
        (
            "This is an upper bound and no estimate: hoses, valve cores and a gas load slow the fall, so the true "
            "volume may be several times smaller. A leak or a loss computed from it is an upper bound too: it can rule "
            "a leak out, and never prove that one is too large.",
            "System and rig together, as they were open to the pump.",
        ),
    )


def _said(pressure: float) -> str:
    """Return a pressure about atmosphere [Pa] in the unit of answers; in microns nobody reads it."""
    return f"{pressure / 1e3:.4g} kPa" if wording.unit() == "micron" else wording.pressure(pressure)


def _falls(pull: PumpdownFit) -> list[Interval]:
    found = [pull.time_constant, *(band.time_constant for band in pull.bands)]
    return [fall for fall in found if fall is not None and fall.value > 0 and math.isfinite(fall.high)]


def _sum(volumes: Sequence[Interval]) -> Interval:
    return Interval(sum(v.value for v in volumes), sum(v.low for v in volumes), sum(v.high for v in volumes))
