"""What belongs to a hold: the pull before it, its temperature, and the holds that share its leak."""

from __future__ import annotations

from decay.fit.results import HoldFit, JointFit, PumpdownFit
from decay.interval import Interval
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Phase
from decay.system import System


def whole_leak(joint: JointFit | None, decisive: int | None, fit: HoldFit | None) -> Interval | None:
    """Return the steady rise of all holds together where they agree and the deciding one is among them. [Pa/s]"""
    if joint is not None and are_together(joint, decisive):
        return joint.leak
    return None if fit is None else fit.leak


def are_together(joint: JointFit | None, decisive: int | None) -> bool:
    """Tell whether one leak explains all holds of a joint fit, and the deciding hold is among them."""
    return joint is not None and joint.is_homogeneous and decisive in joint.holds_used


def pull_before(pumpdowns: tuple[PumpdownFit, ...], time: float) -> PumpdownFit | None:
    """Return the last pull that began before a time [s]."""
    earlier = [pull for pull in pumpdowns if pull.start < time]
    return earlier[-1] if earlier else None


def temperature_during(log: PressureLog, hold: HoldFit | Phase | None, system: System) -> float | None:
    """Return the median logged temperature of a hold, else the stated one, else ``None``. [K]"""
    known = [] if hold is None else sorted(log.temperatures(hold.start, hold.end).tolist())
    return known[len(known) // 2] if known else system.ambient
