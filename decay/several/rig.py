"""The rig held alone: its own leak and ultimate pressure, and what of a system's leak is the rig's."""

from __future__ import annotations

from dataclasses import dataclass

from decay.fit.results import HoldFit, PumpdownFit
from decay.interval import Interval, difference, not_below_zero

AS_MUCH = 0.5
"""Share of the whole leak from which on the rig leaks as much as the system does. [-]"""


@dataclass(frozen=True, slots=True)
class RigTest:
    """A blank-off hold of pump, hoses and gauge.

    Parameters
    ----------
    source : str
        Name of its log.
    fit : HoldFit
        The hold.
    ultimate : float or None
        Lowest pressure of the pull before it; ``None`` where the log does not show one. [Pa]
    volume : Interval or None
        Its gas volume. [m³]
    throughput : Interval or None
        Gas that leaks into it; ``None`` without a volume. [Pa·m³/s]
    """

    source: str
    fit: HoldFit
    ultimate: float | None
    volume: Interval | None
    throughput: Interval | None

    @property
    def leak(self) -> Interval:
        """Steady rise of the rig alone. [Pa/s]"""
        return self.fit.leak

    @property
    def is_leak_seen(self) -> bool:
        """Whether the rig itself leaks."""
        return self.fit.leak.low > 0.0


@dataclass(frozen=True, slots=True)
class RigShare:
    """What of a system's steady rise is the rig's."""

    test: RigTest  # the rig alone
    share: Interval  # rise that the rig's leak makes in the volume of the system's hold [Pa/s]
    leak: Interval  # the system's steady rise without it, never below zero [Pa/s]
    whole: Interval  # the steady rise with it [Pa/s]
    # A volume is missing: the rig's share is only known to be at most its own rate of rise, because the rig is a part
    # of the volume that is held
    is_bounded_only: bool

    @property
    def explains_all(self) -> bool:
        """Whether the whole was a leak, and none is left to see once the rig's share is off."""
        return self.whole.low > 0.0 and self.leak.low <= 0.0

    @property
    def leaks_as_much(self) -> bool:
        """Whether the rig itself leaks, and makes half of the whole or more."""
        return self.test.is_leak_seen and self.share.value >= AS_MUCH * self.whole.value > 0.0


def rig_test(source: str, fit: HoldFit, pull: PumpdownFit | None, volume: Interval | None) -> RigTest:
    """Put a rig's hold and its volume together.

    Parameters
    ----------
    source : str
        Name of the log.
    fit : HoldFit
        The hold.
    pull : PumpdownFit or None
        The pull before it.
    volume : Interval or None
        Gas volume of the rig. [m³]
    """
    throughput = None if volume is None else _product(fit.leak, volume)
    return RigTest(source, fit, None if pull is None else pull.lowest, volume, throughput)


def without_rig(whole: Interval, test: RigTest, volume: Interval | None) -> RigShare:
    """Take the rig's leak off a system's steady rise.

    Parameters
    ----------
    whole : Interval
        Steady rise of system and rig together. [Pa/s]
    test : RigTest
        The rig alone.
    volume : Interval or None
        Gas volume of the system's hold, rig included. [m³]

    Returns
    -------
    RigShare
        What is left, its interval from both. With both volumes the rig's throughput is spread over the system's.
        Without one of them the share lies between nothing and the rig's own rate of rise: only the lower end of what
        is left moves then.
    """
    rate = test.fit.leak
    if test.volume is None or volume is None:
        share = Interval(0.0, 0.0, rate.high, rate.level)
        left = Interval(whole.value, max(0.0, whole.low - rate.high), whole.high, whole.level)
        return RigShare(test, share, left, whole, is_bounded_only=True)
    part = Interval(
        min(test.volume.value / volume.value, 1.0),
        min(test.volume.low / volume.high, 1.0),
        min(test.volume.high / volume.low, 1.0) if volume.low > 0 else 1.0,
        volume.level,
    )
    share = _product(rate, part)
    return RigShare(test, share, not_below_zero(difference(whole, share)), whole, is_bounded_only=False)


def _product(first: Interval, second: Interval) -> Interval:
    """Return the product of two quantities that are not negative, end by end: at least as wide as it need be."""
    return Interval(
        first.value * second.value, first.low * second.low, first.high * second.high, min(first.level, second.level)
    )
